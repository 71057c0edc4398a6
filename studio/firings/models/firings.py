"""What was each firing meant to hold, and when did it heat, cool and open?"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from studio.craft.cones import cone_choices
from studio.firings.models.kilns import CONE_NAMES, Kiln
from studio.firings.models.schedules import Schedule
from studio.wares.models import ClayLot, Coats, Form


class Firing(models.Model):
    """One use of one kiln."""

    class State(models.TextChoices):
        PLANNED = "planned"
        LOADED = "loaded"
        FIRING = "firing"
        COOLING = "cooling"
        OPENED = "opened"
        CALLED_OFF = "called_off", "called off"

    class CostFrom(models.TextChoices):
        """Where the cost of an opened firing comes from."""

        USUAL = "usual", "usual cost"
        METER = "meter", "metered, by the tariff"
        ESTIMATE = "estimate", "estimated, by the tariff"
        STATED = "stated", "as written down"

    kiln = models.ForeignKey(Kiln, on_delete=models.PROTECT, related_name="firings")
    schedule = models.ForeignKey(Schedule, on_delete=models.PROTECT, related_name="firings")
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED)
    start_date = models.DateField()
    start_time = models.TimeField(
        null=True, blank=True, help_text="when it is lit; empty is the studio's usual time"
    )
    busy_days = models.PositiveSmallIntegerField()
    lit_at = models.DateTimeField(null=True, blank=True)
    off_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_c = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="inside when the lid was lifted"
    )
    peak_c = models.PositiveSmallIntegerField(null=True, blank=True)
    energy_wh = models.PositiveIntegerField(null=True, blank=True)
    meter_before_wh = models.PositiveBigIntegerField(null=True, blank=True)
    meter_after_wh = models.PositiveBigIntegerField(null=True, blank=True)
    fuel_unit = models.CharField(
        max_length=6, blank=True, help_text="in which its gas or wood was measured"
    )
    fuel_thousandths = models.PositiveIntegerField(null=True, blank=True)
    cost_pence = models.PositiveIntegerField(null=True, blank=True)
    cost_from = models.CharField(max_length=8, choices=CostFrom, blank=True)
    is_failed = models.BooleanField(
        default=False, help_text="it did not reach its cone: the ware stays as it was"
    )
    failed_why = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["start_date", "id"]
        constraints = [
            models.CheckConstraint(
                name="firing_state_known",
                condition=Q(
                    state__in=["planned", "loaded", "firing", "cooling", "opened", "called_off"]
                ),
            ),
            models.UniqueConstraint(
                fields=["kiln"],
                condition=Q(state__in=["loaded", "firing", "cooling"]),
                name="kiln_does_one_firing_at_a_time",
            ),
            models.CheckConstraint(name="firing_takes_a_day", condition=Q(busy_days__gte=1)),
            models.CheckConstraint(name="firing_takes_30_days", condition=Q(busy_days__lte=30)),
            models.CheckConstraint(
                name="firing_lit_when_it_heats",
                condition=Q(state__in=["planned", "loaded", "called_off"], lit_at__isnull=True)
                | Q(state__in=["firing", "cooling", "opened"], lit_at__isnull=False),
            ),
            models.CheckConstraint(
                name="firing_opened_with_a_time",
                condition=(Q(state="opened") & Q(opened_at__isnull=False))
                | (~Q(state="opened") & Q(opened_at__isnull=True)),
            ),
            models.CheckConstraint(
                name="firing_opened_after_lit",
                condition=Q(opened_at__isnull=True) | Q(opened_at__gt=F("lit_at")),
            ),
            models.CheckConstraint(
                name="firing_off_after_lit",
                condition=Q(off_at__isnull=True)
                | Q(state__in=["cooling", "opened"], lit_at__isnull=False, off_at__gt=F("lit_at")),
            ),
            models.CheckConstraint(
                name="firing_meter_runs_forward",
                condition=Q(meter_before_wh__isnull=True)
                | Q(meter_after_wh__isnull=True)
                | Q(meter_after_wh__gte=F("meter_before_wh")),
            ),
            models.CheckConstraint(
                name="firing_fuel_in_a_unit",
                condition=Q(fuel_unit="", fuel_thousandths__isnull=True)
                | Q(
                    fuel_unit__in=["kwh", "m3", "kg", "l", "bottle"],
                    fuel_thousandths__isnull=False,
                ),
            ),
            models.CheckConstraint(
                name="firing_cost_from_known",
                condition=Q(cost_from__in=["", "usual", "meter", "estimate", "stated"]),
            ),
            models.CheckConstraint(
                name="firing_failed_says_why",
                condition=Q(is_failed=False) | (Q(state="opened") & ~Q(failed_why="")),
            ),
            models.CheckConstraint(
                name="firing_cooling_was_switched_off",
                condition=~Q(state="cooling") | Q(off_at__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.schedule} in {self.kiln}, {self.start_date:%d %b}"

    @property
    def fuel_used(self) -> float | None:
        """The gas or wood it used, in its own unit."""
        return None if self.fuel_thousandths is None else self.fuel_thousandths / 1000

    @property
    def energy_kwh(self) -> float | None:
        """The energy as the meter showed it."""
        return None if self.energy_wh is None else self.energy_wh / 1000


class PlannedWare(models.Model):
    """What a planned firing is meant to hold. Coats are empty for a bisque firing."""

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="planned_wares")
    form = models.ForeignKey(Form, on_delete=models.PROTECT)
    clay_lot = models.ForeignKey(ClayLot, on_delete=models.PROTECT)
    coats = models.ForeignKey(Coats, on_delete=models.PROTECT, null=True, blank=True)
    count = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(name="planned_ware_counts", condition=Q(count__gte=1)),
            models.UniqueConstraint(
                fields=["firing", "form", "clay_lot", "coats"],
                condition=Q(coats__isnull=False),
                name="planned_line_once",
            ),
            models.UniqueConstraint(
                fields=["firing", "form", "clay_lot"],
                condition=Q(coats__isnull=True),
                name="planned_ware_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} {self.form}"


class WitnessCone(models.Model):
    """A cone put on a shelf and read when the kiln was opened."""

    class Bend(models.TextChoices):
        UP = "up", "still up"
        BENDING = "bending"
        DOWN = "down", "tip down"
        FLAT = "flat"

    class Where(models.TextChoices):
        TOP = "top"
        MIDDLE = "middle"
        BOTTOM = "bottom"

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="witness_cones")
    cone = models.CharField(max_length=4, choices=cone_choices)
    where = models.CharField(max_length=6, choices=Where)
    bend = models.CharField(max_length=7, choices=Bend)

    class Meta:
        ordering = ["where", "cone"]
        constraints = [
            models.UniqueConstraint(fields=["firing", "cone", "where"], name="witness_cone_once"),
            models.CheckConstraint(name="witness_cone_known", condition=Q(cone__in=CONE_NAMES)),
            models.CheckConstraint(
                name="witness_cone_read",
                condition=Q(where__in=["top", "middle", "bottom"])
                & Q(bend__in=["up", "bending", "down", "flat"]),
            ),
        ]

    def __str__(self) -> str:
        return f"cone {self.cone} {self.where}: {self.get_bend_display().lower()}"
