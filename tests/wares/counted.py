"""Boards counted in, for the tests of the service and of its page."""

from typing import Any

from django.contrib.auth.models import User

from studio.wares import services
from studio.wares.models import Board
from studio.web.models import Change
from tests import make


def count_in(stage: str, by: User, **more: Any) -> Change:
    """Twelve mugs at a stage, in kelp when they have a glaze."""
    given: dict[str, Any] = {
        "form": make.form(),
        "clay_lot": make.clay_lot(),
        "stage": stage,
        "count": 12,
        "made_date": make.MADE,
        "by": by,
        "at": make.AT,
    }
    if stage != "bisqued":
        given |= {"coats": make.coats(), "schedule": make.schedule()}
    return services.count_in(**(given | more))


def counted(stage: str, by: User, **more: Any) -> Board:
    return make.subject_board(count_in(stage, by, **more))
