"""New elements or a new thermocouple: do the lines that rest on the old ones go on trial again?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings import selectors, services
from studio.firings.models import Firing, Kiln
from studio.home.services import undo
from studio.wares.kinds import kind_of
from studio.wares.models import KilnTrial, Line
from studio.wares.selectors import standings, verdict_of
from studio.wares.services.standing import set_standing
from studio.web.models import Change
from tests.firings.conftest import NOW, TODAY, World

Key = Callable[[], str]
SINCE = "since Wed 25 Nov 2026: on trial there until one load came out well"


def came_out(world: World, kiln: Kiln, count: int = 8) -> Firing:
    """So many of the line from one firing of a kiln, all through."""
    board = world.glazed(count)
    firing = world.planned(kiln)
    world.load(firing, board)
    return world.fired(firing)


def changed(world: World, kiln: Kiln, part: str = "elements", day: date = TODAY) -> Change:
    return services.record_care(
        kiln=kiln, part=part, did="changed", on_date=day, by=world.by, at=NOW
    )


def stands(world: World) -> tuple[str, str, str]:
    """The line in the studio, in the big kiln and in the small one."""
    world.line.refresh_from_db()
    key = kind_of(world.line)
    big, small = (standings(kiln_id=kiln.pk)[key] for kiln in (world.big, world.small))
    return world.line.standing, big, small


@pytest.mark.parametrize(
    ("part", "words"), [("elements", "new elements"), ("thermocouple", "a new thermocouple")]
)
def test_new_parts_put_lines_on_trial_and_undo_takes_it_back(
    world: World, part: str, words: str
) -> None:
    came_out(world, world.big)
    assert stands(world) == ("proven", "proven", "proven")
    change = changed(world, world.big, part)
    assert stands(world)[:2] == ("trial", "trial")
    [tried] = KilnTrial.objects.all()
    assert tried.said == f"proven before; Heron has {words} {SINCE}"
    undo(change=change, by=world.by, at=NOW)
    assert stands(world) == ("proven", "proven", "proven")
    assert not KilnTrial.objects.exists()


@pytest.mark.parametrize(("part", "did"), [("shelves", "changed"), ("elements", "looked")])
def test_what_moves_no_heat_puts_nothing_on_trial(world: World, part: str, did: str) -> None:
    came_out(world, world.big)
    services.record_care(kiln=world.big, part=part, did=did, on_date=TODAY, by=world.by, at=NOW)
    assert stands(world) == ("proven", "proven", "proven")


def test_only_the_kiln_that_was_changed(world: World) -> None:
    came_out(world, world.big)
    came_out(world, world.small)
    changed(world, world.big)
    assert stands(world) == ("proven", "trial", "proven")
    other = verdict_of(world.line)
    assert [kiln for kiln, _ in other.kilns] == [world.big.pk]
    changed(world, world.small, "thermocouple")
    assert stands(world) == ("trial", "trial", "trial")


def test_what_was_fired_since_rests_on_the_new_parts(world: World) -> None:
    firing = came_out(world, world.big)
    assert firing.lit_at is not None
    changed(world, world.big, day=firing.lit_at.date())
    assert stands(world) == ("proven", "proven", "proven")
    changed(world, world.big, day=firing.lit_at.date() + timedelta(days=1))
    assert stands(world)[1] == "trial"


def test_a_load_asks_for_a_trial_and_one_that_came_out_well_ends_it(world: World) -> None:
    came_out(world, world.big)
    came_out(world, world.small)
    changed(world, world.big, day=TODAY - timedelta(days=3))
    assert stands(world) == ("proven", "trial", "proven")
    board = world.glazed(30)
    firing = world.planned(world.big)
    [choice] = [one for one in selectors.loadable_boards(firing) if one.board == board]
    # 25 % of 60 mug places are 15.
    assert (choice.most, choice.refusal) == (15, "")
    with pytest.raises(Exception, match="is on trial: at most 15 of it go into Heron"):
        services.load(firing=firing, board=board, count=16, by=world.by, at=NOW)
    world.load(firing, board, 15)
    opened = world.fired(firing)
    assert stands(world) == ("proven", "proven", "proven")
    undo(change=Change.objects.get(action="open_kiln", subject_id=opened.pk), by=world.by, at=NOW)
    assert stands(world) == ("proven", "trial", "proven")


def test_the_potters_own_word_goes_before(
    world: World, signed_in: Client, form_key: Key, refused: Callable[..., str]
) -> None:
    came_out(world, world.big)
    came_out(world, world.small)
    who = {"by": world.by, "at": NOW + timedelta(minutes=1)}
    assert "is proven already" in refused(set_standing, line=world.line, standing="proven", **who)
    changed(world, world.big)
    page = signed_in.get(reverse("wares:line", args=[world.line.pk])).content.decode()
    assert "Heron has new elements since Wed 25 Nov 2026" in page
    assert "Call it proven in this kiln too" in page
    change = set_standing(line=world.line, standing="proven", **who)
    assert stands(world) == ("proven", "proven", "proven")
    undo(change=change, by=world.by, at=NOW)
    assert stands(world) == ("proven", "trial", "proven")


def test_the_pages_say_it(world: World, signed_in: Client, form_key: Key) -> None:
    came_out(world, world.big)
    url = reverse("firings:care", args=[world.big.pk])
    typed = {"part": "elements", "did": "changed", "on_date": TODAY.isoformat()}
    page = signed_in.post(url, {"form_key": form_key(), **typed}, follow=True).content.decode()
    assert "1 line is on trial in it now." in page
    assert str(world.line) in page
    kiln = signed_in.get(reverse("firings:kiln", args=[world.big.pk])).content.decode()
    assert "1 line is on trial in it again" in kiln
    small = signed_in.get(reverse("firings:kiln", args=[world.small.pk])).content.decode()
    assert "on trial in it again" not in small


def test_undo_keeps_what_was_called_otherwise_since(world: World) -> None:
    came_out(world, world.big)
    change = changed(world, world.big)
    later = NOW + timedelta(minutes=1)
    set_standing(line=world.line, standing="untried", by=world.by, at=later)
    undo(change=change, by=world.by, at=later)
    assert Line.objects.get(pk=world.line.pk).standing == "untried"
