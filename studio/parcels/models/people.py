"""Who supports us, what have they paid for, and who is eligible for a turn?"""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, When
from django.db.models.functions import Lower

from studio.parcels.rules import FIRST_MONTH, LAST_MONTH
from studio.wares.models import Form, Glaze


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
    monthly_pence = models.PositiveIntegerField()
    weight = models.PositiveSmallIntegerField(default=1, help_text="share of turns, if not equal")

    class Meta:
        ordering = ["monthly_pence"]
        constraints = [
            models.CheckConstraint(name="tier_weighs", condition=Q(weight__gte=1)),
            models.CheckConstraint(name="tier_named", condition=~Q(name="")),
        ]

    def __str__(self) -> str:
        return self.name


class SupporterQuerySet(models.QuerySet["Supporter"]):
    """Supporters, asked for by month."""

    def seen_in(self, month: int) -> Self:
        """Each with ``paused`` and ``left``: do they pause in that month, had they left by it?"""
        covers = Pause.objects.filter(supporter=OuterRef("pk"), from_month__lte=month)
        covers = covers.filter(Q(to_month__isnull=True) | Q(to_month__gte=month))
        gone = Case(When(left_month__lt=month, then=True), default=False)
        return self.annotate(paused=Exists(covers), left=gone)

    def active_in(self, month: int) -> Self:
        """Those who had joined by that month, had not left and do not pause in it."""
        return self.seen_in(month).filter(joined_month__lte=month, paused=False, left=False)

    def paused_in(self, month: int) -> Self:
        """Those who had not left by that month and pause in it."""
        return self.seen_in(month).filter(paused=True, left=False)

    def gone_by(self, month: int) -> Self:
        """Those who had left by that month."""
        return self.filter(left_month__lt=month)


class Supporter(models.Model):
    """A person who pays monthly, and where their parcel goes."""

    number = models.PositiveIntegerField(unique=True)
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    tier = models.ForeignKey(Tier, on_delete=models.PROTECT, related_name="supporters")
    joined_month = models.PositiveIntegerField(help_text="year x 12 + month - 1")
    left_month = models.PositiveIntegerField(
        null=True, blank=True, help_text="the last month of their support"
    )
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
    no_glazes = models.ManyToManyField(
        Glaze, blank=True, related_name="+", help_text="glazes they would rather not"
    )
    household = models.CharField(
        max_length=60, blank=True, help_text="shared by people of one address"
    )

    objects = SupporterQuerySet.as_manager()

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
            models.CheckConstraint(
                name="supporter_months_possible",
                condition=Q(joined_month__gte=FIRST_MONTH, joined_month__lt=LAST_MONTH)
                & (Q(left_month__isnull=True) | Q(left_month__lt=LAST_MONTH)),
            ),
            models.CheckConstraint(
                name="supporter_leaves_after_joining",
                condition=Q(left_month__isnull=True) | Q(left_month__gte=F("joined_month")),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Pause(models.Model):
    """Months in which a supporter's clock stands still. What was due stays."""

    supporter = models.ForeignKey(Supporter, on_delete=models.CASCADE, related_name="pauses")
    from_month = models.PositiveIntegerField()
    to_month = models.PositiveIntegerField(
        null=True, blank=True, help_text="the last month of it; empty while it lasts"
    )

    class Meta:
        ordering = ["from_month"]
        constraints = [
            models.UniqueConstraint(fields=["supporter", "from_month"], name="pause_begins_once"),
            models.UniqueConstraint(
                fields=["supporter"], name="pause_open_once", condition=Q(to_month__isnull=True)
            ),
            models.CheckConstraint(
                name="pause_ends_after_it_begins",
                condition=Q(to_month__isnull=True) | Q(to_month__gte=F("from_month")),
            ),
            models.CheckConstraint(name="pause_possible", condition=Q(from_month__gte=12 * 1970)),
            models.CheckConstraint(
                name="pause_before_2100",
                condition=Q(from_month__lt=LAST_MONTH)
                & (Q(to_month__isnull=True) | Q(to_month__lt=LAST_MONTH)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.supporter} {self.from_month}"


class FormerTier(models.Model):
    """The tier that a supporter had up to a month, and no longer has: it weighs in those months."""

    supporter = models.ForeignKey(Supporter, on_delete=models.CASCADE, related_name="former_tiers")
    to_month = models.PositiveIntegerField(help_text="the last month of it")
    tier = models.ForeignKey(Tier, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["to_month"]
        constraints = [
            models.UniqueConstraint(fields=["supporter", "to_month"], name="tier_ends_once"),
            models.CheckConstraint(
                name="former_tier_month_possible",
                condition=Q(to_month__gte=FIRST_MONTH, to_month__lt=LAST_MONTH),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.supporter} {self.tier} to {self.to_month}"


class Payment(models.Model):
    """A supporter's month: paid, given back, or not come in. Only a paid one counts."""

    class State(models.TextChoices):
        PAID = "paid"
        REFUNDED = "refunded"
        FAILED = "failed"

    supporter = models.ForeignKey(Supporter, on_delete=models.CASCADE, related_name="payments")
    month = models.PositiveIntegerField()
    state = models.CharField(max_length=8, choices=State, default=State.PAID)

    class Meta:
        ordering = ["month"]
        constraints = [
            models.UniqueConstraint(fields=["supporter", "month"], name="month_paid_once"),
            models.CheckConstraint(name="paid_month_possible", condition=Q(month__gte=12 * 1970)),
            models.CheckConstraint(name="paid_before_2100", condition=Q(month__lt=LAST_MONTH)),
            models.CheckConstraint(
                name="payment_state_known", condition=Q(state__in=["paid", "refunded", "failed"])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.supporter} {self.month} {self.state}"
