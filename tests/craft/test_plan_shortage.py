"""Are impossible, not found and kept told apart, and what would help named?"""

from __future__ import annotations

from dataclasses import replace

from studio.craft.answer import FiringMore, Kept, Plan
from studio.craft.plan_shortage import (
    firing_more_words,
    most_that_can_be_had,
    most_words,
    outcome_words,
)
from tests.craft.backplan_cases import SALE, day, hands, studio

SHORT = Plan(
    jobs=(),
    loads=(),
    kept=(Kept(need_key="sale", line_key="blue", asked=5, kept=2),),
    cost_pence=0,
    weighted_short=9,  # 3 short x importance 3
    short_bound=9,
    cost_bound_pence=0,
    proven=False,
)
NOT_PROVEN = replace(SHORT, short_bound=4)
KEPT = replace(
    SHORT, kept=(replace(SHORT.kept[0], kept=5),), weighted_short=0, short_bound=0, proven=True
)


def test_three_outcomes_have_three_sentences() -> None:
    said = [outcome_words(problem=studio(), plan=plan) for plan in (KEPT, SHORT, NOT_PROVEN)]
    assert said == [
        "Everything asked for is kept.",
        "It cannot all be made: 3 pieces are short in every plan there is with these kilns, hands "
        "and dates.",
        "3 pieces are short in the best plan found in this time. Nothing proves that they cannot "
        "be made: look longer.",
    ]
    other = replace(SALE, key="shop", importance=1)
    assert "weighed by how much each date matters" in outcome_words(
        problem=studio(needs=(SALE, other)), plan=SHORT
    )


def test_the_most_that_can_be_had() -> None:
    assert most_that_can_be_had(problem=studio(), plan=SHORT) == (2, 2)
    assert most_words(problem=studio(), plan=SHORT) == "2 of 5 can be had, and no more."
    # 4 weighted at importance 3: at least 4 / 3, so 2 pieces, are short: at most 3 of 5
    assert most_that_can_be_had(problem=studio(), plan=NOT_PROVEN) == (2, 3)
    assert most_words(problem=studio(), plan=NOT_PROVEN) == (
        "2 of 5 can be had; no plan brings more than 3."
    )
    assert most_that_can_be_had(problem=studio(), plan=KEPT) == (5, 5)


def test_a_firing_more_in_words() -> None:
    days = tuple(hands(i, start=i != 6) for i in range(21))
    more = FiringMore(
        kiln_key="big", schedule_key="cone 6", start_date=day(8), gain=3, kiln_is_taken=True
    )
    plan = replace(
        SHORT,
        firings_more=(
            more,
            replace(more, schedule_key="bisque", start_date=day(6), kiln_is_taken=False, gain=1),
        ),
    )
    said = firing_more_words(
        problem=studio(days=days), plan=plan, schedules={"cone 6": "cone 6 slow"}
    )
    assert said == (
        "A cone 6 slow firing more on Tue 10 Mar 2026 in a second kiln like the big kiln would "
        "bring 3.",
        "A bisque firing more on Sun 8 Mar 2026, a day on which none is started now, in the big "
        "kiln would bring 1.",
    )
