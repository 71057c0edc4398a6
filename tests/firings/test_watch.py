"""Does a planned firing say when it is lit, at its top and cool, and warn of the night?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import time, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.firings import papers, selectors, services
from studio.firings.models import Firing, NightRule
from studio.home.services import undo
from studio.web.models import Change
from tests.firings.conftest import NOW, TODAY, World
from tests.firings.test_logs import keep, log_of, opened

Key = Callable[[], str]
Refused = Callable[..., str]


def watch(firing: Firing) -> selectors.Watch:
    found = selectors.watch_of(firing)
    assert found is not None
    return found


def clock(at: object) -> str:
    return f"{timezone.localtime(at):%a %H:%M}"  # type: ignore[arg-type]


def test_the_hours_of_a_planned_firing(world: World, signed_in: Client) -> None:
    firing = world.planned()
    found = watch(firing)
    # 20 to 600 at 100 is 5.8 h, to 1100 at 180 is 2.78 h, to 1222 at 60 is 2.03 h: 10.61 h; held
    # 0.25 h. Lit at 8:00, it is at its top at 18:37 until 18:52.
    assert clock(found.start_at) == "Wed 08:00"
    assert clock(found.top_at) == "Wed 18:36"
    assert clock(found.left_at) == "Wed 18:51"
    # A tenth of 10.86 h.
    assert found.off_h == pytest.approx(1.09, abs=0.01)
    assert (found.caution, found.better) == ("", None)
    page = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "When somebody is there" in page
    assert "by its rows: no log of this schedule" in page
    assert "in the night" not in page


def test_a_top_in_the_night_is_warned_of_and_mended_with_one_press(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = world.planned()
    services.set_start_time(firing=firing, start_time=time(14), by=world.by, at=NOW)
    firing.refresh_from_db()
    found = watch(firing)
    # 14:00 + 10.86 h + 1.09 h is 1:57.
    assert found.caution.startswith("It may be at its top in the night (22:00 to 06:00).")
    assert "your local codes" in found.caution
    # Lit at 10:00 it may last until 10 + 11.95 = 21:57; half an hour later is the night.
    assert found.better == time(10)
    page = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "Light it at 10:00: lighting and top by day" in page
    url = reverse("firings:start-time", args=[firing.pk])
    signed_in.post(url, {"form_key": form_key(), "start_time": "10:00"})
    firing.refresh_from_db()
    assert firing.start_time == time(10)
    assert watch(firing).caution == ""
    change = Change.objects.filter(action="set_start_time").order_by("-pk")[0]
    undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.start_time == time(14)


def test_lit_in_the_night_is_warned_of(world: World) -> None:
    firing = world.planned()
    firing.start_time = time(5)
    assert watch(firing).caution.startswith("It would be lit in the night")
    firing.start_time = time(22)
    assert watch(firing).caution.startswith("It would be lit in the night")
    firing.start_time = time(23, 30)
    NightRule.objects.create(night_from=time(22), night_until=time(12))
    assert watch(firing).caution.startswith("It would be lit and may reach its top in the night")


def test_its_own_logs_go_before_its_rows(world: World) -> None:
    for day, slower in ((30, 1.2), (20, 1.3), (10, 1.4)):
        logged = opened(world, day)
        keep(world, logged, log_of(logged, slower=slower))
    firing = world.planned()
    found = watch(firing)
    # 10.86 h of heating x 1.3, the middle of three; they differ by 0.2 x 10.86 h, half of it either
    # way.
    assert (found.left_at - found.start_at) / timedelta(hours=1) == pytest.approx(
        10.86 * 1.3, abs=0.1
    )
    assert found.off_h == pytest.approx(1.09, abs=0.05)
    assert found.known_from == "by 3 logs of this schedule in this kiln"


def test_gas_is_never_left_from_the_lighting_on(world: World, signed_in: Client) -> None:
    world.big.fuel = "gas"
    world.big.save()
    firing = world.planned()
    assert watch(firing).stays[0] == (
        "No unattended start (gas): somebody trained stays from the lighting on."
    )
    page = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "No unattended start (gas)" in page


def test_lighting_now_says_when_its_top_is(world: World, signed_in: Client) -> None:
    firing = world.planned()
    world.load(firing, world.glazed(4))
    page = signed_in.get(reverse("firings:light", args=[firing.pk])).content.decode()
    # It is 10:00: 10 + 10.61 h.
    assert "Lit now, it is at its top about" in page
    assert "at 20:36" in page


def test_a_lit_firing_shows_its_hours_and_asks_for_no_other(world: World) -> None:
    firing = world.planned()
    world.load(firing, world.glazed(4))
    world.lit(firing, hours_ago=15)
    found = watch(firing)
    assert found.is_lit
    assert found.better is None
    assert found.start_at == NOW - timedelta(hours=15)
    services.switch_off(firing=firing, off_at=NOW - timedelta(hours=2), by=world.by, at=NOW)
    firing.refresh_from_db()
    assert selectors.watch_of(firing) is None


def test_a_schedule_without_rows_says_nothing(world: World) -> None:
    world.six.segments.all().delete()
    firing = world.planned()
    assert selectors.watch_of(firing) is None
    assert (
        "Somebody is there at the expected end and sees it go off."
        in papers.sheet_of(firing).cautions
    )


def test_the_sheet_says_the_hours(world: World) -> None:
    firing = world.planned()
    assert (
        "Lit about 08:00, at its top about 18:36, Wed 25 Nov: somebody is there and sees it go off."
        in papers.sheet_of(firing).cautions
    )


def test_the_night_clocks_change(world: World) -> None:
    firing = world.planned(start=TODAY)
    # In March 2027 clocks in London go from 1:00 to 2:00 on Sunday the 28th.
    firing.start_date = firing.start_date.replace(year=2027, month=3, day=27)
    firing.start_time = time(20)
    # 20:00 + 10.61 h is 6:36 by the old clock, 7:36 by the new.
    assert clock(watch(firing).top_at) == "Sun 07:36"


def test_the_studio_says_its_own_hours(world: World, signed_in: Client, form_key: Key) -> None:
    url = reverse("firings:night")
    assert 'value="22:00"' in signed_in.get(url).content.decode()
    typed = {"usual_start": "17:30", "night_from": "23:00", "night_until": "07:00"}
    signed_in.post(url, {"form_key": form_key(), **typed})
    assert clock(watch(world.planned()).start_at) == "Wed 17:30"
    change = Change.objects.get(action="save_night_rule")
    assert change.said == "Kilns are lit about 17:30; it is night from 23:00 to 07:00"
    undo(change=change, by=world.by, at=NOW)
    assert not NightRule.objects.exists()
    signed_in.post(url, {"form_key": form_key(), **typed})
    signed_in.post(url, {"form_key": form_key(), **typed, "night_from": "22:30"})
    undo(change=Change.objects.filter(action="save_night_rule").order_by("-pk")[0], by=world.by,
         at=NOW)  # fmt: skip
    assert NightRule.objects.get().night_from == time(23)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"night_until": "22:00"}, "A night begins and ends at two times."),
        ({"night_from": ""}, "This field is required."),
        ({"usual_start": "25:00"}, "Enter a valid time."),
    ],
)
def test_hours_that_cannot_be(
    world: World, signed_in: Client, form_key: Key, typed: dict[str, str], says: str
) -> None:
    good = {"usual_start": "08:00", "night_from": "22:00", "night_until": "06:00"}
    answer = signed_in.post(reverse("firings:night"), {"form_key": form_key(), **good, **typed})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not NightRule.objects.exists()


def test_an_hour_that_cannot_be_chosen(
    world: World, signed_in: Client, form_key: Key, refused: Refused
) -> None:
    firing = world.planned()
    asked = {"firing": firing, "start_time": time(9), "by": world.by, "at": NOW}
    change = services.set_start_time(**asked)  # type: ignore[arg-type]
    services.set_start_time(firing=firing, start_time=None, by=world.by, at=NOW)
    assert "its hour was set since" in refused(undo, change=change, by=world.by, at=NOW)
    services.call_off(firing=firing, by=world.by, at=NOW)
    assert refused(services.set_start_time, **asked) == "This firing was called off."
    url = reverse("firings:start-time", args=[firing.pk])
    answer = signed_in.post(url, {"form_key": form_key(), "start_time": "09:00"})
    assert answer.status_code == 422
    assert "This firing was called off." in answer.content.decode()
    other = world.planned()
    world.load(other, world.glazed(4))
    world.lit(other, hours_ago=15)
    assert refused(services.set_start_time, **{**asked, "firing": other}) == (
        "Heron is lit already."
    )
    world.fired(world_loaded(world))
    assert refused(
        services.set_start_time, **{**asked, "firing": Firing.objects.filter(state="opened").last()}
    ) == "This firing was opened."  # fmt: skip


def world_loaded(world: World) -> Firing:
    firing = world.planned(world.small)
    world.load(firing, world.glazed(2))
    return firing


def test_the_database_keeps_one_night_with_two_ends(world: World) -> None:
    for wrong in ({"id": 2}, {"night_from": time(6)}):
        with pytest.raises(IntegrityError), transaction.atomic():
            NightRule.objects.create(**wrong)
