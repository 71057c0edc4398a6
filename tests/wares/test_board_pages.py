"""The pages of boards: what a potter sees, taps and reads when something is refused."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.wares import rules, selectors, services
from studio.wares.models import Board, Line, Piece
from tests import make

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


def seen(board: Board) -> str:
    return selectors.board_group(board).seen


def url(name: str, board: Board) -> str:
    return reverse(f"wares:{name}", args=[board.id])


# --- reading ----------------------------------------------------------------------------------


def test_boards_stand_by_stage_with_their_counts(signed_in: Client) -> None:
    make.board("thrown", 24, label="B1")
    dry = make.board("thrown", 7, label="B2")
    services.mark_dry(board=dry, dry_date=make.MADE, sure=True, by=make.user(), at=make.AT)
    make.board("bisqued", 3, label="B3")
    make.pieces("listed", 2)
    page = signed_in.get(reverse("wares:boards"))
    stages = [(stage, len(groups), count) for stage, groups, count in page.context["stages"]]
    assert stages == [("thrown", 1, 24), ("dry", 1, 7), ("bisqued", 1, 3)]
    assert page.context["listed"] == 2


def test_no_boards_yet(signed_in: Client) -> None:
    assert "No boards yet" in signed_in.get(reverse("wares:boards")).text


@pytest.mark.parametrize(
    ("stage", "button"),
    [
        ("thrown", "Bone dry today"),
        ("bisqued", ">Glaze</a>"),
        ("glazed", "Plan a firing of Cone 6 slow cool"),
        ("fired", ">Grade</a>"),
        ("graded", "Photograph No. 1"),
    ],
)
def test_the_next_step_is_the_main_button(signed_in: Client, stage: str, button: str) -> None:
    page = signed_in.get(url("board", make.board(stage, 2))).text
    assert page.count("btn-main") == 1
    assert button in page[page.index("btn-main") :][:200]


def test_a_dry_board_is_loaded_in_one_tap(signed_in: Client, form_key: Key) -> None:
    board = make.board("thrown", 2)
    services.mark_dry(board=board, dry_date=make.MADE, sure=True, by=make.user(), at=make.AT)
    assert "Plan a firing for bisque" in signed_in.get(url("board", board)).text
    make.firing(make.schedule(), state="planned")
    firing = make.firing(make.bisque_schedule(), state="planned")
    make.run(firing.kiln, firing.schedule)
    page = signed_in.get(url("board", board))
    assert page.context["firings"] == [firing]
    load = reverse("firings:load", args=[firing.id, board.id])
    assert f'action="{load}"' in page.text
    answer = signed_in.post(load, {"form_key": form_key(), "seen": seen(board), "count": 2})
    assert answer.status_code == 302, answer.text
    assert selectors.board_group(board).kiln == "Wren"


def test_a_busy_kiln_takes_no_board(signed_in: Client) -> None:
    board = make.board("thrown", 2)
    services.mark_dry(board=board, dry_date=make.MADE, sure=True, by=make.user(), at=make.AT)
    firing = make.firing(make.bisque_schedule(), state="planned")
    make.firing(make.schedule(), state="cooling", start_date=firing.start_date - timedelta(days=5))
    page = signed_in.get(url("board", board)).text
    assert f'disabled aria-describedby="why-{firing.id}"' in page
    assert "Wren is in use for another firing. Empty it first." in page
    assert reverse("firings:load", args=[firing.id, board.id]) not in page


def test_a_board_in_a_kiln_offers_no_step(signed_in: Client) -> None:
    board = make.board("bisqued", 4)
    make.in_load(board, make.firing(make.bisque_schedule(), state="loaded"))
    sentence = rules.can_touch(label=board.label, kiln="Wren")
    assert sentence is not None
    page = signed_in.get(url("board", board)).text
    assert sentence in page
    assert 'disabled aria-describedby="why-kiln"' in page
    for step in ("glaze", "lose", "split", "merge"):
        assert sentence in signed_in.get(url(step, board)).text


def test_dry_on_its_first_day_needs_a_tick(signed_in: Client, form_key: Key) -> None:
    today = timezone.localdate()
    board = make.board("thrown", 2, made_date=today, at=timezone.now())
    page = signed_in.get(url("board", board)).text
    assert "Bone dry today" not in page
    assert "0 days ago" not in page
    assert 'type="checkbox" name="sure"' in signed_in.get(url("dry", board)).text
    typed = {"dry_date": str(today), "seen": seen(board)}
    answer = signed_in.post(url("dry", board), typed | {"form_key": form_key()})
    assert answer.status_code == 422
    assert "not cold to the cheek" in answer.text
    answer = signed_in.post(url("dry", board), typed | {"form_key": form_key(), "sure": "on"})
    assert answer.status_code == 302
    assert Board.objects.get(id=board.id).dry_date == today


def test_an_empty_board_says_so(signed_in: Client) -> None:
    board = Board.objects.create(label="B9")
    assert "Nothing stands on this board" in signed_in.get(url("board", board)).text
    assert "Board B9 is empty." in signed_in.get(url("lose", board)).text


def test_a_board_that_never_was(signed_in: Client) -> None:
    assert signed_in.get("/boards/77/").status_code == 404
    assert signed_in.get(f"/boards/{10**30}/").status_code == 404


@pytest.mark.parametrize(
    "name",
    ["board", "dry", "glaze", "grade", "lose", "split", "merge", "place"],
)
def test_a_stranger_is_sent_to_sign_in(client: Client, name: str) -> None:
    board = make.board("thrown", 2)
    answer = client.get(url(name, board))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("sign-in"))


# --- acting -----------------------------------------------------------------------------------


def test_a_new_board_in_three_taps(signed_in: Client, form_key: Key) -> None:
    make.board("thrown", 24, label="B1")
    page = signed_in.get(reverse("wares:throw"))
    again = page.context["again"][0]
    assert (again.form, again.clay_lot, again.count) == (make.form(), make.clay_lot(), 24)
    answer = signed_in.post(
        reverse("wares:throw"),
        {
            "form_key": form_key(),
            "form": again.form.id,
            "clay_lot": again.clay_lot.id,
            "count": again.count,
            "made_date": str(timezone.localdate()),
        },
    )
    board = Board.objects.get(label="B2")
    assert answer.headers["Location"] == url("board", board)
    assert board.pieces.count() == 24


def test_the_same_key_throws_once(signed_in: Client, form_key: Key) -> None:
    typed = {
        "form_key": form_key(),
        "form": make.form().id,
        "clay_lot": make.clay_lot().id,
        "count": 5,
        "made_date": str(timezone.localdate()),
    }
    first = signed_in.post(reverse("wares:throw"), typed)
    second = signed_in.post(reverse("wares:throw"), typed)
    assert first.headers["Location"] == second.headers["Location"]
    assert Piece.objects.count() == 5


def test_a_refused_throw_keeps_what_was_typed(signed_in: Client, form_key: Key) -> None:
    make.board("thrown", 3, label="B1")
    typed = {
        "form_key": form_key(),
        "form": make.form().id,
        "clay_lot": make.clay_lot().id,
        "count": 17,
        "label": "B1",
        "made_date": str(timezone.localdate()),
    }
    answer = signed_in.post(reverse("wares:throw"), typed)
    assert answer.status_code == 422
    assert rules.can_use_label(label="B1", holds=3) in answer.text  # type: ignore[operator]
    assert 'value="17"' in answer.text
    assert Piece.objects.count() == 3


def test_first_the_catalogue(signed_in: Client) -> None:
    page = signed_in.get(reverse("wares:throw")).text
    assert reverse("wares:forms_add") in page
    assert reverse("wares:clay_lots_add") in page


def test_bone_dry_in_one_tap(signed_in: Client, form_key: Key) -> None:
    board = make.board("thrown", 2)
    typed = {"form_key": form_key(), "seen": seen(board), "dry_date": str(timezone.localdate())}
    signed_in.post(url("dry", board), typed)
    assert Board.objects.get(id=board.id).dry_date == timezone.localdate()


def test_of_several_lines_none_is_picked_unless_it_was_asked_for(signed_in: Client) -> None:
    make.line()
    other = make.line(coats=make.coats("Kelp on the rim"))
    board = make.board("bisqued", 24)
    page = signed_in.get(url("glaze", board))
    assert page.context["form"].initial["line"] == ""
    assert " checked" not in page.text
    page = signed_in.get(url("glaze", board), {"line": other.id})
    assert f'value="{other.id}" checked' in page.text
    assert signed_in.get(url("glaze", board), {"line": "x"}).context["form"].initial["line"] == ""


def test_throw_starts_with_what_its_link_asks_for(signed_in: Client) -> None:
    make.form("Bowl")
    make.board("thrown", 24)
    asked = {"form": make.form("Jug").id, "clay_lot": make.clay_lot(lot="8").id, "count": 9}
    page = signed_in.get(reverse("wares:throw"), asked)
    for name, value in asked.items():
        assert str(page.context["form"][name].value()) == str(value)
    assert f'value="{asked["form"]}" selected' in page.text
    page = signed_in.get(reverse("wares:throw"), {"form": "jug", "count": "-3", "clay_lot": "99"})
    assert page.status_code == 200
    assert page.context["form"]["count"].value() == 24


def test_glaze_with_the_known_line(signed_in: Client, form_key: Key) -> None:
    line = make.line()
    board = make.board("bisqued", 24)
    page = signed_in.get(url("glaze", board))
    assert page.context["form"].initial["line"] == str(line.id)
    assert page.context["form"].initial["count"] == 24
    assert rules.NO_LAB_RESULT in page.text
    assert "Silica dust" in page.text
    assert "food safe" not in page.text.lower()
    typed = {"form_key": form_key(), "seen": seen(board), "line": line.id, "count": 24, "lost": 2}
    typed["cause"] = "dropped"
    answer = signed_in.post(url("glaze", board), typed)
    assert answer.status_code == 302
    assert selectors.board_group(board).holds == "it holds 22 at glazed now"  # 24 - 2
    assert selectors.sums().partings["scrapped"] == 2


def test_glaze_with_another_glaze(signed_in: Client, form_key: Key) -> None:
    board = make.board("bisqued", 6)
    typed = {
        "form_key": form_key(),
        "seen": seen(board),
        "line": "other",
        "coats": make.coats("Ash").id,
        "schedule": make.schedule().id,
        "count": 4,
        "lost": 0,
        "new_label": "A1",
    }
    answer = signed_in.post(url("glaze", board), typed)
    assert answer.headers["Location"] == url("board", board)  # two are still to be glazed
    assert Board.objects.get(label="A1").pieces.count() == 4
    assert Line.objects.get().coats.name == "Ash"


def test_glaze_without_a_glaze(signed_in: Client, form_key: Key) -> None:
    board = make.board("bisqued", 6)
    typed = {"form_key": form_key(), "seen": seen(board), "line": "other", "count": 4}
    answer = signed_in.post(url("glaze", board), typed)
    assert answer.status_code == 422
    assert "Choose a glaze and the schedule it is meant for." in answer.text


def test_a_wrong_stage_shows_its_sentence_and_no_form(signed_in: Client) -> None:
    board = make.board("thrown", 2)
    sentence = rules.can_step(stage="thrown", to_stage="glazed")
    page = signed_in.get(url("glaze", board)).text
    assert sentence in page  # type: ignore[operator]
    assert 'name="count"' not in page


def test_grading_counts_what_is_not_a_first(signed_in: Client, form_key: Key) -> None:
    board = make.board("fired", 12)
    typed = {
        "form_key": form_key(),
        "seen": seen(board),
        "seconds": 2,
        "second_fault": "pinhole",
        "refires": 1,
        "scraps": 1,
        "scrap_fault": "dunt",
        "later": 0,
    }
    signed_in.post(url("grade", board), typed)
    assert selectors.board_group(board).holds == "it holds 10 at graded now"  # 12 - 1 - 1
    assert board.pieces.filter(grade="first").count() == 8  # 12 - 2 - 1 - 1
    assert selectors.broken_sums() == []


def test_grading_more_than_there_are(signed_in: Client, form_key: Key) -> None:
    board = make.board("fired", 3)
    typed = {"form_key": form_key(), "seen": seen(board), "seconds": 2, "scraps": 2}
    answer = signed_in.post(url("grade", board), typed)
    assert answer.status_code == 422
    assert "2 + 2 is 4, but 3 stand here." in answer.text


def test_a_form_that_may_not_be_refired_has_no_such_field(signed_in: Client) -> None:
    board = make.board("fired", 2, form=make.form("Platter", may_refire=False))
    page = signed_in.get(url("grade", board)).text
    sentence = rules.can_refire(form="Platter", may_refire=False)
    assert sentence in page  # type: ignore[operator]
    assert 'name="refire_fault"' not in page


def test_a_loss_takes_its_cause_from_the_fault(signed_in: Client, form_key: Key) -> None:
    board = make.board("thrown", 6)
    typed = {
        "form_key": form_key(),
        "seen": seen(board),
        "count": 2,
        "parting": "broken",
        "fault": "handle_crack",
    }
    signed_in.post(url("lose", board), typed)
    gone = Piece.objects.filter(parting="broken")
    assert {piece.parting_cause for piece in gone} == {"handle crack"}
    assert gone.count() == 2


def test_split_merge_and_rename(signed_in: Client, form_key: Key) -> None:
    board = make.board("bisqued", 10, label="B1")
    signed_in.post(url("split", board), {"form_key": form_key(), "seen": seen(board), "count": 4})
    other = Board.objects.get(label="B2")
    assert (board.pieces.count(), other.pieces.count()) == (6, 4)
    answer = signed_in.post(
        url("merge", other), {"form_key": form_key(), "seen": seen(other), "into": board.id}
    )
    assert answer.headers["Location"] == url("board", board)
    assert board.pieces.count() == 10
    signed_in.post(
        url("place", board), {"form_key": form_key(), "label": "Kiln rack", "place": "left"}
    )
    assert Board.objects.get(label="Kiln rack", place="left") == board


def test_the_second_phone_is_told_what_the_first_did(
    signed_in: Client, form_key: Key, other_potter: User
) -> None:
    board = make.board("bisqued", 10, label="B1")
    before = seen(board)
    services.lose(
        board=board,
        count=1,
        parting="broken",
        cause="dropped",
        by=other_potter,
        at=timezone.now(),
    )
    answer = signed_in.post(
        url("split", board), {"form_key": form_key(), "seen": before, "count": 4}
    )
    assert answer.status_code == 422
    assert "Board B1 is not as you saw it: it holds 9 at bisqued now. bo, " in answer.text
    assert "1 × Mug of board B1 broken: dropped. Nothing was changed." in answer.text
    assert board.pieces.count() == 9


@pytest.mark.parametrize("count", ["", "0", "-1", "11", "9999999999", "many", "1.5"])
def test_a_count_that_cannot_be(signed_in: Client, form_key: Key, count: str) -> None:
    board = make.board("bisqued", 10)
    typed = {"form_key": form_key(), "seen": seen(board), "count": count}
    answer = signed_in.post(url("split", board), typed)
    assert answer.status_code == 422
    assert board.pieces.count() == 10


def test_a_name_is_text_not_markup(signed_in: Client) -> None:
    board = make.board("thrown", 2, form=make.form("<b>Mug</b>"))
    page = signed_in.get(url("board", board)).text
    assert "&lt;b&gt;Mug&lt;/b&gt;" in page
    assert "<b>Mug" not in page
