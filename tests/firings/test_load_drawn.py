"""Is a load drawn, kept, drawn again and taken back, and is every refusal the page's own?"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from studio.craft.load_referee import broken_rules
from studio.firings import papers, rules, selectors, services
from studio.firings.models import Firing, Kiln, PlannedWare, Sheet, Spot
from studio.firings.selectors.packing import plan_of, room_in, rules_of, ware_of
from studio.web.models import Change
from tests.firings.conftest import NOW, World

Refused = Callable[..., str]
Key = Callable[[], str]


def drawn(world: World, firing: Firing, **how: object) -> Change:
    """Draw a load as the page does, with a short look."""
    ready = services.prepare_sheet(firing=firing, steps=1_500, **how)  # type: ignore[arg-type]
    return services.keep_sheet(firing=firing, ready=ready, by=world.by, at=NOW)


def loaded(world: World, mugs: int = 6, bowls: int = 2) -> Firing:
    """A bisque load of mugs and bowls in the big kiln."""
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown(mugs))
    world.load(firing, world.thrown(bowls, form=world.bowl))
    firing.refresh_from_db()
    return firing


def spot(firing: Firing, number: int) -> Spot:
    return Spot.objects.get(sheet__firing=firing, number=number)


def test_what_is_loaded_gets_a_spot_each(world: World) -> None:
    firing = loaded(world)
    change = drawn(world, firing)
    sheet = Sheet.objects.get(firing=firing)
    assert change.said == f"Drew the load of Heron: 8 pieces on {len(sheet.levels)} levels".replace(
        "1 levels", "1 level"
    )
    ware = sheet.spots.filter(what="ware")
    assert ware.count() == 6 + 2
    assert set(ware.values_list("place_id", flat=True)) == set(
        firing.places.values_list("id", flat=True)
    )
    numbers = list(sheet.spots.order_by("number").values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))


def test_the_kept_load_keeps_every_rule(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    sheet = Sheet.objects.get(firing=firing)
    plan, lots = plan_of(sheet, selectors.spots_of(sheet))
    law = rules_of("bisque", runny=sheet.runny, handles=sheet.handles)
    assert broken_rules(room=room_in(firing.kiln), lots=lots, rules=law, plan=plan) == ()


def test_numbers_run_by_level_then_from_the_front(world: World) -> None:
    firing = loaded(world, mugs=12)
    drawn(world, firing)
    spots = list(Spot.objects.filter(sheet__firing=firing).order_by("number"))
    assert [one.level for one in spots] == sorted(one.level for one in spots)
    first, last = spots[0], [one for one in spots if one.level == spots[0].level][-1]
    assert first.y_mm is not None
    assert last.y_mm is not None
    assert first.y_mm < last.y_mm


def test_a_planned_load_is_drawn_and_its_boards_take_the_spots(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    PlannedWare.objects.create(firing=firing, form=world.mug, clay_lot=world.grey, count=8)
    drawn(world, firing)
    spots = Spot.objects.filter(sheet__firing=firing, what="ware")
    assert (spots.count(), spots.filter(place__isnull=True).count()) == (8, 8)
    board = world.thrown(5)
    change = services.load(firing=firing, board=board, by=world.by, at=NOW)
    assert spots.filter(place__board=board).count() == 5
    services.undo(change=change, by=world.by, at=NOW)
    assert not spots.filter(place__isnull=False).exists()


def test_taking_a_board_out_frees_its_spots(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    board = firing.places.earliest("id").board
    change = services.take_out(firing=firing, board=board, by=world.by, at=NOW)
    seated = Spot.objects.filter(sheet__firing=firing, place__isnull=False)
    assert seated.count() == 2
    services.undo(change=change, by=world.by, at=NOW)
    assert seated.count() == 8


def test_filling_up_takes_what_waits(world: World) -> None:
    firing = loaded(world, mugs=2, bowls=1)
    world.thrown(4)
    drawn(world, firing, fill_up=True)
    assert Spot.objects.filter(sheet__firing=firing, form=world.mug).count() == 2 + 4


def test_a_pinned_piece_stays_where_it_is(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    kept = Spot.objects.filter(sheet__firing=firing, form=world.bowl).first()
    assert kept is not None
    services.pin(spot=kept, seen=kept.seq, keep=True, by=world.by, at=NOW)
    world.load(firing, world.thrown(3))
    drawn(world, firing)
    again = Spot.objects.get(sheet__firing=firing, is_pinned=True)
    assert again.form == world.bowl
    assert (again.level, again.x_mm, again.y_mm) == (
        kept.level,
        pytest.approx(kept.x_mm, abs=0.06),
        pytest.approx(kept.y_mm, abs=0.06),
    )
    assert Spot.objects.filter(sheet__firing=firing, what="ware").count() == 8 + 3


def test_a_drawing_goes_back_to_the_one_before(world: World, refused: Refused) -> None:
    firing = loaded(world)
    first = drawn(world, firing)
    before = list(Spot.objects.filter(sheet__firing=firing).values_list("number", "x_mm", "form"))
    world.load(firing, world.thrown(3))
    second = drawn(world, firing)
    assert refused(services.undo, change=first, by=world.by, at=NOW) == (
        "This can no longer be undone: the load was drawn or changed again since."
    )
    services.undo(change=second, by=world.by, at=NOW)
    after = list(Spot.objects.filter(sheet__firing=firing).values_list("number", "x_mm", "form"))
    assert after == before
    alone = loaded_in(world)
    change = drawn(world, alone)
    services.undo(change=change, by=world.by, at=NOW)
    assert not Sheet.objects.filter(firing=alone).exists()


def loaded_in(world: World) -> Firing:
    """A small load in the small kiln."""
    firing = world.planned(world.small, world.bisque)
    world.load(firing, world.thrown(2))
    return firing


def test_an_empty_firing_is_not_drawn(world: World, refused: Refused) -> None:
    firing = world.planned()
    said = refused(services.prepare_sheet, firing=firing)
    assert said == rules.NOTHING_TO_DRAW
    assert selectors.load_page(firing, None)["why_not_draw"] == said


@pytest.mark.parametrize(
    ("state", "begins"),
    [
        ("firing", "Heron is lit: its load stays"),
        ("cooling", "Heron is lit: its load stays"),
        ("opened", "This firing was opened: where its pieces stood"),
        ("called_off", "This firing was called off."),
    ],
)
def test_a_load_is_drawn_before_it_is_lit_only(world: World, state: str, begins: str) -> None:
    assert rules.can_draw(state=state, kiln="Heron", asked=9).startswith(begins)
    assert rules.can_mark(state=state, kiln="Heron").startswith(begins)


def test_no_load_of_lustre() -> None:
    assert rules.can_draw(state="planned", kiln="Heron", asked=3, kind="lustre") == (
        "A lustre firing takes no boards, so there is no load to draw."
    )


def test_a_lit_load_is_not_drawn_again(world: World, refused: Refused) -> None:
    firing = loaded(world)
    ready = services.prepare_sheet(firing=firing, steps=500)
    world.lit(firing)
    said = refused(services.keep_sheet, firing=firing, ready=ready, by=world.by, at=NOW)
    assert said == rules.can_draw(state="firing", kiln="Heron", asked=1)
    assert selectors.load_page(firing, None)["why_not_draw"] == said


def test_a_kiln_without_room_says_so(world: World, refused: Refused) -> None:
    firing = loaded(world)
    Kiln.objects.filter(pk=world.big.pk).update(shelf_gap_mm=200, wall_mm=200, post_across_mm=150)
    firing = Firing.objects.get(pk=firing.pk)
    said = refused(services.prepare_sheet, firing=firing)
    assert said == "The clearances and posts leave no shelf in this kiln."
    assert selectors.why_not_draw(firing, asked=1) == said


def test_the_load_changed_while_it_was_drawn(world: World, refused: Refused) -> None:
    firing = loaded(world)
    ready = services.prepare_sheet(firing=firing, steps=500)
    world.load(firing, world.thrown(2))
    asked = {"firing": firing, "by": world.by, "at": NOW}
    assert refused(services.keep_sheet, ready=ready, **asked) == rules.LOAD_CHANGED


def test_what_finds_no_place_is_told(world: World) -> None:
    firing = world.planned(world.small, world.bisque)
    PlannedWare.objects.create(firing=firing, form=world.bowl, clay_lot=world.grey, count=60)
    drawn(world, firing)
    sheet = Sheet.objects.get(firing=firing)
    ((what, out),) = sheet.left_out
    standing = sheet.spots.filter(what="ware").count()
    assert (what, out + standing) == ("Bowl, Grey stoneware, lot 7", 60)
    told = selectors.drawn_load_of(firing)
    assert told is not None
    assert told.left_out == ((what, out),)


def test_the_page_draws_and_shows(
    world: World, signed_in: Client, form_key: Key, refused: Refused
) -> None:
    firing = loaded(world)
    address = reverse("firings:drawn", args=[firing.pk])
    assert "This load is not drawn yet." in signed_in.get(address).text
    typed = {"form_key": form_key(), "seen": "0"}
    answer = signed_in.post(address, typed)
    assert answer.headers["Location"] == address
    sheet = Sheet.objects.get(firing=firing)
    assert signed_in.post(address, typed).status_code == 302
    assert Sheet.objects.get(firing=firing).seq == sheet.seq
    page = signed_in.get(address).text
    assert page.count("<title id=") == len(sheet.levels) + 1
    assert page.count("<desc id=") == len(sheet.levels) + 1
    assert "Bowl, Grey stoneware, lot 7" in page
    assert "The drawn load" in signed_in.get(reverse("firings:firing", args=[firing.pk])).text
    stale = signed_in.post(address, {"form_key": form_key(), "seen": "0"})
    assert stale.status_code == 409
    assert "This load was drawn meanwhile by" in stale.text


def test_how_many_more_fit_can_really_stand(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    world.thrown(4)
    sheet = Sheet.objects.get(firing=firing)
    (more,) = selectors.load_page(firing, sheet)["more"]
    assert (more.what, more.waiting) == ("Mug, Grey stoneware, lot 7", 4)
    assert more.count > 0


def test_what_is_drawn_ahead_of_its_loading_is_not_asked_for_again(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    world.thrown(4)
    world.thrown(3)
    drawn(world, firing)
    sheet = Sheet.objects.get(firing=firing)
    assert Spot.objects.filter(sheet=sheet, what="ware", place=None).count() == 4 + 3
    assert selectors.load_page(firing, sheet)["more"] == []
    world.thrown(2)
    (more,) = selectors.load_page(firing, sheet)["more"]
    assert more.waiting == 4 + 3 + 2 - (4 + 3)


def test_runny_and_oblong_ware_reach_the_packer(world: World) -> None:
    world.tenmoku.is_runny = True
    world.mug.length_mm, world.mug.handle_mm = 176, 0
    ware = ware_of(world.mug, world.grey, world.tenmoku)
    # (2000 - 120) / (2 x (1000 - 120)) = 1.0682 of the fired size, rounded up.
    assert (ware.shape, ware.width_mm, ware.length_mm, ware.is_runny) == ("oblong", 94, 188, True)
    world.mug.length_mm, world.mug.handle_mm = 0, 42
    handled = ware_of(world.mug, world.grey, None)
    assert (handled.shape, handled.handle_mm, handled.handle_width_mm) == ("handled", 45, 27)


def test_the_sheet_on_paper_has_a_page_for_the_load(world: World) -> None:
    firing = loaded(world)
    plain = papers.sheet_of(firing)
    assert plain.levels == ()
    drawn(world, firing)
    sheet = papers.sheet_of(firing)
    assert sum(int(row[2]) for level in sheet.levels for row in level.rows) >= 8
    assert papers.load_sheet(firing).startswith(b"%PDF")


def test_the_command_prints_the_sheet(world: World) -> None:
    firing = loaded(world)
    with pytest.raises(CommandError, match="is not drawn yet"):
        call_command("load", str(firing.pk))
    drawn(world, firing)
    out = StringIO()
    call_command("load", str(firing.pk), stdout=out)
    assert "8 pieces on" in out.getvalue()
    out = StringIO()
    call_command("load", str(firing.pk), "--json", stdout=out)
    told = json.loads(out.getvalue())
    places = [place for level in told["levels"] for place in level["places"]]
    assert sum(place["board"] is not None for place in places) == 8
    with pytest.raises(CommandError, match="There is no firing 999999"):
        call_command("load", "999999")


def test_the_database_keeps_a_piece_on_one_spot(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    one, two = Spot.objects.filter(sheet__firing=firing, what="ware")[:2]
    with pytest.raises(IntegrityError), transaction.atomic():
        Spot.objects.filter(pk=one.pk).update(place=two.place)
    with pytest.raises(IntegrityError), transaction.atomic():
        Spot.objects.filter(pk=one.pk).update(mark="left_out")
    with pytest.raises(IntegrityError), transaction.atomic():
        Spot.objects.filter(pk=one.pk).update(x_mm=None)


def test_no_bigger_means_outline_and_height(world: World) -> None:
    mug, bowl = ware_of(world.mug, world.grey, None), ware_of(world.bowl, world.grey, None)
    from studio.firings.selectors.sheets import no_bigger

    assert not no_bigger(mug, bowl)  # taller
    low = replace(mug, height_mm=bowl.height_mm)
    # The body with a handle on every side: 94 + 2 x 45 = 184 over a bowl of 161.
    assert not no_bigger(low, bowl)
    assert no_bigger(replace(low, handle_mm=20), bowl)
    assert not no_bigger(replace(bowl, is_runny=True), bowl)
