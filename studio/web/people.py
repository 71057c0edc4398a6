"""Who signs in here, and as what?"""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from studio.web.models import Change, Helper
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

LONGEST_NAME = 30


def can_add(*, name: str, taken: bool) -> str | None:
    """May a sign-in of this name be made?"""
    if not name:
        return "A sign-in needs a name."
    if len(name) > LONGEST_NAME or not name.replace("-", "").replace(".", "").isalnum():
        return f"A sign-in's name has letters, digits, dots and dashes, {LONGEST_NAME} at most."
    if taken:
        return f"There is a sign-in called {name} already."
    return None


def can_close(
    *, name: str, is_me: bool, active: bool, potters_left: int, helper: bool
) -> str | None:
    """May a sign-in be closed? Never one's own, and never the last potter's."""
    if not active:
        return f"{name} is closed already."
    if is_me:
        return "You cannot close the sign-in you are using."
    if not helper and potters_left < 2:
        return f"{name} is the last potter's sign-in. Make another first."
    return None


@transaction.atomic
def add_sign_in(*, name: str, password: str, helper: bool, by: User, at: datetime) -> Change:
    """Make a sign-in for a potter or a helper. Raises Refusal."""
    plain = name.strip()
    refuse(can_add(name=plain, taken=User.objects.filter(username__iexact=plain).exists()))
    try:
        validate_password(password, User(username=plain))
    except ValidationError as problem:
        raise Refusal(" ".join(problem.messages)) from None
    try:
        with transaction.atomic():
            user = User.objects.create_user(plain, password=password)
    except IntegrityError:
        raise Refusal(can_add(name=plain, taken=True) or "") from None
    if helper:
        Helper.objects.create(user=user)
    return record(
        room="web",
        action="add_sign_in",
        said=f"Made a sign-in for {plain}, {'a helper' if helper else 'a potter'}",
        by=by,
        at=at,
        subject="sign-in",
        subject_id=user.id,
    )


@transaction.atomic
def open_or_close(*, user: User, active: bool, by: User, at: datetime) -> Change:
    """Close a sign-in, which ends its visits at once, or open it again. Raises Refusal."""
    # Two potters who close each other at one moment would each count the other as left: the rows
    # of all potters are held, in one order, before they are counted.
    potters = User.objects.filter(helper=None).exclude(password="")
    list(potters.order_by("id").select_for_update(of=("self",)))
    held = User.objects.select_for_update().get(id=user.id)
    if active:
        refuse(f"{held.username} is open already." if held.is_active else None)
        refuse(None if held.has_usable_password() else f"Nobody signs in as {held.username}.")
    else:
        potters_left = sum(one.has_usable_password() for one in potters.filter(is_active=True))
        refuse(
            can_close(
                name=held.username,
                is_me=held.id == by.id,
                active=held.is_active,
                potters_left=potters_left,
                helper=hasattr(held, "helper"),
            )
        )
    held.is_active = active
    held.save(update_fields=["is_active"])
    return record(
        room="web",
        action="sign_in",
        said=f"{'Opened' if active else 'Closed'} the sign-in of {held.username}",
        by=by,
        at=at,
        subject="sign-in",
        subject_id=held.id,
    )


def sign_ins() -> list[User]:
    """Everybody who has a password here, by name; those who only stand in records are left out."""
    users = User.objects.select_related("helper").order_by("username")
    return [user for user in users if user.has_usable_password()]
