"""What stands in a load, and how much of it may be on trial?"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from studio.firings.models.firings import Firing
from studio.wares.models import Board, ClayLot, Coats, Form, Piece


class Place(models.Model):
    """A piece standing in a load, and what became of it when the kiln was opened."""

    class Outcome(models.TextChoices):
        THROUGH = "through"
        LOST = "lost"
        TAKEN_OUT = "taken_out", "taken out again"
        NOT_FIRED = "not_fired", "not fired"

    firing = models.ForeignKey(Firing, on_delete=models.PROTECT, related_name="places")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="places")
    board = models.ForeignKey(Board, on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=9, choices=Outcome, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "piece"],
                condition=~Q(outcome="taken_out"),
                name="piece_once_in_a_load",
            ),
            models.UniqueConstraint(
                fields=["piece"], condition=Q(outcome=""), name="piece_in_one_open_load"
            ),
            models.CheckConstraint(
                name="outcome_known",
                condition=Q(outcome__in=["", "through", "lost", "taken_out", "not_fired"]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece} in {self.firing}"


class Sheet(models.Model):
    """The drawn load of a firing: its levels from the bottom, and a spot for every piece."""

    firing = models.OneToOneField(Firing, on_delete=models.CASCADE, related_name="drawn")
    drawn_at = models.DateTimeField()
    runny = models.CharField(max_length=10, default="low", help_text="what runny ware is given")
    handles = models.CharField(max_length=9, default="clear", help_text="the room of handles")
    levels = models.JSONField(help_text="the levels as the packer told them")
    left_out = models.JSONField(default=list, help_text="what found no place, and how many")
    seq = models.PositiveIntegerField(default=1, help_text="one more with every change")

    class Meta:
        constraints = [
            models.CheckConstraint(name="sheet_seq_from_one", condition=Q(seq__gte=1)),
            models.CheckConstraint(
                name="sheet_rules_known",
                condition=Q(
                    runny__in=["low", "catch_tile", "anywhere"],
                    handles__in=["clear", "interlock"],
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"load sheet of {self.firing}"


class Spot(models.Model):
    """Where one thing stands on a drawn load: a pot, a cone pack or a test tile.

    The place says which piece stands there, once it is loaded. A spot that was moved by hand has
    its level and ring, and no place on the drawing.
    """

    class Mark(models.TextChoices):
        DRAWN = "drawn", "as drawn"
        MOVED = "moved"
        LEFT_OUT = "left_out", "left out"
        SWAPPED = "swapped", "this one instead"

    class What(models.TextChoices):
        WARE = "ware"
        CONE = "cone", "cone pack"
        TILE = "tile", "test tile"

    class Ring(models.TextChoices):
        INNER = "inner"
        OUTER = "outer"

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="spots")
    number = models.PositiveSmallIntegerField()
    level = models.PositiveSmallIntegerField()
    ring = models.CharField(max_length=5, choices=Ring)
    x_mm = models.FloatField(null=True)
    y_mm = models.FloatField(null=True)
    turn_deg = models.FloatField(default=0)
    tier = models.PositiveSmallIntegerField(default=0)
    what = models.CharField(max_length=4, choices=What, default=What.WARE)
    form = models.ForeignKey(Form, on_delete=models.PROTECT, null=True, related_name="+")
    clay_lot = models.ForeignKey(ClayLot, on_delete=models.PROTECT, null=True, related_name="+")
    coats = models.ForeignKey(Coats, on_delete=models.PROTECT, null=True, related_name="+")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, related_name="spots")
    is_pinned = models.BooleanField(default=False)
    mark = models.CharField(max_length=8, choices=Mark, default=Mark.DRAWN)
    seq = models.PositiveIntegerField(default=1, help_text="one more with every change")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "number"], name="spot_number_once"),
            models.UniqueConstraint(
                fields=["place"], condition=Q(place__isnull=False), name="a_piece_stands_once"
            ),
            models.CheckConstraint(
                name="spot_says_what",
                condition=Q(what="ware", form__isnull=False, clay_lot__isnull=False)
                | Q(
                    what__in=["cone", "tile"],
                    form__isnull=True,
                    clay_lot__isnull=True,
                    coats__isnull=True,
                    place__isnull=True,
                ),
            ),
            models.CheckConstraint(
                name="spot_mark_known",
                condition=Q(mark__in=["drawn", "moved", "left_out", "swapped"])
                & Q(ring__in=["inner", "outer"]),
            ),
            models.CheckConstraint(
                name="spot_left_out_is_free", condition=~Q(mark="left_out") | Q(place__isnull=True)
            ),
            models.CheckConstraint(
                name="spot_is_somewhere",
                condition=Q(x_mm__isnull=False, y_mm__isnull=False)
                | Q(mark="moved", is_pinned=False, x_mm__isnull=True, y_mm__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"place {self.number} on level {self.level}"


class TrialRule(models.Model):
    """The one row that says how small an untried line is fired first, and what follows.

    The defaults are common practice, no source.
    """

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    least_pieces = models.PositiveSmallIntegerField(
        default=2, help_text="enough of an untried line to learn from"
    )
    most_pieces = models.PositiveSmallIntegerField(
        default=6, help_text="of an untried line in one load: few enough to lose"
    )
    share_percent = models.PositiveSmallIntegerField(
        default=25, help_text="of a kiln's room that a line on trial may take"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(name="trial_rule_is_one", condition=Q(id=1)),
            models.CheckConstraint(
                name="trial_rule_sizes",
                condition=Q(least_pieces__gte=1, most_pieces__gte=F("least_pieces")),
            ),
            models.CheckConstraint(
                name="trial_rule_share", condition=Q(share_percent__gte=1, share_percent__lte=100)
            ),
        ]

    def __str__(self) -> str:
        return f"trials of {self.least_pieces} to {self.most_pieces}"
