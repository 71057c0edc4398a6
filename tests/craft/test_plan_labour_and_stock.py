"""Are minutes, kiln days and stock of a plan what its jobs and loads add up to?

The expected numbers are sums made by hand from the plan below; no outside source.
"""

from __future__ import annotations

from datetime import timedelta

from studio.craft.answer import Job, Kept, Plan, Work
from studio.craft.plan_labour import hands_used, kiln_days_used, labour_days
from studio.craft.plan_stock import towards
from studio.craft.problem import BISQUE, Load, Need, OnHand, Problem, Stage, Yields
from tests.craft.backplan_cases import BIG, MONDAY, day, hands, studio


def job(work: Work, index: int, count: int) -> Job:
    return Job(
        work=work, date=day(index), key="mug" if work == Work.THROWING else "blue", count=count
    )


def load(schedule: str, index: int, count: int) -> Load:
    return Load(
        kiln_key="big",
        schedule_key=schedule,
        start_date=day(index),
        busy_days=2,
        contents=(("mug" if schedule == BISQUE else "blue", count),),
    )


def question(**more: object) -> Problem:
    """Two dates: 4 blue mugs on day 14, 6 more on day 20; 3 glazed and 2 bisqued stand."""
    return studio(
        last_date=day(21),
        days=tuple(hands(i) for i in range(22)),
        yields=Yields(),
        needs=(
            Need(key="a", name="market", due_date=day(14), buffer_days=0, importance=1,
                 counts=(("blue", 4),)),
            Need(key="b", name="fair", due_date=day(20), buffer_days=0, importance=1,
                 counts=(("blue", 6),)),
        ),
        on_hand=(
            OnHand(stage=Stage.GLAZED, key="blue", count=3, ready_date=MONDAY),
            OnHand(stage=Stage.BISQUED, key="mug", count=2, ready_date=MONDAY),
        ),
        **more,
    )  # fmt: skip


PLAN = Plan(
    jobs=(
        job(Work.THROWING, 1, 5),
        job(Work.GLAZING, 2, 2),
        job(Work.FINISHING, 6, 4),
        job(Work.GLAZING, 12, 5),
        job(Work.FINISHING, 16, 5),
    ),
    loads=(load("cone 6", 3, 5), load(BISQUE, 8, 5), load("cone 6", 13, 5)),
    kept=(
        Kept(need_key="a", line_key="blue", asked=4, kept=4),
        Kept(need_key="b", line_key="blue", asked=6, kept=5),
    ),
    cost_pence=0,
    weighted_short=1,
    short_bound=0,
    cost_bound_pence=0,
    proven=False,
)


def test_minutes_stand_on_their_day_beside_what_the_day_gives() -> None:
    rows = {row.date: row for row in labour_days(problem=question(), plan=PLAN)}
    assert len(rows) == 22
    assert rows[day(1)].asked_min == (5 * 20, 0, 0)
    assert rows[day(2)].asked_min == (0, 2 * 5, 0)
    assert rows[day(6)].asked_min == (0, 0, 4 * 6)
    assert rows[day(1)].given_min == (120, 60, 60)
    assert rows[day(0)].asked_min == (0, 0, 0)


def test_shares_of_hands_count_up_to_the_last_date() -> None:
    used = hands_used(problem=question(), plan=PLAN)
    # 21 days to day 20: 21 x 120 for throwing, 21 x 60 for the others.
    assert [(u.name, u.used, u.given) for u in used] == [
        ("throwing", 100, 2520),
        ("glazing", 2 * 5 + 5 * 5, 1260),
        ("finishing", 4 * 6 + 5 * 6, 1260),
    ]
    assert used[0].percent == 4  # 100 / 2520 = 3.97 %


def test_kiln_days_count_each_day_once_and_those_that_stand_already() -> None:
    standing = Load(
        kiln_key="big", schedule_key=BISQUE, start_date=day(19), busy_days=4, contents=(),
        filled=False,
    )  # fmt: skip
    [big] = [
        use
        for use in kiln_days_used(problem=question(pinned=(standing,)), plan=PLAN)
        if use.name == BIG.name
    ]
    # Three loads of 2 days, and of the standing one the days 19 and 20, before the last date ends.
    assert (big.used, big.given) == (3 * 2 + 2, 21)
    assert big.percent == 38  # 8 / 21


def test_a_studio_without_hands_uses_none() -> None:
    idle = studio(
        last_date=day(21),
        days=tuple(hands(i, throwing=0, glazing=0, finishing=0) for i in range(22)),
        needs=question().needs,
    )
    assert [use.percent for use in hands_used(problem=idle, plan=PLAN)] == [0, 0, 0]


def test_stock_grows_towards_each_date_the_soonest_first() -> None:
    market, fair = towards(problem=question(), plan=PLAN)
    assert (market.name, market.asked, market.kept) == ("market", 4, 4)
    # Thrown, bisqued, glazed, fired, graded. 3 glazed and 2 bisqued stand: 5 are bisqued at least,
    # 4 of them for the market. The first glaze load of 5 opens on day 5: 5 x 88 % is 4 whole ones.
    assert market.days == (
        (day(0), (4, 4, 3, 0, 0)),
        (day(2), (4, 4, 4, 0, 0)),
        (day(5), (4, 4, 4, 4, 0)),
        (day(6), (4, 4, 4, 4, 4)),
    )
    # The fair gets what is over: 1 of the 5, then the 5 thrown on day 1, at most the 5 it keeps.
    assert fair.days == (
        (day(0), (1, 1, 0, 0, 0)),
        (day(1), (5, 1, 0, 0, 0)),
        (day(2), (5, 1, 1, 0, 0)),
        (day(10), (5, 5, 1, 0, 0)),
        (day(12), (5, 5, 5, 0, 0)),
        (day(15), (5, 5, 5, 4, 0)),
        (day(16), (5, 5, 5, 5, 5)),
    )


def test_what_stands_in_a_kiln_comes_when_it_opens() -> None:
    firing = Load(
        kiln_key="big",
        schedule_key="cone 6",
        start_date=MONDAY - timedelta(days=1),
        busy_days=2,
        contents=(("blue", 4),),
    )
    none = Plan(
        jobs=(), loads=(), kept=PLAN.kept, cost_pence=0, weighted_short=0, short_bound=0,
        cost_bound_pence=0, proven=False,
    )  # fmt: skip
    bare = studio(
        last_date=day(21),
        yields=Yields(),
        days=question().days,
        needs=question().needs,
        pinned=(firing,),
    )
    market, _ = towards(problem=bare, plan=none)
    assert market.days == ((day(0), (4, 4, 4, 0, 0)), (day(1), (4, 4, 4, 3, 0)))
