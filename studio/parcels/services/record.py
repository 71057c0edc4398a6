"""How is a change of this room written down, and what do its services share?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

from django.db import IntegrityError, transaction

from studio.web.refusal import Refusal
from studio.web.services import record

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
    "left_month",
    *ADDRESS,
    "address_confirmed_date",
    "is_gift",
    "gift_from",
    "takes_seconds",
    "packing_note",
    "household",
)
"""What a person sets of a supporter, beside what they would rather not have."""


def plain(value: Any) -> Any:
    """A value as JSON can keep it."""
    return value.isoformat() if hasattr(value, "isoformat") else value


AGAIN = "Nothing was saved; look at the page again."


@contextmanager
def or_refuse(sentence: Callable[[], str]) -> Iterator[None]:
    """Save within, or raise a Refusal when somebody saved the same a moment before.

    What was looked up before cannot rule that out; the constraint can. The sentence is asked for
    after everything within was taken back.
    """
    try:
        with transaction.atomic():
            yield
    except IntegrityError:
        raise Refusal(sentence()) from None


write_down = partial(record, room="parcels")
"""Record a change of this room: ``studio.web.services.record`` with the room given."""


def too_late(why: str) -> str:
    """Say why a change stands: ``why`` names what was built on it."""
    return f"This can no longer be undone: {why}"
