"""What can be made: forms, clay lots, glazes, coats, and the lines they make together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from studio.craft.cones import cone_choices
from studio.wares.rules import A_DAY_MIN, MOST_DRYING_DAYS, MOST_PRICE_PENCE, MOST_WEIGHT_G

if TYPE_CHECKING:
    from studio.firings.models import Schedule

CONE_NAMES = [name for name, _ in cone_choices()]


class Silhouette(models.TextChoices):
    """The outline that stands in for a photograph."""

    MUG = "mug"
    TUMBLER = "tumbler"
    BOWL = "bowl"
    PLATE = "plate"
    VASE = "vase"
    JAR = "jar"


class Stacks(models.TextChoices):
    """How ware may carry its like in a bisque firing."""

    NO = "no", "stands alone"
    RIM_TO_RIM = "rim_to_rim", "rim to rim, foot to foot"
    NESTED = "nested", "one inside the other"


class Form(models.Model):
    """What is thrown. Sizes are fired sizes; minutes are hands-on minutes a piece."""

    name = models.CharField(max_length=60)
    silhouette = models.CharField(max_length=10, choices=Silhouette)
    width_mm = models.PositiveSmallIntegerField(help_text="widest part of the body, fired")
    handle_mm = models.PositiveSmallIntegerField(
        default=0, help_text="how far a handle or spout stands out, fired"
    )
    height_mm = models.PositiveSmallIntegerField(help_text="fired, lid on")
    length_mm = models.PositiveSmallIntegerField(
        default=0, help_text="longest side of an oblong form, fired; 0 is round"
    )
    handle_width_mm = models.PositiveSmallIntegerField(
        default=25, help_text="how wide the handle is, seen from above"
    )
    stacks = models.CharField(
        max_length=10, choices=Stacks, default="no", help_text="in a bisque firing"
    )
    stack_most = models.PositiveSmallIntegerField(
        default=1, help_text="how many stand on one another in a bisque firing"
    )
    nest_step_mm = models.PositiveSmallIntegerField(
        default=0, help_text="how much height each more nested piece adds"
    )
    weight_g = models.PositiveIntegerField(help_text="fired")
    throwing_min = models.PositiveSmallIntegerField(help_text="throw, trim and handle one")
    glazing_min = models.PositiveSmallIntegerField(help_text="wax and glaze one")
    finishing_min = models.PositiveSmallIntegerField(help_text="grade, photograph and list one")
    drying_days = models.PositiveSmallIntegerField(help_text="thrown to bone dry, as a rule")
    room_tenths = models.PositiveSmallIntegerField(help_text="kiln room, tenths of a mug place")
    price_pence = models.PositiveIntegerField()
    may_refire = models.BooleanField(default=True)
    holds_food = models.BooleanField(default=True, help_text="people eat or drink from it")

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="form_name_once"),
            models.CheckConstraint(name="form_named", condition=~Q(name="")),
            models.CheckConstraint(
                name="form_sizes_real",
                condition=Q(width_mm__gte=1, height_mm__gte=1, weight_g__gte=1, room_tenths__gte=1),
            ),
            models.CheckConstraint(name="form_dries", condition=Q(drying_days__gte=1)),
            models.CheckConstraint(
                name="form_work_possible",
                condition=Q(
                    throwing_min__lte=A_DAY_MIN,
                    glazing_min__lte=A_DAY_MIN,
                    finishing_min__lte=A_DAY_MIN,
                    drying_days__lte=MOST_DRYING_DAYS,
                ),
            ),
            models.CheckConstraint(
                name="form_price_and_weight_possible",
                condition=Q(price_pence__lte=MOST_PRICE_PENCE, weight_g__lte=MOST_WEIGHT_G),
            ),
            models.CheckConstraint(
                name="form_silhouette_known", condition=Q(silhouette__in=Silhouette.values)
            ),
            models.CheckConstraint(
                name="form_length_is_the_longer",
                condition=Q(length_mm=0) | Q(length_mm__gte=F("width_mm")),
            ),
            models.CheckConstraint(
                name="form_handle_has_a_width", condition=Q(handle_width_mm__gte=2)
            ),
            models.CheckConstraint(
                name="form_stacks_as_told",
                condition=Q(stacks="no", stack_most=1, nest_step_mm=0)
                | Q(stacks="rim_to_rim", stack_most__gte=2, stack_most__lte=50, nest_step_mm=0)
                | Q(
                    stacks="nested",
                    stack_most__gte=2,
                    stack_most__lte=50,
                    nest_step_mm__gte=1,
                    nest_step_mm__lte=F("height_mm"),
                ),
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
            models.CheckConstraint(name="clay_lot_named", condition=~Q(body="") & ~Q(lot="")),
            models.CheckConstraint(name="clay_cone_known", condition=Q(top_cone__in=CONE_NAMES)),
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
        constraints = [
            models.UniqueConstraint(Lower("name"), name="glaze_name_once"),
            models.CheckConstraint(name="glaze_named", condition=~Q(name="")),
            models.CheckConstraint(name="glaze_cone_known", condition=Q(top_cone__in=CONE_NAMES)),
        ]

    def __str__(self) -> str:
        return self.name


class Bucket(models.Model):
    """A bucket of a glaze: a new one is another material until a load confirms it."""

    glaze = models.ForeignKey(Glaze, on_delete=models.CASCADE, related_name="buckets")
    mixed_date = models.DateField()
    note = models.CharField(max_length=120, blank=True)
    kept_at = models.DateTimeField()

    class Meta:
        ordering = ["glaze", "mixed_date"]
        constraints = [
            models.UniqueConstraint(fields=["glaze", "mixed_date"], name="bucket_once_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.glaze}, mixed {self.mixed_date:%d %b %Y}"


class Coats(models.Model):
    """The ordered glazes on a piece: what a customer would call its glaze."""

    name = models.CharField(max_length=60)
    is_runny = models.BooleanField(default=False)
    top_cone = models.CharField(max_length=4, choices=cone_choices)
    glazes = models.ManyToManyField(Glaze, through="Coat")

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "coats"
        constraints = [
            models.UniqueConstraint(Lower("name"), name="coats_name_once"),
            models.CheckConstraint(name="coats_named", condition=~Q(name="")),
            models.CheckConstraint(name="coats_cone_known", condition=Q(top_cone__in=CONE_NAMES)),
        ]

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
    is_learnt = models.BooleanField(
        default=False, help_text="the standing follows from the records, no longer from a word"
    )
    word = models.CharField(
        max_length=8, choices=Standing, blank=True, help_text="what the potter said last of it"
    )
    word_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["form__name", "coats__name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["form", "clay_lot", "coats", "schedule"], name="line_once"
            ),
            models.CheckConstraint(
                name="line_standing_known", condition=Q(standing__in=["untried", "trial", "proven"])
            ),
            models.CheckConstraint(
                name="line_word_known", condition=Q(word__in=["", "untried", "trial", "proven"])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.form} in {self.coats} on {self.clay_lot.body}"
