"""What goes to whom this month, and whose place was kept?"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from studio.parcels.models.people import Supporter
from studio.wares.models import Line, Piece


class Shipment(models.Model):
    """One month's parcels."""

    month = models.PositiveIntegerField(unique=True)
    post_date = models.DateField()
    parcel_count = models.PositiveSmallIntegerField(default=5)
    buffer_days = models.PositiveSmallIntegerField(default=2)
    importance = models.PositiveSmallIntegerField(default=3)

    class Meta:
        ordering = ["month"]
        constraints = [
            models.CheckConstraint(
                name="shipment_posts_something", condition=Q(parcel_count__gte=1)
            ),
            models.CheckConstraint(
                name="shipment_importance_from_one", condition=Q(importance__gte=1)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.month // 12}-{self.month % 12 + 1:02d}"


class ShipmentWant(models.Model):
    """So many good pieces of a line for a month's parcels."""

    shipment = models.ForeignKey(Shipment, on_delete=models.CASCADE, related_name="wants")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="shipment_wants")
    count = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["shipment", "line"], name="shipment_line_once"),
            models.CheckConstraint(name="shipment_want_counts", condition=Q(count__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.count} x {self.line}"


class Parcel(models.Model):
    """One supporter's turn: what goes in the box."""

    class State(models.TextChoices):
        PICKED = "picked"
        PACKED = "packed"
        POSTED = "posted"

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="parcels")
    supporter = models.ForeignKey(Supporter, on_delete=models.PROTECT, related_name="parcels")
    state = models.CharField(max_length=6, choices=State, default=State.PICKED)
    why = models.CharField(max_length=200, blank=True, help_text="why this person is next")
    note = models.CharField(max_length=200, blank=True, help_text="printed on the slip")
    box = models.CharField(max_length=40, blank=True)
    posted_date = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["supporter__number"]
        constraints = [
            models.UniqueConstraint(fields=["shipment", "supporter"], name="parcel_once_a_month"),
            models.CheckConstraint(
                name="parcel_posted_with_a_date",
                condition=(Q(state="posted") & Q(posted_date__isnull=False))
                | (~Q(state="posted") & Q(posted_date__isnull=True)),
            ),
            models.CheckConstraint(
                name="parcel_state_known", condition=Q(state__in=["picked", "packed", "posted"])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.shipment}-{self.supporter.number}"


class ParcelPiece(models.Model):
    """A piece in a parcel. Supporter and line stand here too, so no line is sent twice to one."""

    parcel = models.ForeignKey(Parcel, on_delete=models.CASCADE, related_name="lines")
    piece = models.OneToOneField(Piece, on_delete=models.PROTECT, related_name="parcel_piece")
    supporter = models.ForeignKey(Supporter, on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["supporter", "line"], name="no_line_twice_to_one")
        ]

    def __str__(self) -> str:
        return f"{self.piece} to {self.supporter}"


class Skip(models.Model):
    """A turn that was due and could not be taken: the place is kept, the reason is written."""

    shipment = models.ForeignKey(Shipment, on_delete=models.CASCADE, related_name="skips")
    supporter = models.ForeignKey(Supporter, on_delete=models.PROTECT, related_name="skips")
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["shipment", "supporter"], name="skip_once_a_month"),
            models.CheckConstraint(name="skip_has_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.supporter}: {self.reason}"
