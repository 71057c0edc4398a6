"""Put a firing back to what it was, while nothing later depends on it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from studio.firings import rules, selectors
from studio.firings.models import Firing, Place
from studio.firings.services.loading import free_when_empty
from studio.firings.services.log_part import move_log_back, unchoose_part
from studio.firings.services.logs import refit, swap_logs
from studio.firings.services.marking import unmark
from studio.firings.services.seating import reseat
from studio.firings.services.sheets import undraw
from studio.firings.services.unkeeping import KEPT, unkeep
from studio.firings.services.watch import start_as_before
from studio.firings.services.writing import held
from studio.wares.selectors import fired_in
from studio.wares.services.moves import put_back, put_on_board
from studio.wares.services.standing import restand, restand_pieces, stand_back
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse
from studio.web.selectors import offers_undo
from studio.web.services import record

State = Firing.State


@transaction.atomic
def undo(*, change: Change, by: User, at: datetime) -> Change:
    """Undo one change of this room. Raises Refusal when it is too late, and says why."""
    if change.action in KEPT or change.action in ("set_care", "save_furniture"):
        firing = None
    else:
        firing = Firing.objects.filter(pk=change.subject_id or 0).first()
        if change.action not in WAYS_BACK or firing is None or change.undo is None:
            raise Refusal(rules.NO_WAY_BACK)
        firing = held(firing)
    change = Change.objects.select_for_update().get(pk=change.pk)
    if not offers_undo(change):
        raise Refusal(rules.UNDONE_ALREADY)
    undoing = record(
        room="firings",
        action="undo",
        said=f"Undid: {change.said}",
        by=by,
        at=at,
        subject=change.subject,
        subject_id=change.subject_id,
    )
    undoing.undoes = change
    undoing.save(update_fields=["undoes"])
    kept = dict(change.undo or {})
    if firing is None:
        unkeep(change.action, kept, at=at)
        _stand_as_before(change, undoing, kept)
    else:
        WAYS_BACK[change.action](firing, change, undoing, kept)
    return undoing


def _stand_as_before(change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    """Lines that new elements or a new thermocouple put on trial stand as they did."""
    if change.action == "record_care":
        stand_back(kept.get("standings", []), undoing=undoing)
        restand(fired_in(change.subject_id or 0), change=undoing, keep=False)


def _unplan(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    refuse(rules.can_undo(firing.state == State.PLANNED, now=_now(firing)))
    if firing.places.exists():
        firing.state = State.CALLED_OFF
        firing.save(update_fields=["state"])
        return
    try:
        with transaction.atomic():
            firing.delete()
    except IntegrityError:
        raise Refusal(rules.NEEDED_ELSEWHERE) from None


def _unshift(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    refuse(rules.can_undo(firing.state == State.PLANNED, now=_now(firing)))
    start = date.fromisoformat(kept["start_date"])
    refuse(
        rules.can_plan(
            kiln=firing.kiln.name,
            start_date=start,
            busy_days=firing.busy_days,
            today_date=min(start, timezone.localdate(undoing.at)),
            others=selectors.days_taken(
                kiln=firing.kiln, today_date=timezone.localdate(undoing.at), but=firing
            ),
        )
    )
    firing.start_date = start
    firing.save(update_fields=["start_date"])


def _unnote(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    refuse(rules.can_undo(firing.note == kept["now"], now="its note was changed since"))
    firing.note = kept["note"]
    firing.save(update_fields=["note"])


def _unload(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    refuse(rules.can_undo(firing.state == State.LOADED, now=_now(firing)))
    places = Place.objects.filter(pk__in=kept["places"], outcome="")
    refuse(
        rules.can_undo(places.count() == len(kept["places"]), now="some of it was taken out since")
    )
    places.update(outcome=Place.Outcome.TAKEN_OUT)
    free_when_empty(firing)
    put_back(change=change, undoing=undoing)
    reseat(firing)


def _put_in_again(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    """The way back from taking out and from calling off."""
    expected = [State.PLANNED, State.LOADED]
    if change.action == "call_off":
        expected = [State.CALLED_OFF]
    refuse(rules.can_undo(firing.state in expected, now=_now(firing)))
    if change.action == "call_off":
        refuse(
            rules.can_plan(
                kiln=firing.kiln.name,
                start_date=firing.start_date,
                busy_days=firing.busy_days,
                today_date=firing.start_date,
                others=selectors.days_taken(
                    kiln=firing.kiln, today_date=timezone.localdate(undoing.at), but=firing
                ),
            )
        )
    places = Place.objects.filter(pk__in=kept["places"])
    _refuse_if_gone_on(places, firing)
    try:
        with transaction.atomic():
            places.update(outcome="")
            firing.state = kept["state"]
            firing.save(update_fields=["state"])
    except IntegrityError:
        raise Refusal(rules.can_undo(False, now="the kiln or a board is in use now")) from None
    reseat(firing)


def _refuse_if_gone_on(places: QuerySet[Place], firing: Firing) -> None:
    """Ware that was put back on its boards may stand in the load again only while it is there."""
    stage = "thrown" if firing.schedule.kind == "bisque" else "glazed"
    for place in places.select_related("piece", "board"):
        piece = place.piece
        stands = piece.board_id == place.board_id and piece.stage == stage and not piece.parting
        refuse(rules.can_undo(stands, now=f"board {place.board} went on since"))


def _unlight(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    refuse(rules.can_undo(firing.state == State.FIRING, now=_now(firing)))
    refuse(
        rules.can_undo(
            not firing.logs.filter(is_away=False).exists(),
            now="its log is kept: take the log away first",
        )
    )
    # A lustre firing is lit without ware of these records.
    has_ware = firing.places.filter(outcome="").exists()
    firing.state = State.LOADED if has_ware else State.PLANNED
    firing.lit_at = None
    firing.start_date = date.fromisoformat(kept["start_date"])
    firing.save(update_fields=["state", "lit_at", "start_date"])


def _on_again(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    refuse(rules.can_undo(firing.state == State.COOLING, now=_now(firing)))
    firing.state = State.FIRING
    firing.off_at = None
    firing.save(update_fields=["state", "off_at"])


def _shut_again(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    """The way back from opening: every piece as it was, in its place in the load."""
    refuse(rules.can_undo(firing.state == State.OPENED, now=_now(firing)))
    busy = selectors.busy_with(kiln=firing.kiln, but=firing)
    refuse(rules.can_undo(not busy, now=f"{firing.kiln} does another firing now"))
    told = firing.seen_results.exists()
    refuse(rules.can_undo(not told, now="what was seen of it is kept: undo that first"))
    if firing.is_failed:
        stayed = firing.places.filter(outcome=Place.Outcome.NOT_FIRED)
        _refuse_if_gone_on(stayed, firing)
        loaded = Place.objects.filter(outcome="", piece__in=stayed.values("piece")).first()
        refuse(rules.can_undo(not loaded, now=f"some of it stands in {loaded and loaded.firing}"))
    put_back(change=change, undoing=undoing, firing_id=firing.pk)
    Place.objects.filter(pk__in=kept["places"]).update(outcome="")
    firing.witness_cones.all().delete()
    firing.state = kept["state"]
    firing.opened_at = firing.opened_c = firing.peak_c = None
    firing.energy_wh = firing.cost_pence = firing.fuel_thousandths = None
    firing.fuel_unit = ""
    firing.meter_before_wh = firing.meter_after_wh = None
    firing.is_failed, firing.failed_why, firing.cost_from = False, "", ""
    if firing.note == kept.get("note_now", firing.note):  # what was written since stays
        firing.note = kept["note"]
    firing.save()
    stand_back(kept.get("standings", []), undoing=undoing)
    pieces = Place.objects.filter(pk__in=kept["places"]).values_list("piece_id", flat=True)
    restand_pieces(list(pieces), change=undoing, keep=False)
    refit(firing.kiln, at=undoing.at)


def _unshow(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    """The way back from adding results. The picture files stay: others may show them."""
    gone, _ = firing.seen_results.filter(pk__in=kept["results"]).delete()
    refuse(rules.can_undo(gone == len(kept["results"]), now="they are gone already"))


def _undraw(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    undraw(firing, kept)


def _unmark(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    """The way back from marking a place: what was left out stands in the load again."""
    places = Place.objects.filter(pk__in=kept["taken"]).select_related("piece", "board")
    stage = "thrown" if firing.schedule.kind == "bisque" else "glazed"
    for place in places:
        piece, board = place.piece, place.board
        stands = piece.board_id == kept["went_to"] and piece.stage == stage and not piece.parting
        busy = Place.objects.filter(piece=piece, outcome="").exists()
        refuse(rules.can_undo(stands and not busy, now=f"what stood on board {board} went on"))
        others = board.pieces.exclude(pk=piece.pk).exclude(
            places__in=firing.places.filter(outcome="")
        )
        refuse(rules.can_undo(not others.exists(), now=f"board {board} holds other ware"))
        if piece.board_id != board.pk:
            put_on_board(pieces=[piece], board=board, change=undoing)
    try:
        with transaction.atomic():
            unmark(firing, kept)
    except IntegrityError:
        raise Refusal(rules.can_undo(False, now="the kiln or a board is in use now")) from None
    undoing.undo = None
    undoing.save(update_fields=["undo"])
    # A piece that was loaded to stand there goes back to its board, if it was not meanwhile.
    loading = Change.objects.filter(pk=kept.get("loading", 0)).first()
    if loading is not None and offers_undo(loading):
        undo(change=loading, by=undoing.by, at=undoing.at)


def _swap_logs(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    swap_logs(firing, kept, at=undoing.at)


def _unchoose_part(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    unchoose_part(firing, kept, at=undoing.at)


def _move_log_back(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    move_log_back(firing, kept, at=undoing.at)


def _start_as_before(firing: Firing, change: Change, undoing: Change, kept: dict[str, Any]) -> None:
    start_as_before(firing, kept)


def _now(firing: Firing) -> str:
    state = firing.state.replace("_", " ")
    return f"the firing of {firing.start_date:%d %b} in {firing.kiln} is {state} now"


WAYS_BACK: dict[str, Callable[[Firing, Change, Change, dict[str, Any]], None]] = {
    "plan_firing": _unplan,
    "shift": _unshift,
    "note": _unnote,
    "load": _unload,
    "take_out": _put_in_again,
    "draw_load": _undraw,
    "mark_spot": _unmark,
    "call_off": _put_in_again,
    "light": _unlight,
    "switch_off": _on_again,
    "open_kiln": _shut_again,
    "results": _unshow,
    "keep_log": _swap_logs,
    "take_log_away": _swap_logs,
    "choose_log_part": _unchoose_part,
    "move_log": _move_log_back,
    "set_start_time": _start_as_before,
}
