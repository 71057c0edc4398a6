"""What does a person type about a sale, and what does the room read from it?"""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from studio.craft.money import BadMoney, read_money, show_money
from studio.sales.models import SaleDay
from studio.sales.selectors import OfferGroup
from studio.web.fields import row_number
from studio.web.selectors import the_studio

AT = "%Y-%m-%dT%H:%M"


def _at(label: str, *, required: bool = True) -> forms.DateTimeField:
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format=AT)
    return forms.DateTimeField(label=label, required=required, widget=widget)


class SaleDayForm(forms.Form):
    """A sale day. Times are of the studio's time zone."""

    name = forms.CharField(label="Name", max_length=60)
    members_at = _at("Members may buy from")
    public_at = _at("Everyone may buy from")
    closes_at = _at("Closes", required=False)
    buffer_days = forms.IntegerField(
        label="Days in hand",
        min_value=0,
        max_value=60,
        initial=3,
        help_text="All should be listed so many days before the members' hour.",
    )
    importance = forms.IntegerField(
        label="How much it matters",
        min_value=1,
        max_value=9,
        initial=1,
        help_text="1 to 9. When not everything can be made, the higher date is served first.",
    )

    def __init__(self, *args: Any, sale_day: SaleDay | None = None, **kwargs: Any) -> None:
        if sale_day is not None:
            kwargs["initial"] = {
                "name": sale_day.name,
                "members_at": sale_day.members_at,
                "public_at": sale_day.public_at,
                "closes_at": sale_day.closes_at,
                "buffer_days": sale_day.buffer_days,
                "importance": sale_day.importance,
            }
        super().__init__(*args, **kwargs)
        zone = timezone.get_current_timezone_name()
        self.fields["members_at"].help_text = f"In the studio's time zone, {zone}."
        self.fields["closes_at"].help_text = "Empty keeps it open."


class OfferForm(forms.Form):
    """How many free pieces are listed, or which, and for how much: by line and grade.

    With ``fill``, as many of each line as are short stand in its box already.
    """

    piece = forms.TypedMultipleChoiceField(coerce=int, required=False)

    def __init__(
        self, *args: Any, groups: list[OfferGroup], fill: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.groups = groups
        currency = the_studio().currency
        chosen = self.fields["piece"]
        assert isinstance(chosen, forms.TypedMultipleChoiceField)
        chosen.choices = [(p.id, str(p)) for group in groups for p in group.pieces]
        for group in groups:
            known = group.price_pence
            self.fields[self.box("price", group)] = forms.CharField(
                label="Price each",
                required=False,
                initial="" if known is None else show_money(known, currency=currency),
                max_length=20,
                widget=forms.TextInput(attrs={"inputmode": "decimal"}),
            )
            self.fields[self.box("count", group)] = forms.IntegerField(
                label="List how many",
                required=False,
                min_value=0,
                max_value=len(group.pieces),
                initial=min(group.wanted, len(group.pieces)) or None if fill else None,
                widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
                error_messages={"max_value": f"Only {len(group.pieces)} are free."},
            )
            self.fields[self.box("all", group)] = forms.BooleanField(
                label=f"All {len(group.pieces)}", required=False
            )

    @staticmethod
    def box(name: str, group: OfferGroup) -> str:
        """The name of a group's box: price, count or all."""
        return f"{name}-{group.key}"

    def rows(self) -> list[dict[str, Any]]:
        """Each group with its boxes and what is ticked, for the page."""
        ticked = {str(value) for value in self["piece"].value() or []}
        return [
            {
                "group": group,
                **{name: self[self.box(name, group)] for name in ("price", "count", "all")},
                "pieces": [(piece, str(piece.id) in ticked) for piece in group.pieces],
                "some_ticked": (some := any(str(piece.id) in ticked for piece in group.pieces)),
                "is_open": bool(some or group.wanted or self._touched(group)),
            }
            for group in self.groups
        ]

    def _touched(self, group: OfferGroup) -> bool:
        """Was something asked of this group, or is something wrong with it?"""
        count, price = self.box("count", group), self.box("price", group)
        return bool(
            self[count].value()
            or self[self.box("all", group)].value()
            or {count, price} & set(self.errors)
        )

    def clean(self) -> dict[str, Any]:
        """Read the price of every group something was chosen of: ``prices_pence`` by piece."""
        cleaned = super().clean() or {}
        prices: dict[int, int] = {}
        for group in self.groups:
            ids = self._chosen(group, cleaned)
            if not ids:
                continue
            name = self.box("price", group)
            try:
                price = read_money(cleaned.get(name, ""), currency=the_studio().currency)
            except BadMoney as problem:
                self.add_error(name, f"{group.name}, {group.grade}: {problem.sentence}")
                continue
            prices |= dict.fromkeys(ids, price)
        if not prices and not self.errors:
            raise ValidationError("Choose at least one piece to list.")
        cleaned["prices_pence"] = prices
        return cleaned

    def _chosen(self, group: OfferGroup, cleaned: dict[str, Any]) -> list[int]:
        """All of a group; or what is ticked, filled up by number to as many as are asked for."""
        ids = [piece.id for piece in group.pieces]
        if cleaned.get(self.box("all", group)):
            return ids
        ticked = [id_ for id_ in ids if id_ in set(cleaned.get("piece", []))]
        more = max(0, (cleaned.get(self.box("count", group)) or 0) - len(ticked))
        return [*ticked, *[id_ for id_ in ids if id_ not in ticked][:more]]


class ListedForm(forms.Form):
    """Which listed pieces are meant, by tick or by number, and what is done with them."""

    piece = forms.TypedMultipleChoiceField(
        coerce=int,
        required=False,
        error_messages={
            "invalid_choice": "One of the pieces is not listed for this sale any more."
        },
    )
    numbers = forms.CharField(required=False, max_length=400)
    do = forms.ChoiceField(
        choices=[("sell", "Sold"), ("claim", "Claim"), ("release", "Release"),
                 ("take_back", "Take off the list")]
    )  # fmt: skip
    for_whom = forms.CharField(required=False, max_length=120)
    to_claimants = forms.BooleanField(required=False)

    def __init__(self, *args: Any, sale_day: SaleDay, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sale_day = sale_day
        rows = sale_day.listings.values_list("piece__number", "piece_id").order_by()
        self.by_number = {number: id_ for number, id_ in rows if number is not None}
        chosen = self.fields["piece"]
        assert isinstance(chosen, forms.TypedMultipleChoiceField)
        chosen.choices = [(id_, str(id_)) for id_ in self.by_number.values()]

    def clean_numbers(self) -> list[int]:
        """The pieces with the typed numbers. Whatever is no digit stands between two of them."""
        numbers = [int(digits) for digits in re.findall("[0-9]{1,9}", self.cleaned_data["numbers"])]
        unknown = [str(number) for number in numbers if number not in self.by_number]
        if unknown:
            some = " and ".join(filter(None, [", ".join(unknown[:-1]), unknown[-1]]))
            is_not = "is not" if len(unknown) == 1 else "are not"
            raise ValidationError(
                f"No. {some} {is_not} listed for {self.sale_day}. Look at the pot again."
            )
        return [self.by_number[number] for number in numbers]

    def clean(self) -> dict[str, Any]:
        """All pieces that are meant: ``ids``."""
        cleaned = super().clean() or {}
        cleaned["ids"] = {*cleaned.get("piece", []), *cleaned.get("numbers", [])}
        # Enter in the name's box presses the form's first button, which sells.
        if cleaned.get("do") == "sell" and cleaned.get("for_whom"):
            raise ValidationError(
                f"{cleaned['for_whom']} stands as who they are held for. Press “Claim for this"
                " name”, or empty that box and mark them sold."
            )
        if not cleaned["ids"] and not self.errors:
            raise ValidationError("Choose at least one piece.")
        return cleaned

    def ticked(self) -> set[int]:
        """The pieces that stand ticked when the form is shown again."""
        numbers = (row_number(str(value)) for value in self["piece"].value() or [])
        return {number for number in numbers if number is not None}
