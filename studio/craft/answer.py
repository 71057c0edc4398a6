"""What does a plan say: which jobs and loads, what each date keeps, and how good is it?

A ``Plan`` is a proposal that the referee can check without trusting whoever made it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from studio.craft.problem import Load, refuse_if


class Work(StrEnum):
    """The three kinds of hand work that a plan spreads over days."""

    THROWING = "throwing"
    GLAZING = "glazing"
    FINISHING = "finishing"


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """Throw so many of a ware, or glaze or finish so many of a line, on one day."""

    work: Work
    date: date
    key: str
    count: int

    def __post_init__(self) -> None:
        refuse_if((self.count < 1, f"job {self.key}: count must be at least 1"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept:
    """How many of a line a need receives, and how many of those only inside its buffer days."""

    need_key: str
    line_key: str
    asked: int
    kept: int
    in_buffer: int = 0

    def __post_init__(self) -> None:
        refuse_if(
            (not 0 <= self.kept <= self.asked, "kept lies between 0 and asked"),
            (not 0 <= self.in_buffer <= self.kept, "in the buffer lies between 0 and kept"),
        )

    @property
    def short(self) -> int:
        """Pieces asked for that this plan does not bring."""
        return self.asked - self.kept


class Binds(StrEnum):
    """What keeps a shortfall from being made good."""

    KILN_DAYS = "kiln days"
    THROWING = "throwing minutes"
    GLAZING = "glazing minutes"
    FINISHING = "finishing minutes"
    DRYING = "drying"
    DATE = "the date"


@dataclass(frozen=True, kw_only=True, slots=True)
class Cause:
    """A limit that binds: lifting it alone would bring ``gain`` pieces more."""

    binds: Binds
    gain: int


@dataclass(frozen=True, kw_only=True, slots=True)
class FiringMore:
    """One firing more that alone would bring ``gain`` pieces.

    On that day in that kiln; ``kiln_is_taken`` says that the kiln itself fires something else
    then, so that it takes one like it. The day may be a day off.
    """

    kiln_key: str
    schedule_key: str
    start_date: date
    gain: int
    kiln_is_taken: bool


class Ended(StrEnum):
    """What ended the search for a plan."""

    PROOF = "proof"
    STEPS = "steps"
    STOP = "stop"
    CLOCK = "clock"


class Outcome(StrEnum):
    """What a plan says about its question. Bad data is none of these: see ``BadProblem``."""

    KEPT = "kept"
    IMPOSSIBLE = "impossible"
    NOT_FOUND = "not found"


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """A proposal: jobs, loads, and what each need keeps. ``craft.referee`` checks it.

    ``short_bound`` is a proven least weighted shortfall and ``cost_bound_pence`` a proven least
    cost at that shortfall; ``proven`` says both were reached. ``ended`` tells what ended the
    search: only by the clock or a stop can the same seed and steps lead to another plan.
    """

    jobs: tuple[Job, ...]
    loads: tuple[Load, ...]
    kept: tuple[Kept, ...]
    cost_pence: int
    weighted_short: int
    short_bound: int
    cost_bound_pence: int
    proven: bool
    causes: tuple[Cause, ...] = ()
    firings_more: tuple[FiringMore, ...] = ()
    seconds: float = 0.0
    ended: Ended = Ended.STEPS

    @property
    def outcome(self) -> Outcome:
        """Is everything kept, or can it be proven that it cannot be, or is that not known yet?"""
        if not self.short:
            return Outcome.KEPT
        return Outcome.IMPOSSIBLE if self.weighted_short <= self.short_bound else Outcome.NOT_FOUND

    @property
    def short(self) -> int:
        """Pieces promised that this plan does not bring."""
        return sum(kept.short for kept in self.kept)

    @property
    def in_buffer(self) -> int:
        """Pieces that come in time for their date, but eat into its buffer days."""
        return sum(kept.in_buffer for kept in self.kept)


@dataclass(frozen=True, kw_only=True, slots=True)
class Progress:
    """How far a search has come: its best plan and what is proven so far.

    ``short`` and ``in_buffer`` are pieces, ``weighted_short`` and ``short_bound`` pieces times
    importance, ``seconds`` are those of the wall clock since the search began.
    """

    seconds: float
    short: int
    weighted_short: int
    in_buffer: int
    cost_pence: int
    short_bound: int
    cost_bound_pence: int
    plan: Plan
