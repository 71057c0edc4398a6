"""What does a date still ask of the studio, as the planner reads it?

The rooms that promise wares by a date (sales, parcels) answer in these words; how each counts what
is done already is told where it answers.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from studio.wares.models import Line


@dataclass(frozen=True, kw_only=True, slots=True)
class NeededLine:
    """So many more of a line: ``count`` = ``wanted`` - ``done``, 0 or more."""

    line: Line
    wanted: int
    done: int

    @property
    def count(self) -> int:
        return max(0, self.wanted - self.done)


@dataclass(frozen=True, kw_only=True, slots=True)
class Need:
    """What a date still asks for. ``ready_by_date`` is the date less the buffer days."""

    key: str
    name: str
    due_date: date
    ready_by_date: date
    buffer_days: int
    importance: int
    lines: tuple[NeededLine, ...]
