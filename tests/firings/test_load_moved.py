"""Does a piece that is moved by hand stand where it was put, checked like all that is drawn?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from studio.craft.kiln_load import CONE_PACK
from studio.craft.kiln_load import Spot as KilnSpot
from studio.firings import rules, selectors, services
from studio.firings.forms.sheets import TAP_WIDE
from studio.firings.models import Firing, Kiln, Sheet, Spot
from studio.firings.selectors.moved import THIRDS, ground_of, why_not_clear
from studio.firings.selectors.packing import plan_of
from studio.web.models import Change
from tests.firings.conftest import NOW, World
from tests.firings.test_load_drawn import drawn, loaded
from tests.firings.test_load_places import a_spot, both

Refused = Callable[..., str]
Key = Callable[[], str]


@pytest.fixture
def load_of_three(world: World) -> Firing:
    """Two mugs and a bowl, drawn: room for a hand to move them."""
    firing = loaded(world, mugs=2, bowls=1)
    drawn(world, firing)
    return firing


def put(world: World, spot: Spot, **where: object) -> Change:
    asked = {"seen": spot.seq, "level": spot.level, "by": world.by, "at": NOW} | where
    change = services.put_at(spot=spot, **asked)  # type: ignore[arg-type]
    spot.refresh_from_db()
    return change


def room_for(spot: Spot) -> tuple[float, float]:
    """A point of its level where a piece stands clear: the first ninth that takes it."""
    sheet = spot.sheet
    ground = ground_of(sheet.firing, sheet, spot, selectors.spots_of(sheet))
    level = selectors.level_of(sheet, spot.level)
    assert level is not None
    for name, _, _ in THIRDS:
        found = selectors.found_in(ground, level, name, turn_deg=0)
        if found is not None:
            return found.x_mm, found.y_mm
    raise AssertionError("no room on the level")


def test_it_stands_where_it_was_tapped(world: World, load_of_three: Firing) -> None:
    spot = a_spot(load_of_three, world.mug)
    was = (spot.x_mm, spot.y_mm, spot.ring, spot.place_id)
    x, y = room_for(spot)
    change = put(world, spot, point=(x, y))
    assert spot.x_mm == pytest.approx(x, abs=0.01)
    assert spot.y_mm == pytest.approx(y, abs=0.01)
    assert (spot.mark, spot.place_id) == ("moved", was[3])
    words = rules.point_words(x_mm=x, y_mm=y)
    assert change.said == (
        f"Moved place {spot.number}, Mug, Grey stoneware, lot 7, to level {spot.level}, {words}"
    )
    # It can keep its place now, which one moved to a level alone cannot.
    assert selectors.place_page(spot)["why_not_pin"] == ""
    services.undo(change=change, by=world.by, at=NOW)
    spot.refresh_from_db()
    assert (spot.x_mm, spot.y_mm, spot.ring, spot.place_id) == was


def test_a_point_is_told_from_the_middle() -> None:
    assert rules.point_words(x_mm=120, y_mm=-40) == "120 mm right and 40 mm front of the middle"
    assert rules.point_words(x_mm=-25.4, y_mm=50.8, unit="in") == (
        "1 in left and 2 in back of the middle"
    )


def test_what_no_longer_fits_is_said(world: World, load_of_three: Firing, refused: Refused) -> None:
    spot, other = Spot.objects.filter(sheet__firing=load_of_three, form=world.mug)[:2]
    assert other.level == spot.level
    said = both(refused, world, services.put_at, spot, level=other.level,
                point=(other.x_mm, other.y_mm))  # fmt: skip
    assert said.startswith(
        f"No room for Mug, Grey stoneware, lot 7 within 30 mm of there on level {other.level}:"
        f" it would touch place {other.number}"
    )
    assert "The nearest that was found is " in said
    said = both(refused, world, services.put_at, spot, level=spot.level, point=(900.0, 0.0))
    assert "it would touch the edge of the shelf" in said


def test_the_way_to_a_level_is_refused_alike(
    world: World, load_of_three: Firing, refused: Refused
) -> None:
    spot = a_spot(load_of_three, world.mug)
    sheet = spot.sheet
    count = len(sheet.levels)
    assert both(refused, world, services.put_at, spot, level=39, part="middle") == (
        f"This load has levels 1 to {count}; there is no level 39."
    )
    assert both(refused, world, services.put_at, spot, level=1) == rules.NO_POINT
    sheet.levels = [*sheet.levels, {**sheet.levels[0], "number": count + 1, "clear_mm": 90}]
    sheet.save()
    said = both(refused, world, services.put_at, spot, level=count + 1, part="middle")
    assert said.startswith("Mug, Grey stoneware, lot 7 goes in 102 mm tall;")
    page = selectors.where_page(Spot.objects.get(pk=spot.pk), count + 1)
    assert page is not None
    assert page["why_not"] == said
    services.leave_out(spot=spot, seen=spot.seq, by=world.by, at=NOW)
    spot.refresh_from_db()
    assert both(refused, world, services.put_at, spot, level=1, part="middle") == (
        f"Place {spot.number} is free already."
    )


def test_a_part_without_room(world: World, load_of_three: Firing, refused: Refused) -> None:
    spot = a_spot(load_of_three, world.mug)
    Kiln.objects.filter(pk=world.big.pk).update(wall_mm=200)
    page = selectors.where_page(Spot.objects.get(pk=spot.pk), spot.level)
    assert page is not None
    barred = {one.name: one.refusal for one in page["parts"] if one.refusal}
    assert "back left" in barred
    said = both(refused, world, services.put_at, spot, level=spot.level, part="back left")
    assert said == barred["back left"]
    assert said == rules.no_room_in_part(what="Mug, Grey stoneware, lot 7", level=spot.level)


def test_runny_ware_is_not_moved_over_other_ware(world: World, refused: Refused) -> None:
    mug = "Mug in Tenmoku, lot 7"
    assert rules.runs_there(what=mug, level=3, is_over=True).startswith(
        "Mug in Tenmoku, lot 7 may run: on level 3 it would stand over ware"
    )
    firing = loaded(world)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    ground = ground_of(firing, spot.sheet, spot, selectors.spots_of(spot.sheet))
    low = replace(ground.levels[0], base_mm=20)
    high = replace(low, number=2, base_mm=300)
    runs, stays = replace(ground.ware, is_runny=True), replace(ground.ware, key="stays")
    law = replace(ground.law, kind="glaze", runny="low")
    lots = [replace(ground.lots[0], ware=one, count=1) for one in (runs, stays)]

    def said(ware: object, level: object, other: object) -> str:
        there = KilnSpot(ware_key=other.key, level=1 if level is high else 2, x_mm=0, y_mm=0)  # type: ignore[attr-defined]
        plan = replace(ground.plan, levels=(low, high), spots=(there,))
        asked = replace(ground, law=law, free_plan=plan, free_lots=lots, ware=ware)  # type: ignore[arg-type]
        return selectors.why_not_on(asked, level)  # type: ignore[arg-type]

    what = ground.what
    assert said(runs, high, stays) == rules.runs_there(what=what, level=2, is_over=True)
    assert said(stays, low, runs) == rules.runs_there(what=what, level=1, is_over=False)
    assert said(stays, high, runs) == said(runs, low, stays) == ""


def test_a_free_place_that_was_filled_by_hand_is_none(world: World, refused: Refused) -> None:
    firing = loaded(world, mugs=3, bowls=1)
    drawn(world, firing)
    one, other, third = Spot.objects.filter(sheet__firing=firing, form=world.mug)
    left = services.leave_out(spot=other, seen=other.seq, by=world.by, at=NOW)
    other.refresh_from_db()
    assert [free.pk for free in selectors.place_page(one)["free"]] == [other.pk]
    # The first goes to where the other was drawn, a finger's breadth beside its middle.
    put(world, one, level=other.level, point=((other.x_mm or 0) + 10, other.y_mm))
    assert selectors.place_page(third)["free"] == []
    other.refresh_from_db()
    board = world.thrown(2)
    said = both(refused, world, services.instead, other, board=board)
    assert said == (
        f"Place {other.number} is not clear: what was drawn there would touch place {one.number}."
    )
    assert said == selectors.place_page(other)["why_not_clear"]
    assert refused(services.undo, change=left, by=world.by, at=NOW) == (
        "This can no longer be undone: another piece was moved there since."
    )
    assert other.mark == "left_out"


def test_what_is_learnt_is_learnt_of_the_true_place(world: World) -> None:
    firing = loaded(world, mugs=1, bowls=1)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    put(world, spot, part="middle")
    assert spot.ring == "inner"
    put(world, spot, part="back right")
    assert spot.ring == "outer"
    level = spot.level
    assert spot.place is not None
    world.fired(firing, {spot.place.board_id: (1, "s_crack")})
    (row,) = [one for one in selectors.results_by_place(world.big).rows if one.lost]
    assert (row.level, row.ring, row.lost) == (level, "outer", 1)


def test_what_stood_on_a_piece_that_is_gone_comes_down(world: World, refused: Refused) -> None:
    firing = loaded(world, mugs=2, bowls=1)
    drawn(world, firing)
    low, top = Spot.objects.filter(sheet__firing=firing, form=world.mug)[:2]
    Spot.objects.filter(pk=top.pk).update(x_mm=low.x_mm, y_mm=low.y_mm, level=low.level, tier=1)
    sheet = Sheet.objects.get(firing=firing)
    assert why_not_clear(firing, sheet, low, selectors.spots_of(sheet)) == ""
    said = both(refused, world, services.pin, top, keep=True)
    assert said == selectors.place_page(Spot.objects.get(pk=top.pk))["why_not_pin"]
    assert said == f"Place {top.number} stands on or in another piece: keep the place of that one."
    assert selectors.place_page(Spot.objects.get(pk=low.pk))["why_not_pin"] == ""
    services.leave_out(spot=low, seen=low.seq, by=world.by, at=NOW)
    plan, _ = plan_of(sheet, selectors.spots_of(sheet))
    mugs = [one.tier for one in plan.spots if one.ware_key != CONE_PACK.key]
    # Mug and bowl, both on the shelf: the mug above is what keeps others from its place.
    assert mugs == [0, 0]
    top.refresh_from_db()
    services.pin(spot=top, seen=top.seq, keep=True, by=world.by, at=NOW)


def test_the_page_takes_a_tap_and_a_part(
    world: World, load_of_three: Firing, signed_in: Client, form_key: Key
) -> None:
    firing, spot = load_of_three, a_spot(load_of_three, world.mug)
    address = reverse("firings:place-where", args=[firing.pk, spot.pk, spot.level])
    place = signed_in.get(reverse("firings:place", args=[firing.pk, spot.pk])).text
    assert f'href="{address}"' in place
    page = signed_in.get(address)
    picture = page.context["picture"]
    source = reverse("firings:level-picture", args=[firing.pk, spot.pk, spot.level])
    assert f'src="{source}"' in page.text
    shown = signed_in.get(source)
    assert shown.headers["Content-Type"] == "image/svg+xml"
    assert shown.text.count("<text") >= 3
    assert "<a " not in shown.text
    x, y = room_for(spot)
    scale = picture.width / TAP_WIDE
    tap = {
        "at.x": round((x + picture.width / 2) / scale),
        "at.y": round((picture.height / 2 - y) / scale),
    }
    typed = {"form_key": form_key(), "seen": spot.seq, **tap}
    answer = signed_in.post(address, typed)
    assert answer.headers["Location"] == reverse("firings:drawn", args=[firing.pk])
    spot.refresh_from_db()
    # A step of the picture is under 2 mm; the place found beside a tap on the edge is no further.
    assert spot.x_mm == pytest.approx(x, abs=4)
    assert spot.y_mm == pytest.approx(y, abs=4)
    seq = spot.seq
    assert signed_in.post(address, typed).status_code == 302
    spot.refresh_from_db()
    assert spot.seq == seq
    typed = {"form_key": form_key(), "seen": spot.seq, "part": "middle"}
    assert signed_in.post(address, typed).status_code == 302
    spot.refresh_from_db()
    assert spot.ring == "inner"


def test_what_the_page_refuses_changes_nothing(
    world: World, load_of_three: Firing, signed_in: Client, form_key: Key
) -> None:
    firing, spot = load_of_three, a_spot(load_of_three, world.mug)
    address = reverse("firings:place-where", args=[firing.pk, spot.pk, spot.level])
    wrong: list[tuple[dict[str, object], str]] = [
        ({}, rules.NO_POINT),
        ({"at.x": 1, "at.y": 1}, "it would touch the edge of the shelf"),
        ({"part": "attic"}, "Part: "),
        ({"at.x": "x", "at.y": 3}, "The tap: "),
        ({"seen": spot.seq + 1, "part": "middle"}, "was changed meanwhile"),
    ]
    for typed, sentence in wrong:
        answer = signed_in.post(address, {"form_key": form_key(), "seen": spot.seq} | typed)
        assert answer.status_code == 422
        assert sentence in answer.text
    again = Spot.objects.get(pk=spot.pk)
    assert (again.seq, again.x_mm, again.mark) == (spot.seq, spot.x_mm, "drawn")
    away = signed_in.get(reverse("firings:place-where", args=[firing.pk, spot.pk, 39]))
    assert away.headers["Location"] == reverse("firings:place", args=[firing.pk, spot.pk])
    gone = signed_in.get(reverse("firings:place-where", args=[firing.pk, 999_999, 1]))
    assert gone.headers["Location"] == reverse("firings:drawn", args=[firing.pk])
    for ids in ((firing.pk, 999_999, 1), (firing.pk, spot.pk, 39)):
        assert signed_in.get(reverse("firings:level-picture", args=ids)).status_code == 404
    services.move(spot=spot, seen=spot.seq, level=spot.level, ring="inner", by=world.by, at=NOW)
    other = Spot.objects.filter(sheet__firing=firing, form=world.mug).exclude(pk=spot.pk).get()
    page = signed_in.get(reverse("firings:place-where", args=[firing.pk, other.pk, spot.level]))
    assert f"nobody wrote down where: place {spot.number}. Mind it yourself." in page.text


def test_a_level_is_shown_large_with_each_place_to_press(
    world: World, load_of_three: Firing, signed_in: Client
) -> None:
    firing = load_of_three
    number = a_spot(firing, world.mug).level
    address = reverse("firings:drawn-level", args=[firing.pk, number])
    assert f'href="{address}"' in signed_in.get(reverse("firings:drawn", args=[firing.pk])).text
    page = signed_in.get(address)
    for spot in Spot.objects.filter(sheet__firing=firing, level=number):
        there = reverse("firings:place", args=[firing.pk, spot.pk])
        # Once in the list of numbers, and once on the drawing where it is no stack.
        assert page.text.count(f'href="{there}"') == 2
    # The narrowest body is no narrower than a finger: 44 px.
    narrowest = min(mark.least for mark in page.context["card"].picture.marks)
    scale = page.context["wide"] / page.context["card"].picture.width
    assert narrowest * scale >= 44 - 0.1
    away = signed_in.get(reverse("firings:drawn-level", args=[firing.pk, 39]))
    assert away.headers["Location"] == reverse("firings:drawn", args=[firing.pk])
    Sheet.objects.filter(firing=firing).delete()
    assert signed_in.get(address).status_code == 302


def test_small_ware_makes_a_large_drawing_larger(world: World, load_of_three: Firing) -> None:
    world.mug.width_mm = 20
    world.mug.save()
    page = selectors.level_page(load_of_three, a_spot(load_of_three, world.mug).level)
    assert page is not None
    # 20 mm fired is a little more dry; 44 px for it.
    least = min(mark.least for mark in page["card"].picture.marks)
    assert 20 < least < 24
    assert page["wide"] == round(page["card"].picture.width * 44 / least)


def test_what_stands_in_another_form_is_told(world: World, load_of_three: Firing) -> None:
    firing = load_of_three
    bowl = a_spot(firing, world.bowl)
    mug = a_spot(firing, world.mug)
    Spot.objects.filter(pk=mug.pk).update(
        x_mm=bowl.x_mm, y_mm=bowl.y_mm, level=bowl.level, tier=1, number=90
    )

    def notes() -> dict[int, str]:
        drawn_now = selectors.drawn_load_of(firing)
        assert drawn_now is not None
        rows = [row for card in drawn_now.levels for row in card.rows]
        return {spot.number: row.note for row in rows for spot in row.spots}

    assert notes()[90] == "inside what is under it"
    assert notes()[bowl.number] == ""
    # The bowl is left out: the mug stands on the shelf.
    services.leave_out(spot=bowl, seen=bowl.seq, by=world.by, at=NOW)
    assert notes()[90] == ""
