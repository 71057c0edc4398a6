"""Who supports us, what have they paid for, and who is eligible for a turn?"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.wares.models import Form


class TurnRule(models.Model):
    """The one row that says who is eligible for a monthly parcel."""

    months_needed = models.PositiveSmallIntegerField(
        default=3, help_text="paid months before a first turn"
    )
    equal_turns = models.BooleanField(default=True, help_text="every tier has the same turns")

    class Meta:
        constraints = [models.CheckConstraint(name="turn_rule_is_one", condition=Q(id=1))]

    def __str__(self) -> str:
        return f"after {self.months_needed} paid months"


class Tier(models.Model):
    """What a supporter pays a month."""

    name = models.CharField(max_length=40, unique=True)
    pledge_pence = models.PositiveIntegerField()
    weight = models.PositiveSmallIntegerField(default=1, help_text="share of turns, if not equal")

    class Meta:
        ordering = ["pledge_pence"]
        constraints = [models.CheckConstraint(name="tier_weighs", condition=Q(weight__gte=1))]

    def __str__(self) -> str:
        return self.name


class Supporter(models.Model):
    """A person who pays monthly, and where their parcel goes."""

    number = models.PositiveIntegerField(unique=True)
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    tier = models.ForeignKey(Tier, on_delete=models.PROTECT, related_name="supporters")
    joined_month = models.PositiveIntegerField(help_text="year x 12 + month - 1")
    paused = models.BooleanField(default=False)
    country_code = models.CharField(max_length=2, help_text="ISO 3166-1, two letters")
    country_area = models.CharField(max_length=120, blank=True, help_text="state or province")
    city = models.CharField(max_length=120, blank=True)
    city_area = models.CharField(max_length=120, blank=True, help_text="district")
    postal_code = models.CharField(max_length=20, blank=True)
    sorting_code = models.CharField(max_length=20, blank=True)
    street_address = models.TextField(blank=True)
    address_confirmed_date = models.DateField(null=True, blank=True)
    is_gift = models.BooleanField(default=False, help_text="somebody else pays")
    gift_from = models.CharField(max_length=120, blank=True)
    takes_seconds = models.BooleanField(default=False)
    packing_note = models.CharField(max_length=200, blank=True, help_text="allergy, no tape ...")
    please_no = models.ManyToManyField(Form, blank=True, help_text="forms they would rather not")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(name="supporter_named", condition=~Q(name="")),
            models.CheckConstraint(name="supporter_has_country", condition=~Q(country_code="")),
            models.UniqueConstraint(
                Lower("email"), name="supporter_email_once", condition=~Q(email="")
            ),
            models.CheckConstraint(
                name="supporter_gift_names_giver", condition=Q(is_gift=False) | ~Q(gift_from="")
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PaidMonth(models.Model):
    """A month that a supporter paid for."""

    supporter = models.ForeignKey(Supporter, on_delete=models.CASCADE, related_name="paid_months")
    month = models.PositiveIntegerField()

    class Meta:
        ordering = ["month"]
        constraints = [
            models.UniqueConstraint(fields=["supporter", "month"], name="month_paid_once"),
            models.CheckConstraint(name="paid_month_possible", condition=Q(month__gte=12 * 1970)),
        ]

    def __str__(self) -> str:
        return f"{self.supporter} {self.month}"
