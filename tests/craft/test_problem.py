"""Is a question that cannot be meant refused when it is made, with every cause in words?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from studio.craft.problem import (
    BISQUE,
    BadProblem,
    Circuit,
    Load,
    OnHand,
    PlanLine,
    Run,
    Stage,
    TrialRule,
    Yields,
)
from tests.craft.backplan_cases import BIG, BLUE, MONDAY, MUG, SALE, day, hands, studio

AN_OLD_LOAD = Load(
    kiln_key="sold", schedule_key=BISQUE, start_date=day(0), busy_days=1, contents=(("jug", 1),)
)


@pytest.mark.parametrize(
    ("make", "causes"),
    [
        (lambda: studio(kilns=(BIG, BIG)), ("a kiln is declared twice",)),
        (
            lambda: studio(kilns=(replace(BIG, circuit_key="shed"),)),
            ("kiln the big kiln hangs on an unknown circuit",),
        ),
        (
            lambda: studio(lines=(BLUE, replace(BLUE, key="jug", name="jug", ware_key="jug"))),
            ("line jug is of an unknown ware",),
        ),
        (
            lambda: studio(needs=(replace(SALE, counts=(("red", 1),)),)),
            ("spring sale wants an unknown line red",),
        ),
        (
            lambda: studio(
                on_hand=(OnHand(stage=Stage.BISQUED, key="blue", count=1, ready_date=day(0)),)
            ),
            ("on hand bisqued: unknown blue",),
        ),
        (lambda: studio(last_date=day(-1)), ("the last day lies before today",)),
        (
            lambda: studio(days=tuple(hands(i) for i in range(21) if i != 1)),
            ("days must run from today to the last day, one each, in order",),
        ),
        (
            lambda: studio(needs=(replace(SALE, due_date=MONDAY + timedelta(days=21)),)),
            ("spring sale: its date 2026-03-23 lies outside the days planned",),
        ),
        (
            lambda: studio(pinned=(AN_OLD_LOAD,)),
            (
                "a pinned firing names an unknown kiln sold",
                "a pinned firing holds an unknown jug",
            ),
        ),
        (
            lambda: OnHand(stage=Stage.FIRED, key="blue", count=-1, ready_date=day(0)),
            ("on hand blue: count must not be negative",),
        ),
        (lambda: Circuit(key="shed", at_once=0), ("circuit shed: at least one kiln must heat",)),
        (
            lambda: Run(schedule_key="", busy_days=0, cost_pence=-1),
            (
                "a run needs a schedule",
                "run : busy days must be at least 1",
                "run : cost must not be negative",
            ),
        ),
        (
            lambda: replace(MUG, drying_days=0, throwing_min=-1),
            ("mug: minutes must not be negative", "mug: drying takes at least a day"),
        ),
        (
            lambda: PlanLine(key="a", name="a", ware_key="mug", schedule_key=BISQUE),
            ("a: a line needs a glaze schedule",),
        ),
        (
            lambda: replace(BLUE, proven=False, on_trial=True),
            ("blue mug: a line waits for its trial or is on trial, not both",),
        ),
        (
            lambda: replace(SALE, importance=0, counts=(("blue", 0), ("blue", 1))),
            (
                "spring sale: importance starts at 1",
                "spring sale: a want asks for at least 1",
                "spring sale: a line is wanted twice",
            ),
        ),
        (lambda: Yields(glaze_percent=0), ("a yield is 1 to 100 per cent",)),
        (lambda: TrialRule(least_pieces=7), ("trial sizes do not agree",)),
        (lambda: TrialRule(share_percent=0), ("a share of a kiln is 1 to 100 per cent",)),
        (lambda: TrialRule(share_percent=101), ("a share of a kiln is 1 to 100 per cent",)),
    ],
)
def test_what_cannot_be_meant_is_refused(
    make: Callable[[], object], causes: tuple[str, ...]
) -> None:
    with pytest.raises(BadProblem) as caught:
        make()
    assert caught.value.causes == causes


def test_the_most_on_trial_is_a_share_of_the_room_or_a_trial() -> None:
    rule = TrialRule(most_pieces=6, share_percent=25)
    # 25 % of 100 tenths are 25 tenths: 2 mugs of 10; a kiln that takes trials holds 6 at least
    assert rule.most_on_trial(kiln=BIG, ware=MUG) == 2
    assert rule.most_on_trial(kiln=replace(BIG, takes_trials=True), ware=MUG) == 6
    assert rule.most_on_trial(kiln=replace(BIG, glaze_room_tenths=320), ware=MUG) == 8
