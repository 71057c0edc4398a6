"""What does a potter type about forms, clay, glazes, coats and lines?

The forms answer plain values; the service keeps them. Sizes are typed in the studio's unit, money
in its currency, kiln room in mug places.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import QuerySet
from django.db.models.functions import Lower

from studio.craft.quantities import nearest
from studio.wares import rules
from studio.wares.models import ClayLot, Coats, Form, Glaze, Line, Stacks
from studio.web.fields import LengthField, MoneyField

if TYPE_CHECKING:
    AnyModelForm = forms.ModelForm[Any]
else:
    AnyModelForm = forms.ModelForm  # which takes no brackets when it runs

LAYERS = 4
POSSIBLE = {
    "weight_g": (1, rules.MOST_WEIGHT_G),
    "throwing_min": (0, rules.A_DAY_MIN),
    "glazing_min": (0, rules.A_DAY_MIN),
    "finishing_min": (0, rules.A_DAY_MIN),
    "drying_days": (1, rules.MOST_DRYING_DAYS),
}
"""What a pot may weigh and take, at least and at most."""

WHOLE_MM = ("width_mm", "handle_mm", "height_mm")
KILN_MM = ("length_mm", "handle_width_mm", "nest_step_mm")
"""What only the kiln's load asks; left empty they have a usual value."""
HANDLE_WIDE_MM = 25


class EntryForm(AnyModelForm):
    """A form of the catalogue; it never saves, it answers values."""

    what = "entry"

    def values(self) -> dict[str, Any]:
        """The fields of the row as they were typed, in stored units."""
        return {name: self.cleaned_data[name] for name in self._meta.fields or ()}

    def layers(self) -> Sequence[tuple[Glaze, int | None]] | None:
        """The glazes of coats; None for everything else."""
        return None

    def clean_name(self) -> str:
        """Say in our own words that a name is taken."""
        name = " ".join(self.cleaned_data["name"].split())
        others = self._meta.model._default_manager.annotate(lower=Lower("name"))
        if others.filter(lower=name.lower()).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError(rules.can_add_again(what=self.what, name=name))
        return name


def date_input() -> forms.DateInput:
    """A date as browsers let one pick it."""
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class FormForm(EntryForm):
    """A form that is thrown."""

    what = "form"
    width_mm = LengthField(label="Width of the body", help_text="fired, without the handle")
    handle_mm = LengthField(label="Handle stands out", help_text="0 when it has none")
    height_mm = LengthField(label="Height", help_text="fired, lid on")
    length_mm = LengthField(
        label="Length, where it is oblong", required=False, help_text="Empty: it is round."
    )
    handle_width_mm = LengthField(
        label="Width of the handle", required=False, help_text="Seen from above."
    )
    stacks = forms.ChoiceField(
        label="In bisque it stands", choices=Stacks.choices, required=False, initial=Stacks.NO
    )
    stack_most = forms.IntegerField(
        label="Most on one another", required=False, min_value=1, max_value=50,
        help_text="In a bisque firing, where they stack.",
    )  # fmt: skip
    nest_step_mm = LengthField(
        label="Height each nested one adds", required=False,
        help_text="Where one stands inside the other.",
    )  # fmt: skip
    price_pence = MoneyField(label="Price")
    room = forms.DecimalField(
        label="Kiln room in mug places",
        min_value=Decimal("0.1"),
        max_value=Decimal("1000"),
        decimal_places=1,
        help_text="a mug is 1; a wide bowl may be 4",
    )

    class Meta:
        model = Form
        fields = [
            "name",
            "silhouette",
            "width_mm",
            "handle_mm",
            "height_mm",
            "length_mm",
            "handle_width_mm",
            "stacks",
            "stack_most",
            "nest_step_mm",
            "weight_g",
            "throwing_min",
            "glazing_min",
            "finishing_min",
            "drying_days",
            "price_pence",
            "may_refire",
            "holds_food",
        ]
        labels = {
            "name": "Name",
            "silhouette": "Outline",
            "weight_g": "Weight, fired, in grams",
            "throwing_min": "Minutes to throw, trim and handle one",
            "glazing_min": "Minutes to wax and glaze one",
            "finishing_min": "Minutes to grade, photograph and list one",
            "drying_days": "Days from thrown to bone dry",
            "may_refire": "May be refired",
            "holds_food": "People eat or drink from it",
        }
        help_texts = dict.fromkeys(("weight_g", "throwing_min", "glazing_min"), "") | {
            "finishing_min": "",
            "drying_days": "as a rule; the board says when it really is",
            "may_refire": "wide flat ware mostly cracks in a second glaze firing",
            "holds_food": "then its lining asks for a laboratory's result",
        }

    field_order = [
        "name", "silhouette", *WHOLE_MM, "weight_g", "room", "price_pence", "throwing_min",
        "glazing_min", "finishing_min", "drying_days", "may_refire", "holds_food", "length_mm",
        "handle_width_mm", "stacks", "stack_most", "nest_step_mm",
    ]  # fmt: skip

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.instance.pk:
            self.fields["room"].initial = Decimal(self.instance.room_tenths) / 10
        for name, (low, high) in POSSIBLE.items():
            field: Any = self.fields[name]
            field.widget.attrs |= {"min": low, "max": high}
            field.validators += [MinValueValidator(low), MaxValueValidator(high)]

    def clean_price_pence(self) -> int:
        """Refuse a price that is a slip of the keyboard."""
        price: int = self.cleaned_data["price_pence"]
        if sentence := rules.can_cost(price_pence=price):
            raise forms.ValidationError(sentence)
        return price

    def clean(self) -> dict[str, Any]:
        """Whole millimetres, none of them 0 where a pot needs some."""
        values: dict[str, Any] = super().clean() or {}
        for name in (*WHOLE_MM, *KILN_MM):
            if values.get(name) is not None:
                values[name] = nearest(values[name])
        for name in ("width_mm", "height_mm"):
            if values.get(name) == 0:
                self.add_error(name, "A pot has some size: more than 0.")
        if not self.errors:
            self._outline(values)
            self._stack(values)
        return values

    def _outline(self, values: dict[str, Any]) -> None:
        """The outline from above, with what is usual where nothing was said."""
        values["length_mm"] = values.get("length_mm") or 0
        values["handle_width_mm"] = values.get("handle_width_mm") or HANDLE_WIDE_MM
        if 0 < values["length_mm"] < values["width_mm"]:
            self.add_error("length_mm", "The length is the longer side: at least the width.")
        if values["handle_width_mm"] < 2:
            self.add_error("handle_width_mm", "A handle is at least 2 mm wide.")

    def _stack(self, values: dict[str, Any]) -> None:
        """How it stacks in bisque, told whole or not at all."""
        stacks = values["stacks"] = values.get("stacks") or Stacks.NO
        most, step = values.get("stack_most") or 0, values.get("nest_step_mm") or 0
        values["stack_most"] = most if stacks != Stacks.NO else 1
        values["nest_step_mm"] = step if stacks == Stacks.NESTED else 0
        if stacks != Stacks.NO and most < 2:
            self.add_error("stack_most", "How many stand on one another in bisque: 2 or more?")
        if stacks == Stacks.NESTED and not 1 <= step <= values["height_mm"]:
            self.add_error(
                "nest_step_mm",
                "Each nested one adds some height, at most its own: write how much.",
            )

    def values(self) -> dict[str, Any]:
        return {**super().values(), "room_tenths": int(self.cleaned_data["room"] * 10)}


class ClayLotForm(EntryForm):
    """A delivery of clay."""

    what = "clay lot"
    shrinkage = forms.DecimalField(
        label="Shrinkage, wet to fired, per cent",
        min_value=Decimal("0"),
        max_value=Decimal("29.9"),
        decimal_places=1,
    )

    class Meta:
        model = ClayLot
        fields = ["body", "lot", "received_date", "top_cone"]
        labels = {
            "body": "Clay body",
            "lot": "Lot",
            "received_date": "Came on",
            "top_cone": "Goes to at most",
        }
        widgets = {"received_date": date_input()}

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.instance.pk:
            self.fields["shrinkage"].initial = Decimal(self.instance.shrinkage_permille) / 10

    def clean(self) -> dict[str, Any]:
        """The same lot of the same body is one row."""
        values: dict[str, Any] = super().clean() or {}
        body, lot = values.get("body", ""), values.get("lot", "")
        same = ClayLot.objects.annotate(b=Lower("body"), n=Lower("lot"))
        same = same.filter(b=body.lower(), n=lot.lower()).exclude(pk=self.instance.pk)
        if same.exists():
            self.add_error("lot", rules.can_add_again(what=self.what, name=f"{body}, lot {lot}"))
        return values

    def values(self) -> dict[str, Any]:
        permille = int(self.cleaned_data["shrinkage"] * 10)
        return {**super().values(), "shrinkage_permille": permille}


class GlazeForm(EntryForm):
    """A glaze in its bucket."""

    what = "glaze"

    class Meta:
        model = Glaze
        fields = ["name", "mixed_date", "top_cone", "is_runny"]
        labels = {
            "name": "Name",
            "mixed_date": "This bucket was mixed on",
            "top_cone": "Goes to at most",
            "is_runny": "Runny: keep it off the foot, fire it low or on a catch tile",
        }
        help_texts = {"mixed_date": ""}
        widgets = {"mixed_date": date_input()}


class CoatsForm(EntryForm):
    """The glazes one over the other that make a look."""

    what = "coats"

    class Meta:
        model = Coats
        fields = ["name", "top_cone", "is_runny"]
        labels = {
            "name": "What a customer would call it",
            "top_cone": "Together they go to at most",
            "is_runny": "Runny together",
        }

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        have = list(self.instance.layers.order_by("seq")) if self.instance.pk else []
        for n in range(1, max(LAYERS, len(have)) + 1):
            layer = have[n - 1] if n <= len(have) else None
            where = "nearest the clay" if n == 1 else "over it"
            self.fields[f"glaze_{n}"] = forms.ModelChoiceField(
                Glaze.objects.all(),
                label=f"{n}. coat, {where}",
                required=n == 1,
                initial=layer.glaze if layer else None,
                empty_label="choose" if n == 1 else "none",
            )
            self.fields[f"reach_{n}"] = LengthField(
                label=f"{n}. coat reaches down from the rim",
                required=False,
                initial=layer.reach_mm if layer else None,
                help_text="empty is all over",
            )

    def layers(self) -> Sequence[tuple[Glaze, int | None]]:
        found = []
        for n in range(1, len([name for name in self.fields if name.startswith("glaze_")]) + 1):
            glaze, reach = self.cleaned_data[f"glaze_{n}"], self.cleaned_data[f"reach_{n}"]
            if glaze is not None:
                found.append((glaze, nearest(reach) if reach is not None else None))
        return found


class LineForm(EntryForm):
    """Form, clay lot, coats and schedule that are wanted together."""

    what = "line"

    class Meta:
        model = Line
        fields = ["form", "clay_lot", "coats", "schedule", "standing"]
        labels = {"coats": "Glaze"}
        help_texts = {"standing": "untried lines go through a small trial load first"}

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        schedule: Any = self.fields["schedule"]
        schedule.queryset = schedule.queryset.filter(kind__in=rules.FIRES_GLAZE)

    def clean(self) -> dict[str, Any]:
        """The same four are one line."""
        values: dict[str, Any] = super().clean() or {}
        four = {name: values.get(name) for name in ("form", "clay_lot", "coats", "schedule")}
        if all(four.values()):
            same = Line.objects.filter(**four).exclude(pk=self.instance.pk).first()
            if same is not None:
                raise forms.ValidationError(rules.can_add_again(what=self.what, name=str(same)))
        return values


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """One kind of thing in the catalogue and how it is typed."""

    name: str
    what: str
    label: str
    model: type[models.Model]
    form: type[EntryForm]
    of_piece: str = ""

    def rows(self) -> QuerySet[Any]:
        """All of the shelf, in order."""
        rows = self.model._default_manager.all()
        if self.model is Coats:
            return rows.prefetch_related("layers__glaze", "lab_results")
        if self.model is Line:
            return rows.select_related("form", "clay_lot", "coats", "schedule")
        return rows


SHELVES = {
    shelf.name: shelf
    for shelf in (
        Shelf(name="forms", what="form", label="Forms", model=Form, form=FormForm, of_piece="form"),
        Shelf(
            name="clay_lots",
            what="clay lot",
            label="Clay lots",
            model=ClayLot,
            form=ClayLotForm,
            of_piece="clay_lot",
        ),
        Shelf(name="glazes", what="glaze", label="Glazes", model=Glaze, form=GlazeForm),
        Shelf(
            name="coats", what="coats", label="Coats", model=Coats, form=CoatsForm, of_piece="coats"
        ),
        Shelf(name="lines", what="line", label="Lines", model=Line, form=LineForm),
    )
}
