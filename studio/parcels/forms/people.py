"""What does a person type about supporters?"""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.craft.money import BadMoney, read_money, show_money
from studio.parcels import address, rules
from studio.parcels.forms.fields import MonthField, day_field
from studio.parcels.models import Payment, Supporter, Tier, TurnRule
from studio.wares.models import Form, Glaze
from studio.web.selectors import the_studio


def _capital(label: str) -> str:
    """The first letter large, ZIP as it is."""
    return label[:1].upper() + label[1:]


WISHES = ("please_no", "no_glazes")


class SupporterForm(forms.Form):
    """A supporter, with the fields of an address that their country has."""

    name = forms.CharField(label="Name", max_length=120)
    email = forms.EmailField(label="E-mail", required=False)
    tier = forms.ModelChoiceField(
        label="Tier", queryset=Tier.objects.all(), empty_label="Choose a tier"
    )
    joined_month = MonthField(label="Joined in")
    left_month = MonthField(
        label="Last month", required=False, help_text="Empty while they support the studio."
    )
    country_code = forms.ChoiceField(label="Country", required=False)
    street_address = forms.CharField(
        required=False, max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )
    city_area = forms.CharField(required=False, max_length=120)
    city = forms.CharField(required=False, max_length=120)
    country_area = forms.CharField(required=False, max_length=120)
    postal_code = forms.CharField(required=False, max_length=20)
    sorting_code = forms.CharField(required=False, max_length=20)
    address_confirmed_date = day_field(
        "Address confirmed on", required=False, help_text="When they last said that it is right."
    )
    is_gift = forms.BooleanField(label="Somebody else pays: it is a gift", required=False)
    gift_from = forms.CharField(label="Gift from", required=False, max_length=120)
    takes_seconds = forms.BooleanField(label="Has said yes to seconds", required=False)
    packing_note = forms.CharField(
        label="For the packer", required=False, max_length=200, help_text="An allergy, no tape ..."
    )
    household = forms.CharField(
        label="Household",
        required=False,
        max_length=60,
        help_text="One word for all who share an address: one parcel a month goes there.",
    )
    please_no = forms.ModelMultipleChoiceField(
        label="Forms they would rather not have",
        queryset=Form.objects.all(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    no_glazes = forms.ModelMultipleChoiceField(
        label="Glazes they would rather not have",
        queryset=Glaze.objects.all(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, supporter: Supporter | None = None, **kwargs: Any) -> None:
        if supporter is not None:
            values = {
                name: getattr(supporter, name)
                for name in self.base_fields
                if name not in ("tier", *WISHES)
            }
            for wish in WISHES:
                values[wish] = list(getattr(supporter, wish).all())
            kwargs["initial"] = {**values, "tier": supporter.tier_id}
        super().__init__(*args, **kwargs)
        chosen = self.fields["country_code"]
        assert isinstance(chosen, forms.ChoiceField)
        chosen.choices = [("", "Choose a country"), *address.countries()]
        chosen.error_messages["invalid_choice"] = "This is no country known here. Choose one."
        chosen.widget.attrs["autocomplete"] = "off"
        self._fit_country(str(self["country_code"].value() or ""))

    def _fit_country(self, code: str) -> None:
        """Keep the fields this country prints, in its order and by its names."""
        self.address_fields: list[str] = []
        if code not in dict(address.countries()):
            for name in address.FIELDS:
                self._drop_unless_typed(name, "")
            return
        asked = address.address_rules(code)
        for name in address.FIELDS:
            if name not in asked.fields:
                self._drop_unless_typed(name, asked.labels[name])
        for name in asked.fields:
            field = self.fields[name]
            field.label = _capital(asked.labels[name])
            field.required = False  # the country's own sentence says so, not the browser
            if name not in asked.required:
                field.help_text = "May be empty."
            if name == "postal_code" and asked.postcode_example:
                field.help_text = f"Such as {asked.postcode_example}."
            if name == "country_area" and asked.areas:
                self._choose_area(asked, str(self[name].value() or ""))
        self.address_fields += asked.fields

    def _drop_unless_typed(self, name: str, label: str) -> None:
        """Take a field away that the country has not; what was typed stays to be seen."""
        if str(self[name].value() or "").strip():
            self.fields[name].label = _capital(label or name.replace("_", " "))
            self.address_fields.append(name)
        else:
            del self.fields[name]

    def _choose_area(self, asked: address.AddressRules, value: str) -> None:
        choices = list(asked.areas)
        if value and value not in dict(choices):
            choices.append((value, value))
        label = f"Choose a {asked.labels['country_area']}"
        self.fields["country_area"].widget = forms.Select(choices=[("", label), *choices])

    def address_rows(self) -> list[Any]:
        """The bound fields of the address, in the country's order."""
        return [self[name] for name in self.address_fields]

    def clean(self) -> dict[str, Any]:
        """Check the address by its country, and the giver of a gift."""
        cleaned = super().clean() or {}
        fields = {name: cleaned.get(name, "") for name in address.FIELDS}
        code = cleaned.get("country_code", "")
        if "country_code" not in self.errors:
            causes = address.address_causes(country_code=code, fields=fields)
            for name, sentence in causes.items():
                self.add_error(name if name in self.fields else None, sentence)
        sentence_ = rules.can_be_gift(
            is_gift=cleaned.get("is_gift", False), gift_from=cleaned.get("gift_from", "")
        )
        if sentence_:
            self.add_error("gift_from", sentence_)
        return cleaned

    def wishes(self) -> dict[str, Any]:
        """The forms and the glazes they would rather not have, as the services take them."""
        return {name: self.cleaned_data[name] for name in WISHES}

    def values(self) -> dict[str, Any]:
        """What the services take: every field but the wishes."""
        cleaned = {name: self.cleaned_data.get(name, "") for name in address.FIELDS}
        given = {k: v for k, v in self.cleaned_data.items() if k not in WISHES}
        return {**cleaned, **given}


class TierForm(forms.Form):
    """A tier."""

    name = forms.CharField(label="Name", max_length=40)
    monthly = forms.CharField(
        label="Paid a month", max_length=20, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    weight = forms.IntegerField(
        label="Weight",
        min_value=1,
        max_value=100,
        initial=1,
        help_text="Counts only when the turn rule goes by weight: 2 has twice the turns of 1.",
    )

    def __init__(self, *args: Any, tier: Tier | None = None, **kwargs: Any) -> None:
        if tier is not None:
            shown = show_money(tier.monthly_pence, currency=the_studio().currency)
            kwargs["initial"] = {"name": tier.name, "monthly": shown, "weight": tier.weight}
        super().__init__(*args, **kwargs)

    def clean_monthly(self) -> int:
        """Read the amount [pence]."""
        try:
            return read_money(self.cleaned_data["monthly"], currency=the_studio().currency)
        except BadMoney as problem:
            raise ValidationError(problem.sentence) from problem

    def values(self) -> dict[str, Any]:
        """What the service asks for."""
        cleaned = self.cleaned_data
        return {
            "name": cleaned["name"],
            "monthly_pence": cleaned["monthly"],
            "weight": cleaned["weight"],
        }


class TurnRuleForm(forms.Form):
    """Who has a turn."""

    months_needed = forms.IntegerField(
        label="Paid months before a first turn", min_value=0, max_value=120
    )
    equal_turns = forms.TypedChoiceField(
        label="Turns",
        choices=[("yes", "the same for every tier"), ("no", "by the weight of the tier")],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, rule: TurnRule, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "months_needed": rule.months_needed,
            "equal_turns": "yes" if rule.equal_turns else "no",
        }
        super().__init__(*args, **kwargs)


def _months(label: str, *, help_text: str = "") -> forms.CharField:
    return forms.CharField(label=label, required=False, max_length=2000, help_text=help_text)


class PaymentsForm(forms.Form):
    """The months of one supporter: paid, refunded, failed."""

    paid = _months("Paid months", help_text="Such as 2026-01..2026-06, 2026-08.")
    refunded = _months("Refunded months", help_text="Paid and given back: they do not count.")
    failed = _months("Failed months", help_text="The payment never came in: they do not count.")

    def clean(self) -> dict[str, Any]:
        """Read the months and ranges of each box, as ``states``."""
        cleaned = super().clean() or {}
        states: dict[str, tuple[int, ...]] = {}
        for state in Payment.State.values:
            try:
                states[state] = rules.read_months(cleaned.get(state, ""))
            except rules.BadMonth as problem:
                self.add_error(state, str(problem))
        return {**cleaned, "states": states}


class PauseForm(forms.Form):
    """From which month to which somebody pauses."""

    from_month = MonthField(label="Paused from")
    to_month = MonthField(
        label="To, that month too", required=False, help_text="Empty until they say so."
    )
