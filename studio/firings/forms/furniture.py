"""Write a kiln's shelves, posts and clearances down, once."""

from __future__ import annotations

from typing import Any, Final

from django import forms

from studio.craft.kiln_load import POSTS_A_SHELF
from studio.craft.quantities import nearest
from studio.firings import selectors
from studio.firings.models import Kiln, ShelfStock
from studio.web.fields import LengthField
from studio.web.selectors import length_unit

SHELF_ROWS: Final = 4
POST_ROWS: Final = 8
CLEARANCES: Final = {
    "shelf_gap_mm": "Shelf's edge to the wall",
    "wall_mm": "Ware to the wall",
    "lid_mm": "Kept free under the lid",
    "floor_post_mm": "Posts under the lowest shelf",
    "post_across_mm": "How wide a post is",
}


class FurnitureForm(forms.Form):
    """Shelves by kind and thickness, posts by height, clearances, thermocouple."""

    probe_side = forms.ChoiceField(
        label="Thermocouple comes through the wall",
        required=False,
        choices=[("", "not written down"), *Kiln.Side.choices],
        help_text="As you stand before the kiln. Ware keeps 50 mm (2 in) away from its end.",
    )
    probe_in_mm = LengthField(label="Thermocouple reaches in", required=False)
    probe_height_mm = LengthField(label="Thermocouple over the floor", required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for row in range(1, SHELF_ROWS + 1):
            self.fields[f"shelf_count_{row}"] = forms.IntegerField(
                label=f"Shelves, row {row}: how many", required=False, min_value=0, max_value=40
            )
            self.fields[f"shelf_kind_{row}"] = forms.ChoiceField(
                label=f"Shelves, row {row}: kind", required=False, choices=ShelfStock.Kind.choices
            )
            self.fields[f"shelf_thick_{row}"] = LengthField(
                label=f"Shelves, row {row}: thickness", required=False
            )
        for row in range(1, POST_ROWS + 1):
            self.fields[f"post_count_{row}"] = forms.IntegerField(
                label=f"Posts, row {row}: how many", required=False, min_value=0, max_value=180
            )
            self.fields[f"post_height_{row}"] = LengthField(
                label=f"Posts, row {row}: height", required=False
            )
        for field in self.fields.values():
            if ", row " in str(field.label):
                field.widget.attrs["aria-label"] = field.label
        for name, label in CLEARANCES.items():
            self.fields[name] = LengthField(label=label)

    @property
    def unit_words(self) -> str:
        """In which unit lengths are shown and read."""
        if length_unit() == "in":
            return "Lengths are in inches; 90 mm is read too."
        return "Lengths are in mm; 3 1/2 in is read too."

    @classmethod
    def first_values(cls, kiln: Kiln) -> dict[str, Any]:
        """What the form shows of a kiln: its own furniture, or the usual until that is told."""
        values: dict[str, Any] = {name: getattr(kiln, name) for name in CLEARANCES}
        if kiln.probe_side:
            names = ("probe_side", "probe_in_mm", "probe_height_mm")
            values |= {name: getattr(kiln, name) for name in names}
        furniture = selectors.furniture_of(kiln, usual=True)
        for row, (kind, thick, count) in enumerate(furniture.shelves[:SHELF_ROWS], start=1):
            values |= {
                f"shelf_kind_{row}": kind,
                f"shelf_thick_{row}": thick,
                f"shelf_count_{row}": count,
            }
        for row, (height, count) in enumerate(furniture.posts[:POST_ROWS], start=1):
            values |= {f"post_height_{row}": height, f"post_count_{row}": count}
        return values

    @property
    def shelf_rows(self) -> list[tuple[int, forms.BoundField, forms.BoundField, forms.BoundField]]:
        """The rows of shelves, for the page."""
        return [
            (row, self[f"shelf_count_{row}"], self[f"shelf_kind_{row}"], self[f"shelf_thick_{row}"])
            for row in range(1, SHELF_ROWS + 1)
        ]

    @property
    def post_rows(self) -> list[tuple[int, forms.BoundField, forms.BoundField]]:
        """The rows of posts, for the page."""
        return [
            (row, self[f"post_count_{row}"], self[f"post_height_{row}"])
            for row in range(1, POST_ROWS + 1)
        ]

    @property
    def clearances(self) -> list[forms.BoundField]:
        """The clearances, for the page."""
        return [self[name] for name in CLEARANCES]

    @property
    def probe(self) -> list[forms.BoundField]:
        """The thermocouple, for the page."""
        return [self["probe_side"], self["probe_in_mm"], self["probe_height_mm"]]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if self.errors:
            return values
        for name, value in values.items():
            if isinstance(value, float):
                values[name] = nearest(value)
        self._rows(values, "shelf", "thick", SHELF_ROWS, "thick are they")
        self._rows(values, "post", "height", POST_ROWS, "high are they")
        self._probe(values)
        return values

    def _rows(self, values: dict[str, Any], what: str, size: str, rows: int, ask: str) -> None:
        seen: set[Any] = set()
        for row in range(1, rows + 1):
            count, mm = values[f"{what}_count_{row}"], values[f"{what}_{size}_{row}"]
            if not count:
                continue
            if mm is None:
                self.add_error(f"{what}_{size}_{row}", f"Row {row}: how {ask}?")
                continue
            key = (values.get(f"{what}_kind_{row}") or "", mm)
            if key in seen:
                self.add_error(f"{what}_{size}_{row}", f"Row {row}: these are in a row above.")
            seen.add(key)

    def _probe(self, values: dict[str, Any]) -> None:
        if not values["probe_side"]:
            values["probe_in_mm"] = values["probe_height_mm"] = 0
            return
        for name, ask in (("probe_in_mm", "reach in"), ("probe_height_mm", "sit over the floor")):
            if values[name] is None:
                self.add_error(name, f"How far does the thermocouple {ask}?")

    @property
    def furniture(self) -> selectors.Furniture:
        """What was typed."""
        typed = self.cleaned_data
        shelves = [
            (
                typed[f"shelf_kind_{row}"] or "whole",
                typed[f"shelf_thick_{row}"],
                typed[f"shelf_count_{row}"],
            )
            for row in range(1, SHELF_ROWS + 1)
            if typed[f"shelf_count_{row}"]
        ]
        posts = [
            (typed[f"post_height_{row}"], typed[f"post_count_{row}"])
            for row in range(1, POST_ROWS + 1)
            if typed[f"post_count_{row}"]
        ]
        names = (*CLEARANCES, "probe_side", "probe_in_mm", "probe_height_mm")
        return selectors.Furniture(
            values={name: typed[name] for name in names},
            shelves=sorted(shelves),
            posts=sorted(posts),
        )

    @property
    def posts_a_shelf(self) -> int:
        """For the page: so many posts hold a shelf."""
        return POSTS_A_SHELF
