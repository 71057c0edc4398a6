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
from studio.firings.services.trying import count_as_tried
from studio.firings.services.writing import held
from studio.wares.models import Piece, Stage
from studio.wares.rules import FAULTS
from studio.wares.services.steps import part_pieces, pass_firing
from studio.web.models import Change
from studio.web.refusal import refuse
from studio.web.services import record

CAUSES = dict(FAULTS)


@dataclass(frozen=True, kw_only=True, slots=True)
class Witness:
    """A witness cone as it was read."""

    cone: str
    where: str
    bend: str


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
    lost: Mapping[int, tuple[int, str]] | None = None,
    witness: Sequence[Witness] = (),
    note: str = "",
    by: User,
    at: datetime,
) -> Change:
    """Record that a kiln was opened and what came out of it.

    ``lost``: board id -> how many of it did not come through, and the fault that says why. The
    cost, when none is given, is the run's own. ``is_cool``: the kiln's own reading was looked at;
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
    places = list(now.places.filter(outcome="").select_related("board").order_by("id"))
    missing = _losses(places, lost or {})
    was = now.state
    run = selectors.run_for(kiln=now.kiln, schedule=now.schedule)
    now.state = Firing.State.OPENED
    now.opened_at = opened_at
    now.opened_c, now.peak_c, now.energy_wh = opened_c, peak_c, energy_wh
    now.cost_pence = cost_pence if cost_pence is not None else run.cost_pence if run else None
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
    if witness:
        refit(now.kiln, at=at)
    return change


def _opened(firing: Firing, *, through: int, lost: int) -> str:
    word = "bisqued" if firing.schedule.kind == "bisque" else "fired"
    return f"Opened {firing.kiln}: {through} {word}" + (f", {lost} lost" if lost else "")


def _losses(places: Sequence[Place], lost: Mapping[int, tuple[int, str]]) -> dict[str, list[Place]]:
    """Fault -> the places of the pieces it cost: the last of each board."""
    boards: dict[int, list[Place]] = {}
    for place in places:
        boards.setdefault(place.board_id, []).append(place)
    found: dict[str, list[Place]] = {}
    for board_id, (count, cause) in lost.items():
        if not count:
            continue
        stood = boards.get(board_id, [])
        label = stood[0].board.label if stood else str(board_id)
        refuse(
            rules.can_lose(
                board=label, in_load=len(stood), count=count, cause=cause, causes=list(CAUSES)
            )
        )
        found.setdefault(cause, []).extend(stood[len(stood) - count :])
    return found


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
    if through:
        pass_firing(
            pieces=Piece.objects.filter(id__in=through),
            to_stage=Stage.BISQUED if is_bisque else Stage.FIRED,
            firing=firing,
            change=change,
            at=at,
        )
    firing.places.filter(outcome="", piece_id__in=gone).update(outcome=Place.Outcome.LOST)
    firing.places.filter(outcome="").update(outcome=Place.Outcome.THROUGH)
    if not is_bisque:
        count_as_tried(through, change)
