"""Are logs, care and compared schedules sound on a phone, and done with a few taps?"""

from __future__ import annotations

import pytest
import time_machine
from django.contrib.auth.models import User
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.firings.models import Care, Firing, FiringLog
from tests.browser.checks import check_page, check_shown, judge
from tests.firings.conftest import NOW, World, make_world
from tests.firings.test_logs import log_of, opened


@pytest.fixture
def today() -> object:
    """Let the clock tick here: a browser waits by it."""
    with time_machine.travel(NOW, tick=True):
        yield


@pytest.fixture
def lived_in(transactional_db: None, potter: User) -> World:
    """A studio that the server's own thread can see."""
    return make_world(potter)


def test_a_log_is_kept_by_choosing_its_file(
    lived_in: World, signed_in_page: Page, live_server: LiveServer
) -> None:
    page, firing = signed_in_page, opened(lived_in, 5, cones=(("6", "down"),))
    url = live_server.url + reverse("firings:log", args=[firing.pk])
    check_page(page, url)
    rows = log_of(firing).decode().splitlines()
    rows[2] = "soon,30"
    file = {"name": "kiln.csv", "mimeType": "text/csv", "buffer": "\n".join(rows).encode()}
    page.get_by_label("File (CSV)").set_input_files(file)  # type: ignore[arg-type]
    page.get_by_role("button", name="Keep the log").click()
    expect(page.locator("#said")).to_contain_text("Kept the log of")
    check_shown(page, "Log: Cone 6 plain")
    page.locator("main details").evaluate_all("all => all.forEach(one => { one.open = true })")
    judge(page)
    expect(page.locator("main")).to_contain_text("“soon” is no time")
    assert FiringLog.objects.count() == 1
    check_page(page, live_server.url + reverse("firings:kiln", args=[lived_in.big.pk]))
    check_page(page, live_server.url + reverse("firings:firing", args=[firing.pk]))


def test_care_is_one_tap(lived_in: World, signed_in_page: Page, live_server: LiveServer) -> None:
    page = signed_in_page
    check_page(page, live_server.url + reverse("firings:care", args=[lived_in.big.pk]))
    page.get_by_role("button", name="ventilation: looked at today", exact=False).click()
    expect(page.locator("#said")).to_contain_text("Looked at the ventilation of Heron")
    check_shown(page, "Care of Heron")
    assert Care.objects.get().part == "vent"
    check_page(page, live_server.url + reverse("firings:care-rules", args=[lived_in.big.pk]))


def test_two_schedules_are_ticked_and_compared(
    lived_in: World, signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    check_page(page, live_server.url + reverse("firings:cones"))
    check_page(page, live_server.url + reverse("firings:schedules"))
    check_page(page, live_server.url + reverse("firings:compare"))
    page.get_by_label("Cone 6 plain").check()
    page.get_by_label("Cone 8 plain").check()
    page.get_by_role("button", name="Compare").click()
    expect(page.get_by_role("img")).to_be_visible()
    check_shown(page, "Compare schedules")


def test_three_more_rows_on_a_phone(
    lived_in: World, signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.goto(live_server.url + reverse("firings:schedule-new"))
    page.get_by_label("Name").fill("Half written")
    page.get_by_role("button", name="Three more rows").click()
    expect(page.get_by_label("Target of row 9")).to_be_visible()
    expect(page.get_by_label("Name")).to_have_value("Half written")
    judge(page)
    assert not Firing.objects.exists()
