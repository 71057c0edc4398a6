"""Pack every planned load; where one does not pack, tighten its kiln and seek again.

The planner counts a kiln's room in mug places, the same for every mix of forms. Where the packer
leaves pieces of a load over, the kiln is taken as no larger than what stood, and the plan is sought
again. Such a plan keeps what it promises in the question as it was asked too: less room was used.
What is proven of the question with all its room (least shortfall, least cost) holds of the tighter
one as well, so those bounds are kept; that nothing better exists is not claimed any more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

from studio.craft.answer import Plan
from studio.craft.backplan import NotFoundInTime
from studio.craft.plan_reading import counted
from studio.craft.problem import BISQUE, Load, Problem
from studio.drawing.strip import short_date

MOST_ROUNDS = 2
"""So often a plan is sought again with tighter kilns."""


class Packs(Protocol):
    """Whatever tells how many of what found no room in a load, by the planner's key."""

    def without_room(self, load: Load) -> Counter[str]: ...


Seek = Callable[[Problem], Plan]
Stop = Callable[[], bool]


@dataclass(frozen=True, kw_only=True, slots=True)
class Packed:
    """A plan whose loads were packed, and what is to be said of that."""

    plan: Plan
    remarks: tuple[str, ...]


def packed(*, problem: Problem, plan: Plan, packer: Packs, seek: Seek, stop: Stop) -> Packed:
    """The plan, or one sought again with kilns no larger than what stood in them."""
    over, first, tightened = _over(plan, packer, stop), plan, problem
    for _ in range(MOST_ROUNDS):
        if not over or stop():
            break
        tightened = _tighter(tightened, over)
        try:
            found = seek(tightened)
        except NotFoundInTime:
            break
        plan = replace(
            found,
            short_bound=min(found.short_bound, first.short_bound),
            cost_bound_pence=min(found.cost_bound_pence, first.cost_bound_pence),
            proven=False,
        )
        over = _over(plan, packer, stop)
    return Packed(plan=plan, remarks=tuple(_said(problem, tightened, plan, over, stop())))


def _over(plan: Plan, packer: Packs, stop: Stop) -> list[tuple[Load, Counter[str]]]:
    """The loads that leave pieces over. Once somebody stops the search, no more are packed."""
    found = []
    for load in plan.loads:
        if stop():
            break
        if left := packer.without_room(load):
            found.append((load, left))
    return found


def _tighter(problem: Problem, over: list[tuple[Load, Counter[str]]]) -> Problem:
    kilns = {kiln.key: kiln for kiln in problem.kilns}
    wares = {ware.key: ware.room_tenths for ware in problem.wares}
    lines = {line.key: wares[line.ware_key] for line in problem.lines}
    for load, left in over:
        bisque = load.schedule_key == BISQUE
        each = wares if bisque else lines
        stood = sum(each[key] * (n - left[key]) for key, n in load.contents)
        # Never so tight that a single piece which did fit would be too large for the kiln.
        room = max(stood, *(each[key] for key, _ in load.contents))
        kiln = kilns[load.kiln_key]
        if bisque and room < kiln.bisque_room_tenths:
            kilns[kiln.key] = replace(kiln, bisque_room_tenths=room)
        elif not bisque and room < kiln.glaze_room_tenths:
            kilns[kiln.key] = replace(kiln, glaze_room_tenths=room)
    return replace(problem, kilns=tuple(kilns.values()))


def _said(
    problem: Problem,
    tightened: Problem,
    plan: Plan,
    over: list[tuple[Load, Counter[str]]],
    stopped: bool,
) -> list[str]:
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    kilns = {kiln.key: kiln.name for kiln in problem.kilns}
    said = []
    smaller = [
        kiln.name for kiln, was in zip(tightened.kilns, problem.kilns, strict=True) if kiln != was
    ]
    if smaller:
        said.append(
            f"Packed piece by piece, a load of {' and of '.join(smaller)} held less than its "
            "count of places says, so the plan was sought again with less."
        )
    for load, left in over:
        pieces = ", ".join(counted(n, names[key]) for key, n in sorted(left.items()))
        said.append(
            f"{kilns[load.kiln_key]}, {short_date(load.start_date)}: when it was packed piece by "
            f"piece, {pieces} found no room. Look at its load sheet before you count on them."
        )
    if stopped:
        said.append("The loads were not all packed piece by piece, because the search was stopped.")
    elif plan.loads and not over:
        said.append("Every load was packed piece by piece, and all of it stands.")
    return said
