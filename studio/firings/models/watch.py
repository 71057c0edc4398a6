"""At which hours does the studio light its kilns, and when is nobody awake?"""

from __future__ import annotations

from datetime import time

from django.db import models
from django.db.models import F, Q


class NightRule(models.Model):
    """The one row that says when kilns are usually lit and when it is night. Our own defaults."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    usual_start = models.TimeField(default=time(8))
    night_from = models.TimeField(default=time(22))
    night_until = models.TimeField(default=time(6))

    class Meta:
        constraints = [
            models.CheckConstraint(name="night_rule_is_one", condition=Q(id=1)),
            models.CheckConstraint(
                name="night_has_two_ends", condition=~Q(night_from=F("night_until"))
            ),
        ]

    def __str__(self) -> str:
        return f"night from {self.night_from:%H:%M} to {self.night_until:%H:%M}"
