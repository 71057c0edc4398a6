"""Are the pages of one kiln, one firing and one schedule sound on a phone, in every state?"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.firings import services
from studio.firings.models import Firing
from tests.browser.checks import check_page, judge
from tests.firings.conftest import NOW, World, make_world


@pytest.fixture
def today() -> object:
    """Let the clock tick here: a browser waits by it."""
    with time_machine.travel(NOW, tick=True):
        yield


@pytest.fixture
def lived_in(transactional_db: None, potter: User) -> World:
    """A studio that the server's own thread can see."""
    return make_world(potter)


def in_state(world: World, state: str) -> Firing:
    """A bisque firing of the big kiln, brought to a state; a damp board waits beside it."""
    firing = world.planned(world.big, world.bisque)
    world.thrown(4, dry=False)
    world.thrown(8)
    if state == "planned":
        return firing
    world.load(firing, world.thrown(12))
    if state == "called_off":
        services.call_off(firing=firing, by=world.by, at=NOW)
    if state in ("firing", "cooling", "opened"):
        world.lit(firing)
    if state in ("cooling", "opened"):
        off_at = NOW - timedelta(hours=20)
        services.switch_off(firing=firing, off_at=off_at, by=world.by, at=NOW)
    if state == "opened":
        services.open_kiln(firing=firing, opened_at=NOW, by=world.by, at=NOW)
    return firing


@pytest.mark.parametrize(
    ("state", "names"),
    [
        ("planned", ["firing", "light", "shift"]),
        ("loaded", ["firing", "light"]),
        ("firing", ["firing", "off"]),
        ("cooling", ["firing", "open"]),
        ("opened", ["firing", "open"]),
        ("called_off", ["firing"]),
    ],
)
def test_a_firing_in_every_state(
    lived_in: World,
    signed_in_page: Page,
    live_server: LiveServer,
    state: str,
    names: list[str],
) -> None:
    firing = in_state(lived_in, state)
    for name in names:
        url = reverse(f"firings:{name}", args=[firing.pk])
        check_page(signed_in_page, live_server.url + url)
    closed = "details => details.forEach(one => { one.open = true })"
    signed_in_page.locator("main details").evaluate_all(closed)
    judge(signed_in_page)


def test_kiln_and_schedule(
    lived_in: World,
    signed_in_page: Page,
    live_server: LiveServer,
) -> None:
    in_state(lived_in, "loaded")
    for name, one in (("kiln", lived_in.big), ("kiln-edit", lived_in.big), ("run", lived_in.big),
                      ("schedule", lived_in.six), ("schedule-edit", lived_in.six),
                      ("circuit", lived_in.big.circuit)):  # fmt: skip
        check_page(signed_in_page, live_server.url + reverse(f"firings:{name}", args=[one.pk]))
    check_page(signed_in_page, live_server.url + reverse("firings:kilns"))


def test_a_load_by_thumb(
    lived_in: World,
    signed_in_page: Page,
    live_server: LiveServer,
) -> None:
    """One press loads a board, the next takes it back, another loads a part of it."""
    page = signed_in_page
    firing = lived_in.planned(lived_in.big, lived_in.bisque)
    board = lived_in.thrown(12)
    page.goto(live_server.url + reverse("firings:firing", args=[firing.pk]))
    page.get_by_role("button", name=f"Load 12 Mug of board {board}").click()
    expect(page.locator("#said")).to_contain_text(f"Loaded board {board} into Heron: 12 Mug")
    expect(page.locator("main")).to_contain_text("12 of about 90 mug places")
    page.locator("#said").get_by_role("button", name="Undo").click()
    expect(page.locator("#said")).to_contain_text("Undid")
    page.goto(live_server.url + reverse("firings:firing", args=[firing.pk]))
    expect(page.locator("main")).to_contain_text("0 of about 90 mug places")
    page.get_by_text(f"Only some of {board}").click()
    page.get_by_label(f"How many of board {board}").fill("5")
    page.get_by_role("button", name="Load so many").click()
    expect(page.locator("main")).to_contain_text("5 of about 90 mug places")
    expect(page.get_by_role("link", name=re.compile("^Light it$"))).to_be_visible()
