"""Keep the kilns, the circuits they hang on, the schedules, and how each kiln runs each."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Model

from studio.firings import rules, selectors
from studio.firings.models import Circuit, FuelPrice, Kiln, Run, Schedule, Segment, Tariff
from studio.firings.rules import Step
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.selectors import temperature_unit
from studio.web.services import record

M = TypeVar("M", bound=Model)


@transaction.atomic
def save_kiln(
    *,
    kiln: Kiln | None,
    values: Mapping[str, Any],
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Add a kiln or change one; without a circuit it gets one of its own.

    ``seen`` is the token of the kiln that the person saw. Raises Refusal.
    """
    values, own = dict(values), None
    if values.get("circuit") is None and (kiln is None or "circuit" in values):
        values["circuit"], is_new = Circuit.objects.get_or_create(name=values["name"])
        own = values["circuit"].pk if is_new else None
    saved, undo = _save(kiln or Kiln(), values, what="kiln", seen=seen, why_not=_why_no_shape)
    word = "Added" if kiln is None else "Changed"
    return record(
        room="firings",
        action="save_kiln",
        said=f"{word} {saved}",
        by=by,
        at=at,
        subject="kiln",
        subject_id=saved.pk,
        undo={**undo, "own_circuit": own},
    )


@transaction.atomic
def save_circuit(
    *,
    circuit: Circuit | None,
    values: Mapping[str, Any],
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Add a circuit or change one; ``seen`` as with a kiln. Raises Refusal."""
    saved, undo = _save(circuit or Circuit(), values, what="circuit", seen=seen)
    kilns = "one kiln" if saved.at_once == 1 else f"{saved.at_once} kilns"
    return record(
        room="firings",
        action="save_circuit",
        said=f"The circuit {saved} carries {kilns} heating at once",
        by=by,
        at=at,
        subject="circuit",
        subject_id=saved.pk,
        undo=undo,
    )


@transaction.atomic
def save_schedule(
    *,
    schedule: Schedule | None,
    values: Mapping[str, Any],
    steps: Sequence[Step],
    seen: str | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Add a schedule with its steps, or change one.

    What a schedule is stays as it is once a kiln was lit with it: its kind and cone are part of
    the record of every pot it fired. ``seen`` as with a kiln. Raises Refusal.
    """
    cone = str(values.get("cone") or (schedule.cone if schedule else ""))
    wrong = rules.wrong_steps(steps, cone=cone, unit=temperature_unit())
    refuse(" ".join(sentence for _, sentence in wrong))
    if schedule is not None:
        before = Schedule.objects.select_for_update().get(pk=schedule.pk)
        refuse(
            rules.can_rewrite(
                schedule=before.name,
                used=selectors.is_used(before),
                same=(before.kind, before.cone)
                == (values.get("kind", before.kind), values.get("cone", before.cone)),
            )
        )
    rows_before = selectors.rows_of(schedule) if schedule is not None else []
    saved, undo = _save(schedule or Schedule(), values, what="schedule", seen=seen)
    write_rows(saved, [(step.rate_c_per_h, step.target_c, step.hold_min) for step in steps])
    word = "Added" if schedule is None else "Changed"
    return record(
        room="firings",
        action="save_schedule",
        said=f"{word} the schedule {saved}: cone {saved.cone}, {len(steps)} rows",
        by=by,
        at=at,
        subject="schedule",
        subject_id=saved.pk,
        undo={**undo, "rows_was": rows_before, "rows_now": selectors.rows_of(saved)},
    )


@transaction.atomic
def save_run(
    *,
    kiln: Kiln,
    schedule: Schedule,
    busy_days: int,
    cost_pence: int,
    energy_wh: int | None = None,
    fuel_thousandths: int | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Say how long a kiln is busy with a schedule and what that costs. Raises Refusal."""
    refuse(
        rules.fits_kiln(
            kiln=kiln.name,
            kiln_top_cone=kiln.top_cone,
            schedule=schedule.name,
            cone=schedule.cone,
            has_run=True,
        )
    )
    run = Run.objects.filter(kiln=kiln, schedule=schedule).first() or Run(
        kiln=kiln, schedule=schedule
    )
    values: dict[str, Any] = {
        "busy_days": busy_days,
        "cost_pence": cost_pence,
        "energy_wh": energy_wh,
    }
    price = selectors.fuel_price(kiln)
    unit = price.unit if price is not None else ""
    refuse(rules.can_measure_fuel(fuel=kiln.fuel, unit=unit, amount=fuel_thousandths))
    values["fuel_thousandths"] = fuel_thousandths
    values["fuel_unit"] = "" if fuel_thousandths is None else unit
    _, undo = _save(run, values, what="run")
    days = "1 day" if busy_days == 1 else f"{busy_days} days"
    return record(
        room="firings",
        action="save_run",
        said=f"{schedule} keeps {kiln} busy for {days}",
        by=by,
        at=at,
        subject="kiln",
        subject_id=kiln.pk,
        undo=undo,
    )


@transaction.atomic
def set_trial_rule(
    *,
    least_pieces: int,
    most_pieces: int,
    share_percent: int | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Say how small a trial is; ``share_percent`` stays as it is when left out. Raises Refusal."""
    rule = selectors.trial_rule()
    share = rule.share_percent if share_percent is None else share_percent
    refuse(
        rules.trial_sizes(least_pieces=least_pieces, most_pieces=most_pieces, share_percent=share)
    )
    values = {"least_pieces": least_pieces, "most_pieces": most_pieces, "share_percent": share}
    _, undo = _save(rule, values, what="trial rule")
    return record(
        room="firings",
        action="save_trial_rule",
        said=(
            f"A trial is {least_pieces} to {most_pieces} pieces; a line on trial takes up to"
            f" {share} % of a kiln"
        ),
        by=by,
        at=at,
        subject="trial rule",
        undo=undo,
    )


@transaction.atomic
def set_tariff(*, price_hundredths: int, by: User, at: datetime) -> Change:
    """Say what one kWh costs; firings opened from now on are reckoned so. Raises Refusal."""
    refuse(rules.can_cost(price_hundredths=price_hundredths))
    row = selectors.tariff() or Tariff()
    _, undo = _save(row, {"price_hundredths": price_hundredths}, what="tariff")
    return record(
        room="firings",
        action="save_tariff",
        said=f"One kWh costs {price_hundredths / 100:.2f} of the smallest coin",
        by=by,
        at=at,
        subject="tariff",
        undo=undo,
    )


@transaction.atomic
def set_fuel_price(
    *, fuel: str, unit: str, price_hundredths: int, by: User, at: datetime
) -> Change:
    """Say in which unit gas or wood is bought and what one costs. Raises Refusal."""
    refuse(rules.can_price_fuel(fuel=fuel, price_hundredths=price_hundredths))
    row = FuelPrice.objects.filter(fuel=fuel).first() or FuelPrice(fuel=fuel)
    _, undo = _save(row, {"unit": unit, "price_hundredths": price_hundredths}, what="fuel price")
    return record(
        room="firings",
        action="save_fuel_price",
        said=f"{fuel.capitalize()} costs {row} of the smallest coin",
        by=by,
        at=at,
        subject="fuel price",
        undo=undo,
    )


def write_rows(schedule: Schedule, rows: Sequence[Sequence[Any]]) -> None:
    """Give a schedule these rows in place of those it has."""
    schedule.segments.all().delete()
    Segment.objects.bulk_create(
        Segment(schedule=schedule, seq=seq, rate_c_per_h=rate, target_c=target, hold_min=hold)
        for seq, (rate, target, hold) in enumerate(rows, start=1)
    )


def _why_no_shape(kiln: Kiln) -> str:
    return rules.kiln_shape(sides=kiln.sides, inside_depth_mm=kiln.inside_depth_mm)


def _save(
    row: M,
    values: Mapping[str, Any],
    *,
    what: str,
    seen: str | None = None,
    why_not: Callable[[M], str] | None = None,
) -> tuple[M, dict[str, Any]]:
    """Save a row with these values and answer it with what an undo needs.

    ``why_not`` is asked before the database is, whose no tells the person nothing.
    """
    was = None
    if not row._state.adding:
        row = type(row)._default_manager.select_for_update().get(pk=row.pk)
        refuse(selectors.changed_since(row, seen))
        was = selectors.values_of(row)
    for name, value in values.items():
        setattr(row, name, value)
    if "name" in values:
        others = type(row)._default_manager.exclude(pk=row.pk)
        taken = others.filter(name__iexact=values["name"]).exists()
        refuse(rules.name_taken(what=what, name=values["name"]) if taken else "")
    try:
        row.full_clean(validate_constraints=False)
        refuse(why_not(row) if why_not else "")
        with transaction.atomic():
            row.save()
    except ValidationError as problem:
        wrong = problem.message_dict.items()
        raise Refusal(
            " ".join(f"{name.replace('_', ' ')}: {text}" for name, texts in wrong for text in texts)
        ) from problem
    except IntegrityError as problem:
        raise Refusal(rules.cannot_be(what=what)) from problem
    return row, {"row": row.pk, "was": was, "now": selectors.values_of(row)}
