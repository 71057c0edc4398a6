"""Which kiln is busy on which day, and what is due when: where does each mark of the strip stand?

Pure geometry in user units; a template draws it on a page, ``plan_sheets`` on paper. It must read
in black and white: a glaze firing is a solid bar, a bisque firing an open bar under a hatched
band, a pinned firing has a pin, weekends are shaded, a day off is crossed, due dates are flags.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from studio.drawing.flags import LANE_HIGH, LETTER_WIDE, Flag, fitted, placed_flags

Kind = Literal["bisque", "glaze"]
Segment = tuple[float, float, float, float]
"""A straight line: x1, y1, x2, y2."""

DAY_WIDE = 38.0
ROW_HIGH = 46.0
BAR_HIGH = 34.0
NAME_WIDE = 118.0
HEAD_HIGH = 54.0
_HATCH_HIGH = 9.0
_HATCH_STEP = 6.0
_MOST_DAYS = 400


class BadStrip(ValueError):
    """The strip cannot be drawn from what was given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StripLoad:
    """One firing: its kiln, its days and what it holds in a word or two."""

    kiln: str
    start_date: date
    busy_days: int
    kind: Kind
    label: str
    pinned: bool = False

    def __post_init__(self) -> None:
        if self.busy_days < 1:
            raise BadStrip(f"{self.kiln}, {self.start_date}: a firing takes at least a day")
        if self.kind not in ("bisque", "glaze"):
            raise BadStrip(f"{self.kiln}: a firing is bisque or glaze, not {self.kind!r}")

    @property
    def last_date(self) -> date:
        """The last day on which the kiln is busy."""
        return self.start_date + timedelta(days=self.busy_days - 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Day:
    """A column: its number and weekday letter, the month where one begins, why it is off."""

    x: float
    width: float
    number: str
    letter: str
    month: str
    off: Literal["", "weekend", "off"]
    cross: tuple[Segment, ...]

    @property
    def middle(self) -> float:
        """Where the number stands."""
        return round(self.x + self.width / 2, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """A kiln's row and its name in lines."""

    name: str
    lines: tuple[tuple[str, float], ...]
    """(words, baseline y)"""
    y: float
    height: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """A firing's bar. ``label`` is cut to its room; ``full`` says all."""

    x: float
    y: float
    width: float
    height: float
    kind: Kind
    kind_words: str
    label: str
    full: str
    pinned: bool
    hatch: tuple[Segment, ...]
    goes_on_left: bool
    goes_on_right: bool

    @property
    def text_x(self) -> float:
        """Where the words begin."""
        return round(self.x + 5, 1)

    @property
    def kind_y(self) -> float:
        """Baseline of the first words."""
        return round(self.y + (_HATCH_HIGH if self.kind == "bisque" else 5) + 10, 1)

    @property
    def label_y(self) -> float:
        """Baseline of the label, which moves up where the kind has no room."""
        return round(self.kind_y + (11 if self.kind_words else 4), 1)

    @property
    def pin_x(self) -> float:
        """Middle of the pin's head."""
        return round(self.x + self.width - 7, 1)

    @property
    def pin_y(self) -> float:
        """Middle of the pin's head, which stands over the edge of the bar."""
        return round(self.y + 1, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Strip:
    """The whole drawing in user units, and what it was made of."""

    width: float
    height: float
    rows_top: float
    rows_foot: float
    title: str
    desc: str
    days: tuple[Day, ...]
    rows: tuple[Row, ...]
    bars: tuple[Bar, ...]
    flags: tuple[Flag, ...]
    from_date: date
    to_date: date
    kilns: tuple[str, ...]
    loads: tuple[StripLoad, ...]
    days_off: frozenset[date]
    dates: tuple[tuple[date, str], ...]

    @classmethod
    def of(
        cls,
        *,
        kilns: Sequence[str],
        loads: Sequence[StripLoad],
        from_date: date,
        to_date: date,
        days_off: Collection[date] = (),
        dates: Sequence[tuple[date, str]] = (),
    ) -> Strip:
        """Lay out the days from_date to to_date, both shown.

        Raises: BadStrip without a kiln, with a kiln twice, for a load in an unknown kiln, for
        dates the wrong way round or more than 400 days.
        """
        count = (to_date - from_date).days + 1
        if count < 1:
            raise BadStrip(f"the strip ends on {to_date}, before it begins on {from_date}")
        if count > _MOST_DAYS:
            raise BadStrip(f"a strip shows at most {_MOST_DAYS} days, not {count}")
        if not kilns:
            raise BadStrip("a strip needs a kiln")
        if len(set(kilns)) != len(kilns):
            raise BadStrip("a kiln is named twice")
        for load in loads:
            if load.kiln not in kilns:
                raise BadStrip(f"a load is in {load.kiln!r}, which is no kiln of the strip")
        off = frozenset(days_off)
        due = tuple(sorted(dates))
        rows_foot = HEAD_HIGH + len(kilns) * ROW_HIGH
        width = NAME_WIDE + count * DAY_WIDE
        shown = [
            load
            for load in sorted(loads, key=lambda load: (load.start_date, load.kiln))
            if load.start_date <= to_date and load.last_date >= from_date
        ]
        flags, lanes = placed_flags(
            [
                (_x(day, from_date) + DAY_WIDE, f"{name}, {day.day} {day:%b}")
                for day, name in due
                if from_date <= day <= to_date
            ],
            top=HEAD_HIGH - 4,
            foot=rows_foot,
            width=width,
        )
        return cls(
            width=width,
            height=rows_foot + 8 + max(1, lanes) * LANE_HIGH,
            rows_top=HEAD_HIGH,
            rows_foot=rows_foot,
            title=f"Kilns by day, {_span(from_date, to_date)}",
            desc=_description(kilns, shown, [d for d in due if from_date <= d[0] <= to_date]),
            days=tuple(
                _day(from_date + timedelta(days=n), n, off, rows_foot) for n in range(count)
            ),
            rows=tuple(_row(name, n) for n, name in enumerate(kilns)),
            bars=tuple(
                _bar(load, list(kilns).index(load.kiln), from_date, to_date) for load in shown
            ),
            flags=flags,
            from_date=from_date,
            to_date=to_date,
            kilns=tuple(kilns),
            loads=tuple(loads),
            days_off=off,
            dates=due,
        )

    @property
    def rows_high(self) -> float:
        """How high all rows stand together."""
        return self.rows_foot - self.rows_top

    def parts(self, *, days: int) -> tuple[Strip, ...]:
        """The same strip in pieces of so many days, for paper and small screens."""
        if days < 1:
            raise BadStrip("a part shows at least a day")
        out = []
        start = self.from_date
        while start <= self.to_date:
            end = min(self.to_date, start + timedelta(days=days - 1))
            out.append(
                Strip.of(
                    kilns=self.kilns,
                    loads=self.loads,
                    from_date=start,
                    to_date=end,
                    days_off=self.days_off,
                    dates=self.dates,
                )
            )
            start = end + timedelta(days=1)
        return tuple(out)


def short_date(day: date) -> str:
    """'Mon 3 Nov'."""
    return f"{day:%a} {day.day} {day:%b}"


def _span(from_date: date, to_date: date) -> str:
    return f"{from_date.day} {from_date:%b %Y} to {to_date.day} {to_date:%b %Y}"


def _x(day: date, from_date: date) -> float:
    return NAME_WIDE + (day - from_date).days * DAY_WIDE


def _day(day: date, n: int, off: frozenset[date], rows_foot: float) -> Day:
    x = NAME_WIDE + n * DAY_WIDE
    kind: Literal["", "weekend", "off"] = ""
    if day in off:
        kind = "off"
    elif day.weekday() >= 5:
        kind = "weekend"
    cross: tuple[Segment, ...] = ()
    if kind == "off":
        cross = (
            (x, HEAD_HIGH, x + DAY_WIDE, rows_foot),
            (x, rows_foot, x + DAY_WIDE, HEAD_HIGH),
        )
    return Day(
        x=x,
        width=DAY_WIDE,
        number=str(day.day),
        letter="MTWTFSS"[day.weekday()],
        month=f"{day:%B %Y}" if n == 0 or day.day == 1 else "",
        off=kind,
        cross=cross,
    )


def _row(name: str, n: int) -> Row:
    y = HEAD_HIGH + n * ROW_HIGH
    room = NAME_WIDE - 10
    first, second = name, ""
    if len(name) * 7 > room:
        words = name.split(" ")
        first = words[0]
        rest = words[1:]
        while rest and len(f"{first} {rest[0]}") * 7 <= room:
            first = f"{first} {rest.pop(0)}"
        second = " ".join(rest)
    lines = [fitted(line, width=room, letter_wide=7) for line in (first, second) if line]
    middle = y + ROW_HIGH / 2 + 4.5
    shift = 7.5 * (len(lines) - 1)
    return Row(
        name=name,
        lines=tuple((line, middle - shift + 15 * i) for i, line in enumerate(lines)),
        y=y,
        height=ROW_HIGH,
    )


def _bar(load: StripLoad, row: int, from_date: date, to_date: date) -> Bar:
    goes_on_left = load.start_date < from_date
    goes_on_right = load.last_date > to_date
    x = _x(max(load.start_date, from_date), from_date) + (0 if goes_on_left else 1.5)
    end = _x(min(load.last_date, to_date), from_date) + DAY_WIDE - (0 if goes_on_right else 1.5)
    y = HEAD_HIGH + row * ROW_HIGH + (ROW_HIGH - BAR_HIGH) / 2
    width = end - x
    days = "1 day" if load.busy_days == 1 else f"{load.busy_days} days"
    full = f"{load.kiln}: {load.kind}, {load.label}, from {short_date(load.start_date)}, {days}"
    if load.pinned:
        full += ", pinned"
    return Bar(
        x=x,
        y=y,
        width=width,
        height=BAR_HIGH,
        kind=load.kind,
        kind_words=load.kind if len(load.kind) * LETTER_WIDE <= width - 8 else "",
        label=fitted(load.label, width=width - 8),
        full=full,
        pinned=load.pinned,
        hatch=_hatch(x, y, width) if load.kind == "bisque" else (),
        goes_on_left=goes_on_left,
        goes_on_right=goes_on_right,
    )


def _hatch(x: float, y: float, width: float) -> tuple[Segment, ...]:
    """Slanted strokes in the band at the top of a bar, none leaving it."""
    strokes = []
    foot = -_HATCH_HIGH + _HATCH_STEP
    while foot < width:
        low, high = max(0.0, foot), min(width, foot + _HATCH_HIGH)
        if high - low > 0.5:
            strokes.append(
                (
                    round(x + low, 1),
                    round(y + _HATCH_HIGH - (low - foot), 1),
                    round(x + high, 1),
                    round(y + _HATCH_HIGH - (high - foot), 1),
                )
            )
        foot += _HATCH_STEP
    return tuple(strokes)


def _description(
    kilns: Sequence[str], loads: Sequence[StripLoad], dates: Sequence[tuple[date, str]]
) -> str:
    """The strip in sentences, for those who hear it."""
    sentences = []
    for kiln in kilns:
        own = [load for load in loads if load.kiln == kiln]
        said = "; ".join(
            f"{load.kind} {short_date(load.start_date)} to {short_date(load.last_date)}"
            + (f", {load.label}" if load.label else "")
            + (", pinned" if load.pinned else "")
            for load in own
        )
        sentences.append(f"{kiln}: {said or 'nothing'}.")
    if dates:
        sentences.append("Due: " + "; ".join(f"{n}, {short_date(d)}" for d, n in dates) + ".")
    return " ".join(sentences)
