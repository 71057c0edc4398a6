"""What stands in the studio on a morning, how do hands lean, and what was done?

Plain lists by number, for those who live through many calendars: see ``backplan_runs``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from studio.craft.answer import Job
from studio.craft.backplan_frame import Slot


@dataclass(frozen=True, slots=True)
class Holds:
    """A slot as the runner sees it: its key numbers and where its pieces come from and go."""

    slot: Slot
    bisque: bool
    keys: tuple[int, ...]
    most: tuple[int, ...]
    takes_trials: bool


@dataclass(kw_only=True, slots=True)
class Lean:
    """How hands lean: days by which dates look further off, and the most that is made."""

    line: list[int]
    ware: list[int]
    throw: list[int]
    """By ware [pieces]."""
    glaze: list[int]
    """By line [pieces]."""


@dataclass(kw_only=True, slots=True)
class State:
    """All that stands in the studio on the morning of ``day``, in hundredths of a piece."""

    day: int
    dry: list[int]
    bisqued: list[int]
    glazed: list[int]
    fired: list[int]
    put: list[int]
    """Bisqued so far, by ware."""
    coated: list[int]
    """Glazed so far, by line."""
    burnt: list[int]
    """Glaze fired so far, by line."""
    finished: list[int]
    proven_from: list[int]
    coming: list[tuple[int, int, int, int]]
    """(day, 0 dry 1 bisqued 2 glazed 3 fired, key number, hundredths)"""
    missing: list[int]
    """By line: the most pieces that any date passed so far lacked."""
    early: list[int]
    """By line: the same for the mornings on which buffers begin."""
    cost_pence: int

    def copy(self) -> State:
        """The same, apart."""
        return State(
            day=self.day,
            dry=self.dry[:],
            bisqued=self.bisqued[:],
            glazed=self.glazed[:],
            fired=self.fired[:],
            put=self.put[:],
            coated=self.coated[:],
            burnt=self.burnt[:],
            finished=self.finished[:],
            proven_from=self.proven_from[:],
            coming=self.coming[:],
            missing=self.missing[:],
            early=self.early[:],
            cost_pence=self.cost_pence,
        )


Light = Callable[[State, int], Slot | None]
"""Which kiln to light next on a morning; None when it is enough."""


@dataclass(kw_only=True, slots=True)
class Record:
    """What was done, when somebody wants to know."""

    jobs: list[Job] = field(default_factory=list)
    loads: list[tuple[Slot, dict[str, int]]] = field(default_factory=list)
    finished: dict[str, Counter[int]] = field(default_factory=dict)
