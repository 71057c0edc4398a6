"""Pack every planned load; where one does not pack, put its rest elsewhere, or seek again.

The planner counts a kiln's room in mug places, the same for every mix of forms. Where the packer
leaves pieces of a load over, they are first put into other firings of the plan (``plan_shift``),
which costs nothing. Where that cannot be, the forms left over are taken as larger (in a bisque the
kiln as smaller), as far as what stood tells, and the plan is sought again. Such a plan keeps what
it promises in the question as it was asked too: less room was used. Of the plans tried the one is
taken that brings most when pieces without room are counted as short, then the cheaper one: a plan
is never dearer for a piece that still found no room.

What is proven of the question with all its room (least shortfall, least cost) holds of the tighter
one as well, so those bounds are kept; that nothing better exists is not claimed any more.

Packing is counted in looks, each of which takes so many steps of the packer; the clock is only the
outer limit. So the same question and steps lead to the same plan on a slow computer and a busy one.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Protocol

from studio.craft.answer import Plan
from studio.craft.backplan import NotFoundInTime
from studio.craft.plan_reading import counted
from studio.craft.plan_shift import shifted, without
from studio.craft.problem import BISQUE, Load, Problem
from studio.drawing.strip import short_date
from studio.planning.selectors.packs import NO_ROOM

LOOKS = 200
"""So many times a load is packed in all for one plan; the same load again is free."""

PACK_SECONDS = 240.0
"""The outer limit of packing in all; a load that stands takes about a quarter of a second."""

MIXED = 1.25
"""So much more room at the most is asked for a form where only its mixture did not pack."""

MOST_ROUNDS = 2
"""So often a plan is sought again with tighter kilns."""


class Packs(Protocol):
    """Whatever tells how many of what found no room in a load, by the planner's key."""

    def without_room(self, load: Load, *, is_short: bool = False) -> Counter[str]: ...

    def can_pack(self, load: Load) -> bool: ...


Seek = Callable[[Problem], Plan]
Stop = Callable[[], bool]


@dataclass(frozen=True, kw_only=True, slots=True)
class Packed:
    """A plan whose loads were packed, what is to be said of that, and the room that was asked."""

    plan: Plan
    remarks: tuple[str, ...]
    tightened: Problem


@dataclass(kw_only=True, slots=True)
class Look:
    """A look at loads, until somebody stops it, the looks are used up or the time is."""

    packer: Packs
    stop: Stop
    looks: int = LOOKS
    ends_at: float = field(default_factory=lambda: time.monotonic() + PACK_SECONDS)
    seen: dict[Load, Counter[str]] = field(default_factory=dict)
    tried: set[Load] = field(default_factory=set)

    @property
    def is_over(self) -> bool:
        """May nothing more be packed?"""
        return self.looks <= 0 or self.stop() or time.monotonic() > self.ends_at

    def left(self, load: Load) -> Counter[str] | None:
        """What a load leaves over; None when it was not looked at any more."""
        if load not in self.seen:
            if self.is_over:
                return None
            self.looks -= 1
            self.seen[load] = self.packer.without_room(load)
        return self.seen[load]

    def stands(self, load: Load) -> bool:
        """Was all of it seen to stand? Of a load that is only one way among others a short look."""
        if load not in self.seen and load not in self.tried:
            if self.is_over:
                return False
            self.looks -= 1
            self.tried.add(load)
            if not self.packer.without_room(load, is_short=True):
                self.seen[load] = Counter()
        return self.seen.get(load) == Counter()

    def alone(self, load: Load, key: str, count: int) -> int | None:
        """How many of so many of one line stand in the kiln of a load by themselves, shortly
        looked at: it only tells how much room to ask for."""
        if self.is_over:
            return None
        self.looks -= 1
        by_itself = replace(load, contents=((key, count),))
        return count - self.packer.without_room(by_itself, is_short=True)[key]

    def over(self, plan: Plan) -> list[tuple[Load, Counter[str]]]:
        """The loads that leave pieces over, and how many of what."""
        return [(load, left) for load in plan.loads if (left := self.left(load))]

    def unseen(self, plan: Plan) -> int:
        """How many of its loads were not looked at."""
        return sum(self.left(load) is None for load in plan.loads)


def packed(*, problem: Problem, plan: Plan, look: Look, seek: Seek) -> Packed:
    """The plan, or one with its pieces elsewhere or sought again with less room, and what to say.

    Once ``look`` is over no plan is sought again.
    """
    tightened, best = problem, placed(problem, plan, look)
    worth, tried, sought = _worth(problem, best, look), best, ""
    for _ in range(MOST_ROUNDS):
        over = look.over(tried)
        if not over or look.is_over:
            break
        tightened = tighter(tightened, over, look)
        try:
            found = seek(tightened)
        except NotFoundInTime:
            break
        bounded = replace(
            found,
            short_bound=min(found.short_bound, plan.short_bound),
            cost_bound_pence=min(found.cost_bound_pence, plan.cost_bound_pence),
            proven=False,
        )
        tried, sought = placed(problem, bounded, look), sought or _KEPT
        if (now := _worth(problem, tried, look)) < worth:
            best, worth, sought = tried, now, _TAKEN
    said = _said(problem, tightened, plan, best, look, sought)
    return Packed(plan=best, remarks=tuple(said), tightened=tightened)


_KEPT, _TAKEN = "kept", "taken"


def placed(problem: Problem, plan: Plan, look: Look) -> Plan:
    """The plan with what found no room put into its other firings, load by load, where it can.

    A kind that stands in the way of the others, such as a few tall vases, may go instead. What no
    date needs, being spare, is left out.
    """
    for load, left in look.over(plan):
        if load not in plan.loads:
            continue
        held = sorted(load.contents, key=lambda row: (row[1], row[0]))
        ways = [left, *(Counter({key: n}) for key, n in held if n < left.total())]
        at = plan.loads.index(load)
        for way in ways:
            found = shifted(problem=problem, plan=plan, load=load, left=way, stands=look.stands)
            if found is not None and look.stands(found.loads[at]):
                plan = found
                break
        else:
            fewer = without(problem=problem, plan=plan, load=load, left=left)
            plan = fewer if fewer is not None and look.stands(fewer.loads[at]) else plan
    return plan


def _worth(problem: Problem, plan: Plan, look: Look) -> tuple[int, int, int]:
    """Which of two plans is better, the lower: pieces without room weigh as if they were short."""
    most = max(need.importance for need in problem.needs)
    without = sum(left.total() for _, left in look.over(plan))
    return plan.weighted_short + most * without, plan.in_buffer, plan.cost_pence


def tighter(problem: Problem, over: list[tuple[Load, Counter[str]]], look: Look) -> Problem:
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
        for key, room in _rooms(problem, load, left, look).items():
            ware = wares[ware_of[key]]
            wares[ware.key] = replace(ware, room_tenths=max(ware.room_tenths, room))
    return replace(problem, kilns=tuple(kilns.values()), wares=tuple(wares.values()))


def _rooms(problem: Problem, load: Load, left: Counter[str], look: Look) -> dict[str, int]:
    """What a piece of each line left over takes, by how many of it alone the kiln holds.

    Where alone it has the room that is said, the mixture is at fault: then a quarter more at the
    most, as if what stood had filled the kiln. Never more than the smallest kiln it fitted into.
    """
    kiln = next(kiln for kiln in problem.kilns if kiln.key == load.kiln_key)
    tenths = {ware.key: ware.room_tenths for ware in problem.wares}
    each = {line.key: tenths[line.ware_key] for line in problem.lines}
    stood = {key: n - left[key] for key, n in load.contents}
    others = sum(each[key] * n for key, n in stood.items() if not left[key])
    theirs = sum(each[key] * n for key, n in stood.items() if left[key])
    mixed = min(MIXED, (kiln.glaze_room_tenths - others) / theirs) if theirs else MIXED
    found = {}
    for key in left:
        said = kiln.glaze_room_tenths // each[key]
        alone = look.alone(load, key, said)
        share = mixed if alone is None or alone >= said else said / max(alone, 1)
        kilns = [k.glaze_room_tenths for k in problem.kilns if k.glaze_room_tenths >= each[key]]
        kilns += [k.bisque_room_tenths for k in problem.kilns if k.bisque_room_tenths >= each[key]]
        found[key] = max(each[key], min(math.ceil(each[key] * share), *kilns))
    return found


def _said(
    problem: Problem, tightened: Problem, first: Plan, plan: Plan, look: Look, sought: str
) -> list[str]:
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    kilns = {kiln.key: kiln.name for kiln in problem.kilns}
    said = []
    changed = [
        kiln.name for kiln, was in zip(tightened.kilns, problem.kilns, strict=True) if kiln != was
    ] + [ware.name for ware, was in zip(tightened.wares, problem.wares, strict=True) if ware != was]
    if sought:
        said.append(
            "Packed piece by piece, some loads held less than the count of places says, so the "
            f"plan was sought again with more room for the pieces: {', '.join(changed)}."
        )
    if sought == _KEPT:
        said.append("That brought nothing better, so the plan stays as it was.")
    if not sought and plan.loads != first.loads:
        said.append(
            "Packed piece by piece, some loads held less than the count of places says; what was "
            "left over stands in other firings of this plan."
        )
    over = look.over(plan)
    for load, left in over:
        pieces = ", ".join(counted(n, names[key]) for key, n in sorted(left.items()))
        said.append(
            f"{kilns[load.kiln_key]}, {short_date(load.start_date)}: when it was packed piece by "
            f"piece, {pieces} {NO_ROOM}. Look at its load sheet before you count on them."
        )
    if unseen := look.unseen(plan):
        why = "the search was stopped" if look.stop() else "the time did not reach"
        said.append(f"{unseen} of {len(plan.loads)} loads were not packed piece by piece: {why}.")
    elif plan.loads and not over:
        said.append("Every load was packed piece by piece, and all of it stands.")
    return said
