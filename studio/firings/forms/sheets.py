"""How is a load to be drawn, and what is said of a place on it?"""

from __future__ import annotations

from typing import Any

from django import forms

from studio.drawing.load_levels import LevelPicture
from studio.firings.models import Spot
from studio.firings.selectors.moved import THIRDS

RUNNY = [
    ("low", "low, under everything else"),
    ("catch_tile", "on a catch tile, anywhere"),
    ("anywhere", "like all other ware"),
]
HANDLES = [
    ("clear", "a full circle for each handle"),
    ("interlock", "handles may stand between other pots"),
]


class DrawForm(forms.Form):
    """What the packer may do with runny ware, with handles and with room that is left."""

    seen = forms.IntegerField(min_value=0, widget=forms.HiddenInput)
    runny = forms.ChoiceField(label="Runny ware stands", choices=RUNNY, initial="low")
    handles = forms.ChoiceField(choices=HANDLES, initial="clear")
    fill_up = forms.BooleanField(label="Fill up with what else may go in", required=False)

    def __init__(self, *args: Any, kind: str = "glaze", **more: Any) -> None:
        super().__init__(*args, **more)
        if kind == "bisque":  # coats do not run, and handles may touch
            for name in ("runny", "handles"):
                del self.fields[name]


class SeenForm(forms.Form):
    """Which turn of a place the person saw."""

    seen = forms.IntegerField(min_value=1)

    @property
    def sentence(self) -> str:
        """What is wrong, in one line."""
        return " ".join(
            f"{self.fields[name].label or name}: {text}" if name in self.fields else str(text)
            for name, texts in self.errors.items()
            for text in texts
        )


class MoveForm(SeenForm):
    """Where a piece stands now: a level, and its inner or its outer half."""

    level = forms.IntegerField(label="Level", min_value=1, max_value=40)
    ring = forms.ChoiceField(label="Where on it", choices=Spot.Ring.choices)

    def __init__(self, *args: Any, levels: int = 1, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["level"].widget.attrs |= {"max": levels}


class InsteadForm(SeenForm):
    """Which piece stands there instead: one of the load, or one of a board."""

    place = forms.IntegerField(required=False)
    board = forms.IntegerField(required=False)
    board_seen = forms.CharField(required=False)


class PinForm(SeenForm):
    """Whether a place is kept when the load is drawn again."""

    keep = forms.BooleanField(required=False)


TAP_WIDE = 312
"""How wide a level is shown to be tapped on [px]: it fits the narrowest phone."""


class WhereForm(SeenForm):
    """Where on a level a piece stands now: a tap on its picture, or one of its nine parts."""

    part = forms.ChoiceField(
        required=False, label="Part", choices=[(name, name) for name, _, _ in THIRDS]
    )

    def __init__(self, *args: Any, picture: LevelPicture, **more: Any) -> None:
        super().__init__(*args, **more)
        self.picture = picture
        # A browser sends where a picture was pressed as two numbers of its name.
        for name in ("at.x", "at.y"):
            self.fields[name] = forms.IntegerField(
                required=False, min_value=-9999, max_value=9999, label="The tap"
            )

    @property
    def wide(self) -> int:
        """Of the picture [px]."""
        return TAP_WIDE

    @property
    def tall(self) -> int:
        """Of the picture [px]."""
        return round(TAP_WIDE * self.picture.height / self.picture.width)

    @property
    def point(self) -> tuple[float, float] | None:
        """The tap from the kiln's middle, to the right and to the back [mm]."""
        x, y = self.cleaned_data.get("at.x"), self.cleaned_data.get("at.y")
        if x is None or y is None:
            return None
        scale = self.picture.width / TAP_WIDE
        return x * scale - self.picture.width / 2, self.picture.height / 2 - y * scale
