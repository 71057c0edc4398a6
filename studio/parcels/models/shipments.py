"""What goes to whom this month, and whose place was kept?"""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F, Q

from studio.craft.customs import KINDS
from studio.parcels.models.people import Supporter
from studio.parcels.rules import FIRST_MONTH, LAST_MONTH
from studio.parcels.rules.shipments import MOST_BUFFER_DAYS, MOST_PARCELS, MOST_WANTED
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
            models.CheckConstraint(
                name="shipment_month_possible",
                condition=Q(month__gte=FIRST_MONTH, month__lt=LAST_MONTH),
            ),
            models.CheckConstraint(
                name="shipment_numbers_possible",
                condition=Q(
                    parcel_count__lte=MOST_PARCELS,
                    buffer_days__lte=MOST_BUFFER_DAYS,
                    importance__lte=9,
                ),
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
            models.CheckConstraint(
                name="shipment_want_at_most", condition=Q(count__lte=MOST_WANTED)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} x {self.line}"


class ParcelQuerySet(models.QuerySet["Parcel"]):
    """Parcels, asked for in verbs."""

    def turns(self) -> Self:
        """Those that use a turn: not the ones sent in place of a broken one."""
        return self.filter(replaces__isnull=True)

    def here(self) -> Self:
        """Those that have not left the studio."""
        return self.filter(state__in=["picked", "packed"])


class Parcel(models.Model):
    """One supporter's turn: what goes in the box. One that replaces a broken one uses no turn.

    The address is copied here when it is locked, and the papers print the copy: what changes later
    is seen as a change, not printed on one paper and not on the next.
    """

    class State(models.TextChoices):
        PICKED = "picked"
        PACKED = "packed"
        POSTED = "posted"
        ARRIVED = "arrived"
        BROKEN = "broken"

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="parcels")
    supporter = models.ForeignKey(Supporter, on_delete=models.PROTECT, related_name="parcels")
    state = models.CharField(max_length=7, choices=State, default=State.PICKED)
    why = models.CharField(max_length=200, blank=True, help_text="why this person is next")
    note = models.CharField(max_length=200, blank=True, help_text="printed on the slip")
    box = models.CharField(max_length=40, blank=True, help_text="name of a box type, or another")
    weighed_g = models.PositiveIntegerField(
        null=True, blank=True, help_text="packed, on the scale; empty is reckoned"
    )
    tracking = models.CharField(max_length=35, blank=True)
    item_kind = models.CharField(max_length=9, choices=list(KINDS.items()), blank=True)
    posted_date = models.DateField(null=True, blank=True)
    arrived_date = models.DateField(null=True, blank=True)
    broken_date = models.DateField(null=True, blank=True)
    broken_note = models.CharField(max_length=200, blank=True)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    locked_at = models.DateTimeField(null=True, blank=True)
    locked_name = models.CharField(max_length=120, blank=True)
    locked_address = models.JSONField(default=dict, blank=True)
    ticked_off = models.BooleanField(
        default=False, help_text="locked by hand, although nobody confirmed it lately"
    )

    objects = ParcelQuerySet.as_manager()

    class Meta:
        ordering = ["supporter__number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["shipment", "supporter"],
                name="parcel_once_a_month",
                condition=Q(replaces__isnull=True),
            ),
            models.CheckConstraint(
                name="parcel_posted_with_a_date",
                condition=(
                    Q(state__in=["posted", "arrived", "broken"]) & Q(posted_date__isnull=False)
                )
                | (Q(state__in=["picked", "packed"]) & Q(posted_date__isnull=True)),
            ),
            models.CheckConstraint(
                name="parcel_arrived_with_a_date",
                condition=(Q(state="arrived") & Q(arrived_date__isnull=False))
                | Q(state="broken")
                | (~Q(state__in=["arrived", "broken"]) & Q(arrived_date__isnull=True)),
            ),
            models.CheckConstraint(
                name="parcel_broken_with_a_date",
                condition=(Q(state="broken") & Q(broken_date__isnull=False))
                | (~Q(state="broken") & Q(broken_date__isnull=True)),
            ),
            models.CheckConstraint(
                name="parcel_state_known",
                condition=Q(state__in=["picked", "packed", "posted", "arrived", "broken"]),
            ),
            models.CheckConstraint(
                name="parcel_item_kind_known", condition=Q(item_kind__in=["", *KINDS])
            ),
            models.CheckConstraint(
                name="parcel_weighs_something",
                condition=Q(weighed_g__isnull=True) | Q(weighed_g__gte=1),
            ),
            models.CheckConstraint(
                name="parcel_not_its_own_spare",
                condition=Q(replaces__isnull=True) | ~Q(replaces=F("id")),
            ),
            models.UniqueConstraint(
                fields=["tracking"], name="tracking_once", condition=~Q(tracking="")
            ),
        ]

    def __str__(self) -> str:
        again = "-again" if self.replaces_id else ""
        return f"{self.shipment}-{self.supporter.number}{again}"


class ParcelPiece(models.Model):
    """A piece in a parcel. Supporter and line stand here too, so no line is sent twice to one.

    Only in place of a broken pot may a line go again to whom it was sent.
    """

    parcel = models.ForeignKey(Parcel, on_delete=models.CASCADE, related_name="lines")
    piece = models.OneToOneField(Piece, on_delete=models.PROTECT, related_name="parcel_piece")
    supporter = models.ForeignKey(Supporter, on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    in_place_of_broken = models.BooleanField(default=False)
    value_pence = models.PositiveIntegerField(
        null=True, blank=True, help_text="declared to customs; empty is the form's price"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["supporter", "line"],
                name="no_line_twice_to_one",
                condition=Q(in_place_of_broken=False),
            ),
            models.CheckConstraint(
                name="declared_value_real",
                condition=Q(value_pence__isnull=True) | Q(value_pence__gte=1),
            ),
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
