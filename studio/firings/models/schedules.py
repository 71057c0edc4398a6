"""By which programmes do they fire, and how long is a kiln busy with one?"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.craft.cones import cone_choices
from studio.craft.programme import FASTEST_C_PER_H, LONGEST_HOLD_MIN
from studio.firings.models.kilns import CONE_NAMES, Kiln


class Schedule(models.Model):
    """A firing programme."""

    class Kind(models.TextChoices):
        BISQUE = "bisque"
        GLAZE = "glaze"
        LUSTRE = "lustre"
        RAKU = "raku"

    class Cooling(models.TextChoices):
        NATURAL = "natural"
        SLOW = "slow"

    class Atmosphere(models.TextChoices):
        OXIDATION = "oxidation"
        REDUCTION = "reduction"
        SODA = "soda", "soda or salt"

    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=6, choices=Kind)
    cone = models.CharField(max_length=4, choices=cone_choices)
    cooling = models.CharField(max_length=7, choices=Cooling, default=Cooling.NATURAL)
    atmosphere = models.CharField(max_length=9, choices=Atmosphere, default=Atmosphere.OXIDATION)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="schedule_name_once"),
            models.CheckConstraint(name="schedule_named", condition=~Q(name="")),
            models.CheckConstraint(name="schedule_cone_known", condition=Q(cone__in=CONE_NAMES)),
            models.CheckConstraint(
                name="schedule_kind_known",
                condition=Q(kind__in=["bisque", "glaze", "lustre", "raku"]),
            ),
            models.CheckConstraint(
                name="schedule_cooling_known", condition=Q(cooling__in=["natural", "slow"])
            ),
            models.CheckConstraint(
                name="schedule_atmosphere_known",
                condition=Q(atmosphere__in=["oxidation", "reduction", "soda"]),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Segment(models.Model):
    """One row of a schedule: a rate to a target, then a hold. No rate is as fast as it can."""

    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="segments")
    seq = models.PositiveSmallIntegerField()
    # Not whole: 150 °F/h is 83.33 °C/h, and must come back as the 150 that was typed.
    rate_c_per_h = models.FloatField(null=True, blank=True)
    target_c = models.FloatField()
    hold_min = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["seq"]
        constraints = [
            models.UniqueConstraint(fields=["schedule", "seq"], name="segment_order_once"),
            models.CheckConstraint(
                name="segment_possible",
                condition=Q(seq__gte=1, target_c__gte=20, target_c__lte=1400)
                & (Q(rate_c_per_h__isnull=True) | Q(rate_c_per_h__gte=1)),
            ),
            models.CheckConstraint(
                name="segment_can_be_followed",
                condition=Q(hold_min__lte=LONGEST_HOLD_MIN)
                & (Q(rate_c_per_h__isnull=True) | Q(rate_c_per_h__lte=FASTEST_C_PER_H)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.seq}. to {self.target_c:.0f} °C"


class Run(models.Model):
    """How long one kiln is busy with one schedule, and what that costs."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="runs")
    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="runs")
    busy_days = models.PositiveSmallIntegerField(help_text="heating, cooling and unloading")
    energy_wh = models.PositiveIntegerField(null=True, blank=True)
    fuel_unit = models.CharField(
        max_length=6, blank=True, help_text="in which its usual gas or wood was said"
    )
    fuel_thousandths = models.PositiveIntegerField(null=True, blank=True)
    cost_pence = models.PositiveIntegerField()

    class Meta:
        ordering = ["kiln", "schedule"]
        constraints = [
            models.UniqueConstraint(fields=["kiln", "schedule"], name="run_once"),
            models.CheckConstraint(
                name="run_fuel_in_a_unit",
                condition=Q(fuel_unit="", fuel_thousandths__isnull=True)
                | Q(
                    fuel_unit__in=["kwh", "m3", "kg", "l", "bottle"],
                    fuel_thousandths__isnull=False,
                ),
            ),
            models.CheckConstraint(name="run_takes_a_day", condition=Q(busy_days__gte=1)),
            models.CheckConstraint(name="run_takes_30_days", condition=Q(busy_days__lte=30)),
        ]

    def __str__(self) -> str:
        return f"{self.schedule} in {self.kiln}"

    @property
    def energy_kwh(self) -> float | None:
        """The energy as a meter shows it."""
        return None if self.energy_wh is None else self.energy_wh / 1000
