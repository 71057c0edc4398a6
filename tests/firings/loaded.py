"""A load ready to be lit."""

from __future__ import annotations

from studio.firings.models import Firing
from studio.wares.models import Board
from tests.firings.conftest import World


def loaded(world: World, count: int = 10) -> tuple[Firing, Board]:
    """A bisque load of one board in the big kiln."""
    board = world.thrown(count)
    firing = world.planned(world.big, world.bisque)
    world.load(firing, board)
    firing.refresh_from_db()
    return firing, board
