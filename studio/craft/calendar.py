"""Which day, counted back from a date, is the last that will do?

Days of lead time, step by step, so that a person can follow the sum:

    thrown on day t          dry on the morning of      t + drying
    bisque starts that day   out on the morning of        + bisque busy days
    glazed that day          loaded the day after         + 1
    glaze firing starts      out on the morning of        + glaze busy days
    finished that day        there the morning after      + 1
    kept for the date        there by the morning of      date - buffer

Without days off the last throwing day is therefore

    date - buffer - 1 - glaze busy - 1 - bisque busy - drying.

With days off every step waits for a day on which it may be done, counting back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from studio.craft.problem import Load

DAY = timedelta(days=1)

MayDo = Callable[[date], bool]
"""Tells whether something may be done on a day."""

LOOK_BACK_DAYS = 400
"""How far back a free day is looked for before giving up."""


class NoSuchDay(ValueError):
    """No day within reach allows a step; ``step`` and ``before_date`` say which."""

    def __init__(self, *, step: str, before_date: date) -> None:
        self.step = step
        self.before_date = before_date
        super().__init__(f"no day allows {step} on or before {before_date}")


def say_date(day: date) -> str:
    """A date as people write it on a board: 'Sat 9 Jan 2027'."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def any_day(_: date) -> bool:
    """Every day will do."""
    return True


@dataclass(frozen=True, kw_only=True, slots=True)
class LeadTime:
    """The last day for each step towards one date; the first of them is the throwing day."""

    throw_date: date
    bisque_start_date: date
    glazing_date: date
    glaze_start_date: date
    finishing_date: date
    there_date: date

    @property
    def days(self) -> int:
        """Days from throwing to being there."""
        return (self.there_date - self.throw_date).days


def last_day(*, on_or_before: date, may_do: MayDo, step: str = "work") -> date:
    """The last day on or before a date that will do. Raises ``NoSuchDay`` when there is none."""
    day = on_or_before
    for _ in range(LOOK_BACK_DAYS):
        if may_do(day):
            return day
        day -= DAY
    raise NoSuchDay(step=step, before_date=on_or_before)


def lead_time(
    *,
    due_date: date,
    buffer_days: int,
    drying_days: int,
    bisque_busy_days: int,
    glaze_busy_days: int,
    may_throw: MayDo = any_day,
    may_start: MayDo = any_day,
    may_glaze: MayDo = any_day,
    may_finish: MayDo = any_day,
) -> LeadTime:
    """The last day for each step so that a piece is there by its date less its buffer.

    One piece with hands and kilns free whenever a day allows the step: a limit that no plan can
    pass, not a promise that the kilns are free. Raises ``NoSuchDay`` when a step has no day.
    """
    there = due_date - buffer_days * DAY
    finishing = last_day(on_or_before=there - DAY, may_do=may_finish, step="finishing")
    glaze_start = last_day(
        on_or_before=finishing - glaze_busy_days * DAY, may_do=may_start, step="a glaze firing"
    )
    glazing = last_day(on_or_before=glaze_start - DAY, may_do=may_glaze, step="glazing")
    bisque_start = last_day(
        on_or_before=glazing - bisque_busy_days * DAY, may_do=may_start, step="a bisque firing"
    )
    throwing = last_day(
        on_or_before=bisque_start - drying_days * DAY, may_do=may_throw, step="throwing"
    )
    return LeadTime(
        throw_date=throwing,
        bisque_start_date=bisque_start,
        glazing_date=glazing,
        glaze_start_date=glaze_start,
        finishing_date=finishing,
        there_date=there,
    )


def latest_throw_date(
    *,
    due_date: date,
    buffer_days: int,
    drying_days: int,
    bisque_busy_days: int,
    glaze_busy_days: int,
    may_throw: MayDo = any_day,
    may_start: MayDo = any_day,
    may_glaze: MayDo = any_day,
    may_finish: MayDo = any_day,
) -> date:
    """The throwing day of ``lead_time``."""
    return lead_time(
        due_date=due_date,
        buffer_days=buffer_days,
        drying_days=drying_days,
        bisque_busy_days=bisque_busy_days,
        glaze_busy_days=glaze_busy_days,
        may_throw=may_throw,
        may_start=may_start,
        may_glaze=may_glaze,
        may_finish=may_finish,
    ).throw_date


def slack_days(*, load: Load, due_date: date, buffer_days: int, days_after: int = 1) -> int:
    """Days by which a load may slip before its pieces miss the date less its buffer.

    ``days_after`` is what must still happen after it is opened: 1 for a glaze load (finishing);
    for a bisque load 2 + the glaze busy days (glazing, firing, finishing). Below 0: it is late.
    """
    return (due_date - buffer_days * DAY - load.open_date).days - days_after
