"""Keep the boxes, the settings of the post, the words of customs, and what a parcel declares."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from studio.craft.customs import KINDS
from studio.parcels import rules
from studio.parcels.models import (
    BodyKind,
    BoxType,
    FormUse,
    Parcel,
    ParcelPiece,
    PostSettings,
)
from studio.parcels.services.hold import hold
from studio.parcels.services.record import or_refuse, too_late, write_down
from studio.wares.models import Form
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse

SETTINGS = tuple(field.name for field in PostSettings._meta.fields if not field.primary_key)
BOX = ("name", "length_mm", "width_mm", "height_mm", "wall_mm", "weight_g", "takes")


@transaction.atomic
def keep_post_settings(*, values: Mapping[str, Any], by: User, at: datetime) -> Change:
    """Keep the settings of the post; limits and rate carry their source and day. Raises Refusal."""
    held = PostSettings.objects.select_for_update().filter(id=1).first() or PostSettings(id=1)
    was = _settings(held)
    for name, value in values.items():
        setattr(held, name, value)
    refuse(
        rules.can_keep_settings(
            limit_source=held.limit_source,
            sdr_rate=held.sdr_rate,
            sdr_source=held.sdr_source,
            sdr_date=held.sdr_date,
            # A day that stood before was judged when it was written.
            limit_date=None if was["limit_date"] == _plain(held.limit_date) else held.limit_date,
            today_date=timezone.localdate(at),
        )
    )
    held.save()
    return write_down(
        action="post_settings",
        said="Changed what the post and customs ask for",
        by=by,
        at=at,
        subject="",
        subject_id=None,
        undo={"was": was, "now": _settings(held)},
    )


@transaction.atomic
def set_box(*, box: BoxType | None, values: Mapping[str, Any], by: User, at: datetime) -> Change:
    """Add a box type (``box`` None) or change one; its parcels follow its name. Raises Refusal."""
    held = BoxType.objects.select_for_update().get(id=box.id) if box else BoxType()
    was = _box(held) if box else None
    for name, value in values.items():
        setattr(held, name, value)
    held.name = " ".join(held.name.split())
    same = BoxType.objects.filter(name__iexact=held.name).exclude(id=held.id)
    refuse(
        rules.can_keep_box(
            name=held.name,
            taken=same.exists(),
            sides_mm=(held.length_mm, held.width_mm, held.height_mm),
            wall_mm=held.wall_mm,
            weight_g=held.weight_g,
        )
    )
    with or_refuse(lambda: f"There is a box called {held.name} already."):
        held.save()
    if was is not None:
        _rename(was["name"], held.name)
    return write_down(
        action="set_box",
        said=f"{'Changed' if was else 'Added'} the box {held.name}",
        by=by,
        at=at,
        subject="box",
        subject_id=held.id,
        undo={"was": was, "now": _box(held)},
    )


@transaction.atomic
def drop_box(*, box: BoxType, by: User, at: datetime) -> Change:
    """Take a box type off the table. Parcels packed in it keep its name. Raises Refusal."""
    held = BoxType.objects.select_for_update().filter(id=box.id).first()
    if held is None:
        raise Refusal("This box was taken off the table already. Nothing was changed.")
    was = _box(held)
    held.delete()
    return write_down(
        action="set_box",
        said=f"Took the box {was['name']} off the table",
        by=by,
        at=at,
        subject="box",
        subject_id=None,
        undo={"was": was, "now": None},
    )


@transaction.atomic
def set_customs_words(
    *,
    purposes: Mapping[int, str],
    ornaments: Mapping[int, bool],
    bodies: Mapping[str, str],
    by: User,
    at: datetime,
) -> Change:
    """Say what forms are for (by form id), which are ornaments, and what bodies are.

    Raises Refusal for a form without a purpose.
    """
    was = _words()
    names = dict(Form.objects.values_list("id", "name"))
    for form_id, purpose in purposes.items():
        plain = " ".join(purpose.split())
        refuse(None if plain else f"Say what a {names.get(form_id, 'form').lower()} is for.")
        FormUse.objects.update_or_create(
            form_id=form_id,
            defaults={"purpose": plain, "is_ornament": ornaments.get(form_id, False)},
        )
    for body, kind in bodies.items():
        BodyKind.objects.update_or_create(body=body, defaults={"kind": kind})
    return write_down(
        action="customs_words",
        said="Said what forms are for and what bodies are, for customs",
        by=by,
        at=at,
        subject="",
        subject_id=None,
        undo={"was": was, "now": _words()},
    )


@transaction.atomic
def set_declared(
    *,
    parcel: Parcel,
    kind: str,
    values_pence: Mapping[int, int | None],
    by: User,
    at: datetime,
) -> Change:
    """Say what kind of item a parcel is and what its pieces are worth (by row id, None: price).

    Raises Refusal.
    """
    held = hold(parcel)
    name = held.supporter.name
    refuse(
        None if kind == "" or kind in KINDS else "Choose the kind of item, as the forms name it."
    )
    refuse(
        f"The parcel of {name} is {held.state} already, so what it declared stands."
        if held.state not in ("picked", "packed")
        else None
    )
    rows = {row.id: row for row in held.lines.select_related("piece")}
    was = _declared(held)
    for id_, value in values_pence.items():
        if id_ not in rows:
            raise Refusal("A piece is no longer in this parcel. Look at the page again.")
        refuse(
            f"{rows[id_].piece}: declare what it would sell for or what it cost to make, never"
            " nothing."
            if value is not None and value < 1
            else None
        )
        ParcelPiece.objects.filter(id=id_).update(value_pence=value)
    held.item_kind = kind
    held.save(update_fields=["item_kind"])
    return write_down(
        action="set_declared",
        said=f"Said what the parcel of {name} declares to customs",
        by=by,
        at=at,
        subject="parcel",
        subject_id=held.id,
        undo={"was": was, "now": _declared(held)},
    )


def settings_back(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo a change of the settings of the post."""
    held = PostSettings.objects.select_for_update().filter(id=1).first()
    if held is None or _settings(held) != was["now"]:
        raise Refusal(too_late("the settings were changed since."))
    for field in PostSettings._meta.fields:
        if field.name in was["was"]:
            setattr(held, field.name, field.to_python(was["was"][field.name]))
    held.save()


def box_back(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo a change of a box type."""
    before, after = was["was"], was["now"]
    held = BoxType.objects.select_for_update().filter(name=(after or before)["name"]).first()
    if after is None:
        refuse(too_late("there is a box of that name again.") if held else None)
        BoxType.objects.create(**before)
        return
    if held is None or _box(held) != after:
        raise Refusal(too_late("the box was changed since."))
    if before is None:
        held.delete()
        return
    for name, value in before.items():
        setattr(held, name, value)
    held.save()
    _rename(after["name"], before["name"])


def words_back(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo a change of the words of customs."""
    refuse(too_late("they were changed since.") if _words() != was["now"] else None)
    FormUse.objects.all().delete()
    BodyKind.objects.all().delete()
    for form_id, purpose, ornament in was["was"]["forms"]:
        FormUse.objects.create(form_id=form_id, purpose=purpose, is_ornament=ornament)
    for body, kind in was["was"]["bodies"]:
        BodyKind.objects.create(body=body, kind=kind)


def parcel_back(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo a weight, a box or a tracking number."""
    held = Parcel.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if held is None or any(getattr(held, name) != value for name, value in was["now"].items()):
        raise Refusal(too_late("it was changed since."))
    for name, value in was["was"].items():
        setattr(held, name, value)
    held.save(update_fields=list(was["was"]))


def declared_back(change: Change, undoing: Change, was: dict[str, Any]) -> None:
    """Undo what a parcel declares."""
    held = Parcel.objects.select_for_update().filter(id=change.subject_id or 0).first()
    if held is None or _declared(held) != was["now"]:
        raise Refusal(too_late("it was changed since, or the parcel is gone."))
    held.item_kind = was["was"]["kind"]
    held.save(update_fields=["item_kind"])
    for id_, value in was["was"]["values"]:
        ParcelPiece.objects.filter(id=id_).update(value_pence=value)


def _rename(old: str, new: str) -> None:
    if old != new:
        Parcel.objects.filter(box=old).update(box=new)


def _settings(held: PostSettings) -> dict[str, Any]:
    return {name: _plain(getattr(held, name)) for name in SETTINGS}


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    # 300 and 300.00 are one limit, whichever of them the row was saved with.
    return format(value.normalize(), "f") if isinstance(value, Decimal) else value


def _box(held: BoxType) -> dict[str, Any]:
    return {name: getattr(held, name) for name in BOX}


def _words() -> dict[str, Any]:
    forms = FormUse.objects.order_by("form_id").values_list("form_id", "purpose", "is_ornament")
    bodies = BodyKind.objects.order_by("id").values_list("body", "kind")
    return {"forms": [list(row) for row in forms], "bodies": sorted(list(row) for row in bodies)}


def _declared(held: Parcel) -> dict[str, Any]:
    rows = held.lines.order_by("id").values_list("id", "value_pence")
    return {"kind": held.item_kind, "values": [list(row) for row in rows]}
