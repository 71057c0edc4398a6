"""Do the calendars that come with the floor under the shortfall lead to good and lawful plans?"""

from __future__ import annotations

from dataclasses import replace

from studio.craft.answer import Outcome
from studio.craft.backplan import plan
from studio.craft.backplan_bound import ShortFloor, sharper_floor, split_floor, whole_floor
from studio.craft.backplan_frame import frame
from studio.craft.backplan_places import places_of
from studio.craft.backplan_runs import Runner
from studio.craft.backplan_search import Clock
from studio.craft.backplan_short import smaller
from studio.craft.backplan_short_guide import Guide, often, plan_of, whole_firings
from studio.craft.problem import BISQUE
from studio.craft.referee import broken_promises
from tests.bench.studios import make_problem
from tests.craft.backplan_cases import BIG, BLUE, MUG, SALE, hands, studio

ONE_KILN = studio(
    days=tuple(hands(i, 2000, 2000, 2000) for i in range(21)),
    kilns=(BIG,),
    wares=(MUG,),
    lines=(BLUE,),
    needs=(replace(SALE, counts=(("blue", 34),)),),
)
"""20 of 34 mugs can be had: see ``test_kiln_days_bind``."""


def test_a_plan_as_good_as_the_floor_is_proven() -> None:
    found = plan(problem=ONE_KILN, steps=60, seconds=60)
    assert broken_promises(problem=ONE_KILN, plan=found) == ()
    assert (found.short, found.short_bound) == (34 - 2 * 10, 3 * 14)
    assert found.outcome is Outcome.IMPOSSIBLE


def test_half_a_firing_a_day_is_a_firing_every_other_day() -> None:
    made = frame(problem=ONE_KILN)
    small = smaller(made=made)
    values = [0.0] * len(small.rows.upper)
    bisques = {slot: column for slot, column in small.slot_column.items()
               if slot.schedule_key == BISQUE}  # fmt: skip
    for column in bisques.values():
        values[column] = 0.5
    calendar = often(made=made, small=small, values=values)
    days = sorted(slot.start for slot in calendar)
    first = min(slot.start for slot in bisques)
    # A bisque takes 2 days, so 0.5 a day is all there is room for: first, first + 2, first + 4 ...
    assert days == list(range(first, first + 2 * len(days), 2))
    assert len(days) == -(-len(bisques) // 2)
    places = places_of(made)
    for slot in sorted(calendar, key=lambda one: one.start):
        assert places.may(slot)
        places.take(slot)


def test_what_comes_of_both_calendars_obeys_the_referee_and_the_floor() -> None:
    problem = make_problem(size="small", seed=2, variant="impossible")
    made = frame(problem=problem)
    floor = ShortFloor(made=made)
    split_floor(floor=floor, seconds=20)
    assert floor.small is not None
    calendar = often(made=made, small=floor.small, values=floor.split)
    turned = plan_of(runner=Runner(made), calendar=calendar)
    assert broken_promises(problem=problem, plan=turned) == ()
    assert turned.weighted_short >= floor.least > 0


def test_the_calendar_of_whole_firings_is_filled() -> None:
    made = frame(problem=ONE_KILN)
    floor = ShortFloor(made=made)
    split_floor(floor=floor, seconds=20)
    sharper_floor(floor=floor, seconds=20)
    whole_floor(floor=floor, seconds=20)
    assert floor.exact
    assert floor.small is not None
    # Two glaze loads of 10 after one bisque, or two of each: what opens too late holds nothing.
    glazes = [s for s in whole_firings(small=floor.small, values=floor.whole)
              if s.schedule_key != BISQUE]  # fmt: skip
    assert len(glazes) >= 2
    guide = Guide(made=made, clock=Clock(seconds=60), until=40)
    guide.want(still=True)
    plans = guide.filled(steps=40, by=40, until=60, seed=1)
    assert guide.wait() == floor.least
    assert min(one.short for one in plans) == 14
    for one in plans:
        assert broken_promises(problem=ONE_KILN, plan=one) == ()
