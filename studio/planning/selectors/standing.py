"""What stands towards each date, stage by stage, if the soonest date takes first?

Pots are shared out as one would by hand: the soonest date first, for each line the furthest along
first. Thrown and bisqued ware has no glaze yet, so it goes to the first line of its form and clay
that still lacks some.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime

from studio.planning.selectors import stock
from studio.planning.selectors.names import line_names
from studio.planning.selectors.wanted import dates_from
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Stage
from studio.wares.selectors.needs import NeededLine

SHOWN = (Stage.GRADED, Stage.FIRED, Stage.GLAZED, Stage.BISQUED, Stage.THROWN)
"""Stages from the furthest along; what stands in a kiln is at the stage it went in with."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StandRow:
    """One want of one date and the pots that stand towards it."""

    need_key: str
    need: str
    due_date: date
    line_key: str
    line: str
    wanted: int
    promised: int
    stages: tuple[tuple[str, int], ...]

    @property
    def missing(self) -> int:
        """Pots that nobody has thrown yet."""
        return self.wanted - self.promised - sum(count for _, count in self.stages)


def stand_rows(*, today_date: date, now: datetime | None = None) -> list[StandRow]:
    """Every want from now on, soonest first."""
    pool = _pool(today_date)
    dates = dates_from(today_date=today_date, now=now)
    names = line_names({ask.line.pk: ask.line for need in dates for ask in need.lines}.values())
    return [
        StandRow(
            need_key=need.key,
            need=need.name,
            due_date=need.due_date,
            line_key=str(ask.line.pk),
            line=names[str(ask.line.pk)],
            wanted=ask.wanted,
            promised=ask.done,
            stages=_share(pool, ask),
        )
        for need in dates
        for ask in need.lines
    ]


Shelf = tuple[str, Kind | str]


def _pool(today_date: date) -> Counter[Shelf]:
    pool: Counter[Shelf] = Counter()
    for group in stock.free_groups(today_date=today_date):
        pool[group.stage, _shelf(group.kind)] += group.count
    for held in stock.in_kilns().values():
        for kind, count in held:
            stage = Stage.GLAZED if stock.is_glazed(kind) else Stage.THROWN
            pool[stage, _shelf(kind)] += count
    return pool


def _shelf(kind: Kind) -> Kind | str:
    return kind if stock.is_glazed(kind) else stock.ware_key_of(kind)


def _share(pool: Counter[Shelf], ask: NeededLine) -> tuple[tuple[str, int], ...]:
    lacking = ask.count
    kind = kind_of(ask.line)
    shared = []
    for stage in SHOWN:
        before_coats = stage in (Stage.BISQUED, Stage.THROWN)
        shelf: Shelf = (stage, stock.ware_key_of(kind) if before_coats else kind)
        count = min(lacking, pool[shelf])
        pool[shelf] -= count
        lacking -= count
        shared.append((str(stage), count))
    return tuple(shared)
