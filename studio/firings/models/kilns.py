"""Which kilns are there, and what may heat at once?"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.craft.cones import cone_choices


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
