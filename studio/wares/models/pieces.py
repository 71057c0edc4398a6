"""What is each pot, where does it stand, and has it left?

Pieces are rows from the moment they are thrown, and interchangeable until they are numbered at
grading. A board holds pieces of one kind at one stage, so potters can count boards, not pots.
``made = on hand by stage + partings`` holds because every piece has exactly one stage and at
most one parting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q

from studio.wares.kinds import kind_of
from studio.wares.models.catalogue import ClayLot, Coats, Form, Line
from studio.wares.rules import COUNTABLE

if TYPE_CHECKING:
    from studio.firings.models import Firing, Schedule


class Stage(models.TextChoices):
    """The way of a piece, in order."""

    THROWN = "thrown"
    BISQUED = "bisqued"
    GLAZED = "glazed"
    FIRED = "fired"
    GRADED = "graded"
    LISTED = "listed"


BEFORE_COATS = [Stage.THROWN, Stage.BISQUED]
BEFORE_GLAZE_FIRE = [Stage.THROWN, Stage.BISQUED, Stage.GLAZED]
BEFORE_GRADE = [Stage.THROWN, Stage.BISQUED, Stage.GLAZED, Stage.FIRED]
AFTER_GRADE = [Stage.GRADED, Stage.LISTED]
AFTER_GLAZE_FIRE = [Stage.FIRED, Stage.GRADED, Stage.LISTED]
COUNTED_AS = [(stage.value, stage.label) for stage in Stage if stage in COUNTABLE]


class Board(models.Model):
    """Pieces of one kind at one stage that travel together. Its count is the count of them."""

    label = models.CharField(max_length=12, unique=True)
    place = models.CharField(max_length=60, blank=True, help_text="where it stands")
    dry_date = models.DateField(null=True, blank=True, help_text="when seen to be bone dry")

    class Meta:
        ordering = ["label"]
        constraints = [models.CheckConstraint(name="board_labelled", condition=~Q(label=""))]

    def __str__(self) -> str:
        return self.label


class Photo(models.Model):
    """A picture file, named by its content, so the same picture is kept once."""

    name = models.CharField(max_length=80, unique=True)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    kept_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class PieceQuerySet(models.QuerySet["Piece"]):
    """Pieces, asked for in verbs."""

    def on_hand(self) -> Self:
        """Those that have not left."""
        return self.filter(parting="")

    def at_stage(self, stage: str) -> Self:
        """Those on hand at one stage."""
        return self.filter(parting="", stage=stage)

    def of_line(self, line: Line) -> Self:
        """Those of a line: glazed or later, because coats make the line."""
        return self.filter(**kind_of(line)._asdict())

    def in_open_load(self) -> Self:
        """Those that stand in a load that is not opened yet."""
        return self.filter(places__outcome="")

    def free(self) -> Self:
        """Those on hand that are promised to nobody."""
        return self.filter(parting="", reservation__isnull=True)


class Piece(models.Model):
    """One pot."""

    class Grade(models.TextChoices):
        """What a graded piece may be sold as."""

        FIRST = "first"
        SECOND = "second"

    class Parting(models.TextChoices):
        """How a piece leaves the studio."""

        SOLD = "sold"
        SENT = "sent"
        KEPT = "kept"
        BROKEN = "broken"
        SCRAPPED = "scrapped"

    number = models.PositiveIntegerField(null=True, blank=True, unique=True)
    form = models.ForeignKey(Form, on_delete=models.PROTECT)
    clay_lot = models.ForeignKey(ClayLot, on_delete=models.PROTECT)
    coats = models.ForeignKey(Coats, on_delete=models.PROTECT, null=True, blank=True)
    schedule: models.ForeignKey[Schedule | None, Schedule | None] = models.ForeignKey(
        "firings.Schedule", on_delete=models.PROTECT, null=True, blank=True
    )
    stage = models.CharField(max_length=8, choices=Stage, default=Stage.THROWN)
    board = models.ForeignKey(
        Board, on_delete=models.PROTECT, null=True, blank=True, related_name="pieces"
    )
    seq = models.PositiveIntegerField(default=1, help_text="moves so far; guards against races")
    made_date = models.DateField()
    counted_in = models.CharField(
        max_length=8,
        choices=COUNTED_AS,
        blank=True,
        help_text="the stage at which it was counted in; what came before stands in no record",
    )
    bisque_firing: models.ForeignKey[Firing | None, Firing | None] = models.ForeignKey(
        "firings.Firing", on_delete=models.PROTECT, null=True, blank=True, related_name="bisqued"
    )
    glaze_firing: models.ForeignKey[Firing | None, Firing | None] = models.ForeignKey(
        "firings.Firing", on_delete=models.PROTECT, null=True, blank=True, related_name="fired"
    )
    refires = models.PositiveSmallIntegerField(default=0)
    grade = models.CharField(max_length=6, choices=Grade, blank=True)
    parting = models.CharField(max_length=8, choices=Parting, blank=True)
    parted_date = models.DateField(null=True, blank=True)
    parting_cause = models.CharField(max_length=120, blank=True)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True)

    objects = PieceQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(fields=["stage", "parting"]),
            models.Index(fields=["form", "clay_lot", "coats", "schedule"]),
        ]
        constraints = [
            models.CheckConstraint(
                name="piece_stage_known", condition=Q(stage__in=[s.value for s in Stage])
            ),
            models.CheckConstraint(
                name="piece_coats_from_glazed_on",
                condition=Q(stage__in=BEFORE_COATS, coats__isnull=True, schedule__isnull=True)
                | (~Q(stage__in=BEFORE_COATS) & Q(coats__isnull=False) & Q(schedule__isnull=False)),
            ),
            models.CheckConstraint(
                name="piece_bisqued_by_a_firing",
                condition=Q(stage=Stage.THROWN)
                | Q(bisque_firing__isnull=False)
                | ~Q(counted_in=""),
            ),
            models.CheckConstraint(
                name="piece_fired_by_a_firing",
                condition=Q(stage__in=BEFORE_GLAZE_FIRE)
                | Q(glaze_firing__isnull=False)
                | Q(counted_in__in=[Stage.FIRED, Stage.GRADED], refires=0),
            ),
            # Being counted in stands for the firings before it, and for none that follow.
            models.CheckConstraint(
                name="piece_counted_in_for_what_was",
                condition=Q(counted_in="")
                | Q(bisque_firing__isnull=True)
                & (
                    Q(counted_in=Stage.BISQUED) & ~Q(stage=Stage.THROWN)
                    | Q(counted_in=Stage.GLAZED) & ~Q(stage__in=BEFORE_COATS)
                    | Q(
                        counted_in=Stage.FIRED,
                        stage__in=AFTER_GLAZE_FIRE,
                        refires=0,
                        glaze_firing__isnull=True,
                    )
                    | Q(counted_in=Stage.FIRED, refires__gte=1) & ~Q(stage__in=BEFORE_COATS)
                    | Q(
                        counted_in=Stage.GRADED,
                        stage__in=AFTER_GRADE,
                        glaze_firing__isnull=True,
                    )
                ),
            ),
            models.CheckConstraint(
                name="piece_grade_from_graded_on",
                condition=Q(stage__in=BEFORE_GRADE, grade="")
                | Q(stage__in=AFTER_GRADE, grade__in=["first", "second"]),
            ),
            models.CheckConstraint(
                name="piece_numbered_from_graded_on",
                condition=Q(stage__in=BEFORE_GRADE) | Q(number__isnull=False),
            ),
            models.CheckConstraint(
                name="piece_parted_with_a_date",
                condition=Q(parting="", parted_date__isnull=True)
                | Q(
                    parting__in=["sold", "sent", "kept", "broken", "scrapped"],
                    parted_date__isnull=False,
                    board__isnull=True,
                ),
            ),
            models.CheckConstraint(name="piece_seq_from_one", condition=Q(seq__gte=1)),
        ]

    def __str__(self) -> str:
        return f"No. {self.number}" if self.number else f"piece {self.pk}"
