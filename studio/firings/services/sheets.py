"""Draw a load: the packer's answer becomes rows, and a second drawing can be taken back."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from studio.craft import kiln_load
from studio.craft.kiln_load import BadKiln, LoadPlan
from studio.craft.kiln_packing import STEPS, pack
from studio.firings import rules, selectors
from studio.firings.models import Firing, Sheet, Spot
from studio.firings.selectors.packing import (
    SECONDS,
    level_rows,
    levels_of,
    ring_at,
    room_in,
    rules_of,
    sort_from,
)
from studio.firings.services.seating import reseat
from studio.firings.services.writing import held
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

BAND_MM = 45
"""Places whose middles lie no further apart from front to back are numbered as one row."""
SPOT_FIELDS = [
    field.attname for field in Spot._meta.concrete_fields if field.attname not in ("id", "sheet_id")
]
SHEET_FIELDS = ["runny", "handles", "levels", "left_out"]


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadySheet:
    """A load that was packed, before anybody waits for the database."""

    plan: LoadPlan
    runny: str
    handles: str
    seq: int
    inside: int
    what: dict[str, str]
    pinned: int


def prepare_sheet(
    *,
    firing: Firing,
    runny: str = "low",
    handles: str = "clear",
    fill_up: bool = False,
    steps: int = STEPS,
) -> ReadySheet:
    """Pack what a load is to hold; it takes about a second. Raises Refusal."""
    sheet = selectors.sheet_of_firing(firing)
    try:
        asked = selectors.asked_of(firing, fill_up=fill_up)
        refuse(selectors.why_not_draw(firing, asked=len(asked)))
        pins = selectors.pins_of(selectors.spots_of(sheet)) if sheet else {}
        lots = selectors.lots_of(asked, pins)
        kept = any(lot.pinned for lot in lots)
        plan = pack(
            room=room_in(firing.kiln),
            lots=lots,
            rules=rules_of(firing.schedule.kind, runny=runny, handles=handles),
            steps=steps,
            seconds=SECONDS,
            levels=levels_of(sheet) if sheet and kept else None,
        )
    except BadKiln as problem:
        raise Refusal(str(problem)) from problem
    return ReadySheet(
        plan=plan,
        runny=runny,
        handles=handles,
        seq=sheet.seq if sheet else 0,
        inside=len(selectors.open_places(firing)),
        what={one.sort.key: one.what for one in asked},
        pinned=sum(len(lot.pinned) for lot in lots),
    )


@transaction.atomic
def keep_sheet(
    *, firing: Firing, ready: ReadySheet, seen: int | None = None, by: User, at: datetime
) -> Change:
    """Keep a packed load as the firing's drawing, in place of the one there was.

    ``seen`` is the ``seq`` of the drawing the person saw, 0 when there was none. Raises Refusal.
    """
    now = held(firing)
    refuse(selectors.why_not_draw(now, asked=1))
    sheet = Sheet.objects.filter(firing=now).first()
    seq = sheet.seq if sheet else 0
    if seq != ready.seq or seen not in (None, seq):
        raise Refusal(rules.drawn_meanwhile(by=selectors.last_said(now, "draw_load")))
    if len(selectors.open_places(now)) != ready.inside:
        raise Refusal(rules.LOAD_CHANGED)
    was = _as_kept(sheet)
    sheet = sheet or Sheet(firing=now, seq=0)
    sheet.drawn_at, sheet.runny, sheet.handles = at, ready.runny, ready.handles
    sheet.levels = level_rows(ready.plan.levels)
    sheet.left_out = [[ready.what.get(key, key), count] for key, count in ready.plan.left_out]
    sheet.seq += 1
    sheet.save()
    sheet.spots.all().delete()
    Spot.objects.bulk_create(_spots(sheet, ready.plan, pins=_pins(was)))
    reseat(now)
    return record(
        room="firings",
        action="draw_load",
        said=_drawn(now, sheet),
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={"was": was, "seq": sheet.seq},
    )


def _drawn(firing: Firing, sheet: Sheet) -> str:
    count = sheet.spots.filter(what=Spot.What.WARE).count()
    levels = len(sheet.levels)
    out = sum(number for _, number in sheet.left_out)
    return (
        f"Drew the load of {firing.kiln}: {count} {'piece' if count == 1 else 'pieces'} on {levels}"
        f" {'level' if levels == 1 else 'levels'}" + (f", no place for {out}" if out else "")
    )


def _as_kept(sheet: Sheet | None) -> dict[str, Any] | None:
    """A whole drawing as plain values, for the way back."""
    if sheet is None:
        return None
    values: dict[str, Any] = {name: getattr(sheet, name) for name in SHEET_FIELDS}
    values["drawn_at"] = sheet.drawn_at.isoformat()
    values["spots"] = list(sheet.spots.order_by("number").values(*SPOT_FIELDS))
    return values


def _pins(was: dict[str, Any] | None) -> Counter[tuple[int, float, float]]:
    """Where pieces were pinned on the drawing before."""
    spots = was["spots"] if was else []
    return Counter(_at(row["level"], row["x_mm"], row["y_mm"]) for row in spots if row["is_pinned"])


def _at(level: int, x_mm: float, y_mm: float) -> tuple[int, float, float]:
    return level, round(x_mm, 1), round(y_mm, 1)


def _spots(sheet: Sheet, plan: LoadPlan, *, pins: Counter[tuple[int, float, float]]) -> list[Spot]:
    """The rows of a packed load, numbered by level, then in rows from the front, left to right."""
    room, found = room_in(sheet.firing.kiln), []
    for number, spot in enumerate(in_order(plan), start=1):
        row = Spot(
            sheet=sheet,
            number=number,
            level=spot.level,
            ring=ring_at(room, spot.x_mm, spot.y_mm),
            x_mm=round(spot.x_mm, 3),
            y_mm=round(spot.y_mm, 3),
            turn_deg=round(spot.turn_deg, 3),
            tier=spot.tier,
        )
        if spot.ware_key == kiln_load.CONE_PACK.key:
            row.what = Spot.What.CONE
        elif spot.ware_key == kiln_load.TEST_TILE.key:
            row.what = Spot.What.TILE
        else:
            row.form_id, row.clay_lot_id, row.coats_id = sort_from(spot.ware_key)
            at = _at(spot.level, spot.x_mm, spot.y_mm)
            if pins[at]:
                pins[at] -= 1
                row.is_pinned = True
        found.append(row)
    return found


def in_order(plan: LoadPlan) -> list[kiln_load.Spot]:
    """The spots of a load by level, then left to right in rows from the front to the back."""
    found: list[kiln_load.Spot] = []
    for level in sorted({spot.level for spot in plan.spots}):
        row: list[kiln_load.Spot] = []
        for spot in sorted(plan.on(level), key=lambda s: (s.y_mm, s.x_mm, s.tier)):
            if row and spot.y_mm - row[0].y_mm > BAND_MM:
                found += sorted(row, key=lambda s: (s.x_mm, s.y_mm, s.tier))
                row = []
            row.append(spot)
        found += sorted(row, key=lambda s: (s.x_mm, s.y_mm, s.tier))
    return found


def undraw(firing: Firing, kept: dict[str, Any]) -> None:
    """The way back from drawing: the drawing before, or none. Raises Refusal."""
    sheet = Sheet.objects.filter(firing=firing).first()
    is_same = sheet is not None and sheet.seq == kept["seq"]
    refuse(rules.can_undo(is_same, now="the load was drawn or changed again since"))
    refuse(rules.can_mark(state=firing.state, kiln=firing.kiln.name))
    was = kept["was"]
    if sheet is None:
        return
    sheet.spots.all().delete()
    if was is None:
        sheet.delete()
        return
    for name in SHEET_FIELDS:
        setattr(sheet, name, was[name])
    sheet.drawn_at = datetime.fromisoformat(was["drawn_at"])
    sheet.seq += 1
    sheet.save()
    open_now = {place.pk for place in selectors.open_places(firing)}
    for row in was["spots"]:
        row = {**row, "place_id": row["place_id"] if row["place_id"] in open_now else None}
        Spot.objects.create(sheet=sheet, **row)
    reseat(firing)
