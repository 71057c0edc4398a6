"""Is a load drawn, tapped and taken back on a phone beside the kiln?"""

from __future__ import annotations

import re

import pytest
import time_machine
from django.contrib.auth.models import User
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.firings.forms.sheets import TAP_WIDE
from studio.firings.models import Firing, Spot
from tests.browser.checks import arrive, check_page, judge
from tests.firings.conftest import NOW, World, make_world
from tests.firings.test_load_drawn import drawn, loaded


@pytest.fixture
def today() -> object:
    """Let the clock tick here: a browser waits by it."""
    with time_machine.travel(NOW, tick=True):
        yield


@pytest.fixture
def lived_in(transactional_db: None, potter: User) -> World:
    """A studio that the server's own thread can see."""
    return make_world(potter)


def url(live_server: LiveServer, name: str, *ids: int) -> str:
    return live_server.url + reverse(f"firings:{name}", args=ids)


def test_draw_tap_leave_out_and_undo(
    lived_in: World, signed_in_page: Page, live_server: LiveServer
) -> None:
    page, firing = signed_in_page, loaded(lived_in, mugs=4, bowls=1)
    check_page(page, url(live_server, "drawn", firing.pk))
    page.get_by_role("button", name="Draw the load").click()
    expect(page.get_by_role("button", name="Draw it again")).to_be_visible()
    judge(page)
    spot = Spot.objects.filter(sheet__firing=firing, form=lived_in.mug)[0]
    # The number on the drawing itself is the way to its place.
    page.locator(f'svg a[href$="/places/{spot.pk}/"]').click()
    arrive(page, f"Place {spot.number}")
    judge(page)
    page.get_by_role("button", name="Left out").click()
    arrive(page, "The load of Heron")
    expect(page.get_by_role("rowheader", name=re.compile("free, was Mug"))).to_be_visible()
    judge(page)
    spot.refresh_from_db()
    assert spot.mark == "left_out"
    page.get_by_role("button", name="Undo").first.click()
    expect(page.get_by_text(re.compile(r"Undid: Left out place"))).to_be_visible()
    spot.refresh_from_db()
    assert spot.mark == "drawn"
    assert Firing.objects.get(pk=firing.pk).places.filter(outcome="").count() == 5


def test_the_kiln_and_its_furniture(
    lived_in: World, signed_in_page: Page, live_server: LiveServer
) -> None:
    firing = loaded(lived_in, mugs=4, bowls=1)
    drawn(lived_in, firing)
    lived_in.fired(firing)
    check_page(signed_in_page, url(live_server, "kiln", lived_in.big.pk))
    check_page(signed_in_page, url(live_server, "furniture", lived_in.big.pk))
    check_page(signed_in_page, url(live_server, "drawn", firing.pk))


def test_a_piece_is_put_where_the_finger_taps(
    lived_in: World, signed_in_page: Page, live_server: LiveServer
) -> None:
    page, firing = signed_in_page, loaded(lived_in, mugs=1, bowls=1)
    drawn(lived_in, firing)
    spot = Spot.objects.get(sheet__firing=firing, form=lived_in.mug)
    check_page(page, url(live_server, "drawn-level", firing.pk, spot.level))
    check_page(page, url(live_server, "place-where", firing.pk, spot.pk, spot.level))
    picture = page.locator("input.tap")
    box = picture.bounding_box()
    assert box is not None
    # As wide as it says, or a tap would mean another place.
    assert abs(box["width"] - TAP_WIDE) < 1
    # The middle of the kiln, a little to the back: the bowl stands at the rim.
    picture.click(position={"x": TAP_WIDE / 2, "y": box["height"] / 2 - 10})
    arrive(page, "The load of Heron")
    expect(page.get_by_text(re.compile("Moved place"))).to_be_visible()
    spot.refresh_from_db()
    assert spot.x_mm is not None
    assert spot.y_mm is not None
    assert abs(spot.x_mm) <= 30 + 1
    assert spot.ring == "inner"
