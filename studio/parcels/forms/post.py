"""What does the potter type about boxes, the post and customs?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils import timezone

from studio.craft.customs import BODIES, KINDS
from studio.parcels import address, rules
from studio.parcels.forms.fields import day_field, say_units
from studio.parcels.models import BoxType, PostSettings
from studio.parcels.selectors.post import BodyWords, FormWords
from studio.web.fields import LengthField, MoneyField

if TYPE_CHECKING:
    PostModelForm = forms.ModelForm[PostSettings]
else:
    PostModelForm = forms.ModelForm  # which takes no brackets when it runs


class PostSettingsForm(PostModelForm):
    """Where parcels are posted from, the limits of customs, and how long things may take."""

    home_code = forms.ChoiceField(label="Posted from, and made in")
    limit_date = day_field("Limits looked up on")
    sdr_date = day_field("Rate of the day", required=False)
    padding_mm = LengthField(label="Padding on each side")

    class Meta:
        model = PostSettings
        fields = [
            "home_code",
            "contact",
            "without_codes",
            "item_kind",
            "parcel_post",
            "limit_sdr",
            "limit_g",
            "limit_source",
            "limit_date",
            "sdr_rate",
            "sdr_source",
            "sdr_date",
            "padding_mm",
            "divisor_cm3_per_kg",
            "confirmed_days",
            "link_days",
            "overdue_days",
            "keep_days",
        ]
        labels = {
            "contact": "Phone or e-mail of the sender",
            "without_codes": "Countries abroad that need no customs form",
            "item_kind": "Kind of item, unless a parcel says another",
            "parcel_post": "We send postal parcels, not small packets",
            "limit_sdr": "CN 22 holds up to so many SDR",
            "limit_g": "CN 22 holds up to so many grams",
            "limit_source": "Where these limits stand",
            "sdr_rate": "What one SDR is worth in our currency",
            "sdr_source": "Where that rate stands",
            "divisor_cm3_per_kg": "Divisor of volume weight (cm³ for a kilogram)",
            "confirmed_days": "A confirmed address counts for so many days before posting",
            "link_days": "A link to one's own address works for so many days",
            "overdue_days": "A parcel is late after so many days",
            "keep_days": "A printed address is kept for so many days after posting",
        }
        help_texts = {
            "contact": "CN 23 asks for it.",
            "without_codes": "Two letters each, with blanks between, such as IM.",
            "item_kind": "A supporter's pot is given in return for payments. Ask the post office.",
            "parcel_post": "Postal parcels always take CN 23.",
            "confirmed_days": "",
            "keep_days": "",
            "sdr_rate": "It changes daily; the International Monetary Fund publishes it.",
        }
        widgets = {"limit_source": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_units(self)
        home = self.fields["home_code"]
        assert isinstance(home, forms.ChoiceField)
        home.choices = list(address.countries())
        for name, most in (
            ("confirmed_days", 120),
            ("link_days", 60),
            ("overdue_days", 365),
            ("keep_days", 3650),
        ):
            days = self.fields[name]
            assert isinstance(days, forms.IntegerField)
            days.min_value, days.max_value = 1, most
            days.validators.append(MinValueValidator(1))
            days.validators.append(MaxValueValidator(most))

    def clean(self) -> dict[str, Any]:
        """Say what belongs together in the rule's own words, before the database's check does."""
        cleaned = super().clean() or {}
        if not self.errors:
            sentence = rules.can_keep_settings(
                limit_source=cleaned["limit_source"],
                sdr_rate=cleaned["sdr_rate"],
                sdr_source=cleaned["sdr_source"],
                sdr_date=cleaned["sdr_date"],
                limit_date=None,
                today_date=timezone.localdate(),
            )
            if sentence:
                self.add_error("sdr_rate", sentence)
        return cleaned

    def clean_without_codes(self) -> str:
        """Read the countries. Raises ValidationError naming the one that is not known."""
        codes = str(self.cleaned_data["without_codes"]).replace(",", " ").upper().split()
        for code in codes:
            if code not in dict(address.countries()):
                raise forms.ValidationError(address.no_country(code))
        return " ".join(dict.fromkeys(codes))

    def clean_padding_mm(self) -> int:
        """Whole millimetres, none to twenty centimetres."""
        padding: int = round(self.cleaned_data["padding_mm"])
        if not 0 <= padding <= 200:
            raise forms.ValidationError("Padding is 0 to 200 mm on each side.")
        return padding

    def values(self) -> dict[str, Any]:
        """What the service keeps."""
        return dict(self.cleaned_data)


class BoxForm(forms.Form):
    """A box type: inside sizes, and its weight with the usual fill."""

    name = forms.CharField(label="Name", max_length=40)
    length_mm = LengthField(label="Length inside")
    width_mm = LengthField(label="Width inside")
    height_mm = LengthField(label="Height inside")
    wall_mm = LengthField(label="Wall", initial=4)
    weight_g = forms.IntegerField(
        label="Weight with its usual fill (g)", min_value=1, max_value=20_000
    )
    takes = forms.IntegerField(
        label="Takes at most so many pieces", required=False, min_value=1, max_value=100
    )

    def __init__(self, *args: Any, box: BoxType | None = None, **kwargs: Any) -> None:
        if box is not None:
            kwargs["initial"] = {name: getattr(box, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)
        say_units(self)

    def values(self) -> dict[str, Any]:
        """What the service keeps, in whole millimetres."""
        given = dict(self.cleaned_data)
        for name in ("length_mm", "width_mm", "height_mm", "wall_mm"):
            given[name] = round(given[name])
        return given


class CustomsWordsForm(forms.Form):
    """What each form is for, whether it is an ornament, and what each body is."""

    def __init__(
        self, *args: Any, forms_said: list[FormWords], bodies: list[BodyWords], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.forms_said, self.bodies = forms_said, bodies
        for said in forms_said:
            self.fields[f"purpose-{said.form.id}"] = forms.CharField(
                label=f"{said.form.name}: what it is for",
                max_length=60,
                initial=said.purpose,
                help_text="" if said.is_said else "Taken from its outline; say it yourself.",
            )
            self.fields[f"ornament-{said.form.id}"] = forms.BooleanField(
                label=f"{said.form.name} is an ornament", required=False, initial=said.is_ornament
            )
        for number, body in enumerate(bodies):
            self.fields[f"body-{number}"] = forms.ChoiceField(
                label=body.body,
                choices=[(kind, kind) for kind in BODIES],
                initial=body.kind,
                help_text="" if body.is_said else "Guessed from its name; say it yourself.",
            )

    def values(self) -> dict[str, Any]:
        """What the service takes."""
        cleaned = self.cleaned_data
        ids = [said.form.id for said in self.forms_said]
        return {
            "purposes": {id_: cleaned[f"purpose-{id_}"] for id_ in ids},
            "ornaments": {id_: cleaned[f"ornament-{id_}"] for id_ in ids},
            "bodies": {
                body.body: cleaned[f"body-{number}"] for number, body in enumerate(self.bodies)
            },
        }


class DeclaredForm(forms.Form):
    """What one parcel declares: its kind of item, and what its pieces are worth."""

    kind = forms.ChoiceField(label="Kind of item", required=False)

    def __init__(self, *args: Any, rows: Any, usual: str, kind: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = self.fields["kind"]
        assert isinstance(chosen, forms.ChoiceField)
        chosen.choices = [("", f"as usual: {KINDS[usual]}"), *KINDS.items()]
        chosen.initial = kind
        self.rows = list(rows)
        for row in self.rows:
            self.fields[f"value-{row.id}"] = MoneyField(
                label=f"Value of {row.piece} {row.piece.form}",
                required=False,
                initial=row.value_pence,
                help_text="Empty is the price of the form.",
            )

    def values_pence(self) -> dict[int, int | None]:
        """Values by row id; None is the price of the form."""
        return {row.id: self.cleaned_data[f"value-{row.id}"] for row in self.rows}
