"""What was seen of a firing's ware, and what does its energy cost?"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.firings.models.firings import Firing
from studio.firings.models.kilns import Kiln
from studio.firings.models.loads import Place
from studio.wares.models import Photo


class Result(models.Model):
    """A photograph or words on what came out: of one place in the load, or of all of it."""

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="seen_results")
    place = models.ForeignKey(
        Place, on_delete=models.CASCADE, null=True, blank=True, related_name="results"
    )
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True)
    words = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [
            models.CheckConstraint(
                name="result_shows_something", condition=Q(photo__isnull=False) | ~Q(words="")
            ),
        ]

    def __str__(self) -> str:
        return self.words or f"photograph of {self.firing}"


class FuelPrice(models.Model):
    """What a unit of gas or of wood costs the studio; electricity has its ``Tariff``."""

    class Unit(models.TextChoices):
        """How the studio buys it: by the meter, by weight, by the bottle or by the stack."""

        KWH = "kwh", "kWh"
        M3 = "m3", "m³"
        KG = "kg", "kg"
        LITRE = "l", "l"
        BOTTLE = "bottle", "bottles"

    fuel = models.CharField(max_length=8, primary_key=True, choices=Kiln.Fuel)
    unit = models.CharField(max_length=6, choices=Unit)
    price_hundredths = models.PositiveIntegerField(
        help_text="of the smallest coin for one unit: 2.10 for one kg are 21000"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="fuel_price_fuel_known", condition=Q(fuel__in=["gas", "wood"])
            ),
            models.CheckConstraint(
                name="fuel_price_unit_known",
                condition=Q(unit__in=["kwh", "m3", "kg", "l", "bottle"]),
            ),
            models.CheckConstraint(
                name="fuel_price_possible",
                condition=Q(price_hundredths__gte=1, price_hundredths__lte=10_000_000),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.price} for one {self.get_unit_display()} of {self.fuel}"

    @property
    def price(self) -> str:
        """What one unit costs, in the smallest coin."""
        return f"{self.price_hundredths / 100:.2f}"


class Tariff(models.Model):
    """The one row that says what electricity costs the studio."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    price_hundredths = models.PositiveIntegerField(
        help_text="of the smallest coin for one kWh: 28.5 pence are 2850"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(name="tariff_is_one", condition=Q(id=1)),
            models.CheckConstraint(
                name="tariff_possible",
                condition=Q(price_hundredths__gte=1, price_hundredths__lte=1_000_000),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.price_hundredths / 100:.2f} for one kWh"
