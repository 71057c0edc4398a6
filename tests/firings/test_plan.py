"""Put a firing on a kiln's days: it works, then every refusal, then the way back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from studio.firings import rules, selectors, services
from studio.firings.models import Firing, Run
from studio.web.models import Change
from tests.firings.conftest import NOW, TODAY, World

Refused = Callable[..., str]


def ask(world: World, **values: object) -> dict[str, object]:
    """A firing that may be planned, with something changed."""
    asked = {
        "kiln": world.big, "schedule": world.six, "start_date": TODAY, "by": world.by, "at": NOW,
    }  # fmt: skip
    return {**asked, **values}


def test_a_firing_takes_its_runs_days(world: World) -> None:
    Run.objects.filter(kiln=world.big, schedule=world.six).update(busy_days=3)
    wares = [
        (world.mug, world.grey, world.tenmoku, 20),
        (world.mug, world.grey, world.tenmoku, 4),
        (world.bowl, world.grey, world.tenmoku, 6),
    ]
    change = services.plan_firing(**ask(world, wares=wares))
    firing = Firing.objects.get(pk=change.subject_id)
    assert (firing.state, firing.busy_days) == ("planned", 3)
    assert change.said == "Planned Cone 6 plain in Heron from Wed 25 Nov for 30 pieces"
    assert sorted(ware.count for ware in firing.planned_wares.all()) == [6, 20 + 4]
    assert list(selectors.planned_firings(TODAY, TODAY)) == [firing]


def test_days_may_touch_but_not_overlap(world: World, refused: Refused) -> None:
    world.planned(start=TODAY + timedelta(days=4))  # 29 and 30 Nov
    for days in (3, 4, 5):
        sentence = refused(
            services.plan_firing, **ask(world, start_date=TODAY + timedelta(days=days))
        )
        assert sentence == "Heron is taken from Sun 29 Nov to Mon 30 Nov by Cone 6 plain."
    for days in (2, 6):
        services.plan_firing(**ask(world, start_date=TODAY + timedelta(days=days)))
    services.plan_firing(**ask(world, kiln=world.small, start_date=TODAY + timedelta(days=4)))


def test_a_firing_under_way_takes_its_days_too(world: World, refused: Refused) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.lit(firing, hours_ago=1)
    assert refused(services.plan_firing, **ask(world, start_date=TODAY + timedelta(days=1))) == (
        "Heron is taken from Wed 25 Nov to Thu 26 Nov by Slow bisque, which is firing."
    )


def test_a_firing_of_one_day(world: World, refused: Refused) -> None:
    Run.objects.all().update(busy_days=1)
    services.plan_firing(**ask(world))
    sentence = refused(services.plan_firing, **ask(world))
    assert sentence == "Heron is taken on Wed 25 Nov by Cone 6 plain."


@pytest.mark.parametrize("off", [True, False])
def test_a_late_kiln_is_not_free(world: World, refused: Refused, off: bool) -> None:
    """Lit on Fri 20 Nov for 2 days and not opened on Wed 25 Nov: it is taken until it is."""
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.lit(firing, hours_ago=5 * 24)
    if off:
        services.switch_off(firing=firing, off_at=NOW - timedelta(days=4), by=world.by, at=NOW)
    word = "cooling" if off else "firing"
    sentence = f"Heron is taken from Fri 20 Nov to Wed 25 Nov by Slow bisque, which is {word}."
    assert refused(services.plan_firing, **ask(world)) == sentence
    waiting = services.plan_firing(**ask(world, start_date=TODAY + timedelta(days=1)))
    other = Firing.objects.get(pk=waiting.subject_id)
    moving = {"firing": other, "start_date": TODAY, "by": world.by, "at": NOW}
    assert refused(services.shift, **moving) == sentence
    services.open_kiln(firing=firing, opened_at=NOW, by=world.by, at=NOW)
    services.shift(**moving)


def test_a_late_load_runs_into_the_next(world: World) -> None:
    """Lit two days late, still in its own two days, on the first day of the next one."""
    firing = world.planned(start=TODAY)
    later = world.planned(start=TODAY + timedelta(days=2))
    now = TODAY + timedelta(days=2)
    lit_at = NOW + timedelta(days=1)
    Firing.objects.filter(pk=firing.pk).update(state="firing", lit_at=lit_at)
    firing.refresh_from_db()
    assert selectors.span(firing=firing, today_date=now) == (
        TODAY + timedelta(days=1),
        TODAY + timedelta(days=3),
    )
    assert selectors.late_for(firing, today_date=now) == (
        "Heron is taken from Fri 27 Nov to Sat 28 Nov by Cone 6 plain."
    )
    assert later.start_date == now


def test_called_off_days_are_free(world: World) -> None:
    firing = world.planned(start=TODAY)
    services.call_off(firing=firing, by=world.by, at=NOW)
    services.plan_firing(**ask(world))


def test_dates_that_cannot_be(world: World, refused: Refused) -> None:
    past = refused(services.plan_firing, **ask(world, start_date=TODAY - timedelta(days=1)))
    assert past == "Tue 24 Nov 2026 is past. Plan a firing for today or later."
    far = refused(services.plan_firing, **ask(world, start_date=TODAY + timedelta(days=800)))
    assert far.endswith("is more than two years away. Is the year right?")


def test_kiln_and_schedule(world: World, refused: Refused) -> None:
    Run.objects.filter(kiln=world.big, schedule=world.six).delete()
    assert refused(services.plan_firing, **ask(world)).startswith(
        "Heron has no run of Cone 6 plain yet."
    )
    world.big.top_cone = "5"
    world.big.save()
    assert refused(services.plan_firing, **ask(world)) == (
        "Heron goes to cone 5 at most; Cone 6 plain goes to cone 6."
    )


def test_wares_that_do_not_go_together(world: World, refused: Refused) -> None:
    def wares(*rows: object) -> dict[str, object]:
        return ask(world, wares=list(rows))

    world.soft.top_cone = "5"
    world.soft.save()
    world.low.top_cone = "1"
    world.low.save()
    mug, bowl, grey = world.mug, world.bowl, world.grey
    plan = services.plan_firing
    assert refused(plan, **wares((mug, grey, None, 3))).endswith("Choose its coats.")
    assert (
        refused(plan, **wares((mug, grey, world.tenmoku, 0))) == "Mug: write how many, 1 or more."
    )
    assert "Soft blue go to cone 5" in refused(plan, **wares((mug, grey, world.soft, 3)))
    assert "Red earthenware, lot 2 goes to cone 1 at most" in refused(
        plan, **wares((bowl, world.low, world.tenmoku, 3))
    )
    bisque = {**wares((mug, grey, world.tenmoku, 3)), "schedule": world.bisque}
    assert refused(plan, **bisque) == "Mug: a bisque firing takes ware without coats."
    world.mug.height_mm = 700
    world.mug.save()
    assert "748 mm tall, before it shrinks; Heron has 632 mm of height" in refused(
        plan, **wares((world.mug, grey, world.tenmoku, 3))
    )
    assert not Firing.objects.exists()


def test_shift(world: World, refused: Refused) -> None:
    firing, other = world.planned(start=TODAY), world.planned(start=TODAY + timedelta(days=2))
    asked = {"firing": firing, "by": world.by, "at": NOW}
    assert refused(services.shift, start_date=TODAY + timedelta(days=1), **asked) == (
        "Heron is taken from Fri 27 Nov to Sat 28 Nov by Cone 6 plain."
    )
    assert "is past" in refused(services.shift, start_date=TODAY - timedelta(days=1), **asked)
    change = services.shift(start_date=TODAY + timedelta(days=9), **asked)
    services.shift(firing=other, start_date=TODAY + timedelta(days=1), by=world.by, at=NOW)
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "Heron is taken from Thu 26 Nov to Fri 27 Nov by Cone 6 plain."
    )
    services.undo(change=Change.objects.first(), by=world.by, at=NOW)
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.start_date == TODAY


def test_only_a_waiting_firing_is_shifted(world: World, refused: Refused) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    sentence = "Only a planned firing that holds nothing yet can be put on another day."
    asked = {"firing": firing, "start_date": TODAY, "by": world.by, "at": NOW}
    assert refused(services.shift, **asked) == sentence == rules.can_shift(state="loaded")


def test_call_off_and_back(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown(7))
    change = services.call_off(firing=firing, by=world.by, at=NOW)
    assert change.said.endswith("; its 7 pieces are on their boards again")
    firing.refresh_from_db()
    assert firing.state == "called_off"
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, selectors.firing_fill(firing).pieces) == ("loaded", 7)


def test_a_called_off_firing_does_not_come_back_to_taken_days(
    world: World, refused: Refused
) -> None:
    firing = world.planned(start=TODAY)
    change = services.call_off(firing=firing, by=world.by, at=NOW)
    world.planned(start=TODAY)
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "Heron is taken from Wed 25 Nov to Thu 26 Nov by Cone 6 plain."
    )


def test_call_off_refusals(world: World, refused: Refused) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.lit(firing)
    asked = {"firing": firing, "by": world.by, "at": NOW}
    assert refused(services.call_off, **asked) == (
        "Heron is lit, so this firing cannot be called off. Switch it off, let it cool and open it;"
        " what was lost is written then."
    )
    services.open_kiln(opened_at=NOW, **asked)
    assert refused(services.call_off, **asked) == (
        "This firing was opened, so it cannot be called off."
    )
    other = world.planned()
    services.call_off(firing=other, by=world.by, at=NOW)
    assert refused(services.call_off, firing=other, by=world.by, at=NOW) == (
        "This firing was called off already."
    )


def test_undo_of_planning(world: World, refused: Refused) -> None:
    change = services.plan_firing(**ask(world))
    services.undo(change=change, by=world.by, at=NOW)
    assert not Firing.objects.exists()
    change = services.plan_firing(**ask(world, schedule=world.bisque))
    firing = Firing.objects.get(pk=change.subject_id)
    world.load(firing, world.thrown())
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "This can no longer be undone: the firing of 25 Nov in Heron is loaded now."
    )


def test_undo_of_a_note(world: World, refused: Refused) -> None:
    firing = world.planned()
    first = services.note(firing=firing, text="one", by=world.by, at=NOW)
    services.note(firing=firing, text="two", by=world.by, at=NOW)
    assert refused(services.undo, change=first, by=world.by, at=NOW) == (
        "This can no longer be undone: its note was changed since."
    )
    services.undo(change=Change.objects.first(), by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.note == "one"


@pytest.mark.parametrize(("tenths", "said"), [(310, "31"), (315, "31.5"), (5, "0.5"), (0, "0")])
def test_mug_places_are_told_as_people_tell_them(tenths: int, said: str) -> None:
    assert rules.places(tenths) == said
