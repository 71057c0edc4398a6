"""What stands in the studio, what of it is free, and what is promised to a date already?

Every pot is counted once, in one of four places:

1. on hand and free: it may serve any date (``free_groups``);
2. in a kiln that is loaded, firing or cooling: it comes with that firing (``in_kilns``);
3. promised to one date: listed for a sale or put in its parcels; it lessens what that date still
   asks for (``sales.selectors.needs``, ``parcels.selectors.needs``) and serves no other. A listed
   piece stays on sale until it is sold or taken back; those that a closed sale left listed are
   told (``left_listed``), because nobody may remember them;
4. held back, claimed, a second, or gone: it serves no date.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Exists, OuterRef, QuerySet

from studio.firings.models import Firing, Place
from studio.parcels.models import ParcelPiece
from studio.sales.models import Listing
from studio.wares.kinds import Kind
from studio.wares.models import Form, Piece, Stage


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """Free pieces of one kind at one stage; ``ready_date`` is when a thrown one is dry.

    ``called_dry`` is False while nobody has said that thrown ware is dry.
    """

    stage: str
    kind: Kind
    ready_date: date
    called_dry: bool
    count: int


def ware_key(form_id: int, clay_lot_id: int) -> str:
    """The planner's key of a form in a clay lot."""
    return f"{form_id}-{clay_lot_id}"


def ware_key_of(kind: Kind) -> str:
    """The planner's key of the ware of a kind, glazed or not."""
    return ware_key(kind.form_id, kind.clay_lot_id)


def is_glazed(kind: Kind) -> bool:
    """Is it of a line already?"""
    return kind.coats_id is not None


def free_groups(*, today_date: date) -> list[Group]:
    """Pieces that stand outside a kiln and may serve any date, counted by kind and stage."""
    drying = dict(Form.objects.values_list("id", "drying_days"))
    rows = (
        _free_pieces()
        .values_list("stage", *Kind._fields, "made_date", "board__dry_date")
        .annotate(count=Count("id"))
        .order_by("stage", *Kind._fields, "made_date", "board__dry_date")
    )
    counted: Counter[tuple[str, Kind, date, bool]] = Counter()
    for stage, form, clay_lot, coats, schedule, made_date, dry_date, count in rows:
        wet = stage == Stage.THROWN and dry_date is None
        ready = today_date
        if stage == Stage.THROWN:
            ready = dry_date or made_date + timedelta(days=drying[form])
        kind = Kind(form, clay_lot, coats, schedule)
        counted[stage, kind, max(ready, today_date), not wet] += count
    return [
        Group(stage=stage, kind=kind, ready_date=ready, called_dry=called_dry, count=count)
        for (stage, kind, ready, called_dry), count in counted.items()
    ]


def _free_pieces() -> QuerySet[Piece]:
    """Neither gone, nor in a kiln, nor promised, nor on sale, nor a second."""
    return (
        Piece.objects.filter(parting="", reservation__isnull=True)
        .exclude(grade=Piece.Grade.SECOND)
        .exclude(Exists(Place.objects.filter(piece=OuterRef("pk"), outcome="")))
        .exclude(Exists(ParcelPiece.objects.filter(piece=OuterRef("pk"))))
        .exclude(Exists(Listing.objects.filter(piece=OuterRef("pk"))))
    )


def left_listed(*, now: datetime) -> list[tuple[str, Kind, int]]:
    """The sale, kind and count of unpromised firsts that a closed sale left listed, by sale."""
    rows = (
        Listing.objects.filter(
            sale_day__closes_at__lte=now,
            piece__parting="",
            piece__reservation__isnull=True,
            piece__grade=Piece.Grade.FIRST,
        )
        .values_list("sale_day__name", *(f"piece__{part}" for part in Kind._fields))
        .annotate(count=Count("id"))
        .order_by("sale_day__closes_at", *(f"piece__{part}" for part in Kind._fields))
    )
    return [(sale, Kind(*kind), count) for sale, *kind, count in rows]


def in_kilns() -> dict[int, list[tuple[Kind, int]]]:
    """By firing: kind and count of the unpromised pieces that stand in it."""
    state = Firing.State
    parts = [f"piece__{part}" for part in Kind._fields]
    rows = (
        Place.objects.filter(
            outcome="",
            firing__state__in=[state.LOADED, state.FIRING, state.COOLING],
            piece__parting="",
            piece__reservation__isnull=True,
        )
        .values_list("firing_id", *parts)
        .annotate(count=Count("id"))
        .order_by("firing_id", *parts)
    )
    found: dict[int, list[tuple[Kind, int]]] = {}
    for firing, *kind, count in rows:
        found.setdefault(firing, []).append((Kind(*kind), count))
    return found
