"""When was each part of a kiln changed or looked at, and when is it due again?"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from studio.craft.cones import cone_choices
from studio.firings.models.kilns import CONE_NAMES, Kiln


class Part(models.TextChoices):
    """What of a kiln is cared for."""

    ELEMENTS = "elements"
    THERMOCOUPLE = "thermocouple"
    RELAYS = "relays"
    SHELVES = "shelves", "shelves and kiln wash"
    VENT = "vent", "ventilation"


class Care(models.Model):
    """A part of a kiln was changed or looked at on a day."""

    class Did(models.TextChoices):
        CHANGED = "changed"
        LOOKED = "looked", "looked at"

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="cares")
    part = models.CharField(max_length=12, choices=Part)
    did = models.CharField(max_length=7, choices=Did)
    on_date = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    kept_at = models.DateTimeField(
        default=timezone.now,
        help_text="when it was written down; a later word of the potter counts",
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-on_date", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["kiln", "part", "did", "on_date"], name="care_once"),
            models.CheckConstraint(
                name="care_known",
                condition=Q(part__in=["elements", "thermocouple", "relays", "shelves", "vent"])
                & Q(did__in=["changed", "looked"]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_part_display()} {self.get_did_display()}, {self.on_date:%d %b %Y}"


class CareRule(models.Model):
    """After how many firings or days a part of a kiln is due; empty is never."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="care_rules")
    part = models.CharField(max_length=12, choices=Part)
    look_firings = models.PositiveSmallIntegerField(null=True, blank=True)
    look_days = models.PositiveSmallIntegerField(null=True, blank=True)
    change_firings = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kiln", "part"], name="care_rule_once"),
            models.CheckConstraint(
                name="care_rule_part_known",
                condition=Q(part__in=["elements", "thermocouple", "relays", "shelves", "vent"]),
            ),
            models.CheckConstraint(
                name="care_rule_counts",
                condition=(Q(look_firings__isnull=True) | Q(look_firings__gte=1))
                & (Q(look_days__isnull=True) | Q(look_days__gte=1))
                & (Q(change_firings__isnull=True) | Q(change_firings__gte=1)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kiln}: {self.get_part_display()}"


class ElementLife(models.Model):
    """How many firings at a cone wear a kiln's elements out, by the studio's own word."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="element_lives")
    cone = models.CharField(max_length=4, choices=cone_choices)
    firings = models.PositiveIntegerField()

    class Meta:
        ordering = ["kiln", "cone"]
        constraints = [
            models.UniqueConstraint(fields=["kiln", "cone"], name="element_life_once"),
            models.CheckConstraint(name="element_life_cone", condition=Q(cone__in=CONE_NAMES)),
            models.CheckConstraint(name="element_life_counts", condition=Q(firings__gte=1)),
        ]

    def __str__(self) -> str:
        return f"cone {self.cone}: {self.firings}"
