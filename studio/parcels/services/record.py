"""How is a change of this room written down, and what do its services share?"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

from studio.web import services as web
from studio.web.models import Change
from studio.web.refusal import Refusal

ADDRESS = (
    "country_code",
    "country_area",
    "city",
    "city_area",
    "postal_code",
    "sorting_code",
    "street_address",
)
FIELDS = (
    "name",
    "email",
    "tier_id",
    "joined_month",
    "paused",
    *ADDRESS,
    "address_confirmed_date",
    "is_gift",
    "gift_from",
    "takes_seconds",
    "packing_note",
)
"""What a person sets of a supporter, beside the forms they would rather not have."""


def refuse(sentence: str | None) -> None:
    """Raise the sentence, if there is one."""
    if sentence:
        raise Refusal(sentence)


def plain(value: Any) -> Any:
    """A value as JSON can keep it."""
    return value.isoformat() if hasattr(value, "isoformat") else value


def too_late(why: str) -> str:
    """Say why a change stands: ``why`` names what was built on it."""
    return f"This can no longer be undone: {why}"


def write_down(
    *,
    action: str,
    said: str,
    by: User,
    at: datetime,
    subject: str,
    subject_id: int | None,
    undo: dict[str, Any] | None,
) -> Change:
    """Record a change of this room, at the time it was done."""
    change = web.record(
        room="parcels",
        action=action,
        said=said,
        by=by,
        subject=subject,
        subject_id=subject_id,
        undo=undo,
    )
    if change.at != at:
        change.at = at
        change.save(update_fields=["at"])
    return change
