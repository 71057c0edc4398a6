"""What is each pot, where does it stand, and how did it get there?

Pieces are rows from the moment they are thrown, and interchangeable until they are numbered at
grading. A board holds pieces of one kind at one stage, so potters can count boards, not pots.
``made = on hand by stage + partings`` holds because every piece has exactly one stage and at
most one parting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.craft.cones import cone_choices
from studio.wares.rules import FAULTS

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


class Silhouette(models.TextChoices):
    """The outline that stands in for a photograph."""

    MUG = "mug"
    TUMBLER = "tumbler"
    BOWL = "bowl"
    PLATE = "plate"
    VASE = "vase"
    JAR = "jar"


class Form(models.Model):
    """What is thrown. Sizes are fired sizes; minutes are hands-on minutes a piece."""

    name = models.CharField(max_length=60)
    silhouette = models.CharField(max_length=10, choices=Silhouette)
    width_mm = models.PositiveSmallIntegerField(help_text="widest part of the body, fired")
    handle_mm = models.PositiveSmallIntegerField(
        default=0, help_text="how far a handle or spout stands out, fired"
    )
    height_mm = models.PositiveSmallIntegerField(help_text="fired, lid on")
    weight_g = models.PositiveIntegerField(help_text="fired")
    throwing_min = models.PositiveSmallIntegerField(help_text="throw, trim and handle one")
    glazing_min = models.PositiveSmallIntegerField(help_text="wax and glaze one")
    finishing_min = models.PositiveSmallIntegerField(help_text="grade, photograph and list one")
    drying_days = models.PositiveSmallIntegerField(help_text="thrown to bone dry, as a rule")
    room_tenths = models.PositiveSmallIntegerField(help_text="kiln room, tenths of a mug place")
    price_pence = models.PositiveIntegerField()
    may_refire = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="form_name_once"),
            models.CheckConstraint(
                name="form_sizes_real",
                condition=Q(width_mm__gte=1, height_mm__gte=1, weight_g__gte=1, room_tenths__gte=1),
            ),
            models.CheckConstraint(name="form_dries", condition=Q(drying_days__gte=1)),
            models.CheckConstraint(
                name="form_silhouette_known", condition=Q(silhouette__in=Silhouette.values)
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ClayLot(models.Model):
    """A body and the delivery it came in."""

    body = models.CharField(max_length=60)
    lot = models.CharField(max_length=40)
    received_date = models.DateField()
    shrinkage_permille = models.PositiveSmallIntegerField(help_text="wet to fired, per thousand")
    top_cone = models.CharField(max_length=4, choices=cone_choices)

    class Meta:
        ordering = ["body", "received_date"]
        constraints = [
            models.UniqueConstraint(Lower("body"), Lower("lot"), name="clay_lot_once"),
            models.CheckConstraint(
                name="clay_shrinkage_possible", condition=Q(shrinkage_permille__lt=300)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.body}, lot {self.lot}"


class Glaze(models.Model):
    """A glaze in its bucket."""

    name = models.CharField(max_length=60)
    mixed_date = models.DateField(help_text="when this bucket was mixed")
    top_cone = models.CharField(max_length=4, choices=cone_choices)
    is_runny = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(Lower("name"), name="glaze_name_once")]

    def __str__(self) -> str:
        return self.name


class Coats(models.Model):
    """The ordered glazes on a piece: what a customer would call its glaze."""

    name = models.CharField(max_length=60)
    is_runny = models.BooleanField(default=False)
    top_cone = models.CharField(max_length=4, choices=cone_choices)
    glazes = models.ManyToManyField(Glaze, through="Coat")

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "coats"
        constraints = [models.UniqueConstraint(Lower("name"), name="coats_name_once")]

    def __str__(self) -> str:
        return self.name


class Coat(models.Model):
    """One layer: the first is nearest the clay."""

    coats = models.ForeignKey(Coats, on_delete=models.CASCADE, related_name="layers")
    seq = models.PositiveSmallIntegerField()
    glaze = models.ForeignKey(Glaze, on_delete=models.PROTECT)
    reach_mm = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="how far down from the rim; empty is all over"
    )

    class Meta:
        ordering = ["seq"]
        constraints = [
            models.UniqueConstraint(fields=["coats", "seq"], name="coat_order_once"),
            models.CheckConstraint(name="coat_seq_from_one", condition=Q(seq__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.seq}. {self.glaze}"


class Line(models.Model):
    """Form + clay lot + coats + schedule: the thing that is wanted and learnt about."""

    class Standing(models.TextChoices):
        """How far a line is to be trusted."""

        UNTRIED = "untried"
        TRIAL = "trial", "on trial"
        PROVEN = "proven"

    form = models.ForeignKey(Form, on_delete=models.PROTECT)
    clay_lot = models.ForeignKey(ClayLot, on_delete=models.PROTECT)
    coats = models.ForeignKey(Coats, on_delete=models.PROTECT)
    schedule: models.ForeignKey[Schedule, Schedule] = models.ForeignKey(
        "firings.Schedule", on_delete=models.PROTECT
    )
    standing = models.CharField(max_length=8, choices=Standing, default=Standing.UNTRIED)

    class Meta:
        ordering = ["form__name", "coats__name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["form", "clay_lot", "coats", "schedule"], name="line_once"
            ),
            models.CheckConstraint(
                name="line_standing_known", condition=Q(standing__in=["untried", "trial", "proven"])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.form} in {self.coats} on {self.clay_lot.body}"


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
        return self.filter(
            form_id=line.form_id,
            clay_lot_id=line.clay_lot_id,
            coats_id=line.coats_id,
            schedule_id=line.schedule_id,
        )

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
                condition=Q(stage=Stage.THROWN) | Q(bisque_firing__isnull=False),
            ),
            models.CheckConstraint(
                name="piece_fired_by_a_firing",
                condition=Q(stage__in=BEFORE_GLAZE_FIRE) | Q(glaze_firing__isnull=False),
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


class Move(models.Model):
    """One step of one piece. Rows are added, never changed."""

    class Kind(models.TextChoices):
        MADE = "made"
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
        constraints = [models.UniqueConstraint(fields=["piece", "kind"], name="fault_once")]

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
