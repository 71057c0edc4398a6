"""Is a loaded piece's place kept in the record, and may nobody change it too late?"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings import rules, selectors, services
from studio.firings.models import Firing
from studio.wares import services as wares
from tests.firings.conftest import NOW, World
from tests.firings.spots import a_spot, both
from tests.firings.test_load_drawn import drawn, loaded

Refused = Callable[..., str]
Key = Callable[[], str]


def test_nothing_is_said_of_a_lit_load(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    world.lit(firing)
    spot = a_spot(firing, world.mug)
    said = both(refused, world, services.leave_out, spot)
    assert said == rules.can_mark(state="firing", kiln="Heron")
    assert selectors.place_page(spot)["why_not"] == said


def test_an_undo_that_comes_too_late(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    first = services.pin(spot=spot, seen=spot.seq, keep=True, by=world.by, at=NOW)
    services.pin(spot=spot, seen=spot.seq + 1, keep=False, by=world.by, at=NOW)
    assert refused(services.undo, change=first, by=world.by, at=NOW) == (
        "This can no longer be undone: the drawing was changed since."
    )


def test_places_are_in_the_record_after_opening(world: World) -> None:
    firing = loaded(world, mugs=6, bowls=2)
    drawn(world, firing)
    before = selectors.places_of(firing)
    assert [one.number for one in before] == sorted(one.number for one in before)
    assert len(before) == 8
    assert before[0].words.startswith(f"place {before[0].number}, level {before[0].level}, ")
    mugs = next(place.board for place in firing.places.all() if place.piece.form == world.mug)
    world.fired(firing, {mugs.pk: (2, "s_crack")})
    assert selectors.places_of(firing) == before
    found = selectors.results_by_place(world.big)
    assert (found.firings, found.stood) == (1, 8)
    assert sum(row.lost for row in found.rows) == 2
    assert sum(row.seconds for row in found.rows) == 0
    assert found.words.startswith("8 pieces of 1 firing. Under 50 pieces a place")
    picture = found.picture
    assert (picture is not None and "2 of" in picture.desc) or "1 of" in picture.desc
    nothing = selectors.results_by_place(world.small)
    assert nothing.picture is None
    assert nothing.words.startswith("No opened firing of this kiln has a drawn load yet")


def test_a_second_counts_where_it_was_glaze_fired(world: World) -> None:
    bisqued = world.planned(world.big, world.bisque)
    board = world.thrown(3)
    world.load(bisqued, board)
    drawn(world, bisqued)
    world.fired(bisqued)
    asked = {"by": world.by, "at": NOW}
    wares.glaze(board=board, coats=world.tenmoku, schedule=world.six, count=3, **asked)
    glazed = world.planned()
    world.load(glazed, board)
    drawn(world, glazed)
    world.fired(glazed)
    wares.grade(board=board, firsts=2, seconds=1, faults={"second": "pinhole"}, **asked)
    found = selectors.results_by_place(world.big)
    # 3 pieces in the bisque and the same 3 in the glaze firing; one second, in the latter only.
    assert (found.firings, found.stood) == (2, 3 + 3)
    assert sum(row.seconds for row in found.rows) == 1
    Firing.objects.filter(pk=glazed.pk).update(is_failed=True, failed_why="power cut")
    assert selectors.results_by_place(world.big).stood == 3


@pytest.mark.parametrize("what", ["leave-out", "keep", "move", "instead"])
def test_each_button_acts_once(world: World, signed_in: Client, form_key: Key, what: str) -> None:
    firing = loaded(world)
    drawn(world, firing)
    board = world.thrown(2)
    spot = a_spot(firing, world.mug)
    page = signed_in.get(
        reverse("firings:place-where", args=[firing.pk, spot.pk, spot.level])
        if what == "move"
        else reverse("firings:place", args=[firing.pk, spot.pk])
    )
    address = reverse(f"firings:place-{what}", args=[firing.pk, spot.pk])
    assert f'action="{address}"' in page.text
    typed = {
        "form_key": form_key(), "seen": spot.seq, "keep": "on", "level": spot.level,
        "ring": "inner", "board": board.pk,
    }  # fmt: skip
    first = signed_in.post(address, typed)
    assert first.headers["Location"] == reverse("firings:drawn", args=[firing.pk])
    spot.refresh_from_db()
    seq = spot.seq
    assert signed_in.post(address, typed).status_code == 302
    spot.refresh_from_db()
    assert spot.seq == seq
    stale = signed_in.post(address, typed | {"form_key": form_key()})
    assert stale.status_code == 409
    assert f"Place {spot.number} was changed meanwhile" in stale.text


def test_a_number_leads_to_its_place(world: World, signed_in: Client) -> None:
    firing = loaded(world)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    address = reverse("firings:places", args=[firing.pk])
    answer = signed_in.get(address, {"number": spot.number})
    assert answer.headers["Location"] == reverse("firings:place", args=[firing.pk, spot.pk])
    for wrong in ("99", "", "x", "9" * 40):
        answer = signed_in.get(address, {"number": wrong})
        assert answer.headers["Location"] == reverse("firings:drawn", args=[firing.pk])
    gone = reverse("firings:place", args=[firing.pk, 999_999])
    assert signed_in.get(gone).status_code == 302
