"""May a log be kept with this firing, and what is odd about it?"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

SLACK: Final = timedelta(hours=2)
"""A logger is started before the kiln and stopped after it; our own measure."""
LEAST_H: Final = 0.5
"""A part shorter than this is no firing; our own measure."""


def can_log(*, state: str, kiln: str) -> str:
    """Whether a firing may have a log."""
    if state in ("planned", "loaded"):
        return f"{kiln} was not lit for this firing yet, so there is no log of it."
    if state == "called_off":
        return "This firing was called off, so there is no log of it."
    return ""


def can_take_log_away(*, has_log: bool) -> str:
    """Whether there is a log to take away."""
    return "" if has_log else "This firing has no log."


def lies_outside(
    *,
    hours: float,
    started_at: datetime | None,
    lit_at: datetime,
    opened_at: datetime | None,
) -> str:
    """How a log of so many hours lies to its firing: '', 'part', 'all' or, without a clock, 'long'.

    ``started_at``: when the log begins, by its own clock. ``opened_at``: None while it is shut.
    """
    length = timedelta(hours=hours)
    if started_at is None:
        too_long = opened_at is not None and length > opened_at - lit_at + SLACK
        return "long" if too_long else ""
    ends_at = started_at + length
    if ends_at <= lit_at or (opened_at is not None and started_at >= opened_at):
        return "all"
    early = started_at < lit_at - SLACK
    late = opened_at is not None and ends_at > opened_at + SLACK
    return "part" if early or late else ""


def can_choose_part(*, has_log: bool, from_h: float, until_h: float, last_h: float) -> str:
    """Whether the hours of a log between two of them may be this firing's."""
    if not has_log:
        return "This firing has no log."
    if from_h < 0 or until_h > last_h + 0.01:
        return f"This log has the hours 0 to {last_h:.1f}. Write hours between them."
    if until_h - from_h < LEAST_H:
        return (
            f"From {from_h:.1f} h to {until_h:.1f} h is no firing. Write the hour at which it"
            " begins and a later one, half an hour or more after it."
        )
    return ""


def can_move_log(
    *, has_log: bool, to: str, state: str, kiln: str, other_has_log: bool, is_same: bool
) -> str:
    """Whether a firing's log may be given to another firing."""
    if not has_log:
        return "This firing has no log."
    if is_same:
        return "This log is with this firing already."
    if other_has_log:
        return f"{to} has a log already. Take that one away first."
    return can_log(state=state, kiln=kiln)
