"""When do we sell, what should stand ready by then, and what is listed at which price?"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from studio.sales.rules import MOST_BUFFER_DAYS, MOST_WANTED
from studio.wares.models import Line, Piece
from studio.wares.rules import MOST_PRICE_PENCE


class SaleDay(models.Model):
    """A dated restock: members first, then everyone."""

    name = models.CharField(max_length=60)
    members_at = models.DateTimeField(help_text="supporters may buy from here")
    public_at = models.DateTimeField(help_text="everyone may buy from here")
    closes_at = models.DateTimeField(null=True, blank=True)
    buffer_days = models.PositiveSmallIntegerField(
        default=3, help_text="days before the sale by which all should be listed"
    )
    importance = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["members_at"]
        constraints = [
            models.UniqueConstraint(fields=["name"], name="sale_day_name_once"),
            models.CheckConstraint(
                name="sale_members_first", condition=Q(public_at__gte=F("members_at"))
            ),
            models.CheckConstraint(
                name="sale_closes_after_it_opens",
                condition=Q(closes_at__isnull=True) | Q(closes_at__gt=F("public_at")),
            ),
            models.CheckConstraint(name="sale_importance_from_one", condition=Q(importance__gte=1)),
            models.CheckConstraint(name="sale_day_named", condition=~Q(name="")),
            models.CheckConstraint(
                name="sale_numbers_possible",
                condition=Q(importance__lte=9, buffer_days__lte=MOST_BUFFER_DAYS),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Want(models.Model):
    """So many good pieces of a line by a sale day."""

    sale_day = models.ForeignKey(SaleDay, on_delete=models.CASCADE, related_name="wants")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="wants")
    count = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["sale_day", "line"], name="want_line_once"),
            models.CheckConstraint(name="want_at_least_one", condition=Q(count__gte=1)),
            models.CheckConstraint(name="want_at_most", condition=Q(count__lte=MOST_WANTED)),
        ]

    def __str__(self) -> str:
        return f"{self.count} x {self.line}"


class Listing(models.Model):
    """A piece offered at a sale day for a price."""

    piece = models.OneToOneField(Piece, on_delete=models.PROTECT, related_name="listing")
    sale_day = models.ForeignKey(SaleDay, on_delete=models.PROTECT, related_name="listings")
    price_pence = models.PositiveIntegerField()
    listed_at = models.DateTimeField()

    class Meta:
        ordering = ["piece__number"]
        constraints = [
            models.CheckConstraint(
                name="listing_priced",
                condition=Q(price_pence__gte=1, price_pence__lte=MOST_PRICE_PENCE),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece} at {self.sale_day}"
