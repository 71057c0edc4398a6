"""Put a kiln, a circuit, a schedule or a run back to what it was before somebody saved it."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import Model

from studio.firings import rules, selectors
from studio.firings.models import (
    Care,
    Circuit,
    Firing,
    FuelPrice,
    Kiln,
    NightRule,
    Part,
    Run,
    Schedule,
    Tariff,
    TrialRule,
)
from studio.firings.services.care import unset_care
from studio.firings.services.furniture import unset_furniture
from studio.firings.services.keeping import write_rows
from studio.firings.services.logs import refit
from studio.web.refusal import Refusal, refuse

KEPT: Final[dict[str, type[Model]]] = {
    "save_kiln": Kiln,
    "save_circuit": Circuit,
    "save_schedule": Schedule,
    "save_run": Run,
    "save_trial_rule": TrialRule,
    "save_tariff": Tariff,
    "save_night_rule": NightRule,
    "save_fuel_price": FuelPrice,
    "record_care": Care,
}


def unkeep(action: str, kept: dict[str, Any], *, at: datetime) -> None:
    """Undo a saving within the caller's transaction.

    A row that was new goes, unless something leans on it; one that was changed gets its values
    back, unless it was changed again. Raises Refusal.
    """
    if action == "save_furniture":
        unset_furniture(kept)
        return
    if action == "set_care":
        unset_care(kept)
        return
    row = KEPT[action]._default_manager.select_for_update().filter(pk=kept.get("row")).first()
    if row is None:
        raise Refusal(rules.can_undo(False, now="it is gone already"))
    refuse(rules.can_undo(_is_as_saved(row, kept), now=f"{row} was changed since"))
    if kept["was"] is None:
        _take_away(row)
        if isinstance(row, Care) and row.part == Part.THERMOCOUPLE:
            refit(row.kiln, at=at)
        if own := kept.get("own_circuit"):
            Circuit.objects.filter(pk=own, kiln__isnull=True).delete()
        return
    if isinstance(row, Schedule):
        same = (row.kind, row.cone) == (kept["was"]["kind"], kept["was"]["cone"])
        refuse(rules.can_rewrite(schedule=row.name, used=selectors.is_used(row), same=same))
        write_rows(row, kept["rows_was"])
    for name, value in kept["was"].items():
        setattr(row, name, value)
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        raise Refusal(rules.can_undo(False, now="its old name is taken")) from None


def _is_as_saved(row: Model, kept: dict[str, Any]) -> bool:
    if selectors.values_of(row) != kept["now"]:
        return False
    return not isinstance(row, Schedule) or selectors.rows_of(row) == kept["rows_now"]


def _take_away(row: Model) -> None:
    """Delete a row that nothing leans on. A kiln's and a schedule's runs would go with it."""
    leaning = rules.can_undo(False, now=f"{row} is used now")
    if isinstance(row, Kiln | Schedule) and row.runs.exists():
        raise Refusal(leaning)
    waiting = ["planned", "loaded", "firing", "cooling"]
    if (
        isinstance(row, Run)
        and Firing.objects.filter(kiln=row.kiln, schedule=row.schedule, state__in=waiting).exists()
    ):
        raise Refusal(leaning)
    try:
        with transaction.atomic():
            row.delete()
    except IntegrityError:
        raise Refusal(leaning) from None
