"""What did a thermocouple say during a firing, and what is known of each kiln from that?"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from studio.firings.models.firings import Firing
from studio.firings.models.kilns import Kiln


class FiringLog(models.Model):
    """The readings of a firing, thinned: exact at their turns, elsewhere within ``error_c``.

    A log that was taken away stays as a row, so that it can be brought back.
    """

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="logs")
    file_name = models.CharField(max_length=120)
    sensor = models.CharField(max_length=40, help_text="the one that counts")
    series = models.JSONField(help_text="by sensor: its points, hours and °C, and their error")
    started_at = models.DateTimeField(null=True, blank=True)
    row_count = models.PositiveIntegerField()
    kept_count = models.PositiveIntegerField()
    named = models.JSONField(help_text="rows that were left out or put right: row, reason, kept")
    named_count = models.PositiveIntegerField()
    gaps = models.JSONField()
    taken_as = models.JSONField()
    peak_c = models.FloatField()
    heated_h = models.FloatField(help_text="from the first reading to the end of the heating")
    from_h = models.FloatField(
        null=True, blank=True, help_text="the part that is this firing's, in hours of the log"
    )
    until_h = models.FloatField(null=True, blank=True)
    is_away = models.BooleanField(default=False)

    class Meta:
        ordering = ["firing", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing"], condition=Q(is_away=False), name="one_log_of_a_firing"
            ),
            models.CheckConstraint(
                name="log_part_in_order",
                condition=Q(from_h__isnull=True, until_h__isnull=True)
                | Q(
                    from_h__isnull=False,
                    until_h__isnull=False,
                    from_h__gte=0,
                    until_h__gt=F("from_h"),
                ),
            ),
            models.CheckConstraint(
                name="log_rows_add_up",
                condition=Q(kept_count__gte=2, kept_count__lte=F("row_count")),
            ),
        ]

    def __str__(self) -> str:
        return self.file_name


class KilnFit(models.Model):
    """What a kiln's own logs and witness cones say of its thermocouple and its cooling.

    ``offset_c`` is added to every reading; without ``offset_spread_c`` too few cones were read.
    """

    kiln = models.OneToOneField(Kiln, on_delete=models.CASCADE, related_name="fit")
    offset_c = models.FloatField(default=0)
    offset_spread_c = models.FloatField(null=True, blank=True)
    cones = models.PositiveSmallIntegerField(default=0)
    cone_firings = models.PositiveSmallIntegerField(default=0)
    against = models.PositiveSmallIntegerField(default=0)
    above_h = models.FloatField()
    below_h = models.FloatField()
    logs_above = models.PositiveSmallIntegerField(default=0)
    logs_below = models.PositiveSmallIntegerField(default=0)
    spread_percent = models.PositiveSmallIntegerField()
    fitted_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="kiln_fit_possible",
                condition=Q(
                    offset_c__gte=-100,
                    offset_c__lte=100,
                    above_h__gte=0.1,
                    above_h__lte=100,
                    below_h__gte=0.1,
                    below_h__lte=100,
                ),
            )
        ]

    def __str__(self) -> str:
        return f"{self.kiln}: {self.offset_c:+.0f} °C"
