"""How did a piece get where it is, what was seen on it, and to whom is it promised?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.wares.models.pieces import Piece, Stage
from studio.wares.rules import COUNTABLE, FAULTS

if TYPE_CHECKING:
    from studio.firings.models import Firing


class Move(models.Model):
    """One step of one piece. Rows are added, never changed."""

    class Kind(models.TextChoices):
        MADE = "made"
        COUNTED = "counted", "counted in"
        STEP = "step"
        REFIRE = "refire"
        BACK = "back", "taken off the list"
        PARTING = "parting"
        UNDO = "undo"

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="moves")
    seq = models.PositiveIntegerField()
    kind = models.CharField(max_length=8, choices=Kind)
    from_stage = models.CharField(max_length=8, choices=Stage, blank=True)
    to_stage = models.CharField(max_length=8, choices=Stage)
    parting = models.CharField(max_length=8, choices=Piece.Parting, blank=True)
    cause = models.CharField(max_length=120, blank=True)
    firing: models.ForeignKey[Firing | None, Firing | None] = models.ForeignKey(
        "firings.Firing", on_delete=models.PROTECT, null=True, blank=True, related_name="moves"
    )
    change = models.ForeignKey("web.Change", on_delete=models.PROTECT, related_name="moves")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["piece", "seq"]
        constraints = [
            models.UniqueConstraint(fields=["piece", "seq"], name="move_once_in_turn"),
            models.CheckConstraint(name="move_seq_from_one", condition=Q(seq__gte=1)),
            models.CheckConstraint(
                name="move_by_the_stages",
                condition=Q(kind="made", from_stage="", to_stage="thrown")
                | Q(kind="counted", from_stage="", to_stage__in=COUNTABLE)
                | Q(kind="step", from_stage="thrown", to_stage="bisqued")
                | Q(kind="step", from_stage="bisqued", to_stage="glazed")
                | Q(kind="step", from_stage="glazed", to_stage="fired")
                | Q(kind="step", from_stage="fired", to_stage="graded")
                | Q(kind="step", from_stage="graded", to_stage="listed")
                | Q(kind="refire", from_stage="fired", to_stage="glazed")
                | Q(kind="back", from_stage="listed", to_stage="graded")
                | Q(kind="parting", from_stage=models.F("to_stage"))
                | Q(kind="undo"),
            ),
            models.CheckConstraint(
                name="move_parting_only_when_parting",
                condition=Q(kind="parting") & ~Q(parting="") | (~Q(kind="parting") & Q(parting="")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece}: {self.get_kind_display()} {self.from_stage} -> {self.to_stage}"


class Fault(models.Model):
    """Something seen on a piece at grading or when it was lost."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="faults")
    kind = models.CharField(max_length=20, choices=FAULTS)
    firing: models.ForeignKey[Firing | None, Firing | None] = models.ForeignKey(
        "firings.Firing", on_delete=models.PROTECT, null=True, blank=True, related_name="faults"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["piece", "kind"], name="fault_once"),
            models.CheckConstraint(
                name="fault_known", condition=Q(kind__in=[fault for fault, _ in FAULTS])
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class Reservation(models.Model):
    """The one promise a piece can carry."""

    class Kind(models.TextChoices):
        CLAIM = "claim"
        PARCEL = "parcel"
        SPARE = "spare"
        HELD = "held", "held back"

    piece = models.OneToOneField(Piece, on_delete=models.PROTECT, related_name="reservation")
    kind = models.CharField(max_length=6, choices=Kind)
    note = models.CharField(max_length=120, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="reservation_kind_known",
                condition=Q(kind__in=["claim", "parcel", "spare", "held"]),
            )
        ]

    def __str__(self) -> str:
        return f"{self.piece}: {self.get_kind_display()}"
