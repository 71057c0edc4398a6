"""What would a file of supporters change, row by row, and in which words?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from studio.parcels import rules
from studio.parcels.models import Supporter, Tier
from studio.parcels.roll_words import field_words
from studio.wares.models import Form, Glaze

MOST_SHOWN = 200


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """One row that is new, changed or refused, and why or in what."""

    row: int
    kind: str
    name: str
    words: str


@dataclass(kw_only=True, slots=True)
class Preview:
    """What a file would do: the counts, and the first rows of those that are not the same."""

    new: int = 0
    changed: int = 0
    same: int = 0
    refused: int = 0
    shown: list[Outcome] = field(default_factory=list)

    @property
    def taken(self) -> int:
        """How many rows there are to take in."""
        return self.new + self.changed

    @property
    def more(self) -> int:
        """How many rows that are not the same are not shown; a row is shown once a fault."""
        return self.taken + self.refused - len({one.row for one in self.shown})

    def show(self, outcome: Outcome) -> bool:
        """Keep a row to be shown, as long as there is room; whether there was."""
        room = len(self.shown) < MOST_SHOWN
        if room:
            self.shown.append(outcome)
        return room


def tier_names() -> dict[int, str]:
    """The names of the tiers, by id."""
    return dict(Tier.objects.values_list("id", "name"))


def known_names() -> dict[str, Iterable[str]]:
    """The names of tiers, forms and glazes that a file may use."""
    return {
        "tiers": Tier.objects.values_list("name", flat=True),
        "forms": Form.objects.values_list("name", flat=True),
        "glazes": Glaze.objects.values_list("name", flat=True),
    }


def change_words(
    *, was: Mapping[str, Any], now: Mapping[str, Any], months: int, tiers: Mapping[int, str]
) -> str:
    """What differs, in words: the field, what it was and what it is; ``tiers`` by id."""
    parts = []
    for name, value in now.items():
        match name:
            case "tier_id":
                parts.append(f"tier {tiers[was[name]]} → {tiers[value]}")
            case "please_no" | "no_glazes" | "pauses" | "former_tiers" | "is_gift":
                word = _WORDS[name]
                parts += [word] if word else []
            case _:
                before = _shown(name, was[name])
                parts.append(f"{field_words(name)} {before} → {_shown(name, value)}")
    if months:
        parts.append("1 month" if months == 1 else f"{months} months")
    return "; ".join(parts)


def new_words(person: Supporter, *, months: int) -> str:
    """Who would be taken in, in a few words."""
    paid = "1 month" if months == 1 else f"{months} months"
    place = ", ".join(part for part in (person.city, person.country_code) if part)
    return f"joined {rules.month_name(person.joined_month)}, {place}, {paid}"


_WORDS = {
    "please_no": "forms they would rather not have",
    "no_glazes": "glazes they would rather not have",
    "pauses": "pauses",
    "former_tiers": "",
    "is_gift": "",
}


def _shown(name: str, value: Any) -> str:
    if name.endswith("_month") and isinstance(value, int):
        return rules.month_text(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value).replace("\n", ", ") if value not in ("", None) else "(empty)"
