"""Which kilns are there, and what may heat at once?"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from studio.craft.cones import cone_choices

CONE_NAMES = [name for name, _ in cone_choices()]


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

    class Side(models.TextChoices):
        """Walls as one stands before the kiln."""

        BACK = "back"
        FRONT = "front"
        LEFT = "left"
        RIGHT = "right"

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
    shelf_gap_mm = models.PositiveSmallIntegerField(default=13, help_text="shelf's edge to wall")
    wall_mm = models.PositiveSmallIntegerField(default=13, help_text="ware to wall")
    lid_mm = models.PositiveSmallIntegerField(default=25, help_text="kept free under the lid")
    floor_post_mm = models.PositiveSmallIntegerField(
        default=13, help_text="posts under the lowest shelf"
    )
    post_across_mm = models.PositiveSmallIntegerField(default=32, help_text="how wide a post is")
    probe_side = models.CharField(
        max_length=5, choices=Side, blank=True, help_text="the wall the thermocouple comes through"
    )
    probe_in_mm = models.PositiveSmallIntegerField(
        default=0, help_text="how far the thermocouple reaches in"
    )
    probe_height_mm = models.PositiveSmallIntegerField(
        default=0, help_text="the thermocouple over the kiln's floor"
    )

    class Meta:
        ordering = ["glaze_room_tenths", "name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="kiln_name_once"),
            models.CheckConstraint(name="kiln_named", condition=~Q(name="")),
            models.CheckConstraint(name="kiln_cone_known", condition=Q(top_cone__in=CONE_NAMES)),
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
            # Without the first half a box of no depth is neither true nor false, and let in.
            models.CheckConstraint(
                name="kiln_box_has_depth",
                condition=~Q(sides=4) | Q(inside_depth_mm__isnull=False, inside_depth_mm__gte=1),
            ),
            models.CheckConstraint(
                name="kiln_fuel_known", condition=Q(fuel__in=["electric", "gas", "wood"])
            ),
            models.CheckConstraint(
                name="kiln_clearances_possible",
                condition=Q(
                    shelf_gap_mm__lte=200,
                    wall_mm__lte=200,
                    lid_mm__lte=500,
                    floor_post_mm__lte=300,
                    post_across_mm__gte=5,
                    post_across_mm__lte=150,
                ),
            ),
            models.CheckConstraint(
                name="kiln_probe_inside",
                condition=Q(probe_side="", probe_in_mm=0, probe_height_mm=0)
                | Q(
                    probe_side__in=["back", "front", "left", "right"],
                    probe_in_mm__gte=1,
                    probe_in_mm__lt=F("inside_width_mm"),
                    probe_height_mm__lt=F("inside_height_mm"),
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ShelfStock(models.Model):
    """The shelves of one kind and thickness that a kiln owns."""

    class Kind(models.TextChoices):
        WHOLE = "whole"
        HALF = "half"

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="shelves")
    kind = models.CharField(max_length=5, choices=Kind, default=Kind.WHOLE)
    thickness_mm = models.PositiveSmallIntegerField(default=16)
    count = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["kind", "thickness_mm"]
        constraints = [
            models.UniqueConstraint(fields=["kiln", "kind", "thickness_mm"], name="shelves_once"),
            models.CheckConstraint(
                name="shelves_real",
                condition=Q(
                    kind__in=["whole", "half"],
                    thickness_mm__gte=3,
                    thickness_mm__lte=60,
                    count__gte=1,
                    count__lte=40,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} {self.kind}, {self.thickness_mm} mm"


class PostStock(models.Model):
    """The posts of one height that a kiln owns."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="posts")
    height_mm = models.PositiveSmallIntegerField()
    count = models.PositiveSmallIntegerField(help_text="single posts; three hold a shelf")

    class Meta:
        ordering = ["height_mm"]
        constraints = [
            models.UniqueConstraint(fields=["kiln", "height_mm"], name="posts_once"),
            models.CheckConstraint(
                name="posts_real",
                condition=Q(height_mm__gte=10, height_mm__lte=600, count__gte=1, count__lte=180),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} of {self.height_mm} mm"
