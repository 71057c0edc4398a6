"""Are a kiln's shelves, posts and clearances kept, refused, undone, and drawn with?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from studio.craft.kiln_load import PostStock as Posts
from studio.craft.kiln_load import Probe
from studio.craft.kiln_load import ShelfStock as Shelves
from studio.firings import rules, selectors, services
from studio.firings.models import Kiln, Place, PostStock, Sheet, ShelfStock, Spot
from studio.web.models import Studio
from tests.firings.conftest import NOW, World

Refused = Callable[..., str]
Key = Callable[[], str]
TYPED = {
    "shelf_count_1": "4", "shelf_kind_1": "whole", "shelf_thick_1": "16",
    "shelf_count_2": "2", "shelf_kind_2": "half", "shelf_thick_2": "16",
    "post_count_1": "12", "post_height_1": "102", "post_count_2": "7", "post_height_2": "152",
    "shelf_gap_mm": "15", "wall_mm": "13", "lid_mm": "25", "floor_post_mm": "13",
    "post_across_mm": "32", "probe_side": "back", "probe_in_mm": "50", "probe_height_mm": "300",
}  # fmt: skip


def told(kiln: Kiln, **values: Any) -> selectors.Furniture:
    """A kiln's furniture with some of it otherwise."""
    return replace(selectors.furniture_of(kiln), **values)


def test_until_it_is_told_a_kiln_has_the_usual(world: World) -> None:
    room = selectors.room_in(world.big)
    assert room.shelves == (Shelves(kind="whole", thickness_mm=16, count=world.big.shelf_count),)
    assert {stock.sets for stock in room.posts} == {world.big.shelf_count}
    assert room.probe is None


def test_the_page_keeps_it_and_a_second_visit_shows_it(
    world: World, signed_in: Client, form_key: Key
) -> None:
    address = reverse("firings:furniture", args=[world.big.pk])
    first = signed_in.get(address)
    seen = first.context["seen"]
    assert "Lengths are in mm; 3 1/2 in is read too." in first.text
    answer = signed_in.post(address, TYPED | {"form_key": form_key(), "seen": seen})
    assert answer.headers["Location"] == reverse("firings:kiln", args=[world.big.pk])
    room = selectors.room_in(Kiln.objects.get(pk=world.big.pk))
    assert set(room.shelves) == {
        Shelves(kind="whole", thickness_mm=16, count=4),
        Shelves(kind="half", thickness_mm=16, count=2),
    }
    # 12 posts are four sets of three; of 7 one is over.
    assert room.posts == (Posts(height_mm=102, sets=4), Posts(height_mm=152, sets=2))
    # Half of 594 across the flats less the 50 that it reaches in.
    assert room.probe == Probe(x_mm=0, y_mm=594 // 2 - 50, height_mm=300)
    page = signed_in.get(reverse("firings:kiln", args=[world.big.pk])).text
    assert "12 of 102 mm, 7 of 152 mm" in page
    assert "the packer finds room for" in page
    assert 'value="102"' in signed_in.get(address).text
    late = signed_in.post(address, TYPED | {"form_key": form_key(), "seen": seen, "lid_mm": "30"})
    assert late.status_code == 422
    assert "The furniture of Heron" in late.text


def test_it_is_typed_in_inches(world: World, signed_in: Client, form_key: Key) -> None:
    Studio.objects.update_or_create(id=1, defaults={"length_unit": "in"})
    inches = {"shelf_thick_1": "5/8", "shelf_thick_2": "5/8", "post_height_1": "4",
              "post_height_2": "6", "shelf_gap_mm": "1/2", "wall_mm": "1/2", "lid_mm": "1",
              "floor_post_mm": "1/2", "post_across_mm": "1 1/4", "probe_in_mm": "2",
              "probe_height_mm": "12"}  # fmt: skip
    address = reverse("firings:furniture", args=[world.big.pk])
    assert "Lengths are in inches; 90 mm is read too." in signed_in.get(address).text
    signed_in.post(address, TYPED | inches | {"form_key": form_key()})
    assert list(world.big.posts.values_list("height_mm", flat=True)) == [102, 152]
    assert list(world.big.shelves.values_list("thickness_mm", flat=True)) == [16, 16]


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"shelf_thick_1": ""}, "Row 1: how thick are they?"),
        ({"post_height_2": ""}, "Row 2: how high are they?"),
        ({"post_height_2": "102"}, "Row 2: these are in a row above."),
        ({"probe_in_mm": ""}, "How far does the thermocouple reach in?"),
        ({"shelf_gap_mm": "201"}, rules.WRONG_FURNITURE),
        ({"post_height_1": "601"}, rules.WRONG_FURNITURE),
        ({"probe_in_mm": "594"}, rules.WRONG_FURNITURE),
        ({"post_across_mm": "150", "wall_mm": "190"}, "leave no shelf in this kiln"),
    ],
)
def test_furniture_that_cannot_be(
    world: World, signed_in: Client, form_key: Key, wrong: dict[str, str], sentence: str
) -> None:
    address = reverse("firings:furniture", args=[world.big.pk])
    answer = signed_in.post(address, TYPED | wrong | {"form_key": form_key()})
    assert answer.status_code == 422
    assert sentence in answer.text.replace("&#x27;", "'")
    assert not ShelfStock.objects.exists()
    assert Kiln.objects.get(pk=world.big.pk).shelf_gap_mm == 13


def test_it_goes_back_while_nobody_wrote_it_again(world: World, refused: Refused) -> None:
    asked = {"kiln": world.big, "by": world.by, "at": NOW}
    first = services.save_furniture(furniture=told(world.big, posts=[(102, 12)]), **asked)
    second = services.save_furniture(furniture=told(world.big, posts=[(76, 9)]), **asked)
    assert refused(services.undo, change=first, by=world.by, at=NOW) == (
        "This can no longer be undone: the furniture of Heron was changed since."
    )
    services.undo(change=second, by=world.by, at=NOW)
    assert selectors.furniture_of(world.big).posts == [(102, 12)]
    services.undo(change=first, by=world.by, at=NOW)
    assert not PostStock.objects.exists()


def shelves(world: World, **values: object) -> object:
    own: dict[str, Any] = {"kiln": world.big, "kind": "whole", "thickness_mm": 16, "count": 1}
    return ShelfStock.objects.create(**{**own, **values})


def posts(world: World, **values: object) -> object:
    own: dict[str, Any] = {"kiln": world.big, "height_mm": 100, "count": 3}
    return PostStock.objects.create(**{**own, **values})


def sheet(world: World, **values: object) -> Sheet:
    own: dict[str, Any] = {"drawn_at": NOW, "levels": []}
    own = {**own, **values}
    return Sheet.objects.create(firing=own.pop("firing", None) or world.planned(), **own)


def spot(world: World, **values: object) -> Spot:
    own: dict[str, Any] = {
        "number": 1, "level": 1, "ring": "inner", "x_mm": 0, "y_mm": 0, "form": world.mug,
        "clay_lot": world.grey,
    }  # fmt: skip
    own = {**own, **values}
    return Spot.objects.create(sheet=own.pop("sheet", None) or sheet(world), **own)


def twice_on_a_number(world: World) -> None:
    on = sheet(world)
    spot(world, sheet=on)
    spot(world, sheet=on)


def twice_on_a_sheet(world: World) -> None:
    world.load(world.planned(world.big, world.bisque), world.thrown(1))
    on, place = sheet(world), Place.objects.get()
    for number in (1, 2):
        spot(world, sheet=on, number=number, place=place)


def left_out_and_there(world: World) -> None:
    world.load(world.planned(world.big, world.bisque), world.thrown(1))
    spot(world, mark="left_out", place=Place.objects.get())


MUST_FAIL: dict[str, Callable[[World], object]] = {
    "shelves_once": lambda w: (shelves(w), shelves(w)),
    "shelves_real": lambda w: shelves(w, kind="third"),
    "shelves_real (thin)": lambda w: shelves(w, thickness_mm=2),
    "posts_once": lambda w: (posts(w), posts(w)),
    "posts_real": lambda w: posts(w, height_mm=9),
    "posts_real (none)": lambda w: posts(w, count=0),
    "sheet_seq_from_one": lambda w: sheet(w, seq=0),
    "sheet_rules_known": lambda w: sheet(w, runny="away"),
    "spot_number_once": twice_on_a_number,
    "a_piece_stands_once": twice_on_a_sheet,
    "spot_says_what": lambda w: spot(w, form=None),
    "spot_says_what (a cone is no pot)": lambda w: spot(w, what="cone"),
    "spot_mark_known": lambda w: spot(w, mark="lost"),
    "spot_mark_known (ring)": lambda w: spot(w, ring="mid"),
    "spot_left_out_is_free": left_out_and_there,
    "spot_is_somewhere": lambda w: spot(w, x_mm=None),
}


@pytest.mark.parametrize("name", MUST_FAIL)
def test_the_database_refuses(world: World, name: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        MUST_FAIL[name](world)


def test_every_constraint_of_furniture_and_sheets_is_tried() -> None:
    tried = {name.split(" ")[0] for name in MUST_FAIL}
    models = (ShelfStock, PostStock, Sheet, Spot)
    assert {c.name for model in models for c in model._meta.constraints} <= tried


def test_what_must_be_possible_is(world: World) -> None:
    shelves(world)
    shelves(world, kind="half")
    posts(world)
    on = sheet(world)
    spot(world, sheet=on)
    spot(world, sheet=on, number=2, what="cone", form=None, clay_lot=None)
    spot(world, sheet=on, number=3, mark="moved", x_mm=None, y_mm=None)
    spot(world, sheet=on, number=4, mark="left_out")


@pytest.mark.parametrize(
    ("side", "x_mm", "y_mm"),
    [("back", 0, 247), ("front", 0, -247), ("left", -247, 0), ("right", 247, 0)],
)
def test_the_thermocouple_ends_where_it_reaches(
    world: World, side: str, x_mm: int, y_mm: int
) -> None:
    world.big.probe_side, world.big.probe_in_mm, world.big.probe_height_mm = side, 50, 300
    assert selectors.room_in(world.big).probe == Probe(x_mm=x_mm, y_mm=y_mm, height_mm=300)
