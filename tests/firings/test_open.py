"""A kiln is opened: it works, then every refusal, then the way back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from studio.firings import selectors, services
from studio.firings.models import Firing, Kiln, Place
from studio.firings.services import Witness
from studio.wares import services as wares
from studio.wares.models import Board, Fault, Line, Move, Piece
from studio.wares.selectors import broken_sums, sums
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.firings.conftest import NOW, World
from tests.firings.loaded import loaded

Refused = Callable[..., str]
HOUR = timedelta(hours=1)


# --- open ---------------------------------------------------------------------------------------


def test_all_well(world: World) -> None:
    firing, board = loaded(world, 12)
    firing = world.fired(firing)
    assert (firing.state, firing.cost_pence) == ("opened", 900)
    assert set(board.pieces.values_list("stage", flat=True)) == {"bisqued"}
    assert set(firing.places.values_list("outcome", flat=True)) == {"through"}
    assert broken_sums() == []


def test_losses_leave_with_their_cause(world: World) -> None:
    firing, board = loaded(world, 12)
    world.lit(firing)
    change = services.open_kiln(
        firing=firing,
        opened_at=NOW,
        opened_c=60,
        peak_c=1060,
        energy_wh=41_500,
        cost_pence=1105,
        lost={board.pk: (2, "explosion")},
        witness=[Witness(cone="04", where="top", bend="down")],
        note="Damp corner",
        by=world.by,
        at=NOW,
    )
    firing.refresh_from_db()
    assert change.said == "Opened Heron: 10 bisqued, 2 lost"
    assert (firing.peak_c, firing.energy_wh, firing.cost_pence) == (1060, 41_500, 1105)
    assert (firing.opened_c, firing.note) == (60, "Damp corner")
    assert firing.witness_cones.get().bend == "down"
    gone = Piece.objects.filter(parting="broken")
    assert {piece.parting_cause for piece in gone} == {f"blew up, {firing}"}
    assert Fault.objects.filter(firing=firing, kind="explosion").count() == 2
    assert firing.places.filter(outcome=Place.Outcome.LOST).count() == 2
    assert board.pieces.count() == 12 - 2
    assert sums().partings["broken"] == 2
    assert broken_sums() == []


def test_a_flaw_that_does_not_break_makes_scrap(world: World) -> None:
    board = world.glazed(10)
    firing = world.planned()
    world.load(firing, board)
    world.fired(firing, {board.pk: (1, "crawl")})
    assert Piece.objects.filter(parting="scrapped", stage="glazed").count() == 1
    assert Piece.objects.filter(stage="fired", glaze_firing=firing).count() == 9


def test_a_whole_board_may_be_lost(world: World) -> None:
    firing, board = loaded(world, 3)
    world.fired(firing, {board.pk: (3, "explosion")})
    assert board.pieces.count() == 0
    assert broken_sums() == []


def opened_with_a_note(world: World) -> tuple[Firing, Change]:
    """A bisque firing with a note of its own and one from its opening."""
    firing = world.planned(world.big, world.bisque)
    services.note(firing=firing, text="slow, thick bases", by=world.by, at=NOW)
    world.load(firing, world.thrown())
    world.lit(firing)
    change = services.open_kiln(firing=firing, opened_at=NOW, note="fine", by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.note == "slow, thick bases\nfine"
    return firing, change


def test_undo_of_opening_takes_its_own_note_back(world: World) -> None:
    firing, change = opened_with_a_note(world)
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.note == "slow, thick bases"


def test_undo_of_opening_keeps_a_note_written_since(world: World) -> None:
    firing, change = opened_with_a_note(world)
    services.note(firing=firing, text="the lid sticks", by=world.by, at=NOW)
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, firing.note) == ("firing", "the lid sticks")


def test_a_kiln_is_not_lit_before_it_was_opened(world: World, refused: Refused) -> None:
    """Wren was lit six days ago and opened 20 hours later, at 06:00 on Friday."""
    first = world.planned(world.small, world.bisque)
    world.load(first, world.thrown())
    world.fired(first)
    second = world.planned(world.small, world.bisque)
    world.load(second, world.thrown())
    asked = {"firing": second, "by": world.by, "at": NOW}
    opened_at = NOW - timedelta(days=6) + timedelta(hours=20)
    early = opened_at - timedelta(minutes=1)
    assert refused(services.light, lit_at=early, **asked) == (
        "Wren was opened after its last firing at 06:00 on Fri 20 Nov, so it was not lit before"
        " that. Look at the time."
    )
    services.light(lit_at=opened_at, **asked)


def test_an_untried_line_is_on_trial_once_it_came_out(world: World) -> None:
    world.line.standing = "untried"
    world.line.save()
    board = world.glazed(4)
    firing = world.planned(world.small)
    world.load(firing, board)
    world.fired(firing)
    world.line.refresh_from_db()
    assert world.line.standing == Line.Standing.TRIAL
    services.undo(change=Change.objects.filter(action="open_kiln").first(), by=world.by, at=NOW)
    world.line.refresh_from_db()
    assert world.line.standing == Line.Standing.UNTRIED


def test_a_line_that_came_out_twice_stays_on_trial(world: World) -> None:
    """Two trials; undoing the first leaves what the second showed, undoing both leaves nothing."""
    world.line.standing = "untried"
    world.line.save()
    Kiln.objects.update(takes_trials=True)
    openings = []
    for kiln in (world.small, world.big):
        board = world.glazed(4)
        firing = world.planned(kiln)
        world.load(firing, board)
        world.fired(firing)
        openings.append(Change.objects.get(action="open_kiln", subject_id=firing.pk))
    for opening, standing in zip(openings, ["trial", "untried"], strict=True):
        services.undo(change=opening, by=world.by, at=NOW)
        world.line.refresh_from_db()
        assert world.line.standing == standing


def test_a_refire_is_a_further_firing(world: World) -> None:
    board = world.glazed(10)
    first = world.planned()
    world.load(first, board)
    world.fired(first)
    wares.grade(board=board, firsts=7, seconds=0, refires=3, by=world.by, at=NOW)
    again = Board.objects.get(pk=Piece.objects.filter(refires=1).values_list("board")[0][0])
    second = world.planned()
    world.load(second, again)
    world.fired(second)
    refired = Piece.objects.filter(refires=1)
    assert refired.count() == 3
    assert {piece.glaze_firing_id for piece in refired} == {second.pk}
    assert Place.objects.filter(piece__in=refired, outcome="through").count() == 3 * 3
    assert broken_sums() == []


def test_open_refusals(world: World, refused: Refused) -> None:
    firing, _ = loaded(world)
    asked = {"firing": firing, "by": world.by, "at": NOW}
    assert refused(services.open_kiln, opened_at=NOW, **asked) == (
        "This firing was not lit, so it cannot be opened."
    )
    world.lit(firing, hours_ago=20)
    assert refused(services.open_kiln, opened_at=NOW + HOUR, **asked) == (
        "The opening lies in the future. Write when the lid was lifted."
    )
    assert refused(services.open_kiln, opened_at=NOW - 20 * HOUR, **asked) == (
        "The kiln cannot be opened before it was lit. Look at both times."
    )
    services.switch_off(off_at=NOW - 10 * HOUR, **asked)
    assert refused(services.open_kiln, opened_at=NOW - 11 * HOUR, **asked) == (
        "The kiln cannot be opened before it was switched off. Look at both times."
    )
    services.open_kiln(opened_at=NOW, is_cool=True, **asked)
    assert refused(services.open_kiln, opened_at=NOW, **asked) == (
        "This firing was opened already (ada at 10:00 on 25 Nov)."
    )
    other = world.planned()
    services.call_off(firing=other, by=world.by, at=NOW)
    assert refused(services.open_kiln, firing=other, opened_at=NOW, by=world.by, at=NOW) == (
        "This firing was called off, so there is nothing to open."
    )


@pytest.mark.parametrize("said", [{"opened_c": 60}, {"is_cool": True}])
def test_opened_early_only_by_the_kilns_own_reading(
    world: World, refused: Refused, said: dict[str, object]
) -> None:
    firing, _ = loaded(world)
    world.lit(firing, hours_ago=20)
    services.switch_off(firing=firing, off_at=NOW - 3 * HOUR, by=world.by, at=NOW)
    firing.refresh_from_db()
    asked = {"firing": firing, "opened_at": NOW, "by": world.by, "at": NOW}
    earliest = selectors.too_early(firing, opened_at=NOW)
    assert refused(services.open_kiln, **asked) == (
        f"By reckoning this kiln is too hot to open before {earliest}. Write the temperature"
        " inside, or tick that the kiln's own reading says it is cool enough."
    )
    services.open_kiln(**asked, **said)
    firing.refresh_from_db()
    assert firing.state == "opened"


def test_at_the_earliest_time_nothing_is_asked(world: World) -> None:
    firing, _ = loaded(world)
    world.lit(firing, hours_ago=60)
    services.switch_off(firing=firing, off_at=NOW - 40 * HOUR, by=world.by, at=NOW)
    firing.refresh_from_db()
    expected = selectors.expected(firing)
    assert expected is not None
    early = expected.early_at
    assert selectors.too_early(firing, opened_at=early) == ""
    assert selectors.too_early(firing, opened_at=early - timedelta(minutes=1)) != ""
    services.open_kiln(firing=firing, opened_at=early, by=world.by, at=NOW)


@pytest.mark.parametrize(
    ("count", "cause", "ending"),
    [
        (11, "explosion", "had 10 in the load, so 11 cannot be lost."),
        (-1, "explosion", "a loss is 0 or more, not -1."),
        (2, "", "choose what happened to the 2 that were lost."),
        (2, "gremlins", "“gremlins” is not a known cause."),
    ],
)
def test_losses_that_cannot_be(
    world: World, refused: Refused, count: int, cause: str, ending: str
) -> None:
    firing, board = loaded(world)
    world.lit(firing)
    lost = {board.pk: (count, cause)}
    sentence = refused(
        services.open_kiln, firing=firing, opened_at=NOW, lost=lost, by=world.by, at=NOW
    )
    assert sentence.startswith(f"Board {board}")
    assert sentence.endswith(ending)
    firing.refresh_from_db()
    assert firing.state == "firing"
    assert not Piece.objects.exclude(parting="").exists()


def test_a_board_that_is_not_in_the_load_loses_nothing(world: World, refused: Refused) -> None:
    firing, _ = loaded(world)
    world.lit(firing)
    stranger = world.thrown()
    sentence = refused(
        services.open_kiln, firing=firing, opened_at=NOW, lost={stranger.pk: (1, "knock")},
        by=world.by, at=NOW,
    )  # fmt: skip
    assert sentence.endswith("had 0 in the load, so 1 cannot be lost.")


def test_an_unopened_firing_passes_nothing(world: World) -> None:
    firing, board = loaded(world)
    world.lit(firing)
    change = Change.objects.filter(action="light").first()
    with pytest.raises(Refusal, match="is not opened"):
        wares.pass_firing(
            pieces=board.pieces.all(), to_stage="bisqued", firing=firing, change=change
        )
    assert set(board.pieces.values_list("stage", flat=True)) == {"thrown"}


def test_undo_of_opening(world: World) -> None:
    firing, board = loaded(world, 12)
    world.lit(firing)
    services.switch_off(firing=firing, off_at=NOW - HOUR, by=world.by, at=NOW)
    change = services.open_kiln(
        firing=firing, opened_at=NOW, opened_c=60, lost={board.pk: (2, "explosion")}, note="hm",
        witness=[Witness(cone="04", where="top", bend="down")], by=world.by, at=NOW,
    )  # fmt: skip
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, firing.opened_at, firing.note) == ("cooling", None, "")
    assert (firing.cost_pence, firing.witness_cones.count()) == (None, 0)
    assert board.pieces.filter(stage="thrown", parting="", bisque_firing=None).count() == 12
    assert firing.places.filter(outcome="").count() == 12
    assert not Fault.objects.exists()
    assert Move.objects.filter(kind="undo").count() == 12
    assert broken_sums() == []
    services.open_kiln(firing=firing, opened_at=NOW, opened_c=60, by=world.by, at=NOW)
    assert board.pieces.filter(stage="bisqued").count() == 12
    assert broken_sums() == []


def test_undo_of_opening_after_a_pot_went_on(world: World, refused: Refused) -> None:
    firing, board = loaded(world)
    world.fired(firing)
    change = Change.objects.filter(action="open_kiln").first()
    wares.glaze(board=board, coats=world.tenmoku, schedule=world.six, count=10, by=world.by, at=NOW)
    sentence = refused(services.undo, change=change, by=world.by, at=NOW)
    assert sentence.startswith("This can no longer be undone:")
    firing.refresh_from_db()
    assert firing.state == "opened"


def test_undo_of_opening_while_the_kiln_does_another(world: World, refused: Refused) -> None:
    firing, _ = loaded(world)
    world.fired(firing)
    change = Change.objects.filter(action="open_kiln").first()
    other = world.planned(world.big, world.bisque)
    world.load(other, world.thrown())
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "This can no longer be undone: Heron does another firing now."
    )


# --- results ------------------------------------------------------------------------------------


def test_the_cost_is_shared_by_room(world: World) -> None:
    """1300 pence over 6 mugs of 10 and 4 bowls of 25 tenths: 60 and 100 of 160 parts."""
    mugs, bowls = world.glazed(6), world.glazed(4, form=world.bowl)
    Line.objects.update(standing="proven")
    firing = world.planned()
    world.load(firing, mugs)
    world.load(firing, bowls)
    firing = world.fired(firing, {bowls.pk: (1, "run")})
    bowl, mug = selectors.results(firing).rows
    assert (bowl.form, bowl.through, bowl.lost, mug.form, mug.through) == ("Bowl", 3, 1, "Mug", 6)
    assert bowl.cost_pence is not None
    assert mug.cost_pence is not None
    assert bowl.cost_pence + mug.cost_pence == 1300
    assert mug.cost_pence in (1300 * 60 // 160, 1300 * 60 // 160 + 1)
    assert mug.each_pence == round(mug.cost_pence / 6)
    assert selectors.past_firings().get(pk=firing.pk).lost == 1  # type: ignore[attr-defined]
