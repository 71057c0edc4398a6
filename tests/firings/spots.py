"""Spots of a drawn load, for the tests of what is done at one."""

from __future__ import annotations

from collections.abc import Callable

from studio.firings.models import Firing, Spot
from tests.firings.conftest import NOW, World

Refused = Callable[..., str]


def a_spot(firing: Firing, form: object) -> Spot:
    """The first spot of a form on a drawn load."""
    found = Spot.objects.filter(sheet__firing=firing, form=form, mark="drawn").first()
    assert found is not None
    return found


def both(refused: Refused, world: World, service: Callable[..., object], spot: Spot,
         **asked: object) -> str:  # fmt: skip
    """What a service refuses, with nothing changed by it."""
    before = list(Spot.objects.values_list("id", "seq", "mark", "place_id"))
    said = refused(service, spot=spot, seen=spot.seq, by=world.by, at=NOW, **asked)
    assert list(Spot.objects.values_list("id", "seq", "mark", "place_id")) == before
    return said
