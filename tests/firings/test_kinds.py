"""Do raku and lustre firings go their way: raku as a glaze firing, lustre without ware?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings import services
from studio.firings.models import Run, Schedule, Segment
from studio.home.services import undo
from studio.wares import services as wares
from studio.wares.models import Line, Piece
from studio.wares.selectors import broken_sums
from tests.firings.conftest import NOW, World


def schedule(world: World, kind: str, cone: str) -> Schedule:
    """A schedule of a kind with one row and a run in the small kiln."""
    made = Schedule.objects.create(name=f"Any {kind}", kind=kind, cone=cone)
    top = {"06": 995, "018": 715}[cone]
    Segment.objects.create(schedule=made, seq=1, rate_c_per_h=100, target_c=top)
    Run.objects.create(kiln=world.small, schedule=made, busy_days=1, cost_pence=400)
    return made


def test_raku_takes_glazed_ware_and_brings_it_to_fired(world: World) -> None:
    raku = schedule(world, "raku", "06")
    board = world.bisqued(4)
    wares.glaze(board=board, coats=world.tenmoku, schedule=raku, count=4, by=world.by, at=NOW)
    Line.objects.update_or_create(
        form=world.mug, clay_lot=world.grey, coats=world.tenmoku, schedule=raku,
        defaults={"standing": "proven"},
    )  # fmt: skip
    firing = world.planned(world.small, raku)
    world.load(firing, board)
    world.fired(firing)
    assert set(Piece.objects.values_list("stage", flat=True)) == {"fired"}
    assert broken_sums() == []


def test_raku_does_not_take_bisqued_or_thrown_ware(
    world: World, refused: Callable[..., str]
) -> None:
    firing = world.planned(world.small, schedule(world, "raku", "06"))
    board = world.bisqued(4)
    why = refused(services.load, firing=firing, board=board, by=world.by, at=NOW)
    assert "is not glazed yet" in why


def test_a_lustre_firing_is_lit_without_boards_and_undone(
    world: World, signed_in: Client, refused: Callable[..., str]
) -> None:
    firing = world.planned(world.small, schedule(world, "lustre", "018"))
    board = world.glazed(4)
    why = refused(services.load, firing=firing, board=board, by=world.by, at=NOW)
    assert "A lustre firing changes no stage" in why
    lit_at = NOW - timedelta(hours=1)
    page = signed_in.get(reverse("firings:light", args=[firing.pk])).content.decode()
    assert "is empty. Load it" not in page
    change = services.light(firing=firing, lit_at=lit_at, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.state == "firing"
    undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.state == "planned"


def test_a_lustre_firing_is_planned_without_ware(world: World, refused: Callable[..., str]) -> None:
    lustre = schedule(world, "lustre", "018")
    why = refused(
        services.plan_firing, kiln=world.small, schedule=lustre, start_date=NOW.date(),
        wares=[(world.mug, world.grey, world.tenmoku, 4)], by=world.by, at=NOW,
    )  # fmt: skip
    assert "is planned without ware" in why


def test_an_empty_glaze_load_is_still_not_lit(world: World, refused: Callable[..., str]) -> None:
    firing = world.planned()
    assert "is empty. Load it before it is lit." in refused(
        services.light, firing=firing, lit_at=NOW, by=world.by, at=NOW
    )


@pytest.mark.parametrize("kind", ["bisque", "lustre"])
def test_ware_is_not_glazed_for_another_kind(
    world: World, refused: Callable[..., str], kind: str
) -> None:
    other = world.bisque if kind == "bisque" else schedule(world, "lustre", "018")
    board = world.bisqued(4)
    why = refused(
        wares.glaze, board=board, coats=world.tenmoku, schedule=other, count=4, by=world.by, at=NOW
    )
    assert f"is a {kind} schedule. Choose a glaze schedule." in why
