"""Where in its kiln did each piece stand, and where does a kiln lose them?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from studio.drawing.place_rings import Ring, RingPicture, ring_picture
from studio.firings.models import Firing, Kiln, Place, Spot
from studio.firings.selectors.sheets import what_is
from studio.wares.models import Piece

FEW = 50
"""Under so many pieces a difference between places is more likely chance. Common practice, no
source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceOf:
    """Where a piece of a firing stands or stood: ``number`` on its load sheet."""

    place_id: int
    piece_id: int
    number: int
    level: int
    ring: str
    what: str
    board: str

    @property
    def words(self) -> str:
        """'place 12, level 2, outer: Mug in Tide'."""
        return f"place {self.number}, level {self.level}, {self.ring}: {self.what}"


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceResult:
    """What came of the pieces that stood on a level and in a ring of a kiln."""

    level: int
    ring: str
    stood: int
    lost: int
    seconds: int

    @property
    def bad_percent(self) -> int:
        """Lost and seconds of all that stood there."""
        return (self.lost + self.seconds) * 100 // self.stood


@dataclass(frozen=True, kw_only=True, slots=True)
class KilnPlaces:
    """What a kiln's places came to, lowest level first, and how far that can be trusted."""

    kiln: str
    rows: tuple[PlaceResult, ...]
    firings: int

    @property
    def stood(self) -> int:
        """How many pieces these are."""
        return sum(row.stood for row in self.rows)

    @property
    def picture(self) -> RingPicture | None:
        """The kiln's levels, each half shaded by what went wrong there."""
        rings = [
            Ring(
                level=row.level,
                ring=row.ring,
                bad_percent=row.bad_percent,
                words=f"{row.lost + row.seconds} of {row.stood}",
            )
            for row in self.rows
        ]
        return ring_picture(rings, kiln=self.kiln)

    @property
    def words(self) -> str:
        """How few they are, said plainly."""
        if not self.stood:
            return "No opened firing of this kiln has a drawn load yet, so nothing is known."
        firings = "1 firing" if self.firings == 1 else f"{self.firings} firings"
        pieces = "1 piece" if self.stood == 1 else f"{self.stood} pieces"
        told = f"{pieces} of {firings}."
        thin = [row for row in self.rows if row.stood < FEW]
        if not thin:
            return told
        return (
            f"{told} Under {FEW} pieces a place, a difference is more likely chance than the kiln:"
            " it is a reason to look, no proof."
        )


def places_of(firing: Firing) -> list[PlaceOf]:
    """The pieces of a firing that have a place on its load sheet, by number."""
    spots = (
        Spot.objects.filter(sheet__firing=firing, place__isnull=False)
        .select_related("form", "clay_lot", "coats", "place__board", "place__piece__coats")
        .order_by("number")
    )
    found = []
    for spot in spots:
        if spot.place is None or spot.form is None or spot.clay_lot is None:
            continue
        found.append(
            PlaceOf(
                place_id=spot.place.pk,
                piece_id=spot.place.piece_id,
                number=spot.number,
                level=spot.level,
                ring=spot.ring,
                what=what_is(spot.form, spot.clay_lot, spot.coats),
                board=spot.place.board.label,
            )
        )
    return found


def results_by_place(kiln: Kiln) -> KilnPlaces:
    """What stood, was lost and became a second by level and ring, over every opened firing.

    A second counts where it was glaze fired; a failed firing tells nothing of places.
    """
    spots = (
        Spot.objects.filter(
            sheet__firing__kiln=kiln,
            sheet__firing__state=Firing.State.OPENED,
            sheet__firing__is_failed=False,
            place__outcome__in=[Place.Outcome.THROUGH, Place.Outcome.LOST],
        )
        .values_list(
            "level",
            "ring",
            "place__outcome",
            "place__piece__grade",
            "place__piece__glaze_firing_id",
            "sheet__firing_id",
        )
        .order_by("id")
    )
    stood: Counter[tuple[int, str]] = Counter()
    lost: Counter[tuple[int, str]] = Counter()
    seconds: Counter[tuple[int, str]] = Counter()
    firings = set()
    for level, ring, outcome, grade, glaze_firing, firing in spots:
        at = (level, ring)
        stood[at] += 1
        lost[at] += outcome == Place.Outcome.LOST
        seconds[at] += grade == Piece.Grade.SECOND and glaze_firing == firing
        firings.add(firing)
    rows = tuple(
        PlaceResult(level=level, ring=ring, stood=stood[at], lost=lost[at], seconds=seconds[at])
        for at in sorted(stood)
        for level, ring in [at]
    )
    return KilnPlaces(kiln=kiln.name, rows=rows, firings=len(firings))
