"""What stands in a load, and how much of it may be on trial?"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from studio.firings.models.firings import Firing
from studio.wares.models import Board, Piece


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
