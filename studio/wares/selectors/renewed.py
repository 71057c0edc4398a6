"""Which kilns had elements or thermocouple changed, and which lines are on trial in them since?

The care of kilns belongs to the room above: it is asked through the moves of the pieces.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from studio.craft.calendar import say_date
from studio.wares.kinds import Combination
from studio.wares.models import KilnTrial, Move


@dataclass(frozen=True, kw_only=True, slots=True)
class Renewed:
    """Elements or thermocouple of a kiln that were changed, and when that was written down."""

    kiln_id: int
    kiln: str
    parts: tuple[str, ...]
    on_date: date
    kept_at: datetime

    @property
    def words(self) -> str:
        """'This kiln has new elements since 3 Nov 2026'."""
        what = " and a new ".join(self.parts) if len(self.parts) > 1 else self.parts[0]
        what = f"a new {what}" if self.parts[0] == "thermocouple" else f"new {what}"
        return f"{self.kiln} has {what} since {say_date(self.on_date)}"


def renewed_kilns(combination: Combination) -> list[Renewed]:
    """The last change of elements or thermocouple in each kiln that fired a combination."""
    rows = Move.objects.filter(
        **{f"piece__{name}": value for name, value in combination._asdict().items()},
        firing__kiln__cares__did="changed",
        firing__kiln__cares__part__in=["elements", "thermocouple"],
    ).values_list(
        "firing__kiln_id", "firing__kiln__name", "firing__kiln__cares__part",
        "firing__kiln__cares__on_date", "firing__kiln__cares__kept_at",
    )  # fmt: skip
    found: dict[int, Renewed] = {}
    for kiln_id, kiln, part, on_date, kept_at in sorted(set(rows), key=lambda row: row[3:1:-1]):
        last = found.get(kiln_id)
        together = last is not None and last.on_date == on_date
        found[kiln_id] = Renewed(
            kiln_id=kiln_id,
            kiln=kiln,
            parts=tuple(sorted({part, *(last.parts if last and together else ())})),
            on_date=on_date,
            kept_at=max(kept_at, last.kept_at) if last and together else kept_at,
        )
    return list(found.values())


def kiln_trials(*, kiln_id: int | None = None) -> list[KilnTrial]:
    """The lines that are on trial in one kiln, or in any, since its parts were changed."""
    rows = KilnTrial.objects.select_related(
        "kiln", "line__form", "line__clay_lot", "line__coats", "line__schedule"
    )
    if kiln_id is not None:
        rows = rows.filter(kiln=kiln_id)
    return list(rows.order_by("line__form__name", "line__coats__name", "line_id", "kiln__name"))
