"""Which kilns are there, how do they fire, and what went in and came out of each firing?"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from studio.craft.cones import cone_choices
from studio.wares.models import Board, ClayLot, Coats, Form, Piece


class Circuit(models.Model):
    """A supply: how many of its kilns may heat at once."""

    name = models.CharField(max_length=40, unique=True)
    at_once = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(name="circuit_heats_one", condition=Q(at_once__gte=1))
        ]

    def __str__(self) -> str:
        return self.name


class Kiln(models.Model):
    """A kiln of the studio. Room is stated by the potter in tenths of a mug place."""

    class Fuel(models.TextChoices):
        ELECTRIC = "electric"
        GAS = "gas"
        WOOD = "wood"

    name = models.CharField(max_length=40)
    sides = models.PositiveSmallIntegerField(
        help_text="sides of the inside seen from above: 0 is round, 4 a box, 8, 10, 12 ..."
    )
    inside_width_mm = models.PositiveSmallIntegerField(help_text="across the flats")
    inside_depth_mm = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="front to back, for a box"
    )
    inside_height_mm = models.PositiveSmallIntegerField()
    shelf_count = models.PositiveSmallIntegerField(default=4)
    power_w = models.PositiveIntegerField(null=True, blank=True)
    top_cone = models.CharField(max_length=4, choices=cone_choices)
    fuel = models.CharField(max_length=8, choices=Fuel, default=Fuel.ELECTRIC)
    circuit = models.ForeignKey(Circuit, on_delete=models.PROTECT)
    glaze_room_tenths = models.PositiveIntegerField(help_text="mug places in a glaze load x 10")
    bisque_room_tenths = models.PositiveIntegerField(help_text="mug places in a bisque load x 10")
    takes_trials = models.BooleanField(default=False, help_text="untried lines go in here first")

    class Meta:
        ordering = ["glaze_room_tenths", "name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="kiln_name_once"),
            models.CheckConstraint(
                name="kiln_has_room",
                condition=Q(
                    inside_width_mm__gte=1,
                    inside_height_mm__gte=1,
                    glaze_room_tenths__gte=10,
                    bisque_room_tenths__gte=10,
                ),
            ),
            models.CheckConstraint(
                name="kiln_shape_possible", condition=Q(sides=0) | Q(sides__gte=4, sides__lte=16)
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Schedule(models.Model):
    """A firing programme."""

    class Kind(models.TextChoices):
        BISQUE = "bisque"
        GLAZE = "glaze"

    class Cooling(models.TextChoices):
        NATURAL = "natural"
        SLOW = "slow"

    class Atmosphere(models.TextChoices):
        OXIDATION = "oxidation"
        REDUCTION = "reduction"

    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=6, choices=Kind)
    cone = models.CharField(max_length=4, choices=cone_choices)
    cooling = models.CharField(max_length=7, choices=Cooling, default=Cooling.NATURAL)
    atmosphere = models.CharField(max_length=9, choices=Atmosphere, default=Atmosphere.OXIDATION)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="schedule_name_once"),
            models.CheckConstraint(
                name="schedule_kind_known", condition=Q(kind__in=["bisque", "glaze"])
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
        ]

    def __str__(self) -> str:
        return f"{self.seq}. to {self.target_c:.0f} °C"


class Run(models.Model):
    """How long one kiln is busy with one schedule, and what that costs."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="runs")
    schedule = models.ForeignKey(Schedule, on_delete=models.CASCADE, related_name="runs")
    busy_days = models.PositiveSmallIntegerField(help_text="heating, cooling and unloading")
    energy_wh = models.PositiveIntegerField(null=True, blank=True)
    cost_pence = models.PositiveIntegerField()

    class Meta:
        ordering = ["kiln", "schedule"]
        constraints = [
            models.UniqueConstraint(fields=["kiln", "schedule"], name="run_once"),
            models.CheckConstraint(name="run_takes_a_day", condition=Q(busy_days__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.schedule} in {self.kiln}"

    @property
    def energy_kwh(self) -> float | None:
        """The energy as a meter shows it."""
        return None if self.energy_wh is None else self.energy_wh / 1000


class Firing(models.Model):
    """One use of one kiln."""

    class State(models.TextChoices):
        PLANNED = "planned"
        LOADED = "loaded"
        FIRING = "firing"
        COOLING = "cooling"
        OPENED = "opened"
        CALLED_OFF = "called_off", "called off"

    kiln = models.ForeignKey(Kiln, on_delete=models.PROTECT, related_name="firings")
    schedule = models.ForeignKey(Schedule, on_delete=models.PROTECT, related_name="firings")
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED)
    start_date = models.DateField()
    busy_days = models.PositiveSmallIntegerField()
    lit_at = models.DateTimeField(null=True, blank=True)
    off_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_c = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="inside when the lid was lifted"
    )
    peak_c = models.PositiveSmallIntegerField(null=True, blank=True)
    energy_wh = models.PositiveIntegerField(null=True, blank=True)
    cost_pence = models.PositiveIntegerField(null=True, blank=True)
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
                name="firing_cooling_was_switched_off",
                condition=~Q(state="cooling") | Q(off_at__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.schedule} in {self.kiln}, {self.start_date:%d %b}"

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


class Place(models.Model):
    """A piece standing in a load, and what became of it when the kiln was opened."""

    class Outcome(models.TextChoices):
        THROUGH = "through"
        LOST = "lost"
        TAKEN_OUT = "taken_out", "taken out again"

    firing = models.ForeignKey(Firing, on_delete=models.PROTECT, related_name="places")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="places")
    board = models.ForeignKey(Board, on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=9, choices=Outcome, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "piece"],
                condition=~Q(outcome="taken_out"),
                name="piece_once_in_a_load",
            ),
            models.UniqueConstraint(
                fields=["piece"], condition=Q(outcome=""), name="piece_in_one_open_load"
            ),
            models.CheckConstraint(
                name="outcome_known", condition=Q(outcome__in=["", "through", "lost", "taken_out"])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece} in {self.firing}"


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
            models.CheckConstraint(
                name="witness_cone_read",
                condition=Q(where__in=["top", "middle", "bottom"])
                & Q(bend__in=["up", "bending", "down", "flat"]),
            ),
        ]

    def __str__(self) -> str:
        return f"cone {self.cone} {self.where}: {self.get_bend_display().lower()}"


class TrialRule(models.Model):
    """The one row that says how small an untried line is fired first, and what follows.

    The defaults are common practice, no source.
    """

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    least_pieces = models.PositiveSmallIntegerField(
        default=2, help_text="enough of an untried line to learn from"
    )
    most_pieces = models.PositiveSmallIntegerField(
        default=6, help_text="of an untried line in one load: few enough to lose"
    )
    share_percent = models.PositiveSmallIntegerField(
        default=25, help_text="of a kiln's room that a line on trial may take"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(name="trial_rule_is_one", condition=Q(id=1)),
            models.CheckConstraint(
                name="trial_rule_sizes",
                condition=Q(least_pieces__gte=1, most_pieces__gte=F("least_pieces")),
            ),
            models.CheckConstraint(
                name="trial_rule_share", condition=Q(share_percent__gte=1, share_percent__lte=100)
            ),
        ]

    def __str__(self) -> str:
        return f"trials of {self.least_pieces} to {self.most_pieces}"
