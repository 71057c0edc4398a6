"""A new bucket, a laboratory's result, what proves a line."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from studio.wares.forms.steps import day
from studio.wares.models import ProofRule


class BucketForm(forms.Form):
    """When a new bucket of a glaze was mixed."""

    mixed_date = day("The new bucket was mixed on")
    note = forms.CharField(
        label="What is other", max_length=120, required=False,
        help_text="another bag of frit, thinner, sieved twice",
    )  # fmt: skip


class LabForm(forms.Form):
    """One measured value from a laboratory's report."""

    lab = forms.CharField(label="Laboratory", max_length=80)
    tested_date = day("Tested on")
    method = forms.CharField(
        label="Method", max_length=80, help_text="as the report names it: solution, hours, standard"
    )
    measured = forms.CharField(
        label="What was measured", max_length=60, help_text="lead given off, cadmium given off"
    )
    is_below = forms.BooleanField(label="Less than this (not detected)", required=False)
    result = forms.DecimalField(
        label="Result", min_value=Decimal(0), max_digits=10, decimal_places=4
    )
    unit = forms.CharField(label="Unit", max_length=20, help_text="mg/l, mg/dm2")
    limit = forms.DecimalField(
        label="Limit", min_value=Decimal(0), max_digits=10, decimal_places=4, required=False,
        help_text="in the same unit; yours to look up where you sell",
    )  # fmt: skip
    limit_source = forms.CharField(
        label="Where the limit is written", max_length=120, required=False,
        help_text="rule or standard with number and year",
    )  # fmt: skip
    limit_date = day("Limit read on", required=False)
    note = forms.CharField(label="Note", max_length=200, required=False)


class StartForm(forms.Form):
    """How many good ones are wanted, and how surely."""

    wanted = forms.IntegerField(label="Firsts wanted", min_value=1, max_value=200)
    chance = forms.TypedChoiceField(
        label="How surely", coerce=int,
        choices=[("50", "as likely as not"), ("80", "8 in 10"), ("90", "9 in 10"),
                 ("95", "19 in 20")],
    )  # fmt: skip


if_not = ProofRule()


class ProofForm(forms.Form):
    """What the studio asks for before it calls a line proven."""

    firings = forms.IntegerField(label="Firings, at least", initial=if_not.firings)
    pieces = forms.IntegerField(label="Pieces, at least", initial=if_not.pieces)
    good_percent = forms.IntegerField(
        label="Good of 100, at the low end", initial=if_not.good_percent,
        help_text="what the record shows with 95 chances in 100",
    )  # fmt: skip
    confirming = forms.IntegerField(
        label="Firings that confirm a new bucket or clay lot", initial=if_not.confirming
    )
    by_kiln = forms.BooleanField(label="Each kiln has to prove it", required=False)
    craze_days = forms.IntegerField(
        label="Days to look for late crazing before a line not proven is listed",
        initial=if_not.craze_days,
    )

    def values(self) -> dict[str, Any]:
        """What the service asks for."""
        return dict(self.cleaned_data)
