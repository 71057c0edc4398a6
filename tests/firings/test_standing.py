"""When a trial came out, can the potter say what it showed, and take the word back?"""

from __future__ import annotations

from collections.abc import Callable

from django.test import Client
from django.urls import reverse

from studio.firings import selectors
from studio.firings.models import Firing
from studio.wares import services as wares
from studio.wares.services.standing import set_standing
from studio.web.models import Change
from tests.firings.conftest import NOW, World

Refused = Callable[..., str]


def tried(world: World) -> Firing:
    """Four of an untried line, opened with three through."""
    world.line.standing = "untried"
    world.line.save()
    board = world.glazed(4)
    firing = world.planned(world.small)
    world.load(firing, board)
    world.fired(firing, lost={board.pk: (1, "crawl")})
    return firing


def test_a_trial_that_came_out_is_asked_about(world: World) -> None:
    firing = tried(world)
    (one,) = selectors.on_trial(firing)
    assert (one.line, one.through, one.stood, one.firings) == (world.line, 3, 4, 1)
    board = world.glazed(5)
    second = world.planned(world.small)
    world.load(second, board)
    world.fired(second)
    (one,) = selectors.on_trial(second)
    assert (one.through, one.stood, one.all_through, one.all_stood) == (5, 5, 3 + 5, 4 + 5)
    assert one.firings == 2


def test_one_tap_proves_a_line_and_one_takes_it_back(
    world: World, signed_in: Client, form_key: Callable[[], str]
) -> None:
    firing = tried(world)
    page = reverse("firings:firing", args=[firing.pk])
    assert "This line is proven" in signed_in.get(page).content.decode()
    url = reverse("firings:standing", args=[firing.pk, world.line.pk, "proven"])
    answer = signed_in.post(url, {"form_key": form_key()})
    assert answer.headers["Location"] == page
    world.line.refresh_from_db()
    assert world.line.standing == "proven"
    assert "This line is proven" not in signed_in.get(page).content.decode()
    change = Change.objects.get(action="standing")
    assert change.said == "Mug in Tenmoku on Grey stoneware to Cone 6 plain is proven now"
    signed_in.post(reverse("undo", args=[change.pk]), {"form_key": form_key()})
    world.line.refresh_from_db()
    assert world.line.standing == "trial"


def test_back_to_untried(world: World, signed_in: Client, form_key: Callable[[], str]) -> None:
    firing = tried(world)
    url = reverse("firings:standing", args=[firing.pk, world.line.pk, "untried"])
    signed_in.post(url, {"form_key": form_key()})
    world.line.refresh_from_db()
    assert world.line.standing == "untried"
    assert selectors.on_trial(firing) == []


def test_a_word_on_a_line_is_undone_while_it_stands(world: World, refused: Refused) -> None:
    who = {"by": world.by, "at": NOW}
    change = set_standing(line=world.line, standing="trial", **who)
    wares.undo(change=change, **who)
    world.line.refresh_from_db()
    assert world.line.standing == "proven"
    change = set_standing(line=world.line, standing="trial", **who)
    set_standing(line=world.line, standing="untried", **who)
    assert "was changed since" in refused(wares.undo, change=change, **who)


def test_a_word_that_says_nothing_is_refused(world: World, refused: Refused) -> None:
    asked = {"line": world.line, "by": world.by, "at": NOW}
    assert refused(set_standing, standing="proven", **asked) == (
        "Mug in Tenmoku on Grey stoneware to Cone 6 plain is proven already."
    )
    assert refused(set_standing, standing="good", **asked).startswith("“good” is no standing")
    assert not Change.objects.filter(action="standing").exists()


def test_a_bisque_firing_tries_no_line(world: World) -> None:
    world.line.standing = "trial"
    world.line.save()
    firing = world.planned(world.small, world.bisque)
    world.load(firing, world.thrown())
    world.fired(firing)
    assert selectors.on_trial(firing) == []
