"""Keep a kiln's shelves, posts, clearances and thermocouple."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.craft.kiln_load import BadKiln
from studio.firings import rules, selectors
from studio.firings.models import Kiln, PostStock, ShelfStock
from studio.firings.selectors import Furniture
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record


@transaction.atomic
def save_furniture(
    *, kiln: Kiln, furniture: Furniture, seen: str | None = None, by: User, at: datetime
) -> Change:
    """Write down what a kiln is furnished with; ``seen`` is the token the person saw.

    Raises Refusal, with the packer's own sentence where such a kiln cannot be.
    """
    now = Kiln.objects.select_for_update().get(pk=kiln.pk)
    was = selectors.furniture_of(now)
    if seen not in (None, was.token):
        raise Refusal(rules.not_as_seen(what=f"The furniture of {now}", happened=""))
    _write(now, furniture)
    try:
        selectors.room_in(now)
    except BadKiln as problem:
        raise Refusal(str(problem)) from problem
    shelves = sum(count for _, _, count in furniture.shelves)
    posts = sum(count for _, count in furniture.posts)
    return record(
        room="firings",
        action="save_furniture",
        said=f"{now} has {shelves} shelves and {posts} posts",
        by=by,
        at=at,
        subject="kiln",
        subject_id=now.pk,
        undo={"kiln": now.pk, "was": was.as_kept, "now": selectors.furniture_of(now).token},
    )


def unset_furniture(kept: dict[str, Any]) -> None:
    """The way back from writing furniture down, unless it was written again. Raises Refusal."""
    kiln = Kiln.objects.select_for_update().filter(pk=kept["kiln"]).first()
    if kiln is None:
        raise Refusal(rules.can_undo(False, now="the kiln is gone"))
    same = selectors.furniture_of(kiln).token == kept["now"]
    refuse(rules.can_undo(same, now=f"the furniture of {kiln} was changed since"))
    _write(kiln, Furniture(**kept["was"]))


def _write(kiln: Kiln, furniture: Furniture) -> None:
    for name, value in furniture.values.items():
        setattr(kiln, name, value)
    try:
        with transaction.atomic():
            kiln.save(update_fields=list(furniture.values))
            kiln.shelves.all().delete()
            kiln.posts.all().delete()
            ShelfStock.objects.bulk_create(
                ShelfStock(kiln=kiln, kind=kind, thickness_mm=thick, count=count)
                for kind, thick, count in furniture.shelves
            )
            PostStock.objects.bulk_create(
                PostStock(kiln=kiln, height_mm=height, count=count)
                for height, count in furniture.posts
            )
    except IntegrityError:
        raise Refusal(rules.WRONG_FURNITURE) from None
