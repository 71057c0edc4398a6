"""Is every planned load packed, and the plan sought again where one leaves pieces over?"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import timedelta

import pytest

from studio.craft.answer import Plan
from studio.craft.backplan import NotFoundInTime
from studio.craft.backplan import plan as seek_plan
from studio.craft.kiln_load import KilnRoom, LoadPlan, Lot, Spot, Ware
from studio.craft.kiln_packing import FITS_STEPS
from studio.craft.problem import BISQUE, Load, Problem
from studio.craft.referee import broken_promises
from studio.planning import services
from studio.planning.selectors import ask, packs, stored
from studio.planning.selectors.packs import Packer, packer
from studio.planning.services.packing import Look, packed
from tests.planning.cast import NOW, TODAY, Cast

pytestmark = pytest.mark.usefixtures("clock")

DAY = timedelta(days=1)
ALL_STANDS = "Every load was packed piece by piece, and all of it stands."


@pytest.fixture
def problem(cast: Cast) -> Problem:
    """A sale that wants 24 mugs, which both kilns have places for."""
    cast.sale("Winter sale", TODAY + 45 * DAY, {cast.mugs: 24})
    return ask(today_date=TODAY).problem


class Narrow:
    """A packer that lets no more than so many pieces stand in a glaze load."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.asked: list[Load] = []

    def can_pack(self, load: Load) -> bool:
        return True

    def without_room(self, load: Load, *, is_short: bool = False) -> Counter[str]:
        self.asked.append(load)
        if load.schedule_key == BISQUE:
            return Counter()
        [(key, count)] = load.contents
        return Counter({key: count - self.most}) if count > self.most else Counter()


def seek(problem: Problem) -> Plan:
    return seek_plan(problem=problem, seconds=60)


def never() -> bool:
    return False


def look(narrow: Narrow, looks: int = 99) -> Look:
    return Look(packer=narrow, stop=never, looks=looks)


def glazed(plan: Plan) -> list[int]:
    return [sum(n for _, n in load.contents) for load in plan.loads if load.schedule_key != BISQUE]


def test_a_plan_whose_loads_stand_is_left_as_it_is(problem: Problem) -> None:
    plan = seek(problem)
    narrow = Narrow(99)
    found = packed(problem=problem, plan=plan, look=look(narrow), seek=not_again)
    assert (found.plan, found.remarks) == (plan, (ALL_STANDS,))
    assert narrow.asked == list(plan.loads)


def not_again(problem: Problem) -> Plan:
    raise AssertionError("sought again")


def test_a_load_that_leaves_pieces_over_is_sought_again_with_less(problem: Problem) -> None:
    plan = seek(problem)
    assert max(glazed(plan)) > 16
    found = packed(problem=problem, plan=plan, look=look(Narrow(16)), seek=seek)
    assert max(glazed(found.plan)) <= 16
    assert broken_promises(problem=problem, plan=found.plan) == ()
    assert found.plan.short == 0
    assert found.plan.cost_pence > plan.cost_pence  # more firings
    # What is proven of all the room is kept, and no more is claimed.
    assert found.plan.cost_bound_pence <= plan.cost_bound_pence
    assert not found.plan.proven
    assert found.remarks[0].endswith("again with more room for the pieces: Mug.")
    assert found.remarks[-1] == ALL_STANDS


def test_what_finds_no_room_after_all_is_named(problem: Problem) -> None:
    plan = seek(problem)
    rounds: list[Problem] = []

    def stubborn(tighter: Problem) -> Plan:
        rounds.append(tighter)
        return plan

    found = packed(problem=problem, plan=plan, look=look(Narrow(10)), seek=stubborn)
    assert len(rounds) == 2
    over = max(glazed(plan)) - 10
    assert f"{over} × Mug in Sky found no room. Look at its load sheet" in found.remarks[-1]
    assert ALL_STANDS not in found.remarks


def test_running_out_of_time_keeps_the_first_plan_and_names_it(problem: Problem) -> None:
    plan = seek(problem)

    def late(tighter: Problem) -> Plan:
        raise NotFoundInTime(seconds=1)

    found = packed(problem=problem, plan=plan, look=look(Narrow(10)), seek=late)
    assert found.plan == plan
    assert "found no room" in found.remarks[-1]


def test_a_stop_ends_the_packing_too(problem: Problem) -> None:
    plan, narrow = seek(problem), Narrow(10)
    stopped = Look(packer=narrow, stop=lambda: True)
    found = packed(problem=problem, plan=plan, look=stopped, seek=not_again)
    assert narrow.asked == []
    assert found.remarks == (
        f"{len(plan.loads)} of {len(plan.loads)} loads were not packed piece by piece: "
        "the search was stopped.",
    )


def test_loads_that_the_looks_do_not_reach_are_counted(problem: Problem) -> None:
    plan, narrow = seek(problem), Narrow(99)
    assert len(plan.loads) >= 2
    found = packed(problem=problem, plan=plan, look=look(narrow, looks=1), seek=not_again)
    assert narrow.asked == [plan.loads[0]]
    count = len(plan.loads)
    assert found.remarks[-1] == (
        f"{count - 1} of {count} loads were not packed piece by piece: the time did not reach."
    )


def test_the_packer_reads_kilns_and_ware_from_the_records(cast: Cast, problem: Problem) -> None:
    own = packer(problem)

    def load(key: str, schedule: str, count: int) -> Load:
        return Load(
            kiln_key=str(cast.little.pk),
            schedule_key=schedule,
            start_date=TODAY,
            busy_days=2,
            contents=((key, count),),
        )

    ware, line = f"{cast.mug.pk}-{cast.clay.pk}", str(cast.mugs.pk)
    assert own.without_room(load(line, str(cast.gloss.pk), 12)) == Counter()
    assert own.without_room(load(ware, BISQUE, 12)) == Counter()
    # A ten-sided kiln 600 mm across holds at most (600 / 90)^2 = 44 mugs of 90 mm on a shelf, by
    # area alone; under 500 mm no more than four levels of 100 mm: 400 mugs never stand.
    left = own.without_room(load(line, str(cast.gloss.pk), 400))
    assert left[line] >= 400 - 4 * 44


def test_a_kiln_that_cannot_be_packed_is_left_to_its_places(cast: Cast, problem: Problem) -> None:
    own = packer(problem)
    nothing = replace(own, rooms={})
    [load] = [one for one in seek(problem).loads if one.schedule_key != BISQUE][:1]
    assert nothing.without_room(load) == Counter()


def test_a_search_stores_what_packing_said(cast: Cast, problem: Problem) -> None:
    backplan = services.work_out(today_date=TODAY, seconds=60, by=cast.by, at=NOW)
    assert stored(backplan)[2][-1] == ALL_STANDS


def test_a_line_that_the_kiln_holds_fewer_of_asks_for_its_true_room(problem: Problem) -> None:
    plan, rounds = seek(problem), []

    def again(tighter: Problem) -> Plan:
        rounds.append(tighter)
        return seek(tighter)

    packed(problem=problem, plan=plan, look=look(Narrow(16)), seek=again)
    # Wide has 600 tenths and is said to hold 60 mugs; of so many 16 stand, so each takes 37.5:
    # no more than the 200 of Little, in which one stands too.
    [room] = [ware.room_tenths for ware in rounds[0].wares if ware.name == "Mug"]
    kilns = {kiln.key: kiln.glaze_room_tenths for kiln in problem.kilns}
    assert room in [-(-room_tenths // 16) for room_tenths in kilns.values()]


def test_a_dearer_plan_that_stands_no_better_is_not_taken(problem: Problem) -> None:
    plan = seek(problem)

    def dearer(tighter: Problem) -> Plan:
        return replace(plan, cost_pence=plan.cost_pence + 1)

    found = packed(problem=problem, plan=plan, look=look(Narrow(10)), seek=dearer)
    assert found.plan.loads == plan.loads
    assert found.plan.cost_pence == plan.cost_pence
    assert "That brought nothing better, so the plan stays as it was." in found.remarks


@pytest.mark.parametrize(("missing", "looks"), [(0, [True]), (10, [True, False]), (11, [True])])
def test_only_a_near_miss_is_packed_longer(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, missing: int, looks: list[bool]
) -> None:
    """Of 100 mugs, 10 left over are a tenth; a short look is enough for any other."""
    asked: list[bool] = []

    def leave(*, lots: list[Lot], steps: int, **_: object) -> LoadPlan:
        asked.append(steps == FITS_STEPS)
        [lot] = lots
        spot = Spot(level=1, x_mm=0, y_mm=0, turn_deg=0, ware_key=lot.ware.key)
        return LoadPlan(levels=(), spots=(spot,) * (lot.count - missing), left_out=())

    monkeypatch.setattr(packs, "pack", leave)
    packs._standing.cache_clear()
    line = str(cast.mugs.pk)
    room = KilnRoom(sides=0, width_mm=400, height_mm=400)
    ware = Ware(key="mug", width_mm=90, height_mm=100)
    own = Packer(rooms={str(cast.wide.pk): room}, wares={}, lines={line: ware})
    asked_for = Load(
        kiln_key=str(cast.wide.pk),
        schedule_key=str(cast.gloss.pk),
        start_date=TODAY,
        busy_days=1,
        contents=((line, 100),),
    )
    assert own.without_room(asked_for)[line] == missing
    assert asked == looks
    packs._standing.cache_clear()


def test_a_way_among_others_is_looked_at_shortly() -> None:
    """That it stands holds for the whole search; that it does not is not kept as an answer."""
    asked: list[bool] = []

    class Shy(Narrow):
        def without_room(self, load: Load, *, is_short: bool = False) -> Counter[str]:
            asked.append(is_short)
            return Counter({"mug": 1}) if is_short else Counter()

    load = Load(
        kiln_key="k", schedule_key="g", start_date=TODAY, busy_days=1, contents=(("mug", 9),)
    )
    shy = look(Shy(9))
    assert not shy.stands(load)
    assert not shy.stands(load)
    assert asked == [True]
    assert shy.left(load) == Counter()  # a longer look after all
    assert shy.stands(load)
    assert asked == [True, False]
    over = look(Narrow(9), looks=0)
    assert not over.stands(load)
    assert over.alone(load, "mug", 9) is None
