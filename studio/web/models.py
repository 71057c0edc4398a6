"""What was done, by whom, and which posted form has already acted?"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Length, Upper
from django.db.models.lookups import Exact

NEVER_EMPTY_NAME = "the studio"


class Studio(models.Model):
    """The one row that says who we are and how we like to read numbers."""

    class TemperatureUnit(models.TextChoices):
        CELSIUS = "C", "°C"
        FAHRENHEIT = "F", "°F"

    class LengthUnit(models.TextChoices):
        MILLIMETRE = "mm", "millimetres"
        INCH = "in", "inches"

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "US Letter"

    name = models.CharField(max_length=80, default=NEVER_EMPTY_NAME)
    reply_address = models.TextField(blank=True, help_text="one line each; printed on slips")
    mark = models.CharField(max_length=80, blank=True, help_text="file name of the maker's mark")
    care_note = models.TextField(blank=True)
    currency = models.CharField(max_length=3, default="GBP")
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit, default=TemperatureUnit.CELSIUS
    )
    length_unit = models.CharField(max_length=2, choices=LengthUnit, default=LengthUnit.MILLIMETRE)
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)

    class Meta:
        constraints = [
            models.CheckConstraint(name="studio_is_one", condition=Q(id=1)),
            models.CheckConstraint(name="studio_named", condition=~Q(name="")),
            models.CheckConstraint(
                name="studio_units_known",
                condition=Q(temperature_unit__in=["C", "F"]) & Q(length_unit__in=["mm", "in"]),
            ),
            models.CheckConstraint(
                name="studio_paper_known", condition=Q(paper__in=["A4", "Letter"])
            ),
            # With another word for its money no page that shows an amount could be made.
            models.CheckConstraint(
                name="studio_currency_is_a_code",
                condition=Q(Exact(Length("currency"), 3), currency=Upper("currency")),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Helper(models.Model):
    """A sign-in that packs parcels and sees nothing else; without a row somebody is a potter."""

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="helper"
    )

    def __str__(self) -> str:
        return f"helper {self.user}"


class FormKey(models.Model):
    """A posted form that has acted: the same key never acts twice."""

    key = models.UUIDField(primary_key=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    path = models.CharField(max_length=300)
    content = models.CharField(
        max_length=64, blank=True, help_text="hash of what was sent, to tell a repeat from a change"
    )
    went_to = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.path} {self.key}"


class Change(models.Model):
    """One thing done by one person, in a sentence. ``undo`` is what its room needs to undo it."""

    room = models.CharField(max_length=20)
    action = models.CharField(max_length=40)
    said = models.CharField(max_length=300)
    subject = models.CharField(max_length=40, blank=True, help_text="what it was done to")
    subject_id = models.BigIntegerField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(db_index=True)
    undo = models.JSONField(null=True, blank=True)
    undoes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by"
    )

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(name="change_says_what", condition=~Q(said="")),
            models.CheckConstraint(
                name="change_not_its_own_undo",
                condition=Q(undoes__isnull=True) | ~Q(undoes=F("id")),
            ),
        ]
        indexes = [models.Index(fields=["subject", "subject_id"])]

    def __str__(self) -> str:
        return self.said
