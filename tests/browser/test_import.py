"""A file of supporters by thumb: sent, matched, looked at, taken in; a turn in the ledger."""

from collections.abc import Iterator
from pathlib import Path

import pytest
import time_machine
from django.contrib.auth.models import User
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.parcels.models import Supporter
from tests.browser.checks import check_shown
from tests.parcels import cast
from tests.parcels.cast import NOW

FILE = """Who,Last name,Mail,Level,Land,Street,Town,Code,Shirt
Ada,Lind,ada@example.org,Saucer,GB,4 Kiln Row,Leeds,LS1 4DY,M
Bo,Reed,bo@example.org,Cup,GB,5 Kiln Row,Leeds,LS1 4DY,S
"""


@pytest.fixture(autouse=True)
def november() -> Iterator[None]:
    """Let the clock tick: a browser waits by it."""
    with time_machine.travel(NOW, tick=True):
        yield


def test_a_file_goes_in_by_three_pages(
    signed_in_page: Page,
    live_server: LiveServer,
    transactional_db: None,
    potter: User,
    tmp_path: Path,
) -> None:
    cast.tier()
    (tmp_path / "people.csv").write_text(FILE, encoding="utf-8")
    page = signed_in_page
    page.goto(live_server.url + reverse("parcels:import"))
    page.get_by_label("CSV file").set_input_files(tmp_path / "people.csv")
    page.get_by_role("button", name="Send the file").click()
    check_shown(page, "Which column is what?")
    page.get_by_label("Who").select_option("name")
    page.get_by_label("Code", exact=True).select_option("postal_code")
    page.get_by_role("button", name="See what will change").click()
    check_shown(page, "What will change")
    expect(page.get_by_text("Row 3, tier: 'Cup' is no tier. Known: Saucer.")).to_be_visible()
    page.get_by_role("button", name="Take in all 1, leave the refused ones").click()
    expect(page.get_by_text("Imported supporters: 1 new")).to_be_visible()
    assert Supporter.objects.get().name == "Ada Lind"
    page.goto(live_server.url + reverse("parcels:turns"))
    check_shown(page, "Turns")
    page.get_by_role("link", name="Ada Lind").click()
    check_shown(page, "Ada Lind")
    page.get_by_label("Paused from").fill("2026-12")
    page.get_by_role("button", name="Pause", exact=True).click()
    expect(page.get_by_text("Paused December 2026")).to_have_count(0)
    expect(page.get_by_text("Paused from December 2026 on")).to_be_visible()
    check_shown(page, "Ada Lind")
