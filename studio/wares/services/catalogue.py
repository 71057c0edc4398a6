"""Keep the catalogue: forms, clay lots, glazes, coats and lines, each change with its way back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, models, transaction
from django.db.models import ProtectedError

from studio.wares import rules
from studio.wares.models import ClayLot, Coat, Coats, Form, Glaze, Line
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

WORDS: dict[str, type[models.Model]] = {
    "form": Form,
    "clay lot": ClayLot,
    "glaze": Glaze,
    "coats": Coats,
    "line": Line,
}
Layers = Sequence[tuple[Glaze, int | None]]


@transaction.atomic
def keep_entry(
    *,
    what: str,
    entry_id: int | None = None,
    values: Mapping[str, Any],
    layers: Layers | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Add or change a row of the catalogue; ``layers`` are the glazes of coats, clay first.

    ``what`` is a key of ``WORDS``; ``values`` are fields of its model. The change's subject is the
    row. Raises Refusal.
    """
    model = WORDS[what]
    manager = model._default_manager
    entry = model() if entry_id is None else manager.select_for_update().get(pk=entry_id)
    before = _image(entry) if entry_id is not None else None
    for name, value in values.items():
        setattr(entry, name, value)
    if isinstance(entry, Line) and (before is None or before["standing"] != entry.standing):
        entry.is_learnt, entry.word, entry.word_at = False, "", at
    refuse(_reasons(entry, layers))
    try:
        with transaction.atomic():
            entry.save()
    except IntegrityError:
        raise Refusal(rules.can_add_again(what=what, name=str(entry))) from None
    if layers is not None and isinstance(entry, Coats):
        _lay(entry, layers)
    after = _image(entry)
    said = f"Added the {what} {entry}" if before is None else f"Changed the {what} {entry}"
    return record(
        room="wares",
        action="catalogue",
        said=said,
        by=by,
        at=at,
        subject=what,
        subject_id=entry.pk,
        undo={"entry": [what, entry.pk], "before": before, "after": after},
    )


def put_entry_back(kept: dict[str, Any]) -> None:
    """Undo a catalogue change, if the row still is as that change left it. Raises Refusal."""
    what, pk = kept["entry"]
    entry = WORDS[what]._default_manager.select_for_update().filter(pk=pk).first()
    if entry is None or _image(entry) != kept["after"]:
        raise Refusal(rules.too_late_to_undo(f"the {what} was changed since."))
    if kept["before"] is None:
        try:
            with transaction.atomic():
                entry.delete()
        except (ProtectedError, IntegrityError):
            raise Refusal(rules.too_late_to_undo(f"the {what} {entry} is in use.")) from None
        return
    before = dict(kept["before"])
    layers = before.pop("layers", None)
    for name, value in before.items():
        field = entry._meta.get_field(name.removesuffix("_id"))
        setattr(entry, name, field.to_python(value))  # type: ignore[union-attr]
    try:
        with transaction.atomic():
            entry.save()
    except IntegrityError:
        raise Refusal(rules.too_late_to_undo(f"its old name {entry} is taken.")) from None
    if layers is not None and isinstance(entry, Coats):
        glazes = Glaze.objects.in_bulk([glaze_id for glaze_id, _ in layers])
        _lay(entry, [(glazes[glaze_id], reach_mm) for glaze_id, reach_mm in layers])


def _reasons(entry: models.Model, layers: Layers | None) -> str | None:
    """Say what in an entry contradicts itself or other entries."""
    if isinstance(entry, Coats) and layers is not None:
        return rules.can_lay(
            coats=entry.name,
            top_cone=entry.top_cone,
            glazes=[(glaze.name, glaze.top_cone) for glaze, _ in layers],
        )
    if isinstance(entry, Line):
        return rules.can_coat(
            coats=entry.coats.name,
            coats_top_cone=entry.coats.top_cone,
            clay_lot=str(entry.clay_lot),
            clay_top_cone=entry.clay_lot.top_cone,
            schedule=entry.schedule.name,
            schedule_kind=entry.schedule.kind,
            cone=entry.schedule.cone,
        )
    return None


def _lay(coats: Coats, layers: Layers) -> None:
    coats.layers.all().delete()
    Coat.objects.bulk_create(
        Coat(coats=coats, seq=seq, glaze=glaze, reach_mm=reach_mm)
        for seq, (glaze, reach_mm) in enumerate(layers, start=1)
    )


def _image(entry: models.Model) -> dict[str, Any]:
    """All stored fields of a row as JSON can hold them."""
    image: dict[str, Any] = {}
    for field in entry._meta.concrete_fields:
        if not field.primary_key:
            value = getattr(entry, field.attname)
            image[field.attname] = value.isoformat() if hasattr(value, "isoformat") else value
    if isinstance(entry, Coats):
        image["layers"] = [
            [layer.glaze_id, layer.reach_mm] for layer in entry.layers.order_by("seq")
        ]
    return image
