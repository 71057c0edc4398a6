"""A firing that has cooled, for the tests of what came out."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from studio.firings import services
from studio.firings.models import Firing
from studio.wares.models import Board
from tests.firings.conftest import NOW, World

HOUR = timedelta(hours=1)


def cooled(world: World, board: Board, **kiln: Any) -> tuple[Firing, dict[str, Any]]:
    """A load of one board, off and cool, and what an opening needs besides."""
    is_bisque = board.pieces.all()[0].stage == "thrown"
    firing = world.planned(world.small, world.bisque if is_bisque else world.six)
    world.load(firing, board)
    lit_at = max(world.free_from(world.small), NOW - timedelta(hours=60))
    services.light(firing=firing, lit_at=lit_at, by=world.by, at=NOW)
    services.switch_off(firing=firing, off_at=lit_at + 12 * HOUR, by=world.by, at=NOW)
    firing.refresh_from_db()
    opening = {"firing": firing, "opened_at": lit_at + 30 * HOUR, "is_cool": True,
               "by": world.by, "at": NOW}  # fmt: skip
    return firing, opening
