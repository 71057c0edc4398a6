"""Has a line come out of a kiln yet, so that it is no longer untried?"""

from __future__ import annotations

from collections.abc import Sequence

from studio.firings.models import Firing, Place
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Line, Piece
from studio.web.models import Change


def count_as_tried(piece_ids: Sequence[int], change: Change) -> None:
    """A line of which something came out of a kiln is on trial, no longer untried."""
    kinds = set(Piece.objects.filter(id__in=piece_ids).values_list(*Kind._fields))
    untried = Line.objects.select_for_update().filter(standing=Line.Standing.UNTRIED)
    lines = [line.pk for line in untried.order_by("id") if kind_of(line) in kinds]
    Line.objects.filter(pk__in=lines).update(standing=Line.Standing.TRIAL)
    _keep_tried(change, lines)


def untry(firing: Firing, line_ids: Sequence[int]) -> None:
    """Put lines that this opening tried back to untried, once its places are open again.

    A line of which another firing came out since stays on trial, and is that firing's from now on:
    when that one is undone too, it is untried.
    """
    lines = Line.objects.select_for_update().filter(pk__in=line_ids, standing=Line.Standing.TRIAL)
    for line in lines.order_by("id"):
        elsewhere = _came_out_elsewhere(line, firing)
        if not elsewhere:
            line.standing = Line.Standing.UNTRIED
            line.save(update_fields=["standing"])
        elif (opening := _opening_of(elsewhere)) is not None:
            _keep_tried(opening, [line.pk])


def _came_out_elsewhere(line: Line, firing: Firing) -> list[int]:
    """The other glaze firings that a piece of this line came through."""
    kind = {f"piece__{name}": key for name, key in kind_of(line)._asdict().items()}
    through = Place.objects.filter(
        outcome=Place.Outcome.THROUGH, firing__schedule__kind="glaze", **kind
    )
    others = through.exclude(firing=firing).values_list("firing_id", flat=True)
    return list(others.order_by("firing_id").distinct())


def _opening_of(firing_ids: list[int]) -> Change | None:
    """The first opening of these firings that stands."""
    openings = Change.objects.select_for_update(of=("self",)).filter(
        room="firings", action="open_kiln", subject="firing", subject_id__in=firing_ids
    )
    return openings.filter(undone_by__isnull=True).order_by("at", "id").first()


def _keep_tried(change: Change, line_ids: Sequence[int]) -> None:
    kept = dict(change.undo or {})
    change.undo = {**kept, "tried": sorted({*kept.get("tried", []), *line_ids})}
    change.save(update_fields=["undo"])
