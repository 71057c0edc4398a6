"""What proves a line, and what did a laboratory find in its glaze?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from studio.wares.models.catalogue import ClayLot, Coats, Line

if TYPE_CHECKING:
    from studio.firings.models import Kiln, Schedule


class ProofRule(models.Model):
    """The one row that says when a line is proven. The defaults are our own measure, no source."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    firings = models.PositiveSmallIntegerField(default=3)
    pieces = models.PositiveSmallIntegerField(default=12)
    good_percent = models.PositiveSmallIntegerField(default=80)
    confirming = models.PositiveSmallIntegerField(
        default=1, help_text="firings that confirm a new bucket or clay lot"
    )
    by_kiln = models.BooleanField(default=False, help_text="each kiln has to prove it")
    craze_days = models.PositiveSmallIntegerField(
        default=7, help_text="days that a line not proven is looked at for late crazing"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(name="proof_rule_is_one", condition=Q(id=1)),
            models.CheckConstraint(
                name="proof_rule_sizes",
                condition=Q(firings__gte=1, firings__lte=99, pieces__gte=1, pieces__lte=999)
                & Q(good_percent__gte=1, good_percent__lte=99)
                & Q(confirming__gte=1, confirming__lte=F("firings"))
                & Q(craze_days__lte=365),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.firings} firings, {self.pieces} pieces, {self.good_percent} %"


class KilnTrial(models.Model):
    """A line is on trial in one kiln, since that kiln's elements or thermocouple were changed.

    Read from the record like ``Line.standing``, and with it (``services.standing.restand``).
    """

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="kiln_trials")
    kiln: models.ForeignKey[Kiln, Kiln] = models.ForeignKey(
        "firings.Kiln", on_delete=models.CASCADE, related_name="kiln_trials"
    )
    said = models.CharField(max_length=300)

    class Meta:
        ordering = ["line", "kiln"]
        constraints = [
            models.UniqueConstraint(fields=["line", "kiln"], name="kiln_trial_once"),
            models.CheckConstraint(name="kiln_trial_says_why", condition=~Q(said="")),
        ]

    def __str__(self) -> str:
        return f"{self.line} in {self.kiln}"


class LabResult(models.Model):
    """What a laboratory measured on fired ware. The limit is our entry, with its source."""

    coats = models.ForeignKey(Coats, on_delete=models.PROTECT, related_name="lab_results")
    clay_lot = models.ForeignKey(ClayLot, on_delete=models.PROTECT, related_name="lab_results")
    schedule: models.ForeignKey[Schedule, Schedule] = models.ForeignKey(
        "firings.Schedule", on_delete=models.PROTECT, related_name="lab_results"
    )
    lab = models.CharField(max_length=80)
    tested_date = models.DateField()
    method = models.CharField(max_length=80)
    measured = models.CharField(max_length=60)
    is_below = models.BooleanField(
        default=False, help_text="less than the smallest the lab can see"
    )
    result = models.DecimalField(max_digits=10, decimal_places=4)
    unit = models.CharField(max_length=20)
    limit = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    limit_source = models.CharField(max_length=120, blank=True)
    limit_date = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-tested_date", "measured", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["coats", "clay_lot", "schedule", "lab", "tested_date", "measured"],
                name="lab_result_once",
            ),
            models.CheckConstraint(
                name="lab_result_told",
                condition=~Q(lab="")
                & ~Q(method="")
                & ~Q(measured="")
                & ~Q(unit="")
                & Q(result__gte=0),
            ),
            models.CheckConstraint(
                name="lab_limit_has_a_source",
                condition=Q(limit__isnull=True)
                | (Q(limit__gte=0, limit_date__isnull=False) & ~Q(limit_source="")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.measured} by {self.lab}, {self.tested_date:%d %b %Y}"

    @property
    def is_over(self) -> bool:
        """Whether the result lies above the limit that was entered with it."""
        return self.limit is not None and self.result > self.limit
