"""What came out: faults by place, a firing that failed, energy and cost, the test book."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from studio.firings import selectors, services
from studio.firings.models import Firing, Place, Run, Tariff
from studio.firings.services import Energy, Seen
from studio.wares import services as wares
from studio.wares.models import Board, Fault, Piece
from studio.wares.selectors import broken_sums
from tests.firings.conftest import LONG_AGO, NOW, World
from tests.firings.cooled import cooled

Refused = Callable[..., str]
HOUR = timedelta(hours=1)


# --- a firing that failed ------------------------------------------------------------------------


@pytest.mark.parametrize("stage", ["thrown", "glazed"])
def test_ware_of_a_failed_firing_stays_as_it_was(world: World, stage: str) -> None:
    board = world.thrown(6) if stage == "thrown" else world.glazed(6)
    world.line.standing = "untried"
    world.line.save()
    firing, opening = cooled(world, board)
    change = services.open_kiln(
        **opening, failed_why="a fuse blew at 700 °C", lost={board.pk: (1, "explosion")}
    )
    firing.refresh_from_db()
    assert (firing.state, firing.is_failed, firing.failed_why) == (
        "opened", True, "a fuse blew at 700 °C",
    )  # fmt: skip
    assert change.said == "Opened Wren: did not reach its cone, 5 stay as they were, 1 lost"
    assert Piece.objects.at_stage(stage).filter(board=board).count() == 6 - 1
    outcomes = list(firing.places.values_list("outcome", flat=True).order_by("outcome"))
    assert outcomes == ["lost"] + 5 * ["not_fired"]
    assert broken_sums() == []
    world.line.refresh_from_db()
    if stage == "thrown":
        assert world.line.standing == "untried"
    # It may be loaded again, and then the way back is shut.
    again = world.planned(world.big, firing.schedule)
    services.load(firing=again, board=board, by=world.by, at=NOW)
    assert Place.objects.filter(firing=again, outcome="").count() == 5


def test_a_failed_firing_is_undone_while_its_ware_stands_there(
    world: World, refused: Refused
) -> None:
    board = world.thrown(6)
    firing, opening = cooled(world, board)
    change = services.open_kiln(**opening, failed_why="stuck relay")
    again = world.planned(world.big, world.bisque)
    loading = services.load(firing=again, board=board, by=world.by, at=NOW)
    late = refused(services.undo, change=change, by=world.by, at=NOW)
    assert late.startswith(
        "This can no longer be undone: some of it stands in Slow bisque in Heron"
    )
    services.undo(change=loading, by=world.by, at=NOW)
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, firing.is_failed, firing.failed_why) == ("cooling", False, "")
    assert firing.places.filter(outcome="").count() == 6


def test_a_failed_firing_stays_opened_once_its_ware_broke_or_went_on(
    world: World, refused: Refused
) -> None:
    board = world.thrown(6)
    firing, opening = cooled(world, board)
    change = services.open_kiln(**opening, failed_why="stuck relay")
    wares.lose(
        board=board, count=1, parting="broken", cause="dropped on the way back", by=world.by, at=NOW
    )
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        f"This can no longer be undone: board {board} went on since."
    )
    firing.refresh_from_db()
    assert (firing.state, firing.is_failed) == ("opened", True)
    assert not firing.places.filter(outcome="").exists()


def test_a_failure_says_why(world: World, refused: Refused) -> None:
    _, opening = cooled(world, world.thrown(2))
    assert refused(services.open_kiln, failed_why=" ", **opening).startswith("Say what happened:")
    long = refused(services.open_kiln, failed_why="x" * 201, **opening)
    assert long == "Say it in 200 characters at most; this is 201. The note takes more."


# --- faults by place and by count ----------------------------------------------------------------


def test_faults_by_place_and_by_count(world: World) -> None:
    board = world.glazed(8)
    firing, opening = cooled(world, board)
    first, second = firing.places.order_by("id")[:2]
    change = services.open_kiln(
        **opening,
        lost={board.pk: (2, "run")},
        seen=[
            Seen(place_id=first.pk, fault="stuck", is_lost=True),
            Seen(place_id=second.pk, fault="pinhole"),
            Seen(board_id=board.pk, count=3, fault="colour"),
        ],
    )
    lost = firing.places.filter(outcome="lost")
    assert lost.count() == 1 + 2
    assert first.pk in lost.values_list("pk", flat=True)
    assert dict(selectors.faults_of(firing)) == {
        "colour off": 3, "glaze ran": 2, "stuck to the shelf": 1, "pinholes": 1,
    }  # fmt: skip
    assert Fault.objects.get(kind="pinhole").piece_id == second.piece_id
    marked = Piece.objects.filter(faults__kind="colour")
    assert set(marked.values_list("stage", "parting")) == {("fired", "")}
    services.undo(change=change, by=world.by, at=NOW)
    assert not Fault.objects.exists()
    assert broken_sums() == []


def test_what_is_lost_is_counted_before_what_came_through_marked(world: World) -> None:
    board = world.glazed(8)
    firing, opening = cooled(world, board)
    services.open_kiln(
        **opening,
        seen=[
            Seen(board_id=board.pk, count=3, fault="colour"),
            Seen(board_id=board.pk, count=2, fault="run", is_lost=True),
        ],
    )
    # Of 8, 2 are lost; the 3 that are marked are of the 6 that came through.
    assert dict(selectors.faults_of(firing)) == {"colour off": 3, "glaze ran": 2}
    assert Piece.objects.filter(faults__kind="colour", parting="").count() == 3


def test_faults_that_cannot_be(world: World, refused: Refused) -> None:
    board = world.thrown(4)
    firing, opening = cooled(world, board)
    place = firing.places.all()[0]

    def said(*seen: Seen) -> str:
        return refused(services.open_kiln, seen=seen, **opening)

    assert said(Seen(place_id=10**6, fault="run")) == "A place that was named is not in this load."
    assert said(Seen(place_id=place.pk, fault="")) == f"Board {board}: choose what was seen."
    assert "is not a known cause" in said(Seen(place_id=place.pk, fault="gremlin"))
    twice = Seen(place_id=place.pk, fault="run", is_lost=True)
    assert said(twice, twice) == f"Board {board}: a place is named twice."
    many = said(Seen(board_id=board.pk, count=5, fault="knock"))
    assert many == f"Board {board} had 4 in the load, so 5 cannot be lost."
    assert "choose what happened" in said(Seen(board_id=board.pk, count=1, fault=""))


# --- energy and cost -----------------------------------------------------------------------------


def test_cost_by_meter_and_tariff(world: World) -> None:
    services.set_tariff(price_hundredths=2850, by=world.by, at=NOW)
    firing, opening = cooled(world, world.thrown(5))
    meter = Energy(meter_before_wh=10_200_000, meter_after_wh=10_245_000)
    services.open_kiln(**opening, energy=meter)
    firing.refresh_from_db()
    # 10,245 - 10,200 = 45 kWh x 28.5 p = 1282.5 p.
    assert (firing.energy_wh, firing.cost_pence, firing.cost_from) == (45_000, 1283, "meter")
    # 5 mugs of one kind: 1283 / 5 = 256.6.
    assert selectors.results(firing).rows[0].each_pence == 257


def test_cost_is_estimated_usual_or_stated(world: World) -> None:
    firing, _ = cooled(world, world.thrown(2))
    cost = selectors.cost_of(firing, used_wh=None, stated_pence=None)
    assert (cost.pence, cost.known_from) == (900, "usual")
    services.set_tariff(price_hundredths=2000, by=world.by, at=NOW)
    Run.objects.filter(kiln=world.small, schedule=world.bisque).update(energy_wh=30_000)
    cost = selectors.cost_of(firing, used_wh=None, stated_pence=None)
    assert (cost.pence, cost.known_from) == (30 * 20, "estimate")
    cost = selectors.cost_of(firing, used_wh=40_000, stated_pence=777)
    assert (cost.pence, cost.known_from) == (777, "stated")
    firing.kiln.fuel = "gas"
    cost = selectors.cost_of(firing, used_wh=40_000, stated_pence=None)
    assert (cost.pence, cost.known_from) == (900, "usual")
    Run.objects.all().delete()
    assert selectors.cost_of(firing, used_wh=None, stated_pence=None).pence is None


@pytest.mark.parametrize(
    ("energy", "says"),
    [
        ({"meter_before_wh": 5}, "Write the meter before and after, or leave both empty."),
        ({"meter_before_wh": 9, "meter_after_wh": 5}, "The meter after is below the meter before."),
        (
            {"meter_before_wh": 0, "meter_after_wh": 45_000, "used_wh": 44_500},
            "The meter says 45 kWh, and 44.5 kWh are written. Give one.",
        ),
    ],
)
def test_meters_that_cannot_be(
    world: World, refused: Refused, energy: dict[str, int], says: str
) -> None:
    _, opening = cooled(world, world.thrown(2))
    assert refused(services.open_kiln, energy=Energy(**energy), **opening).startswith(says)


def test_the_tariff_has_a_way_back(world: World, refused: Refused) -> None:
    who = {"by": world.by, "at": NOW}
    first = services.set_tariff(price_hundredths=2850, **who)
    second = services.set_tariff(price_hundredths=3000, **who)
    assert "was changed since" in refused(services.undo, change=first, **who)
    services.undo(change=second, **who)
    assert Tariff.objects.get().price_hundredths == 2850
    services.undo(change=first, **who)
    assert not Tariff.objects.exists()
    assert "more than 0" in refused(services.set_tariff, price_hundredths=0, **who)


# --- lit before it was there ---------------------------------------------------------------------


def test_a_kiln_is_not_lit_before_its_load_was_dry(world: World, refused: Refused) -> None:
    board = world.thrown(3)
    Board.objects.filter(pk=board.pk).update(dry_date=NOW.date())
    firing = world.planned(world.small, world.bisque)
    world.load(firing, board)
    asked = {"firing": firing, "by": world.by, "at": NOW}
    assert refused(services.light, lit_at=NOW - 24 * HOUR, **asked) == (
        f"Board {board} was written down as bone dry on Wed 25 Nov, so it was not in a kiln lit on"
        " Tue 24 Nov. Look at the time, or at the board."
    )
    services.light(lit_at=NOW - HOUR, **asked)


def test_a_kiln_is_not_lit_on_a_day_before_it_was_loaded(world: World, refused: Refused) -> None:
    board = world.thrown(3)
    firing = world.planned(world.small, world.bisque)
    services.load(firing=firing, board=board, by=world.by, at=NOW)
    asked = {"firing": firing, "by": world.by, "at": NOW}
    assert refused(services.light, lit_at=NOW - 24 * HOUR, **asked) == (
        f"Board {board} was loaded on Wed 25 Nov, so it was not in a kiln lit on Tue 24 Nov. Look"
        " at the time."
    )
    services.light(lit_at=NOW - 3 * HOUR, **asked)


def test_a_glaze_load_is_not_lit_before_its_bisque_was_out(world: World, refused: Refused) -> None:
    board = world.glazed(3)
    opened_at = Firing.objects.get(state="opened").opened_at
    assert opened_at is not None
    firing = world.planned(world.big)
    services.load(firing=firing, board=board, by=world.by, at=LONG_AGO)
    asked = {"firing": firing, "by": world.by, "at": NOW}
    said = refused(services.light, lit_at=opened_at - HOUR, **asked)
    assert said.startswith(f"The bisque of board {board} was opened at ")
    services.light(lit_at=opened_at + HOUR, **asked)
