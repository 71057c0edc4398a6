"""What is different between two plans, firing by firing?

Firings of the two plans are paired: the same kiln, schedule and day first; then, of what is left,
the same schedule with the most alike contents and the nearest day. What has no pair is new or
dropped. Days before ``today_date`` are past and belong to no list.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from studio.craft.answer import Plan
from studio.craft.calendar import say_date
from studio.craft.problem import BISQUE, Load, Problem


class ChangeKind(StrEnum):
    """What became of a firing."""

    MOVED = "moved"
    NEW = "new"
    DROPPED = "dropped"
    COUNTED = "count changed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One firing that is not as it was: before, after, or both; and what came or went.

    ``more`` and ``fewer`` are pieces by key (a ware of a bisque, a line of a glaze firing), counts
    above 0. A moved firing has another day or another kiln, and may hold something else as well.
    """

    kind: ChangeKind
    before: Load | None
    after: Load | None
    more: tuple[tuple[str, int], ...] = ()
    fewer: tuple[tuple[str, int], ...] = ()

    @property
    def day(self) -> date:
        """The day it is listed under: the new one, or the old one where there is none."""
        load = self.after or self.before
        assert load is not None
        return load.start_date


def changes(*, before: Iterable[Load], after: Iterable[Load], today_date: date) -> list[Change]:
    """The firings that changed from one plan to another, by day; what stayed is not listed."""
    old = [load for load in before if load.start_date >= today_date]
    new = [load for load in after if load.start_date >= today_date]
    pairs: list[tuple[Load, Load]] = []
    for load in list(new):
        same = next((one for one in old if _slot(one) == _slot(load)), None)
        if same is not None:
            pairs.append((same, load))
            old.remove(same)
            new.remove(load)
    while near := _nearest(old, new):
        pairs.append(near)
        old.remove(near[0])
        new.remove(near[1])
    found = [change for one, other in pairs if (change := _changed(one, other))]
    found += [_made(ChangeKind.DROPPED, one, None) for one in old]
    found += [_made(ChangeKind.NEW, None, one) for one in new]
    return sorted(found, key=lambda change: (change.day, change.kind, str(change)))


def plan_changes(*, before: Plan, after: Plan, today_date: date) -> list[Change]:
    """The same for two plans."""
    return changes(before=before.loads, after=after.loads, today_date=today_date)


def _slot(load: Load) -> tuple[str, str, date]:
    return load.kiln_key, load.schedule_key, load.start_date


def _nearest(old: list[Load], new: list[Load]) -> tuple[Load, Load] | None:
    """The two that are most likely one firing moved: they share something they hold."""
    near = [
        (-shared, abs((one.start_date - other.start_date).days), i, j)
        for i, one in enumerate(old)
        for j, other in enumerate(new)
        if one.schedule_key == other.schedule_key
        and ((shared := _shared(one, other)) or not (one.contents and other.contents))
    ]
    if not near:
        return None
    *_, i, j = min(near)
    return old[i], new[j]


def _shared(one: Load, other: Load) -> int:
    return sum((Counter(dict(one.contents)) & Counter(dict(other.contents))).values())


def _changed(before: Load, after: Load) -> Change | None:
    if _slot(before) != _slot(after):
        return _made(ChangeKind.MOVED, before, after)
    change = _made(ChangeKind.COUNTED, before, after)
    return change if change.more or change.fewer else None


def _made(kind: ChangeKind, before: Load | None, after: Load | None) -> Change:
    was, is_ = (
        Counter(dict(load.contents)) if load else Counter[str]() for load in (before, after)
    )
    return Change(
        kind=kind,
        before=before,
        after=after,
        more=tuple(sorted((is_ - was).items())),
        fewer=tuple(sorted((was - is_).items())),
    )


def change_words(*, change: Change, problem: Problem, schedules: Mapping[str, str]) -> str:
    """'Moved: cone 6 to the big kiln on Wed 4 Mar from it on Tue 3 Mar: 2 × mug more.'"""
    load = change.after or change.before
    assert load is not None
    kilns = {kiln.key: kiln.name for kiln in problem.kilns}
    schedule = schedules.get(load.schedule_key, load.schedule_key)
    kind = "bisque" if load.schedule_key == BISQUE else schedule
    where = f"{kilns.get(load.kiln_key, load.kiln_key)} on {say_date(load.start_date)}"
    if change.kind is ChangeKind.MOVED and change.before:
        old_kiln = kilns.get(change.before.kiln_key, change.before.kiln_key)
        was = f"{old_kiln} on {say_date(change.before.start_date)}"
        said = f"Moved: {kind} to {where} from {was}"
    else:
        said = f"{change.kind.capitalize()}: {kind} in {where}"
    names = {ware.key: ware.name for ware in problem.wares}
    names |= {line.key: line.name for line in problem.lines}
    parts = [f"{n} × {names.get(key, key)} more" for key, n in change.more]
    parts += [f"{n} × {names.get(key, key)} fewer" for key, n in change.fewer]
    if change.kind is ChangeKind.NEW:
        parts = [f"{n} × {names.get(key, key)}" for key, n in change.more]
    if change.kind is ChangeKind.DROPPED:
        parts = []
    return f"{said}{': ' if parts else ''}{', '.join(parts)}."
