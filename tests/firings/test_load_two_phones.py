"""Two people draw the same load, or tap the same place, at the same moment: one acts."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User

from studio.firings import services
from studio.firings.models import Sheet, Spot
from studio.web.models import Change
from tests.firings.conftest import NOW, World, make_world
from tests.firings.test_load_drawn import drawn, loaded
from tests.two_at_once import told, while_held

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shared(transactional_db: None) -> World:
    """A studio that other threads can see."""
    return make_world(User.objects.create_user("ada", password="wedge the clay first"))


def test_of_two_drawings_one_is_kept(shared: World) -> None:
    firing = loaded(shared, mugs=3, bowls=1)
    ready = [services.prepare_sheet(firing=firing, steps=300) for _ in range(2)]

    def keep(number: int) -> Change:
        return services.keep_sheet(firing=firing, ready=ready[number], seen=0, by=shared.by, at=NOW)

    sentence = told(while_held(lambda: keep(0), lambda: keep(1)))
    assert sentence.startswith("This load was drawn meanwhile by ada at 10:00")
    assert Sheet.objects.get(firing=firing).seq == 1
    assert Change.objects.filter(action="draw_load").count() == 1


def test_of_two_taps_one_counts(shared: World) -> None:
    firing = loaded(shared, mugs=3, bowls=1)
    drawn(shared, firing)
    spot = Spot.objects.filter(sheet__firing=firing, form=shared.mug)[0]
    asked = {"spot": spot, "seen": spot.seq, "by": shared.by, "at": NOW}
    sentence = told(
        while_held(
            lambda: services.leave_out(**asked),
            lambda: services.move(level=spot.level, ring="inner", **asked),
        )
    )
    assert sentence.startswith(f"Place {spot.number} was changed meanwhile by ada at 10:00")
    spot.refresh_from_db()
    assert (spot.mark, spot.seq) == ("left_out", 2)


def test_a_tap_on_a_load_that_is_drawn_again_changes_nothing(shared: World) -> None:
    firing = loaded(shared, mugs=3, bowls=1)
    drawn(shared, firing)
    spot = Spot.objects.filter(sheet__firing=firing, form=shared.mug)[0]
    ready = services.prepare_sheet(firing=firing, steps=300)
    sentence = told(
        while_held(
            lambda: services.keep_sheet(firing=firing, ready=ready, by=shared.by, at=NOW),
            lambda: services.leave_out(spot=spot, seen=spot.seq, by=shared.by, at=NOW),
        )
    )
    assert sentence.startswith("This load was drawn again since you saw it.")
    assert firing.places.filter(outcome="").count() == 4
