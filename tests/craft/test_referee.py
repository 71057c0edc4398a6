"""Does the referee see each broken promise, and only that one?

One sound plan, made by hand; each test breaks one law of ``studio.craft.referee`` and reads the
sentence. The sums behind the days stand beside the plan.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from studio.craft.answer import Kept, Work
from studio.craft.problem import BISQUE, Circuit, Need, OnHand, Stage, Yields
from tests.craft.backplan_cases import SALE, day, hands, studio
from tests.craft.referee_cases import (
    BISQUED,
    FINISH,
    FIRED,
    GLAZE,
    KEPT,
    SOUND,
    THROW,
    job,
    load,
    verdict,
)


def test_a_sound_plan_breaks_nothing() -> None:
    assert verdict() == ()


def test_doing_nothing_is_sound_when_it_says_so() -> None:
    nothing = Kept(need_key="sale", line_key="blue", asked=5, kept=0)
    # 3 importance x 5 pieces = 15
    assert verdict(jobs=(), loads=(), kept=(nothing,), cost_pence=0, weighted_short=15) == ()


def test_unknown_keys_are_named_first() -> None:
    assert verdict(
        jobs=(job(Work.THROWING, 0, "jug", 1),),
        loads=(load("pit", BISQUE, 5, 2, plate=1),),
        kept=(Kept(need_key="fair", line_key="blue", asked=1, kept=1),),
    ) == (
        "2026-03-02: a throwing job names an unknown jug.",
        "2026-03-07: a load names an unknown kiln pit.",
        "2026-03-07: a load holds an unknown plate.",
        "A promise of blue to fair was never asked for.",
    )


@pytest.mark.parametrize(
    ("work", "sentence"),
    [
        ("throwing", "2026-03-02: throwing takes 100 min, only 90 min are there."),
        ("glazing", "2026-03-09: glazing takes 25 min, only 20 min are there."),
        ("finishing", "2026-03-12: finishing takes 30 min, only 20 min are there."),
    ],
)
def test_law_1_hands_have_so_many_minutes(work: str, sentence: str) -> None:
    few: dict[str, Any] = {work: {"throwing": 90, "glazing": 20, "finishing": 20}[work]}
    days = tuple(hands(i, **few) for i in range(21))
    assert verdict(studio(days=days)) == (sentence,)


def test_law_1_nothing_is_done_outside_the_days_planned() -> None:
    late = job(Work.THROWING, 21, "mug", 1)
    assert verdict(jobs=(*SOUND.jobs, late)) == (
        "2026-03-23: throwing of mug lies outside the days planned.",
    )


def test_law_2_pieces_dry_before_they_are_fired() -> None:
    early = replace(BISQUED, start_date=day(4))
    assert verdict(loads=(early, FIRED)) == ("2026-03-06: 5 dry mug are wanted, 0 are expected.",)


def test_law_2_wet_pieces_on_hand_lose_by_drying_and_dry_ones_do_not() -> None:
    half = Yields(drying_percent=50, bisque_percent=100, glaze_percent=100)
    for ready, expected in ((0, ()), (5, ("2026-03-07: 5 dry mug are wanted, 2.5 are expected.",))):
        hand = OnHand(stage=Stage.THROWN, key="mug", count=5, ready_date=day(ready))
        problem = studio(on_hand=(hand,), yields=half)
        assert verdict(problem, jobs=(GLAZE, FINISH)) == expected


def test_law_3_bisque_is_out_on_its_open_date() -> None:
    early = replace(GLAZE, date=day(6))
    assert verdict(jobs=(THROW, early, FINISH)) == (
        "2026-03-08: 5 bisqued mug are wanted, 0 are expected.",
    )


def test_law_4_glazed_ware_is_loaded_the_day_after() -> None:
    early = replace(FIRED, start_date=day(7))
    assert verdict(loads=(BISQUED, early)) == (
        "2026-03-09: 5 glazed blue mug are wanted, 0 are expected.",
    )


def test_law_5_a_load_has_one_schedule() -> None:
    glazed = OnHand(stage=Stage.GLAZED, key="hot", count=1, ready_date=day(0))
    mixed = load("big", "cone 6", 8, 2, blue=5, hot=1)
    assert verdict(studio(on_hand=(glazed,)), loads=(BISQUED, mixed)) == (
        "2026-03-10: tenmoku mug is fired to cone 10, the load of the big kiln to cone 6.",
    )


def test_law_6_finishing_waits_for_the_open_kiln() -> None:
    early = replace(FINISH, date=day(9))
    assert verdict(jobs=(THROW, GLAZE, early)) == (
        "2026-03-11: 5 fired blue mug are wanted, 0 are expected.",
    )


def test_law_7_a_piece_is_there_before_the_buffer_begins() -> None:
    late = replace(FINISH, date=day(11))
    assert verdict(jobs=(THROW, GLAZE, late)) == (
        "2026-03-13: 5 finished blue mug are wanted, 0 are expected.",
    )
    in_buffer = replace(KEPT, in_buffer=5)
    assert verdict(jobs=(THROW, GLAZE, late), kept=(in_buffer,)) == ()


def test_law_7_in_the_buffer_still_means_before_the_date() -> None:
    in_buffer = replace(KEPT, in_buffer=5)
    at_last = replace(FINISH, date=day(14))  # there on the morning of day 15, the sale
    assert verdict(jobs=(THROW, GLAZE, at_last), kept=(in_buffer,)) == ()
    too_late = replace(FINISH, date=day(15))
    assert verdict(jobs=(THROW, GLAZE, too_late), kept=(in_buffer,)) == (
        "2026-03-17: 5 finished blue mug are wanted, 0 are expected.",
    )


def test_law_7_a_piece_serves_one_need() -> None:
    other = Need(
        key="shop",
        name="shop",
        due_date=day(15),
        buffer_days=4,
        importance=1,
        counts=(("blue", 1),),
    )
    more = Kept(need_key="shop", line_key="blue", asked=1, kept=1)
    assert verdict(studio(needs=(SALE, other)), kept=(KEPT, more)) == (
        "2026-03-13: 6 finished blue mug are wanted, 5 are expected.",
    )


def test_law_7_a_buffer_that_begins_before_today_begins_today() -> None:
    graded = OnHand(stage=Stage.GRADED, key="blue", count=5, ready_date=day(0))
    soon = replace(SALE, due_date=day(2))  # four days of buffer: two of them are past
    assert verdict(studio(on_hand=(graded,), needs=(soon,)), jobs=(), loads=(), cost_pence=0) == ()
    tomorrow = replace(graded, ready_date=day(1))
    problem = studio(on_hand=(tomorrow,), needs=(soon,))
    assert verdict(problem, jobs=(), loads=(), cost_pence=0) == (
        "2026-03-02: 5 finished blue mug are wanted, 0 are expected.",
    )


def test_law_7_what_is_listed_already_counts() -> None:
    listed = OnHand(stage=Stage.LISTED, key="blue", count=2, ready_date=day(-9))
    graded = OnHand(stage=Stage.GRADED, key="blue", count=3, ready_date=day(0))
    problem = studio(on_hand=(listed, graded))
    assert verdict(problem, jobs=(), loads=(), cost_pence=0) == ()


def test_law_8_expected_losses_add_up_as_fractions() -> None:
    # 5 thrown x 90 % = 4.5 dry
    lossy = Yields(drying_percent=90, bisque_percent=100, glaze_percent=100)
    assert verdict(studio(yields=lossy)) == ("2026-03-07: 5 dry mug are wanted, 4.5 are expected.",)


def test_law_8_halves_of_two_loads_make_a_whole() -> None:
    # 3 x 50 % = 1.5 and again 3 x 50 % = 1.5: 1 fired piece after one load, 3 after both
    half = Yields(drying_percent=100, bisque_percent=100, glaze_percent=50)
    glazed = OnHand(stage=Stage.GLAZED, key="blue", count=6, ready_date=day(0))
    problem = studio(on_hand=(glazed,), yields=half, needs=(replace(SALE, counts=(("blue", 3),)),))
    three = Kept(need_key="sale", line_key="blue", asked=3, kept=3)
    loads = (load("big", "cone 6", 2, 2, blue=3), load("big", "cone 6", 4, 2, blue=3))
    finish = (job(Work.FINISHING, 4, "blue", 1), job(Work.FINISHING, 6, "blue", 2))
    assert verdict(problem, jobs=finish, loads=loads, kept=(three,), cost_pence=3000) == ()
    eager = (job(Work.FINISHING, 4, "blue", 2), job(Work.FINISHING, 6, "blue", 1))
    assert verdict(problem, jobs=eager, loads=loads, kept=(three,), cost_pence=3000) == (
        "2026-03-06: 2 fired blue mug are wanted, 1.5 are expected.",
    )


def test_law_9_a_load_fits_the_room() -> None:
    # 7 mugs x 10 tenths = 70 of 60 tenths
    glazed = OnHand(stage=Stage.GLAZED, key="blue", count=7, ready_date=day(0))
    full = load("small", "cone 6", 8, 1, blue=7)
    assert verdict(studio(on_hand=(glazed,)), loads=(BISQUED, full), cost_pence=1700) == (
        "2026-03-10: the small kiln holds 70 tenths of room, only 60 are there.",
    )


def test_law_9_a_load_fits_the_height() -> None:
    glazed = OnHand(stage=Stage.GLAZED, key="tall", count=1, ready_date=day(0))
    tall = load("big", "cone 6", 8, 2, blue=5, tall=1)
    assert verdict(studio(on_hand=(glazed,)), loads=(BISQUED, tall)) == (
        "2026-03-10: vase is 260 mm high, the big kiln clears 200 mm.",
    )


def test_law_10_a_load_starts_on_a_day_that_may() -> None:
    days = tuple(hands(i, start=i != 8) for i in range(21))
    assert verdict(studio(days=days)) == (
        "2026-03-10: the big kiln starts on a day that may start no firing.",
    )


def test_law_10_a_load_lasts_as_long_as_its_run() -> None:
    assert verdict(loads=(BISQUED, replace(FIRED, busy_days=1))) == (
        "2026-03-10: the big kiln is busy 2 days, not 1.",
    )


def test_law_10_a_kiln_fires_only_its_own_schedules_and_never_empty() -> None:
    assert verdict(loads=(BISQUED, FIRED, load("small", "cone 10", 11, 3))) == (
        "2026-03-13: the small kiln does not fire cone 10.",
        "2026-03-13: the small kiln is fired empty.",
    )


def test_law_10_a_load_starts_within_the_days_planned() -> None:
    glazed = OnHand(stage=Stage.GLAZED, key="blue", count=1, ready_date=day(0))
    late = load("small", "cone 6", 21, 1, blue=1)
    assert verdict(studio(on_hand=(glazed,)), loads=(BISQUED, FIRED, late), cost_pence=3200) == (
        "2026-03-23: a load of the small kiln starts outside the days planned.",
    )


def test_law_10_loads_never_overlap() -> None:
    glazed = OnHand(stage=Stage.GLAZED, key="blue", count=1, ready_date=day(0))
    soon = load("big", "cone 6", 9, 2, blue=1)
    assert verdict(studio(on_hand=(glazed,)), loads=(BISQUED, FIRED, soon), cost_pence=4000) == (
        "2026-03-11: the big kiln is still busy with the load of 2026-03-10.",
    )


def test_law_10_pinned_loads_keep_their_kiln() -> None:
    pinned = load("big", "cone 6", 9, 2, tall=1)
    assert verdict(studio(pinned=(pinned,))) == (
        "2026-03-10: the big kiln would still be busy when the load of 2026-03-11 starts.",
    )


def test_law_11_a_circuit_heats_so_many_at_once() -> None:
    glazed = OnHand(stage=Stage.GLAZED, key="blue", count=1, ready_date=day(0))
    both = load("small", "cone 6", 8, 1, blue=1)
    loads = (BISQUED, FIRED, both)
    one, two = (
        studio(on_hand=(glazed,), circuits=(Circuit(key="house", at_once=n),)) for n in (1, 2)
    )
    assert verdict(one, loads=loads, cost_pence=3200) == (
        "2026-03-10: 2 kilns start on circuit house, it carries 1.",
    )
    assert verdict(two, loads=loads, cost_pence=3200) == ()


def test_law_11_a_pinned_kiln_heats_on_its_circuit_too() -> None:
    pinned = load("small", "cone 6", 8, 1, blue=1)
    one = studio(pinned=(pinned,), circuits=(Circuit(key="house", at_once=1),))
    assert verdict(one) == ("2026-03-10: 2 kilns start on circuit house, it carries 1.",)
