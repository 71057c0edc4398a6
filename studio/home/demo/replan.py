"""What happened in the demo studio since its plan was put in force, and what follows from it?

A board of tumblers slid off the rack, so the plan no longer holds: Today says so, and a plan worked
out again waits with the changes it would make. Somebody's phone reads the plan from its calendar.
"""

from __future__ import annotations

from django.contrib.auth.models import User
from django.utils import timezone

import studio.wares.services as wares
from studio.home.demo.fixture import read
from studio.planning.models import BackPlan
from studio.planning.services import give_address, work_out
from studio.wares.models import Board


def lose_a_board(*, by: User) -> str:
    """Write the lost board down and give out a calendar's address; answer what was said."""
    data = read("since_the_plan.json")
    row, at = data["lost"], timezone.now()
    give_address(name=data["calendar"], by=by, at=at)
    change = wares.lose(
        board=Board.objects.get(label=row["board"]),
        count=row["count"],
        parting=row["parting"],
        cause=row["cause"],
        by=by,
        at=at,
    )
    return change.said


def plan_again(*, by: User, seconds: float) -> BackPlan:
    """Work the plan out again as things stand now; it waits for the potter's word.

    A surer one was offered with the plan in force; nobody should wait for it once more.
    """
    now = timezone.now()
    return work_out(
        today_date=timezone.localdate(now),
        seconds=seconds,
        is_surer_sought=False,
        by=by,
        at=now,
    )
