"""Does the referee see a broken trial, a broken appointment, a share too large and a wrong sum?

The laws 12 to 15 of ``studio.craft.referee``, on the plan of ``referee_cases``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from studio.craft.answer import Work
from studio.craft.problem import BISQUE, Load, OnHand, Stage
from tests.craft.backplan_cases import day, hands, studio
from tests.craft.referee_cases import (
    BISQUED,
    FINISH,
    FIRED,
    GLAZE,
    KEPT,
    THROW,
    job,
    load,
    verdict,
)

ASH = OnHand(stage=Stage.GLAZED, key="ash", count=9, ready_date=day(0))


def trials(*loads: Load, pinned: tuple[Load, ...] = ()) -> tuple[str, ...]:
    cost = sum({"big": 1500, "small": 700}[one.kiln_key] for one in loads)
    problem = studio(on_hand=(ASH,), pinned=pinned)
    return verdict(problem, loads=(BISQUED, FIRED, *loads), cost_pence=2500 + cost)


def test_law_12_a_trial_then_the_rest() -> None:
    trial, rest = load("small", "cone 6", 1, 1, ash=2), load("big", "cone 6", 2, 2, ash=7)
    assert trials(trial, rest) == ()


def test_law_12_nothing_before_the_trial_is_open() -> None:
    trial = load("small", "cone 6", 1, 1, ash=2)
    also = load("small", "cone 6", 0, 1, ash=2)
    assert trials(also, trial) == ()  # the first is the trial; it is open on day 1
    big = load("big", "cone 6", 1, 2, ash=6)
    late_trial = load("small", "cone 6", 0, 1, ash=2)
    assert trials(late_trial, big) == ()
    long_trial = load("small", "cone 6", 2, 1, ash=3)
    assert trials(big, long_trial) == (
        "2026-03-03: ash mug is unproven; this kiln takes no trials.",
        "2026-03-04: ash mug is loaded before its trial is open.",
    )


@pytest.mark.parametrize("count", [1, 7])
def test_law_12_a_trial_is_small_and_not_too_small(count: int) -> None:
    roomy = load("small", "cone 6", 1, 1, ash=count)
    assert f"2026-03-03: ash mug is unproven; a trial is 2 to 6 pieces, not {count}." in trials(
        roomy
    )


def test_law_12_a_pinned_load_is_a_trial() -> None:
    pinned = load("big", "cone 6", -1, 2, ash=9)  # open on day -1 + 2 = 1
    assert trials(load("big", "cone 6", 1, 2, ash=7), pinned=(pinned,)) == ()


def test_law_13_a_pinned_load_brings_its_pieces_once_it_is_open() -> None:
    # 4 of the 5 are in the kiln since yesterday: 1 is fired on day 8, all are there on day 11
    pinned = load("big", "cone 6", -1, 2, blue=4)
    one = (
        job(Work.THROWING, 0, "mug", 1),
        job(Work.GLAZING, 7, "blue", 1),
        job(Work.FINISHING, 10, "blue", 5),
    )
    loads = (load("big", BISQUE, 5, 2, mug=1), load("big", "cone 6", 8, 2, blue=1))
    assert verdict(studio(pinned=(pinned,)), jobs=one, loads=loads) == ()
    assert verdict(studio(), jobs=one, loads=loads) == (
        "2026-03-12: 5 fired blue mug are wanted, 1 are expected.",
    )


def test_law_13_a_kept_appointment_may_be_filled_even_on_a_day_off() -> None:
    kept = replace(FIRED, contents=(), filled=False)
    days = tuple(hands(i, start=i != 8) for i in range(21))
    assert verdict(studio(pinned=(kept,), days=days)) == ()
    other = replace(FIRED, start_date=day(9))
    assert verdict(
        studio(pinned=(kept,)),
        loads=(BISQUED, other),
        jobs=(THROW, GLAZE, replace(FINISH, date=day(11))),
        kept=(replace(KEPT, in_buffer=5),),
    ) == ("2026-03-11: the big kiln is still busy with the load of 2026-03-10.",)


def test_law_13_a_load_of_another_length_does_not_fill_an_appointment() -> None:
    kept = replace(FIRED, contents=(), filled=False, busy_days=3)
    sentences = verdict(studio(pinned=(kept,)))
    assert "2026-03-10: the big kiln is still busy with the load of 2026-03-10." in sentences


def test_law_13_two_loads_cannot_fill_one_appointment() -> None:
    kept = replace(FIRED, contents=(), filled=False)
    glazed = OnHand(stage=Stage.GLAZED, key="blue", count=5, ready_date=day(0))
    sentences = verdict(
        studio(pinned=(kept,), on_hand=(glazed,)), loads=(BISQUED, FIRED, FIRED), cost_pence=4000
    )
    assert "2026-03-10: the big kiln is still busy with the load of 2026-03-10." in sentences


def on_trial(*loads: Load, **how: Any) -> tuple[str, ...]:
    """Blue is on trial: a quarter of a kiln's glaze room, 25 of 100 and 15 of 60 tenths."""
    blue = replace(studio().lines[0], **({"on_trial": True} | how))
    glazed = OnHand(stage=Stage.GLAZED, key="blue", count=9, ready_date=day(0))
    problem = studio(lines=(blue, *studio().lines[1:]), on_hand=(glazed,))
    cost = sum({"big": 1500, "small": 700}[one.kiln_key] for one in loads)
    nothing = replace(KEPT, kept=0)
    return verdict(
        problem, jobs=(), loads=loads, kept=(nothing,), cost_pence=cost, weighted_short=15
    )


def test_law_14_a_line_on_trial_takes_a_share_of_the_room() -> None:
    # mugs of 10 tenths: 2 take 20, 3 would take 30 of the 25 that the big kiln allows
    assert on_trial(load("big", "cone 6", 1, 2, blue=2)) == ()
    assert on_trial(load("big", "cone 6", 1, 2, blue=3)) == (
        "2026-03-03: blue mug is on trial; 3 of it take more than 25 % of the big kiln.",
    )


def test_law_14_a_kiln_that_takes_trials_holds_as_much_as_a_trial() -> None:
    # the share of the small kiln is 15 tenths, one mug; a trial may be 6, which fill it
    assert on_trial(load("small", "cone 6", 1, 1, blue=6)) == ()
    assert on_trial(load("small", "cone 6", 1, 1, blue=7)) == (
        "2026-03-03: the small kiln holds 70 tenths of room, only 60 are there.",
        "2026-03-03: blue mug is on trial; 7 of it take more than 25 % of the small kiln.",
    )


def test_law_14_a_line_on_trial_in_one_kiln_is_free_in_the_others() -> None:
    # as above for the big kiln alone: 2 mugs are its share, and the small kiln holds 6 of 60 tenths
    tried = {"on_trial": False, "trial_kilns": ("big",)}
    assert on_trial(load("big", "cone 6", 1, 2, blue=2), **tried) == ()
    assert on_trial(load("big", "cone 6", 1, 2, blue=3), **tried) == (
        "2026-03-03: blue mug is on trial; 3 of it take more than 25 % of the big kiln.",
    )
    assert on_trial(load("small", "cone 6", 1, 1, blue=6), **tried) == ()


def test_law_15_the_sums_are_what_the_loads_and_counts_say() -> None:
    assert verdict(cost_pence=2400, weighted_short=3) == (
        "The loads cost 2500 pence, the plan says 2400.",
        "The weighted shortfall is 0, the plan says 3.",
    )
    assert verdict(kept=()) == ("The promise of blue to sale is listed 0 times, not once.",)
    assert verdict(kept=(replace(KEPT, asked=6),), weighted_short=3) == (
        "sale asks for 5 of blue, not 6.",
    )
