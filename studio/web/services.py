"""Write down what was done, so that anyone can see it and undo it."""

from datetime import datetime
from typing import Any, cast

from django.contrib.auth.models import AbstractBaseUser, User
from django.utils import timezone

from studio.web.models import Change


def record(
    *,
    room: str,
    action: str,
    said: str,
    by: AbstractBaseUser,
    subject: str = "",
    subject_id: int | None = None,
    undo: dict[str, Any] | None = None,
    at: datetime | None = None,
) -> Change:
    """Record one thing done by one person, inside the transaction that does it.

    ``said`` is the whole sentence ("Moved 24 mugs to bisqued"); ``undo`` is what the room needs to
    put it back, or None when there is no way back. ``at`` is when it was done, else now.
    """
    return Change.objects.create(
        room=room,
        action=action,
        said=_at_most(said, 300),
        by=cast(User, by),
        at=at or timezone.now(),
        subject=subject,
        subject_id=subject_id,
        undo=undo,
    )


def _at_most(sentence: str, characters: int) -> str:
    """Shorten a sentence for its column; SQLite would keep any length, PostgreSQL would refuse."""
    return sentence if len(sentence) <= characters else sentence[: characters - 1] + "…"
