"""Put a board into a load: it works, then every refusal, each in the words the page shows."""

from __future__ import annotations

from collections.abc import Callable

from studio.firings import selectors, services
from studio.firings.models import Firing, Place, Run
from studio.wares.models import Line, Piece
from studio.wares.selectors import board_group, broken_sums
from tests.firings.conftest import LONG_AGO, NOW, World

Refused = Callable[..., str]


def shown(firing: Firing, board_label: str) -> str:
    """The reason the page gives for a board beside a load."""
    return next(
        choice.refusal
        for choice in selectors.loadable_boards(firing)
        if choice.board.label == board_label
    )


def both(refused: Refused, world: World, firing: Firing, board: object) -> str:
    """The service's refusal, which must be the very sentence on the page."""
    sentence = refused(services.load, firing=firing, board=board, by=world.by, at=NOW)
    assert shown(firing, str(board)) == sentence
    return sentence


def test_a_whole_board_goes_in(world: World) -> None:
    board = world.thrown(12)
    firing = world.planned(world.big, world.bisque)
    change = services.load(firing=firing, board=board, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.state == "loaded"
    assert firing.places.filter(outcome="", board=board).count() == 12
    assert change.said == f"Loaded board {board} into Heron: 12 Mug"
    assert board.pieces.count() == 12
    assert broken_sums() == []


def test_fill_is_counted_in_mug_places(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown(12))
    world.load(firing, world.thrown(3, form=world.bowl))
    fill = selectors.firing_fill(firing)
    assert fill.used_tenths == 12 * 10 + 3 * 25
    assert fill.words == "19.5 of about 90 mug places"
    assert fill.percent == 195 * 100 // 900
    assert fill.caution == ""


def test_a_part_goes_on_a_board_of_its_own(world: World) -> None:
    board = world.thrown(12)
    firing = world.planned(world.big, world.bisque)
    services.load(firing=firing, board=board, count=5, by=world.by, at=NOW)
    inside = selectors.boards_in(firing)
    assert [standing.count for standing in inside] == [5]
    assert inside[0].board != board
    assert inside[0].board.dry_date == LONG_AGO.date()
    assert board.pieces.count() == 12 - 5


def test_fuller_than_usual_is_a_caution_only(world: World) -> None:
    firing = world.planned(world.small, world.bisque)
    world.load(firing, world.thrown(31))
    fill = selectors.firing_fill(firing)
    assert fill.caution.startswith("Wren looks fuller than its usual room: about 31 mug places")
    assert (fill.percent, fill.bar) == (31 * 100 // 30, 100)


def test_not_dry(world: World, refused: Refused) -> None:
    board = world.thrown(dry=False)
    sentence = both(refused, world, world.planned(world.big, world.bisque), board)
    assert sentence.startswith(f"Board {board} is not recorded dry.")
    assert not Place.objects.exists()


def test_thrown_ware_in_a_glaze_firing(world: World, refused: Refused) -> None:
    board = world.thrown()
    assert both(refused, world, world.planned(), board) == (
        f"Board {board} is not bisqued yet; this is a glaze firing."
    )


def test_bisqued_ware_in_a_glaze_firing(world: World, refused: Refused) -> None:
    board = world.bisqued()
    assert both(refused, world, world.planned(), board) == (
        f"Board {board} is not glazed yet; this is a glaze firing."
    )


def test_glazed_ware_in_a_bisque_firing(world: World, refused: Refused) -> None:
    board = world.glazed()
    sentence = both(refused, world, world.planned(world.big, world.bisque), board)
    assert sentence == f"Board {board} is glazed already; a bisque firing takes thrown, dry ware."


def test_fired_ware_goes_in_nowhere(world: World, refused: Refused) -> None:
    board = world.glazed()
    firing = world.planned()
    world.load(firing, board)
    world.fired(firing)
    sentence = refused(services.load, firing=world.planned(), board=board, by=world.by, at=NOW)
    assert sentence == f"Board {board} is fired already; a glaze firing takes glazed ware."


def test_another_schedule(world: World, refused: Refused) -> None:
    board = world.glazed()
    assert both(refused, world, world.planned(world.big, world.eight), board) == (
        f"Board {board} was glazed for Cone 6 plain; this firing is Cone 8 plain."
    )


def test_clay_below_the_cone(world: World, refused: Refused) -> None:
    board = world.glazed(clay=world.low)
    world.low.top_cone = "5"
    world.low.save()
    sentence = both(refused, world, world.planned(), board)
    assert sentence == (
        "The clay Red earthenware, lot 2 goes to cone 5 at most; this schedule goes to cone 6, and"
        " Mug would slump or bloat."
    )


def test_clay_below_the_bisque_cone(world: World, refused: Refused) -> None:
    """06 is hotter than 010 and cooler than 6: the leading 0 is read."""
    world.low.top_cone = "06"
    world.low.save()
    board = world.thrown(clay=world.low)
    sentence = both(refused, world, world.planned(world.big, world.bisque), board)
    assert "goes to cone 06 at most; this schedule goes to cone 04" in sentence


def test_coats_below_the_cone(world: World, refused: Refused) -> None:
    board = world.glazed(coats=world.soft)
    Line.objects.update(standing="proven")
    world.soft.top_cone = "5"
    world.soft.save()
    sentence = both(refused, world, world.planned(), board)
    assert sentence == (
        "The coats Soft blue go to cone 5 at most; this schedule goes to cone 6, and they"
        " would run."
    )


def test_schedule_over_the_kilns_top(world: World, refused: Refused) -> None:
    board = world.glazed()
    firing = world.planned()
    world.big.top_cone = "5"
    world.big.save()
    assert both(refused, world, firing, board) == (
        "Heron goes to cone 5 at most; Cone 6 plain goes to cone 6."
    )


def test_no_run(world: World, refused: Refused) -> None:
    board = world.glazed()
    firing = world.planned()
    Run.objects.filter(kiln=world.big, schedule=world.six).delete()
    sentence = both(refused, world, firing, board)
    assert sentence.startswith("Heron has no run of Cone 6 plain yet.")


def test_too_tall(world: World, refused: Refused) -> None:
    """Heron is 686 mm high inside; its clay shrinks 12 %, half of it before the bisque.

    Over floor posts and a shelf and under the lid are 686 - 13 - 16 - 25 = 632 mm. A pot of
    591 mm goes in 591 x 0.94 / 0.88 = 631.3 mm tall, one of 592 mm 632.4 mm.
    """
    board = world.thrown()
    world.mug.height_mm = 592
    world.mug.save()
    sentence = both(refused, world, world.planned(world.big, world.bisque), board)
    assert sentence == (
        "Mug goes in 633 mm tall, before it shrinks; Heron has 632 mm of height over its lowest"
        " shelf and under its lid."
    )
    world.mug.height_mm = 591
    world.mug.save()
    assert shown(world.planned(world.big, world.bisque), str(board)) == ""


def test_a_glazed_pot_is_as_tall_as_its_bisque(world: World, refused: Refused) -> None:
    board = world.glazed()
    world.mug.height_mm = 592
    world.mug.save()
    assert "goes in 633 mm tall" in both(refused, world, world.planned(), board)


def test_untried_outside_a_kiln_for_trials(world: World, refused: Refused) -> None:
    world.line.standing = "untried"
    world.line.save()
    board = world.glazed(4)
    assert both(refused, world, world.planned(), board) == (
        "Mug in Tenmoku is untried, and Heron takes no trials: first a few of it go into Wren."
    )


def test_a_line_nobody_wrote_down_is_untried(world: World, refused: Refused) -> None:
    board = world.glazed(4)
    Line.objects.all().delete()
    assert "is untried" in both(refused, world, world.planned(), board)


def test_a_few_untried_go_into_the_kiln_for_trials(world: World, refused: Refused) -> None:
    world.line.standing = "untried"
    world.line.save()
    board = world.glazed(9)
    firing = world.planned(world.small)
    choice = selectors.loadable_boards(firing)[0]
    assert (choice.refusal, choice.most) == ("", 6)
    whole = refused(services.load, firing=firing, board=board, by=world.by, at=NOW)
    assert whole == (
        "Mug in Tenmoku is untried: at most 6 of it go into one load (9 offered)."
        " Load a part of the board."
    )
    world.load(firing, board, 4)
    assert selectors.loadable_boards(firing)[0].most == 6 - 4
    more = refused(services.load, firing=firing, board=board, count=3, by=world.by, at=NOW)
    assert "(4 in it already, 3 offered)" in more
    world.load(firing, board, 2)
    assert both(refused, world, firing, board).startswith("Mug in Tenmoku is untried: at most 6")


def test_the_studios_own_word_on_trials_counts(world: World, refused: Refused) -> None:
    services.set_trial_rule(least_pieces=1, most_pieces=3, by=world.by, at=NOW)
    world.line.standing = "untried"
    world.line.save()
    board = world.glazed(9)
    firing = world.planned(world.small)
    assert selectors.loadable_boards(firing)[0].most == 3
    assert refused(services.load, firing=firing, board=board, by=world.by, at=NOW) == (
        "Mug in Tenmoku is untried: at most 3 of it go into one load (9 offered)."
        " Load a part of the board."
    )


def test_a_line_on_trial_takes_a_quarter_of_any_kiln(world: World, refused: Refused) -> None:
    """25 % of Heron's 600 tenths is 150: 15 mugs of 10 tenths."""
    world.line.standing = "trial"
    world.line.save()
    board = world.glazed(20)
    firing = world.planned(world.big)
    assert selectors.loadable_boards(firing)[0].most == 600 * 25 // 100 // 10 == 15
    assert refused(services.load, firing=firing, board=board, by=world.by, at=NOW) == (
        "Mug in Tenmoku is on trial: at most 15 of it go into Heron, about 25 % of its room"
        " (20 offered). Load a part of the board."
    )
    world.load(firing, board, 15)
    assert both(refused, world, firing, board) == (
        "Mug in Tenmoku is on trial: at most 15 of it go into Heron, about 25 % of its room"
        " (15 in it already, 5 offered)."
    )


def test_on_trial_is_never_less_than_untried(world: World) -> None:
    """25 % of Wren's 200 tenths are 5 mugs, but 6 of an untried line went in there before."""
    world.line.standing = "trial"
    world.line.save()
    world.glazed(20)
    assert selectors.loadable_boards(world.planned(world.small))[0].most == 6


def test_in_another_load(world: World, refused: Refused) -> None:
    board = world.thrown()
    first = world.planned(world.small, world.bisque)
    world.load(first, board)
    sentence = both(refused, world, world.planned(world.big, world.bisque), board)
    assert sentence == f"Board {board} is in another load: {first}. Take it out there first."


def test_in_this_load_already(world: World, refused: Refused) -> None:
    board = world.thrown()
    firing = world.planned(world.small, world.bisque)
    world.load(firing, board)
    sentence = refused(services.load, firing=firing, board=board, by=world.by, at=NOW)
    assert sentence == f"Board {board} is in this load already."


def test_kiln_busy(world: World, refused: Refused) -> None:
    first = world.planned(world.big, world.bisque)
    world.load(first, world.thrown())
    second = world.planned(world.big, world.bisque)
    board = world.thrown()
    assert both(refused, world, second, board) == (
        "Heron is busy: Slow bisque of 25 Nov is being loaded. It does one firing at a time."
    )


def test_a_lit_firing_takes_nothing(world: World, refused: Refused) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.lit(firing)
    sentence = both(refused, world, firing, world.thrown())
    assert sentence == "Heron is lit: nothing goes in or out until it is opened."


def test_opened_and_called_off_firings_take_nothing(world: World, refused: Refused) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.fired(firing)
    board = world.thrown()
    assert both(refused, world, firing, board).startswith("This firing was opened")
    other = world.planned(world.big, world.bisque)
    services.call_off(firing=other, by=world.by, at=NOW)
    assert both(refused, world, Firing.objects.get(pk=other.pk), board) == (
        "This firing was called off. Plan another firing."
    )


def test_counts(world: World, refused: Refused) -> None:
    board = world.thrown(10)
    firing = world.planned(world.big, world.bisque)
    asked = {"firing": firing, "board": board, "by": world.by, "at": NOW}
    assert refused(services.load, count=11, **asked) == (
        f"Board {board} holds 10, so 11 cannot go in."
    )
    for count in (0, -1):
        assert refused(services.load, count=count, **asked) == "Write how many go in: 1 or more."
    Piece.objects.filter(board=board).update(board=None)
    assert refused(services.load, **asked) == f"Board {board} is empty."


def test_a_board_that_changed_meanwhile(world: World, refused: Refused) -> None:
    board = world.thrown(10)
    firing = world.planned(world.big, world.bisque)
    seen = board_group(board).seen
    from studio.wares import services as wares

    wares.lose(board=board, count=2, parting="broken", cause="knocked over", by=world.by, at=NOW)
    sentence = refused(services.load, firing=firing, board=board, seen=seen, by=world.by, at=NOW)
    assert sentence.startswith(f"Board {board} is not as you saw it: it holds 8 at thrown now.")
    assert sentence.endswith("Nothing was changed.")
    assert not Place.objects.exists()
