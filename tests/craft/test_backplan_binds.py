"""What binds a plan, what would one firing more bring, and when must be thrown at the latest?"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from studio.craft.answer import Binds, FiringMore, Outcome
from studio.craft.backplan import latest_throw_dates
from studio.craft.problem import BISQUE, Circuit, HandsDay, Load, OnHand, Problem, Stage
from tests.craft.backplan_cases import BIG, MUG, SALE, SMALL, day, hands, studio
from tests.craft.backplan_small import sound


def off(first: int, span: int = 21, **few: Any) -> tuple[HandsDay, ...]:
    """Hands until ``first``, then a week and more off: a later date alone would not help."""
    return tuple(hands(i, **few) if i < first else hands(i, 0, 0, 0, False) for i in range(span))


def binds(problem: Problem) -> dict[Binds, int]:
    found = sound(problem)
    assert found.short > 0
    return {cause.binds: cause.gain for cause in found.causes}


def test_only_throwing_minutes_bind() -> None:
    # one mug a day on days 0 to 2, 5 asked: 2 short
    days = tuple(replace(one, throwing_min=20 if i < 3 else 0) for i, one in enumerate(off(13)))
    assert binds(studio(days=days)) == {Binds.THROWING: 2}


def test_only_glazing_minutes_bind() -> None:
    # 5 min a mug: 4 min on every day but one with 15: 3 mugs, 2 short
    days = tuple(replace(one, glazing_min=15 if i == 7 else 4) for i, one in enumerate(off(13)))
    assert binds(studio(days=days)) == {Binds.GLAZING: 2}


def test_only_finishing_minutes_bind() -> None:
    # 6 min a mug: 6 min on one day: 1 mug, 4 short
    days = tuple(replace(one, finishing_min=6 if i == 10 else 0) for i, one in enumerate(off(13)))
    assert binds(studio(days=days)) == {Binds.FINISHING: 4}


def test_only_kiln_days_bind() -> None:
    # 5 mugs stand bisqued; glazed on day 0, fired 1 to 3: 3 places of 10 tenths; then it is away
    narrow = replace(BIG, glaze_room_tenths=30)
    away = Load(kiln_key="big", schedule_key="cone 6", start_date=day(3), busy_days=60, contents=())
    mugs = OnHand(stage=Stage.BISQUED, key="mug", count=5, ready_date=day(0))
    problem = studio(kilns=(narrow,), pinned=(away,), on_hand=(mugs,), days=off(13))
    assert binds(problem) == {Binds.KILN_DAYS: 2}


def test_one_firing_more_brings_what_a_kiln_did_not_hold() -> None:
    # as above: 3 of 5 fired on day 1 or 2; a second firing then would hold the other 2
    narrow = replace(BIG, glaze_room_tenths=30)
    away = Load(kiln_key="big", schedule_key="cone 6", start_date=day(3), busy_days=60, contents=())
    mugs = OnHand(stage=Stage.BISQUED, key="mug", count=5, ready_date=day(0))
    problem = studio(kilns=(narrow,), pinned=(away,), on_hand=(mugs,), days=off(13))
    found = sound(problem)
    (more,) = found.firings_more
    assert (more.kiln_key, more.schedule_key, more.gain) == ("big", "cone 6", 2)
    assert found.outcome is Outcome.IMPOSSIBLE
    # Held to: with one firing that day in a kiln like it, the plan brings just so many.
    again = sound(with_one_firing(problem, more))
    assert again.short == found.short - more.gain == 0


def test_one_firing_more_on_a_day_off() -> None:
    # dry on day 9, a day off like those after it: nothing can be bisqued but on a day off
    slow = replace(MUG, drying_days=9)
    days = tuple(replace(hands(i), may_start=i < 9) for i in range(21))
    kept = tuple(
        Load(
            kiln_key="big",
            schedule_key="cone 6",
            start_date=day(i),
            busy_days=2,
            contents=(),
            filled=False,
        )
        for i in (12, 14)
    )
    problem = studio(wares=(slow, *studio().wares[1:]), days=days, pinned=kept)
    found = sound(problem)
    more = found.firings_more[0]
    assert (found.short, more.schedule_key, more.gain) == (5, BISQUE, 5)
    assert not more.kiln_is_taken
    assert more.start_date >= day(9)
    assert sound(with_one_firing(problem, more)).short == 0


def with_one_firing(problem: Problem, more: FiringMore) -> Problem:
    """A kiln like the one told, away but for an appointment on the day told."""
    kiln = next(kiln for kiln in problem.kilns if kiln.key == more.kiln_key)
    run = kiln.run(more.schedule_key)
    assert run is not None
    start = (more.start_date - problem.today_date).days

    def taken(first: int, days: int, *, filled: bool = True) -> Load:
        return Load(
            kiln_key="other",
            schedule_key=more.schedule_key,
            start_date=day(first),
            busy_days=days,
            contents=(),
            filled=filled,
        )

    loads = (
        taken(-9, 9 + start),
        taken(start, run.busy_days, filled=False),
        taken(start + run.busy_days, 60),
    )
    return replace(
        problem,
        kilns=(*problem.kilns, replace(kiln, key="other", circuit_key="other")),
        circuits=(*problem.circuits, Circuit(key="other", at_once=1)),
        pinned=(*problem.pinned, *loads),
    )


def test_only_drying_and_the_date_bind() -> None:
    # dry on day 9, out bisqued 10, glazed 10, fired 11 to 12, there on day 13; the sale is on 12
    slow = replace(MUG, drying_days=9)
    sale = replace(SALE, due_date=day(12), buffer_days=0)
    problem = studio(wares=(slow, *studio().wares[1:]), needs=(sale,))
    assert binds(problem) == {Binds.DRYING: 5, Binds.DATE: 5}


def test_the_last_throwing_day_counted_back() -> None:
    late = replace(SALE, due_date=day(20), counts=(("blue", 1), ("ash", 1), ("hot", 1)))
    dates = latest_throw_dates(studio(needs=(late,), kilns=(BIG, SMALL)))
    # 20 - 4 buffer - 1 finish - 1 busy (small) - 1 glaze - 1 busy - 5 drying = 7
    assert dates["sale", "blue"] == day(20 - 4 - 1 - 1 - 1 - 1 - 5)
    # cone 10 only in the big kiln: 3 days
    assert dates["sale", "hot"] == day(20 - 4 - 1 - 3 - 1 - 1 - 5)
    # the main ash load starts on day 20 - 4 - 1 - 1 = 14, so its trial starts on day 13
    assert dates["sale", "ash"] == day(13 - 1 - 1 - 5)


def test_too_late_to_throw_is_left_out() -> None:
    soon = replace(SALE, due_date=day(10))
    assert latest_throw_dates(studio(needs=(soon,))) == {}


@pytest.mark.parametrize("hands_off", [0, 1])
def test_the_last_throwing_day_is_the_last_that_works(hands_off: int) -> None:
    """Throwing on that day alone keeps the promise; on the day after alone it does not."""
    closed = {i for i in range(21) if hands_off and i % 7 in (5, 6)}
    days = [hands(i, 0, 0, 0, False) if i in closed else hands(i) for i in range(21)]
    problem = studio(days=tuple(days), needs=(replace(SALE, counts=(("blue", 1),)),))
    last = (latest_throw_dates(problem)["sale", "blue"] - day(0)).days
    for only, good in ((last, True), (last + 1, False)):
        alone = tuple(
            replace(one, throwing_min=120 if i == only else 0) for i, one in enumerate(days)
        )
        found = sound(replace(problem, days=alone))
        assert (found.short == 0 and found.in_buffer == 0) is good
