"""Is a place moved, left out, changed and kept once, taken back, and learnt from after opening?"""

from __future__ import annotations

from collections.abc import Callable

from django.test import Client
from django.urls import reverse

from studio.craft.kiln_load import Level
from studio.firings import rules, selectors, services
from studio.firings.models import Firing, Sheet, Spot
from studio.wares.models import Piece
from studio.wares.selectors import broken_sums
from studio.web.models import Change
from studio.web.selectors import offers_undo
from tests.firings.conftest import NOW, World
from tests.firings.spots import a_spot, both
from tests.firings.test_load_drawn import drawn, loaded

Refused = Callable[..., str]
Key = Callable[[], str]


def test_left_out_is_out_of_the_load_and_back_again(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    assert spot.place is not None
    place, board = spot.place, spot.place.board
    change = services.leave_out(spot=spot, seen=spot.seq, by=world.by, at=NOW)
    spot.refresh_from_db()
    place.refresh_from_db()
    piece = Piece.objects.get(pk=place.piece_id)
    assert (spot.mark, spot.place, place.outcome) == ("left_out", None, "taken_out")
    assert piece.board != board
    assert piece.board is not None
    assert piece.board.dry_date == board.dry_date
    assert selectors.firing_fill(firing).pieces == 8 - 1
    assert change.said == (
        f"Left out place {spot.number}: Mug, Grey stoneware, lot 7; it stands on board"
        f" {piece.board}"
    )
    services.undo(change=change, by=world.by, at=NOW)
    spot.refresh_from_db()
    piece.refresh_from_db()
    assert (spot.mark, spot.place_id, piece.board) == ("drawn", place.pk, board)
    assert selectors.firing_fill(firing).pieces == 8
    assert broken_sums() == []


def left_out(world: World, firing: Firing) -> tuple[Piece, Change]:
    """Leave the next mug out; the piece as it is now, and the change."""
    spot = a_spot(firing, world.mug)
    assert spot.place is not None
    change = services.leave_out(spot=spot, seen=spot.seq, by=world.by, at=NOW)
    return Piece.objects.get(pk=spot.place.piece_id), change


def test_what_is_left_out_of_one_board_stands_together(world: World) -> None:
    firing = loaded(world, mugs=3, bowls=1)
    drawn(world, firing)
    first, undo_first = left_out(world, firing)
    board = firing.places.filter(piece__form=world.mug)[0].board
    others = [left_out(world, firing) for _ in range(2)]
    beside = first.board
    assert beside is not None
    assert beside != board
    # The last one of its board is no longer alone: it stands with the two before it.
    assert {piece.board for piece, _ in others} == {beside}
    assert others[-1][1].said.endswith(f"; it stands on board {beside}")
    sheet = Sheet.objects.get(firing=firing)
    (told,) = selectors.load_page(firing, sheet)["left_out"]
    assert (told.count, told.board, told.stands_on) == (3, board.label, beside.label)
    # Each comes back by itself, in any order.
    for change in (undo_first, others[1][1], others[0][1]):
        services.undo(change=change, by=world.by, at=NOW)
    assert beside.pieces.count() == 0
    assert board.pieces.count() == 3
    assert firing.places.filter(outcome="").count() == 3 + 1
    assert selectors.load_page(firing, sheet)["left_out"] == []
    assert broken_sums() == []


def test_of_two_boards_each_has_its_own_left_out(world: World) -> None:
    firing = loaded(world, mugs=2, bowls=1)
    world.load(firing, world.thrown(2))
    drawn(world, firing)
    pieces = [left_out(world, firing)[0] for _ in range(4)]
    came = {place.piece_id: place.board_id for place in firing.places.all()}
    by_board: dict[int, set[int | None]] = {}
    for piece in pieces:
        by_board.setdefault(came[piece.pk], set()).add(piece.board_id)
    assert [len(boards) for boards in by_board.values()] == [1, 1]
    assert len(set.union(*by_board.values())) == 2


def test_a_board_that_went_on_takes_nothing_more(world: World) -> None:
    firing = loaded(world, mugs=4, bowls=1)
    drawn(world, firing)
    first, _ = left_out(world, firing)
    beside = first.board
    # It went into another kiln meanwhile.
    assert beside is not None
    world.load(world.planned(world.small, world.bisque), beside)
    second, _ = left_out(world, firing)
    assert second.board != beside
    # Somebody set another piece beside it.
    assert second.board is not None
    Piece.objects.filter(pk=world.thrown(1).pieces.get().pk).update(board=second.board)
    third, _ = left_out(world, firing)
    assert third.board not in (beside, second.board)


def test_the_last_piece_left_out_frees_the_kiln(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown(1))
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    change = services.leave_out(spot=spot, seen=spot.seq, by=world.by, at=NOW)
    assert Firing.objects.get(pk=firing.pk).state == "planned"
    services.undo(change=change, by=world.by, at=NOW)
    assert Firing.objects.get(pk=firing.pk).state == "loaded"


def test_a_free_place_cannot_be_freed_or_kept(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    services.leave_out(spot=spot, seen=spot.seq, by=world.by, at=NOW)
    spot.refresh_from_db()
    free = f"Place {spot.number} is free already."
    page = selectors.place_page(spot)
    assert both(refused, world, services.leave_out, spot) == page["why_not_leave"] == free
    assert both(refused, world, services.move, spot, level=1, ring="inner") == free
    said = both(refused, world, services.pin, spot, keep=True)
    assert said == page["why_not_pin"]
    assert said == f"Place {spot.number} is free: nothing stands there to keep it."


def test_moved_to_a_level_keeps_the_piece(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    change = services.move(
        spot=spot, seen=spot.seq, level=spot.level, ring="inner", by=world.by, at=NOW
    )
    moved = Spot.objects.get(pk=spot.pk)
    assert (moved.mark, moved.ring, moved.x_mm, moved.place_id) == (
        "moved", "inner", None, spot.place_id,
    )  # fmt: skip
    said = both(refused, world, services.pin, moved, keep=True)
    assert said == f"Place {spot.number} was moved by hand, so its exact spot is not known. " + (
        "Draw it again."
    )
    services.undo(change=change, by=world.by, at=NOW)
    again = Spot.objects.get(pk=spot.pk)
    assert (again.mark, again.x_mm) == ("drawn", spot.x_mm)


def test_a_level_that_is_not_there_or_too_low(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    sheet, spot = Sheet.objects.get(firing=firing), a_spot(firing, world.mug)
    count = len(sheet.levels)
    assert both(refused, world, services.move, spot, level=39, ring="inner") == (
        f"This load has levels 1 to {count}; there is no level 39."
    )
    # A level over the others on which a mug of 95 fired, 102 dry, is too tall.
    low = {**sheet.levels[0], "number": count + 1, "clear_mm": 90}
    sheet.levels = [*sheet.levels, low]
    sheet.save()
    said = both(refused, world, services.move, spot, level=count + 1, ring="outer")
    assert said == (
        f"Mug, Grey stoneware, lot 7 goes in 102 mm tall; level {count + 1} has 90 mm under the"
        " shelf over it."
    )
    levels: list[tuple[Level, str]] = selectors.place_page(a_spot(firing, world.mug))["levels"]
    assert levels[-1][1] == said


def test_moved_to_a_free_place(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    one, other = Spot.objects.filter(sheet__firing=firing, form=world.mug)[:2]
    asked = {"by": world.by, "at": NOW}
    said = refused(services.move_to, spot=one, seen=one.seq, to=other, **asked)
    assert said.startswith(f"Place {other.number} was changed meanwhile")
    services.leave_out(spot=other, seen=other.seq, **asked)
    change = services.move_to(spot=one, seen=one.seq, to=other, **asked)
    was = one.place_id
    one.refresh_from_db()
    other.refresh_from_db()
    assert (one.mark, one.place_id, other.mark, other.place_id) == ("left_out", None, "moved", was)
    services.undo(change=change, **asked)
    one.refresh_from_db()
    other.refresh_from_db()
    assert (one.mark, one.place_id, other.mark) == ("drawn", was, "left_out")


def test_one_of_a_board_instead(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    board = world.thrown(3)
    spot = a_spot(firing, world.mug)
    was = spot.place
    change = services.instead(spot=spot, seen=spot.seq, board=board, by=world.by, at=NOW)
    spot.refresh_from_db()
    assert spot.mark == "swapped"
    assert spot.place is not None
    assert spot.place != was
    assert spot.place.piece.form == world.mug
    assert board.pieces.count() == 3 - 1
    assert firing.places.filter(outcome="").count() == 8
    services.undo(change=change, by=world.by, at=NOW)
    spot.refresh_from_db()
    assert (spot.mark, spot.place) == ("drawn", was)
    # The piece that was loaded for it is on its board again, and the load as it was.
    assert firing.places.filter(outcome="").count() == 8
    assert board.pieces.count() == 3
    assert not any(
        offers_undo(one) for one in Change.objects.filter(action="load").order_by("id")[2:]
    )
    assert broken_sums() == []


def test_instead_is_taken_back_when_its_loading_was_before(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    board = world.thrown(3)
    spot = a_spot(firing, world.mug)
    was = spot.place
    change = services.instead(spot=spot, seen=spot.seq, board=board, by=world.by, at=NOW)
    loading = Change.objects.filter(action="load").latest("id")
    services.undo(change=loading, by=world.by, at=NOW)
    services.undo(change=change, by=world.by, at=NOW)
    spot.refresh_from_db()
    assert (spot.mark, spot.place) == ("drawn", was)
    assert firing.places.filter(outcome="").count() == 8
    assert board.pieces.count() == 3
    # What was loaded for it and went back was not left out.
    assert selectors.load_page(firing, spot.sheet)["left_out"] == []


def test_undo_of_instead_leads_back_to_the_load(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = loaded(world)
    drawn(world, firing)
    board, spot = world.thrown(3), a_spot(firing, world.mug)
    services.instead(spot=spot, seen=spot.seq, board=board, by=world.by, at=NOW)
    change = Change.objects.filter(action="mark_spot").latest("id")
    page = "http://testserver" + reverse("firings:drawn", args=[firing.pk])
    answer = signed_in.post(
        reverse("undo", args=[change.pk]), {"form_key": form_key()}, headers={"referer": page}
    )
    assert answer.headers["Location"] == page
    assert change.said in signed_in.get(page).text.replace("&#x27;", "'")


def test_one_of_the_load_without_a_place_instead(world: World) -> None:
    firing = loaded(world)
    drawn(world, firing)
    world.load(firing, world.thrown(1))
    spot = a_spot(firing, world.mug)
    (one,) = [one for one in selectors.place_page(spot)["may"] if one.place]
    assert one.words.endswith("(1 in the load without a place)")
    services.instead(spot=spot, seen=spot.seq, place=one.place, by=world.by, at=NOW)
    spot.refresh_from_db()
    assert spot.place == one.place
    assert selectors.load_page(firing, Sheet.objects.get(firing=firing))["unplaced"] == []


def test_what_is_bigger_does_not_stand_there(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    board = world.thrown(3, form=world.bowl)
    spot = a_spot(firing, world.mug)
    said = both(refused, world, services.instead, spot, board=board)
    assert said.startswith("Bowl, Grey stoneware, lot 7 is wider or taller than Mug")
    assert said in [one.refusal for one in selectors.place_page(spot)["may_not"]]
    assert board.pieces.count() == 3


def test_a_board_that_may_not_go_in_is_no_choice(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    damp = world.thrown(3, dry=False)
    spot = a_spot(firing, world.mug)
    said = both(refused, world, services.instead, spot, board=damp)
    assert said.startswith("The load changed meanwhile.")
    assert not selectors.place_page(spot)["choices"]


def test_a_stale_tap_says_who_was_first(world: World, refused: Refused) -> None:
    firing = loaded(world)
    drawn(world, firing)
    spot = a_spot(firing, world.mug)
    services.pin(spot=spot, seen=spot.seq, keep=True, by=world.by, at=NOW)
    said = refused(services.leave_out, spot=spot, seen=spot.seq, by=world.by, at=NOW)
    assert said.startswith(f"Place {spot.number} was changed meanwhile by ")
    spot.refresh_from_db()
    drawn(world, firing)
    said = refused(services.leave_out, spot=spot, seen=spot.seq, by=world.by, at=NOW)
    assert said == rules.DRAWN_SINCE
