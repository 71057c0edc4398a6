"""Which results in the test book does a potter want to see?"""

from __future__ import annotations

import django_filters as df
from django.db.models import QuerySet

from studio.firings.models import Kiln, Result, Schedule
from studio.wares.models import ClayLot, Coats


class BookFilter(df.FilterSet):
    """The results by clay, glaze, schedule and kiln."""

    clay_lot = df.ModelChoiceFilter(
        label="Clay lot", field_name="place__piece__clay_lot", queryset=ClayLot.objects.all(),
        empty_label="any",
    )  # fmt: skip
    coats = df.ModelChoiceFilter(
        label="Glaze", field_name="place__piece__coats", queryset=Coats.objects.all(),
        empty_label="any",
    )  # fmt: skip
    schedule = df.ModelChoiceFilter(
        label="Schedule", field_name="firing__schedule",
        queryset=Schedule.objects.filter(kind="glaze"), empty_label="any",
    )  # fmt: skip
    kiln = df.ModelChoiceFilter(
        label="Kiln", field_name="firing__kiln", queryset=Kiln.objects.all(), empty_label="any"
    )

    class Meta:
        model = Result
        fields: tuple[str, ...] = ()

    @property
    def shown(self) -> QuerySet[Result]:
        """What is asked for; nothing when the question cannot be read, its page says why."""
        found: QuerySet[Result] = self.qs
        return found if not self.is_bound or self.form.is_valid() else found.none()
