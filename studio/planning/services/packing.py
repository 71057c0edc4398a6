"""Pack every planned load; where one does not pack, tighten its kiln and seek again.

The planner counts a kiln's room in mug places, the same for every mix of forms. Where the packer
leaves pieces of a load over, the forms left over are taken as larger (in a bisque the kiln as
smaller), as far as what stood tells, and the plan is sought again. Such a plan keeps what it
promises in the question as it was asked too: less room was used. What is proven of the question
with all its room (least shortfall, least cost) holds of the tighter one as well, so those bounds
are kept; that nothing better exists is not claimed any more.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

from studio.craft.answer import Plan
from studio.craft.backplan import NotFoundInTime
from studio.craft.plan_reading import counted
from studio.craft.problem import BISQUE, Load, Problem
from studio.drawing.strip import short_date
from studio.planning.selectors.packs import NO_ROOM

PACK_SECONDS = 20.0
"""How long loads are packed in all, when nobody says otherwise; our own choice."""

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


def packed(
    *,
    problem: Problem,
    plan: Plan,
    packer: Packs,
    seek: Seek,
    stop: Stop,
    seconds: float = PACK_SECONDS,
) -> Packed:
    """The plan, or one sought again with less room, and what was found of its loads.

    ``seconds`` is how long may be packed in all, seeking again apart.
    """
    look = _Look(packer=packer, stop=stop, left_s=seconds)
    over, first, tightened = look.over(plan), plan, problem
    for _ in range(MOST_ROUNDS):
        if not over or stop() or look.left_s <= 0:
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
        over = look.over(plan)
    return Packed(plan=plan, remarks=tuple(_said(problem, tightened, plan, over, look)))


@dataclass(kw_only=True, slots=True)
class _Look:
    """A look at loads, one after the other, until somebody stops it or the time is up."""

    packer: Packs
    stop: Stop
    left_s: float
    unseen: int = 0

    def over(self, plan: Plan) -> list[tuple[Load, Counter[str]]]:
        """The loads that leave pieces over, and how many of what."""
        found = []
        self.unseen = 0
        for load in plan.loads:
            if self.stop() or self.left_s <= 0:
                self.unseen += 1
                continue
            began = time.monotonic()
            if left := self.packer.without_room(load):
                found.append((load, left))
            self.left_s -= time.monotonic() - began
        return found


def _tighter(problem: Problem, over: list[tuple[Load, Counter[str]]]) -> Problem:
    """A bisque takes a kiln with less room; in a glaze load the forms left over want more of it."""
    kilns = {kiln.key: kiln for kiln in problem.kilns}
    wares = {ware.key: ware for ware in problem.wares}
    ware_of = {line.key: line.ware_key for line in problem.lines}
    for load, left in over:
        kiln = kilns[load.kiln_key]
        if load.schedule_key == BISQUE:
            each = {key: wares[key].room_tenths for key, _ in load.contents}
            stood = sum(each[key] * (n - left[key]) for key, n in load.contents)
            # Never so tight that a single piece which did fit would be too large for the kiln.
            room = min(kiln.bisque_room_tenths, max(stood, *each.values()))
            kilns[kiln.key] = replace(kiln, bisque_room_tenths=room)
            continue
        for key, room in _rooms(problem, load, left).items():
            ware = wares[ware_of[key]]
            wares[ware.key] = replace(ware, room_tenths=max(ware.room_tenths, room))
    return replace(problem, kilns=tuple(kilns.values()), wares=tuple(wares.values()))


def _rooms(problem: Problem, load: Load, left: Counter[str]) -> dict[str, int]:
    """What a piece of each line left over takes, if what stood of the load filled the kiln.

    At most twice what it is said to take, and no more than the smallest kiln it fitted into.
    """
    kiln = next(kiln for kiln in problem.kilns if kiln.key == load.kiln_key)
    tenths = {ware.key: ware.room_tenths for ware in problem.wares}
    each = {line.key: tenths[line.ware_key] for line in problem.lines}
    stood = {key: n - left[key] for key, n in load.contents}
    others = sum(each[key] * n for key, n in stood.items() if not left[key])
    theirs = sum(each[key] * n for key, n in stood.items() if left[key])
    share = min(2.0, (kiln.glaze_room_tenths - others) / theirs) if theirs else 2.0
    found = {}
    for key in left:
        kilns = [k.glaze_room_tenths for k in problem.kilns if k.glaze_room_tenths >= each[key]]
        kilns += [k.bisque_room_tenths for k in problem.kilns if k.bisque_room_tenths >= each[key]]
        found[key] = max(each[key], min(math.ceil(each[key] * share), *kilns))
    return found


def _said(
    problem: Problem,
    tightened: Problem,
    plan: Plan,
    over: list[tuple[Load, Counter[str]]],
    look: _Look,
) -> list[str]:
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    kilns = {kiln.key: kiln.name for kiln in problem.kilns}
    said = []
    changed = [
        kiln.name for kiln, was in zip(tightened.kilns, problem.kilns, strict=True) if kiln != was
    ] + [ware.name for ware, was in zip(tightened.wares, problem.wares, strict=True) if ware != was]
    if changed:
        said.append(
            "Packed piece by piece, some loads held less than the count of places says, so the "
            f"plan was sought again with more room for the pieces: {', '.join(changed)}."
        )
    for load, left in over:
        pieces = ", ".join(counted(n, names[key]) for key, n in sorted(left.items()))
        said.append(
            f"{kilns[load.kiln_key]}, {short_date(load.start_date)}: when it was packed piece by "
            f"piece, {pieces} {NO_ROOM}. Look at its load sheet before you count on them."
        )
    if look.unseen:
        why = "the search was stopped" if look.stop() else "the time did not reach"
        said.append(
            f"{look.unseen} of {len(plan.loads)} loads were not packed piece by piece: {why}."
        )
    elif plan.loads and not over:
        said.append("Every load was packed piece by piece, and all of it stands.")
    return said
