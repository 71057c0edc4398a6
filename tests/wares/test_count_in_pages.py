"""Is what stood before the records counted in on its page, and does the page say why not?"""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.wares import rules, selectors
from studio.wares.models import Board, Piece
from tests import make
from tests.wares.counted import counted

pytestmark = pytest.mark.django_db
Key = Callable[[], str]
STAGES = ["bisqued", "glazed", "fired", "graded"]


# --- the page ---------------------------------------------------------------------------------

PAGE = "wares:count_in_as"


def typed(key: str, **more: Any) -> dict[str, Any]:
    given = {
        "form_key": key,
        "form": make.form().id,
        "clay_lot": make.clay_lot().id,
        "coats": make.coats().id,
        "schedule": make.schedule().id,
        "grade": "first",
        "count": 9,
        "made_date": str(timezone.localdate()),
    }
    return given | more


def test_boards_and_an_empty_boards_page_lead_there(signed_in: Client) -> None:
    link = reverse("wares:count_in")
    assert signed_in.get(reverse("wares:boards")).text.count(f'href="{link}"') == 2
    make.board("thrown", 2)
    assert signed_in.get(reverse("wares:boards")).text.count(f'href="{link}"') == 1
    page = signed_in.get(link).text
    assert all(f'href="{reverse(PAGE, args=[stage])}"' in page for stage in STAGES)


def test_an_empty_catalogue_is_named_part_by_part(signed_in: Client) -> None:
    page = signed_in.get(reverse(PAGE, args=["glazed"]))
    assert [words for words, _ in page.context["missing"]] == [
        "Add a form",
        "Add a clay lot",
        "Add coats of glaze",
        "Add a glaze schedule",
    ]
    assert "<form method" not in page.text[page.text.index("<h1>") :]
    make.form(), make.clay_lot()
    assert signed_in.get(reverse(PAGE, args=["bisqued"])).context["missing"] == []


@pytest.mark.parametrize(
    ("stage", "asked"),
    [
        ("bisqued", set()),
        ("glazed", {"coats", "schedule"}),
        ("fired", {"coats", "schedule"}),
        ("graded", {"coats", "schedule", "grade"}),
    ],
)
def test_the_stage_picks_the_fields(signed_in: Client, stage: str, asked: set[str]) -> None:
    make.line(), make.bisque_schedule()
    page = signed_in.get(reverse(PAGE, args=[stage]))
    assert set(page.context["form"].fields) - {
        "form", "clay_lot", "count", "made_date", "label", "place",
    } == asked  # fmt: skip
    assert ("Cone 6 slow cool" in page.text) == bool(asked)
    assert "Bisque 06" not in page.text


@pytest.mark.parametrize("stage", STAGES)
def test_a_board_is_counted_in_by_the_page(signed_in: Client, form_key: Key, stage: str) -> None:
    url = reverse(PAGE, args=[stage])
    key = form_key()
    page = signed_in.post(url, typed(key, label="Top", place="window"), follow=True)
    assert page.redirect_chain == [(url, 302)]
    assert "Counted in 9 × Mug" in page.text
    board = Board.objects.get(label="Top")
    assert selectors.board_group(board).holds == f"it holds 9 at {stage} now"
    assert f'href="{reverse("wares:board", args=[board.id])}"' in page.text
    assert page.context["form"]["place"].value() == "window"
    signed_in.post(url, typed(key, label="Top", place="window"))  # the same tap, sent twice
    assert Piece.objects.count() == 9


@pytest.mark.parametrize(
    ("stage", "more", "words"),
    [
        ("bisqued", {"count": 0}, "Say how many stand here: 1 or more."),
        ("bisqued", {"count": ""}, "Say how many stand here: 1 or more."),
        ("bisqued", {"count": 501}, "500 on one board at most"),
        ("bisqued", {"made_date": "2999-01-01"}, "is in the future"),
        ("bisqued", {"made_date": ""}, "This field is required"),
        ("bisqued", {"label": "Rack"}, "already used by a board with 7 on it"),
        ("glazed", {"coats": ""}, "This field is required"),
        ("glazed", {"coats": 999}, "Select a valid choice"),
        ("graded", {"grade": "third"}, "Select a valid choice"),
    ],
)
def test_the_page_says_why_not_and_keeps_what_was_typed(
    signed_in: Client, form_key: Key, stage: str, more: dict[str, Any], words: str
) -> None:
    make.board("thrown", 7, label="Rack")
    page = signed_in.post(
        reverse(PAGE, args=[stage]), typed(form_key(), place="window sill") | more
    )
    assert page.status_code == 422
    assert words in page.text
    assert "window sill" in page.text
    assert Piece.objects.count() == 7


def test_too_cool_a_glaze_is_refused_on_the_page(signed_in: Client, form_key: Key) -> None:
    low = make.coats("Low", top_cone="04")
    page = signed_in.post(reverse(PAGE, args=["fired"]), typed(form_key(), coats=low.id))
    assert page.status_code == 422
    assert "The glaze Low may go to cone 04" in page.text


@pytest.mark.parametrize("stage", ["thrown", "listed", "dreamt"])
def test_no_other_stage_has_a_page(signed_in: Client, stage: str) -> None:
    assert signed_in.get(reverse(PAGE, args=[stage])).status_code == 404


@pytest.mark.parametrize("stage", STAGES)
def test_the_pages_of_what_was_counted_in(signed_in: Client, potter: User, stage: str) -> None:
    board = counted(stage, potter, count=2)
    assert signed_in.get(reverse("wares:board", args=[board.id])).status_code == 200
    piece = board.pieces.all()[0]
    page = signed_in.get(reverse("wares:piece", args=[piece.id])).text
    assert f"counted in as {stage}" in page
    assert rules.BEFORE_RECORDS[stage] in page
    url = reverse("wares:pieces")
    assert signed_in.get(url, {"counted_in": stage}).context["page"].paginator.count == 2
    other = next(one for one in STAGES if one != stage)
    assert signed_in.get(url, {"counted_in": other}).context["page"].paginator.count == 0
