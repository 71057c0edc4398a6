"""What has to be true of a question before a plan back from its dates can be sought?

A ``Problem`` is everything the planner may know: days and hands, kilns and how long each is
busy, what is made, what is promised, what stands in the studio today. It is frozen and checked
when it is made, so a solver never meets nonsense.

Laws (a rejected example each):

1. Every key used anywhere is declared once (a line of an unknown ware is refused).
2. Counts are whole and not negative (``count=-1`` is refused).
3. Days run from ``today_date`` to ``last_date`` without a hole (a missing Tuesday is refused).
4. A pinned firing names a kiln and wares that are known (a kiln that was sold is refused).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

BISQUE = "bisque"
"""The schedule key of every bisque firing: mixed wares may share one."""


class BadProblem(ValueError):
    """The question itself is wrong; ``causes`` says where, one sentence each."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__("; ".join(causes))


class Stage(StrEnum):
    """Where made things stand, in the order they pass."""

    THROWN = "thrown"
    BISQUED = "bisqued"
    GLAZED = "glazed"
    FIRED = "fired"
    GRADED = "graded"
    LISTED = "listed"


def refuse_if(*rules: tuple[bool, str]) -> None:
    """Raise ``BadProblem`` with the sentence of every rule that is broken."""
    causes = [sentence for broken, sentence in rules if broken]
    if causes:
        raise BadProblem(*causes)


@dataclass(frozen=True, kw_only=True, slots=True)
class Run:
    """One way to use a kiln: a schedule, how many whole days it is busy, what it costs."""

    schedule_key: str
    busy_days: int
    cost_pence: int

    def __post_init__(self) -> None:
        refuse_if(
            (not self.schedule_key, "a run needs a schedule"),
            (self.busy_days < 1, f"run {self.schedule_key}: busy days must be at least 1"),
            (self.cost_pence < 0, f"run {self.schedule_key}: cost must not be negative"),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanKiln:
    """A kiln as the planner sees it. Room is counted in tenths of a mug place."""

    key: str
    name: str
    glaze_room_tenths: int
    bisque_room_tenths: int
    clear_height_mm: int
    circuit_key: str
    takes_trials: bool
    runs: tuple[Run, ...]

    def __post_init__(self) -> None:
        keys = [run.schedule_key for run in self.runs]
        refuse_if(
            (self.glaze_room_tenths < 1, f"kiln {self.name}: glaze room must be more than 0"),
            (self.bisque_room_tenths < 1, f"kiln {self.name}: bisque room must be more than 0"),
            (self.clear_height_mm < 1, f"kiln {self.name}: clear height must be more than 0 mm"),
            (len(set(keys)) != len(keys), f"kiln {self.name}: a schedule is given twice"),
        )

    def run(self, schedule_key: str) -> Run | None:
        """The run for a schedule, or None when this kiln does not fire it."""
        return next((run for run in self.runs if run.schedule_key == schedule_key), None)

    def room_tenths(self, schedule_key: str) -> int:
        """Room in tenths of a mug place for a bisque or a glaze load."""
        return self.bisque_room_tenths if schedule_key == BISQUE else self.glaze_room_tenths


@dataclass(frozen=True, kw_only=True, slots=True)
class Circuit:
    """A supply that carries only so many heating kilns at once (on the day a firing starts)."""

    key: str
    at_once: int

    def __post_init__(self) -> None:
        refuse_if((self.at_once < 1, f"circuit {self.key}: at least one kiln must heat"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Ware:
    """A form in one clay lot: what is thrown, dried and bisqued before its coats are chosen."""

    key: str
    name: str
    room_tenths: int
    height_mm: int
    throwing_min: int
    glazing_min: int
    finishing_min: int
    drying_days: int

    def __post_init__(self) -> None:
        minutes = (self.throwing_min, self.glazing_min, self.finishing_min)
        refuse_if(
            (self.room_tenths < 1, f"{self.name}: room must be at least a tenth of a mug place"),
            (self.height_mm < 1, f"{self.name}: height must be more than 0 mm"),
            (min(minutes) < 0, f"{self.name}: minutes must not be negative"),
            (self.drying_days < 1, f"{self.name}: drying takes at least a day"),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanLine:
    """A ware with its coats and schedule: the thing that is wanted and learnt about.

    One that is not ``proven`` needs a trial first; one that is ``on_trial`` had it, and takes
    only a share of a kiln until somebody calls it proven. ``trial_kilns``: the keys of the kilns
    in which alone it is on trial, since their elements or thermocouple were changed.
    """

    key: str
    name: str
    ware_key: str
    schedule_key: str
    proven: bool = True
    on_trial: bool = False
    trial_kilns: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        refuse_if(
            (self.schedule_key == BISQUE, f"{self.name}: a line needs a glaze schedule"),
            (not self.schedule_key, f"{self.name}: a line needs a schedule"),
            (
                self.on_trial and not self.proven,
                f"{self.name}: a line waits for its trial or is on trial, not both",
            ),
        )

    def is_tried_in(self, kiln_key: str) -> bool:
        """Whether a load of a kiln may hold no more of it than its share."""
        return self.on_trial or kiln_key in self.trial_kilns


@dataclass(frozen=True, kw_only=True, slots=True)
class Need:
    """So many good pieces of some lines, graded, by the morning of a date less its buffer."""

    key: str
    name: str
    due_date: date
    buffer_days: int
    importance: int
    counts: tuple[tuple[str, int], ...]

    def __post_init__(self) -> None:
        lines = [line for line, _ in self.counts]
        refuse_if(
            (self.buffer_days < 0, f"{self.name}: buffer days must not be negative"),
            (self.importance < 1, f"{self.name}: importance starts at 1"),
            (any(n < 1 for _, n in self.counts), f"{self.name}: a want asks for at least 1"),
            (len(set(lines)) != len(lines), f"{self.name}: a line is wanted twice"),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class OnHand:
    """Pieces standing in the studio: of a ware (thrown, bisqued) or a line (glazed to graded).

    ``ready_date`` is the first day the next step may take them (thrown: the day they are dry).
    """

    stage: Stage
    key: str
    count: int
    ready_date: date

    def __post_init__(self) -> None:
        refuse_if((self.count < 0, f"on hand {self.key}: count must not be negative"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Load:
    """One use of a kiln: pinned in a problem, proposed in a plan.

    Busy from ``start_date`` for ``busy_days`` days; its pieces are out on ``open_date``.
    A pinned load that is ``filled`` holds its contents already: they are not on hand. One that
    is not is a kept appointment: the kiln is taken, and the plan may fill it from stock by a
    load of its own with the same kiln, schedule, start and length.
    """

    kiln_key: str
    schedule_key: str
    start_date: date
    busy_days: int
    contents: tuple[tuple[str, int], ...]
    filled: bool = True

    def __post_init__(self) -> None:
        keys = [key for key, _ in self.contents]
        refuse_if(
            (self.busy_days < 1, "a load keeps its kiln busy at least a day"),
            (any(n < 1 for _, n in self.contents), "a load counts at least 1 of what it holds"),
            (len(set(keys)) != len(keys), "a load names a thing twice"),
        )

    @property
    def open_date(self) -> date:
        """The first day the kiln is free again and its pieces can be handled."""
        return self.start_date + timedelta(days=self.busy_days)


@dataclass(frozen=True, kw_only=True, slots=True)
class Yields:
    """Whole per cent of pieces that come through each step, 1 to 100."""

    drying_percent: int = 96
    bisque_percent: int = 98
    glaze_percent: int = 88

    def __post_init__(self) -> None:
        steps = (self.drying_percent, self.bisque_percent, self.glaze_percent)
        refuse_if((not all(1 <= p <= 100 for p in steps), "a yield is 1 to 100 per cent"))


@dataclass(frozen=True, kw_only=True, slots=True)
class PastKind:
    """What became of one kind of ware at a step: (good, of) for each batch that is decided.

    ``key`` is a ware or a line of the problem, or any other name for what it does not ask for.
    """

    key: str
    form_key: str
    body_key: str
    batches: tuple[tuple[int, int], ...]

    def __post_init__(self) -> None:
        refuse_if(
            (
                any(not 0 <= good <= of for good, of in self.batches),
                f"record of {self.key}: good pieces are 0 to all of a batch",
            ),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class PastStep:
    """The studio's record of one step, and the good of 100 reckoned with where there is none."""

    guess_percent: int
    kinds: tuple[PastKind, ...]

    def __post_init__(self) -> None:
        refuse_if((not 1 <= self.guess_percent <= 99, "a guess is 1 to 99 per cent"))


@dataclass(frozen=True, kw_only=True, slots=True)
class HandsDay:
    """Minutes of each kind of work on one day; a day off has none and starts no firing."""

    date: date
    throwing_min: int
    glazing_min: int
    finishing_min: int
    may_start: bool = True

    def __post_init__(self) -> None:
        minutes = (self.throwing_min, self.glazing_min, self.finishing_min)
        refuse_if((min(minutes) < 0, f"{self.date}: minutes must not be negative"))


@dataclass(frozen=True, kw_only=True, slots=True)
class TrialRule:
    """An unproven line is fired small, in a kiln that takes trials, and opened, before more.

    A line on trial takes at most ``share_percent`` of a kiln's glaze room in one load, and in a
    kiln that takes trials no less than a trial may be.
    """

    least_pieces: int = 2
    most_pieces: int = 6
    share_percent: int = 25

    def __post_init__(self) -> None:
        refuse_if(
            (not 1 <= self.least_pieces <= self.most_pieces, "trial sizes do not agree"),
            (not 1 <= self.share_percent <= 100, "a share of a kiln is 1 to 100 per cent"),
        )

    def most_on_trial(self, *, kiln: PlanKiln, ware: Ware) -> int:
        """The most pieces of one line on trial in a glaze load of a kiln [pieces]."""
        share = kiln.glaze_room_tenths * self.share_percent // (100 * ware.room_tenths)
        return max(share, self.most_pieces if kiln.takes_trials else 0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """The whole question. Raises ``BadProblem`` with every cause when a law is broken."""

    today_date: date
    last_date: date
    days: tuple[HandsDay, ...]
    kilns: tuple[PlanKiln, ...]
    circuits: tuple[Circuit, ...]
    wares: tuple[Ware, ...]
    lines: tuple[PlanLine, ...]
    needs: tuple[Need, ...]
    on_hand: tuple[OnHand, ...] = ()
    pinned: tuple[Load, ...] = ()
    yields: Yields = Yields()
    trial_rule: TrialRule = TrialRule()
    sure_percent: int = 0
    """Chances in 100, up to 99, that enough firsts come for a date; 0 asks for no spares."""
    past: tuple[PastStep, ...] = ()
    """The record of the steps from glazing to grading that chances go by, in their order; empty
    where each pot is reckoned with the stated yield. What a plan brings goes by ``yields``."""

    def __post_init__(self) -> None:
        refuse_if((not 0 <= self.sure_percent <= 99, "chances in 100 are 0 to 99"))
        causes = [*self._key_causes(), *self._date_causes(), *self._pinned_causes()]
        if causes:
            raise BadProblem(*causes)

    def _key_causes(self) -> Iterable[str]:
        for what, keys in (
            ("kiln", [k.key for k in self.kilns]),
            ("circuit", [c.key for c in self.circuits]),
            ("ware", [w.key for w in self.wares]),
            ("line", [line.key for line in self.lines]),
            ("need", [n.key for n in self.needs]),
        ):
            if len(set(keys)) != len(keys):
                yield f"a {what} is declared twice"
        circuits, wares = {c.key for c in self.circuits}, {w.key for w in self.wares}
        lines = {line.key for line in self.lines}
        for kiln in self.kilns:
            if kiln.circuit_key not in circuits:
                yield f"kiln {kiln.name} hangs on an unknown circuit"
        for line in self.lines:
            if line.ware_key not in wares:
                yield f"line {line.name} is of an unknown ware"
        for need in self.needs:
            for key, _ in need.counts:
                if key not in lines:
                    yield f"{need.name} wants an unknown line {key}"
        for hand in self.on_hand:
            known = wares if hand.stage in (Stage.THROWN, Stage.BISQUED) else lines
            if hand.key not in known:
                yield f"on hand {hand.stage}: unknown {hand.key}"

    def _date_causes(self) -> Iterable[str]:
        if self.last_date < self.today_date:
            yield "the last day lies before today"
            return
        count = (self.last_date - self.today_date).days + 1
        expected = [self.today_date + timedelta(days=i) for i in range(count)]
        if [day.date for day in self.days] != expected:
            yield "days must run from today to the last day, one each, in order"
        for need in self.needs:
            if not self.today_date <= need.due_date <= self.last_date:
                yield f"{need.name}: its date {need.due_date} lies outside the days planned"

    def _pinned_causes(self) -> Iterable[str]:
        kilns = {kiln.key: kiln for kiln in self.kilns}
        wares, lines = {w.key for w in self.wares}, {line.key for line in self.lines}
        for load in self.pinned:
            if load.kiln_key not in kilns:
                yield f"a pinned firing names an unknown kiln {load.kiln_key}"
            known = wares if load.schedule_key == BISQUE else lines
            for key, _ in load.contents:
                if key not in known:
                    yield f"a pinned firing holds an unknown {key}"
