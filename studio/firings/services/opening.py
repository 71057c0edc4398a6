"""Open a kiln: what came through goes on a stage, what was lost leaves with its cause."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from studio.firings import rules, selectors
from studio.firings.models import Firing, Place, WitnessCone
from studio.firings.services.logs import refit
from studio.firings.services.writing import held
from studio.wares.models import Piece, Stage
from studio.wares.rules import FAULTS
from studio.wares.services.standing import restand_pieces
from studio.wares.services.steps import find_fault, part_pieces, pass_firing
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.services import record

CAUSES = dict(FAULTS)


@dataclass(frozen=True, kw_only=True, slots=True)
class Witness:
    """A witness cone as it was read."""

    cone: str
    where: str
    bend: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """A fault on a piece in a load: at a place of it, or on any ``count`` of a board.

    ``place_id`` or ``board_id`` is given. ``is_lost``: the piece leaves; else it came through.
    """

    fault: str
    place_id: int | None = None
    board_id: int | None = None
    count: int = 1
    is_lost: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Energy:
    """What a firing used: by the meter, as it was written, or not known; and its cost if stated."""

    used_wh: int | None = None
    meter_before_wh: int | None = None
    meter_after_wh: int | None = None
    fuel_thousandths: int | None = None
    cost_pence: int | None = None


@transaction.atomic
def open_kiln(
    *,
    firing: Firing,
    opened_at: datetime,
    opened_c: int | None = None,
    is_cool: bool = False,
    peak_c: int | None = None,
    energy_wh: int | None = None,
    cost_pence: int | None = None,
    energy: Energy | None = None,
    lost: Mapping[int, tuple[int, str]] | None = None,
    seen: Sequence[Seen] = (),
    failed_why: str | None = None,
    witness: Sequence[Witness] = (),
    note: str = "",
    by: User,
    at: datetime,
) -> Change:
    """Record that a kiln was opened and what came out of it.

    ``lost``: board id -> how many of it did not come through, and the fault that says why;
    ``seen`` says the same by place, and faults on what came through. ``failed_why``: the firing did
    not reach its cone, and why: then what is not lost stays as it was, in no way fired. The cost,
    when none is given, is by the tariff, else the run's own; ``energy`` goes before ``energy_wh``
    and ``cost_pence``. ``is_cool``: the kiln's own reading was looked at;
    needed, when no temperature is given, before the reckoned earliest time. Raises Refusal.
    """
    now = held(firing)
    refuse(
        rules.can_open(
            state=now.state,
            lit_at=now.lit_at,
            off_at=now.off_at,
            opened_at=opened_at,
            at=at,
            before=selectors.last_said(now, "open_kiln"),
            early=selectors.too_early(now, opened_at=opened_at),
            is_cool=is_cool or opened_c is not None,
        )
    )
    places = list(now.places.filter(outcome="").select_related("board", "piece").order_by("id"))
    missing, marked = _losses(places, lost or {}, seen)
    refuse(rules.can_fail(why=failed_why) if failed_why is not None else "")
    was = now.state
    now.state = Firing.State.OPENED
    now.opened_at = opened_at
    now.opened_c, now.peak_c = opened_c, peak_c
    reckon(now, energy or Energy(used_wh=energy_wh, cost_pence=cost_pence))
    now.is_failed, now.failed_why = failed_why is not None, (failed_why or "").strip()
    old_note = now.note
    now.note = "\n".join(part for part in (now.note, note.strip()) if part)
    now.save()
    WitnessCone.objects.bulk_create(
        WitnessCone(firing=now, cone=one.cone, where=one.where, bend=one.bend) for one in witness
    )
    gone = sum(len(some) for some in missing.values())
    change = record(
        room="firings",
        action="open_kiln",
        said=_opened(now, through=len(places) - gone, lost=gone),
        by=by,
        at=at,
        subject="firing",
        subject_id=now.pk,
        undo={
            "state": was,
            "note": old_note,
            "note_now": now.note,
            "places": [place.pk for place in places],
        },
    )
    _settle(now, places, missing, change, at)
    for fault, some in marked.items():
        find_fault(pieces=[place.piece for place in some], fault=fault, firing=now, change=change)
    if witness:
        refit(now.kiln, at=at)
    return change


def _opened(firing: Firing, *, through: int, lost: int) -> str:
    if firing.is_failed:
        stays = f"did not reach its cone, {through} stay as they were"
        return f"Opened {firing.kiln}: {stays}" + (f", {lost} lost" if lost else "")
    word = "bisqued" if firing.schedule.kind == "bisque" else "fired"
    return f"Opened {firing.kiln}: {through} {word}" + (f", {lost} lost" if lost else "")


def reckon(firing: Firing, energy: Energy) -> None:
    """Write on a firing what it used and cost, and where that is known from. Raises Refusal."""
    before, after = energy.meter_before_wh, energy.meter_after_wh
    refuse(rules.meter_reads(before_wh=before, after_wh=after, energy_wh=energy.used_wh))
    firing.meter_before_wh, firing.meter_after_wh = before, after
    used = energy.used_wh
    if before is not None and after is not None:
        used = after - before
    firing.energy_wh = used
    price, amount = selectors.fuel_price(firing.kiln), energy.fuel_thousandths
    unit = price.unit if price is not None else ""
    refuse(rules.can_measure_fuel(fuel=firing.kiln.fuel, unit=unit, amount=amount))
    firing.fuel_thousandths, firing.fuel_unit = amount, "" if amount is None else unit
    cost = selectors.cost_of(
        firing, used_wh=used, stated_pence=energy.cost_pence, fuel_thousandths=amount
    )
    firing.cost_pence, firing.cost_from = cost.pence, cost.known_from


Marked = dict[str, list[Place]]


def _losses(
    places: Sequence[Place], lost: Mapping[int, tuple[int, str]], seen: Sequence[Seen]
) -> tuple[Marked, Marked]:
    """Fault -> the places of the pieces it cost, and fault -> those that came through with it.

    What is told by place is taken first; what is told by count, from the end of its board.
    """
    by_id = {place.pk: place for place in places}
    boards: dict[int, list[Place]] = {}
    for place in places:
        boards.setdefault(place.board_id, []).append(place)
    missing: Marked = {}
    marked: Marked = {}
    told: set[int] = set()
    for one in (one for one in seen if one.place_id is not None):
        if one.place_id not in by_id:
            raise Refusal("A place that was named is not in this load.")
        place = by_id[one.place_id]
        where = f"Board {place.board}"
        refuse(rules.can_see(where=where, fault=one.fault, causes=list(CAUSES)))
        refuse(f"{where}: a place is named twice." if one.is_lost and place.pk in told else "")
        if one.is_lost:
            told.add(place.pk)
        (missing if one.is_lost else marked).setdefault(one.fault, []).append(place)
    counts = [Seen(board_id=board, count=n, fault=why, is_lost=True)
              for board, (n, why) in lost.items()]  # fmt: skip
    counts += [one for one in seen if one.board_id is not None]
    for one in sorted(counts, key=lambda one: not one.is_lost):
        stood = [place for place in boards.get(one.board_id or 0, []) if place.pk not in told]
        if not one.count:
            continue
        refuse(
            rules.can_lose(
                board=str(stood[0].board) if stood else str(one.board_id),
                in_load=len(stood),
                count=one.count,
                cause=one.fault,
                causes=list(CAUSES),
            )
        )
        some = stood[len(stood) - one.count :]
        if one.is_lost:
            told.update(place.pk for place in some)
        (missing if one.is_lost else marked).setdefault(one.fault, []).extend(some)
    return missing, {
        fault: [place for place in some if place.pk not in told] for fault, some in marked.items()
    }


def _settle(
    firing: Firing,
    places: Sequence[Place],
    missing: Mapping[str, Sequence[Place]],
    change: Change,
    at: datetime,
) -> None:
    """Part what was lost, pass the rest, and close the places. Lost ones first: see pass_firing."""
    gone: set[int] = set()
    for cause, some in missing.items():
        ids = [place.piece_id for place in some]
        gone.update(ids)
        part_pieces(
            pieces=list(Piece.objects.filter(id__in=ids).select_related("form", "board")),
            parting="broken" if cause in rules.BROKEN_BY else "scrapped",
            cause=f"{CAUSES[cause]}, {firing}"[:120],
            fault=cause,
            firing=firing,
            change=change,
            at=at,
        )
    through = [place.piece_id for place in places if place.piece_id not in gone]
    is_bisque = firing.schedule.kind == "bisque"
    if through and not firing.is_failed:
        pass_firing(
            pieces=Piece.objects.filter(id__in=through),
            to_stage=Stage.BISQUED if is_bisque else Stage.FIRED,
            firing=firing,
            change=change,
            at=at,
        )
    firing.places.filter(outcome="", piece_id__in=gone).update(outcome=Place.Outcome.LOST)
    came = Place.Outcome.NOT_FIRED if firing.is_failed else Place.Outcome.THROUGH
    firing.places.filter(outcome="").update(outcome=came)
    if not is_bisque:
        restand_pieces([place.piece_id for place in places], change=change)
