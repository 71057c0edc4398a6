"""Which pieces does a potter want to see?"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import django_filters as df
from django import forms
from django.db.models import QuerySet
from django.utils import timezone

from studio.wares.models import Board, ClayLot, Coats, Form, Line, Piece, Stage

HERE = [
    ("here", "on hand"),
    ("free", "on hand and free"),
    ("promised", "promised"),
    ("gone", "gone, whichever way"),
    *[(parting.value, parting.label.lower()) for parting in Piece.Parting],
    ("all", "all that were ever made"),
]
MOST_DAYS = 36_500
STOOD_IN_IT = ["", "through", "lost"]
"""How a place in a load ends, or has not ended yet, other than by being taken out again."""


class WholeNumberFilter(df.Filter):
    """A whole number that a database can hold."""

    field_class = forms.IntegerField


def _schedules(_: Any) -> QuerySet[Any]:
    return Line._meta.get_field("schedule").related_model._default_manager.all()


def _firings(_: Any) -> QuerySet[Any]:
    firings = Piece._meta.get_field("glaze_firing").related_model._default_manager
    loaded = firings.filter(places__outcome__in=STOOD_IN_IT).distinct()
    return loaded.select_related("kiln", "schedule").order_by("-id")


class PieceFilter(df.FilterSet):
    """The pieces by everything that tells them apart."""

    number = WholeNumberFilter(label="Number", min_value=1, max_value=2_000_000_000)
    here = df.ChoiceFilter(
        label="Where", choices=HERE, method="filter_here", empty_label=None, required=False
    )
    stage = df.ChoiceFilter(label="Stage", choices=Stage.choices, empty_label="any")
    # The set takes declared filters out of its own names, so that ``form`` stays its form.
    form = df.ModelChoiceFilter(  # type: ignore[assignment]
        label="Form", queryset=Form.objects.all(), empty_label="any"
    )
    clay_lot = df.ModelChoiceFilter(
        label="Clay lot", queryset=ClayLot.objects.all(), empty_label="any"
    )
    coats = df.ModelChoiceFilter(label="Glaze", queryset=Coats.objects.all(), empty_label="any")
    schedule = df.ModelChoiceFilter(label="Schedule", queryset=_schedules, empty_label="any")  # type: ignore[arg-type]
    firing = df.ModelChoiceFilter(
        label="In the load of",
        queryset=_firings,  # type: ignore[arg-type]
        method="filter_firing",
        empty_label="any",
    )
    counted_in = df.ChoiceFilter(
        label="Counted in as",
        choices=Piece._meta.get_field("counted_in").choices,
        empty_label="any",
    )
    grade = df.ChoiceFilter(label="Grade", choices=Piece.Grade.choices, empty_label="any")
    board = df.ModelChoiceFilter(
        label="Board",
        queryset=Board.objects.filter(pieces__isnull=False).distinct(),
        empty_label="any",
    )
    min_age = WholeNumberFilter(
        label="Days old, at least", min_value=0, max_value=MOST_DAYS, method="filter_min_age"
    )
    max_age = WholeNumberFilter(
        label="Days old, at most", min_value=0, max_value=MOST_DAYS, method="filter_max_age"
    )

    class Meta:
        model = Piece
        fields: list[str] = []

    def filter_here(self, pieces: QuerySet[Piece], name: str, value: str) -> QuerySet[Piece]:
        """On hand, free, promised, gone, or all."""
        match value:
            case "here":
                return pieces.filter(parting="")
            case "free":
                return pieces.filter(parting="", reservation__isnull=True)
            case "promised":
                return pieces.filter(reservation__isnull=False)
            case "gone":
                return pieces.exclude(parting="")
            case "all":
                return pieces
        return pieces.filter(parting=value)

    def filter_firing(self, pieces: QuerySet[Piece], name: str, value: Any) -> QuerySet[Piece]:
        """All that stood in its load: what came through, what was lost, what is in there now."""
        stood = Piece.objects.filter(places__firing=value, places__outcome__in=STOOD_IN_IT)
        return pieces.filter(id__in=stood.values("id"))

    def filter_min_age(self, pieces: QuerySet[Piece], name: str, value: int) -> QuerySet[Piece]:
        """Made so many days ago or earlier."""
        return pieces.filter(made_date__lte=timezone.localdate() - timedelta(days=value))

    def filter_max_age(self, pieces: QuerySet[Piece], name: str, value: int) -> QuerySet[Piece]:
        """Made so many days ago or later."""
        return pieces.filter(made_date__gte=timezone.localdate() - timedelta(days=value))
