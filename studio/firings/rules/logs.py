"""May a log be kept with this firing, and what is odd about it?"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

FAR: Final = timedelta(hours=24)
"""A log that begins this far from the lighting is likely another firing's; our own measure."""


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


def other_firing(*, started_at: datetime | None, lit_at: datetime | None, words: str) -> str:
    """A caution that a log begins at another time than its firing; '' when it does not.

    ``words`` says both moments, as the person reads them.
    """
    if started_at is None or lit_at is None or abs(started_at - lit_at) <= FAR:
        return ""
    return f"{words} Is it the right file?"
