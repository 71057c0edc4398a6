"""Which supporters does a person want to see?"""

from __future__ import annotations

from typing import Any

import django_filters as df
from django.db.models import Q, QuerySet
from django.utils import timezone

from studio.parcels import rules, selectors
from studio.parcels.models import Supporter, Tier


def _countries() -> list[tuple[str, str]]:
    return selectors.countries_used()


class SupporterFilter(df.FilterSet):
    """The supporters by country, tier, pause and a word of their name or their number.

    Not by e-mail: what is chosen here stands in the URL, which browsers and servers keep.
    """

    search = df.CharFilter(label="Name or number", method="filter_search")
    country = df.ChoiceFilter(
        label="Country", field_name="country_code", choices=_countries, empty_label="any"
    )
    tier = df.ModelChoiceFilter(label="Tier", queryset=Tier.objects.all(), empty_label="any")
    paused = df.ChoiceFilter(
        label="Active or paused",
        choices=[("no", "active"), ("yes", "paused"), ("left", "left")],
        method="filter_paused",
        empty_label="either",
    )

    class Meta:
        model = Supporter
        fields: list[str] = []

    def filter_search(
        self, people: QuerySet[Supporter], name: str, value: str
    ) -> QuerySet[Supporter]:
        """Every word must stand in the name; a number alone finds that one too."""
        for word in value.split():
            fits = Q(name__icontains=word)
            if word.isascii() and word.isdigit() and len(word) < 10:
                fits |= Q(number=int(word))
            people = people.filter(fits)
        return people

    def filter_paused(
        self, people: QuerySet[Supporter], name: str, value: Any
    ) -> QuerySet[Supporter]:
        """Active, paused in this month, or gone by it."""
        month = rules.month_of(timezone.localdate())
        seen = Supporter.objects
        match value:
            case "left":
                fits = seen.gone_by(month)
            case "yes":
                fits = seen.paused_in(month)
            case _:
                fits = seen.active_in(month)
        return people.filter(id__in=fits.values("id"))
