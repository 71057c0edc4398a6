"""What is this studio called and how does it read numbers; can that change still be undone?"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from studio.craft.quantities import LengthUnit, TemperatureUnit
from studio.web.models import Change, Studio

_of_this_request: ContextVar[list[Studio] | None] = ContextVar("_of_this_request", default=None)


@contextmanager
def one_studio_a_request() -> Iterator[None]:
    """Let ``the_studio`` ask the database once while a page is made, not once a number."""
    token = _of_this_request.set([])
    try:
        yield
    finally:
        _of_this_request.reset(token)


def the_studio() -> Studio:
    """Answer the studio's one row; before anyone has saved it, an unsaved row of defaults."""
    kept = _of_this_request.get()
    if kept:
        return kept[0]
    studio = Studio.objects.filter(id=1).first() or Studio(id=1)
    if kept is not None:
        kept.append(studio)
    return studio


def offers_undo(change: Change) -> bool:
    """Answer whether a change knows its way back and was not undone yet.

    Whether something later depends on it is for the room that made it to say, when it is undone.
    """
    return change.undo is not None and not Change.objects.filter(undoes=change).exists()


def temperature_unit() -> TemperatureUnit:
    """Answer the unit this studio reads temperatures in."""
    return "F" if the_studio().temperature_unit == "F" else "C"


def length_unit() -> LengthUnit:
    """Answer the unit this studio reads lengths in."""
    return "in" if the_studio().length_unit == "in" else "mm"
