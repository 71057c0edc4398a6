"""The pages of a plan on a phone: sound, touchable, and a plan put in force by thumb."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.planning import services
from studio.planning.models import BackPlan, DayOff
from studio.planning.selectors import in_force
from tests.browser.checks import check_page, check_shown
from tests.planning.cast import NOW, TODAY, Cast, make_cast

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def november() -> Iterator[None]:
    """Let the clock tick: a browser waits by it."""
    with time_machine.travel(NOW, tick=True):
        yield


@pytest.fixture
def wanted(transactional_db: None, potter: User) -> Cast:
    """A studio with a sale that asks for more than there are days for, and some ware about."""
    cast = make_cast(potter)
    cast.bowls.standing = "trial"
    cast.bowls.save()
    cast.sale("Winter sale", TODAY + 24 * DAY, {cast.mugs: 90, cast.bowls: 60})
    cast.shipment(TODAY + 20 * DAY, {cast.mugs: 5})
    cast.board("B1", 9, stage="bisqued")
    cast.firing(cast.wide, cast.bisque, state="cooling", start_date=TODAY - DAY)
    cast.firing(cast.little, cast.bisque, start_date=TODAY + 10 * DAY)
    DayOff.objects.create(date=TODAY + 3 * DAY, why="market")
    return cast


def test_the_pages(signed_in_page: Page, live_server: LiveServer, wanted: Cast) -> None:
    check_page(signed_in_page, live_server.url + "/plan/")
    backplan = services.work_out(today_date=TODAY, seconds=2, by=wanted.by, at=NOW)
    one = f"/plan/{backplan.pk}/"
    pages = [one, f"{one}list/", f"{one}list/?only=throwing"]
    services.give_address(name="Ada's phone", by=wanted.by, at=NOW)
    for url in [*pages, "/plan/hands/", "/plan/days-off/", "/plan/rules/", "/plan/calendar/"]:
        check_page(signed_in_page, live_server.url + url)


def test_the_folded_parts_of_a_plan_are_sound_when_open(
    signed_in_page: Page, live_server: LiveServer, wanted: Cast
) -> None:
    page = signed_in_page
    backplan = services.work_out(today_date=TODAY, seconds=2, by=wanted.by, at=NOW)
    page.goto(f"{live_server.url}/plan/{backplan.pk}/")
    for fold in page.locator("main details").all():
        fold.locator("summary").first.click()
    expect(page.get_by_role("img", name="Minutes given and asked, by day")).to_be_visible()
    expect(page.get_by_role("heading", name="What stands towards each date today")).to_be_visible()
    expect(page.get_by_role("button", name="Put the ticked parts in force")).to_be_visible()
    check_shown(page, "Plan")


def test_a_plan_is_worked_out_put_in_force_and_undone_by_thumb(
    signed_in_page: Page, live_server: LiveServer, wanted: Cast
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/plan/")
    page.get_by_role("button", name="Work out").click()
    expect(page.get_by_text("Best so far:")).to_be_visible()
    check_shown(page, "Looking for a plan")
    expect(page.get_by_role("button", name="Put this plan in force")).to_be_visible(timeout=40_000)
    expect(page.get_by_text("short")).not_to_have_count(0)
    check_shown(page, "Plan")
    page.get_by_role("button", name="Put this plan in force").click()
    expect(page.get_by_text("Put a plan in force; its firings:")).to_be_visible()
    assert in_force() == BackPlan.objects.get()
    check_shown(page, "Plan")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Took the plan out of force")).to_be_visible()
    assert in_force() is None


def test_a_search_is_stopped_by_thumb(
    signed_in_page: Page, live_server: LiveServer, wanted: Cast
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/plan/")
    page.get_by_label("Look for").select_option("600")
    page.get_by_role("button", name="Work out").click()
    expect(page.get_by_text("Best so far:")).to_be_visible()
    page.get_by_role("button", name="Stop and keep the best").click()
    expect(page.get_by_text("The search was stopped after")).to_be_visible(timeout=40_000)
    check_shown(page, "Plan")
    assert BackPlan.objects.get().state == "proposed"


def test_a_refused_week_keeps_what_was_typed(
    signed_in_page: Page, live_server: LiveServer, wanted: Cast
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/plan/hands/")
    page.get_by_label("Monday, throwing, minutes").fill("1441")
    page.get_by_role("button", name="Keep these hands").click()
    expect(page.get_by_text("Monday, throwing: a day has 1440 minutes.")).to_be_visible()
    expect(page.get_by_label("Monday, throwing, minutes")).to_have_value("1441")
    check_shown(page, "Hands")
