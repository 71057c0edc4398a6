"""What was seen of which glaze on which clay, out of which firing, place and bucket?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from studio.firings.models import Firing, Place, Result, Spot
from studio.wares.models import Stage
from studio.wares.selectors import buckets_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Tile:
    """One result of the test book: the ware it shows, and what that was made of."""

    result: Result
    ware: str
    clay: str
    place: str
    buckets: tuple[tuple[str, date], ...]
    is_lost: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Kin:
    """Alike pieces of one board in an opened load; ``place`` stands for them."""

    place: Place
    count: int

    @property
    def words(self) -> str:
        """'12 mugs in a glaze, board B3'."""
        piece = self.place.piece
        coats = f" in {piece.coats}" if piece.coats else ""
        return f"{self.count} {piece.form}{coats}, board {self.place.board}"


def book() -> QuerySet[Result]:
    """Everything in the test book: results of one ware, the latest firing first."""
    return (
        Result.objects.filter(place__isnull=False)
        .select_related(
            "photo", "firing__kiln", "firing__schedule", "place__board", "place__piece__form",
            "place__piece__clay_lot", "place__piece__coats",
        )
        .order_by("-firing__opened_at", "-id")
    )  # fmt: skip


def tiles(results: Iterable[Result]) -> list[Tile]:
    """Results as tiles, each with the buckets its glazes came from."""
    rows = list(results)
    buckets = buckets_of({row.place.piece_id for row in rows if row.place})
    spots = {
        spot.place_id: spot
        for spot in Spot.objects.filter(place__in=[row.place for row in rows if row.place])
    }
    return [
        Tile(
            result=row,
            ware=f"{row.place.piece.form}"
            + (f" in {row.place.piece.coats}" if row.place.piece.coats else ""),
            clay=str(row.place.piece.clay_lot),
            place=place_words(row.place, spots.get(row.place.pk)),
            buckets=tuple(buckets.get(row.place.piece_id, ())),
            is_lost=row.place.outcome == Place.Outcome.LOST,
        )
        for row in rows
        if row.place
    ]


def place_words(place: Place, spot: Spot | None) -> str:
    """Where in the load: its place and level, where the load was drawn, and its board."""
    if spot is None:
        return f"board {place.board}"
    return f"place {spot.number}, level {spot.level}, {spot.ring}, board {place.board}"


def kin_of(firing: Firing) -> list[Kin]:
    """The wares of an opened load, board by board."""
    places = firing.places.exclude(outcome=Place.Outcome.TAKEN_OUT).select_related(
        "board", "piece__form", "piece__coats", "piece__clay_lot"
    )
    groups: dict[tuple[int, int, int | None], list[Place]] = {}
    for place in places.order_by("board__label", "id"):
        key = (place.board_id, place.piece.form_id, place.piece.coats_id)
        groups.setdefault(key, []).append(place)
    return [Kin(place=some[0], count=len(some)) for some in groups.values()]


def results_of_load(firing: Firing) -> list[Result]:
    """What was added to one firing, of all of it and of its wares."""
    found = firing.seen_results.select_related(
        "photo", "place__board", "place__piece__form", "place__piece__coats"
    )
    return list(found.order_by("id"))


def to_grade(firing: Firing) -> list[tuple[int, str, int]]:
    """The boards that came out of this firing and wait to be graded: id, label, how many."""
    waiting = firing.places.filter(
        outcome=Place.Outcome.THROUGH, piece__stage=Stage.FIRED, piece__parting="",
        piece__board__isnull=False,
    ).values_list("piece__board_id", "piece__board__label")  # fmt: skip
    counts: dict[tuple[int, str], int] = {}
    for board_id, label in waiting:
        key = (board_id or 0, label or "")
        counts[key] = counts.get(key, 0) + 1
    return [(id_, label, n) for (id_, label), n in sorted(counts.items(), key=lambda i: i[0][1])]
