"""Are batches counted once, when they are decided, and does a line ask for enough?"""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.craft.learnt import Batch
from studio.wares import selectors, services
from studio.wares.selectors import Made
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def who() -> dict[str, Any]:
    return {"by": make.user(), "at": timezone.now()}


def made(*, glazed: bool = True) -> Made:
    line = make.line()
    if glazed:
        return Made(line.form_id, line.clay_lot_id, line.coats_id, line.schedule_id)
    return Made(line.form_id, line.clay_lot_id)


def test_a_throwing_counts_once_all_of_it_is_decided(who: dict[str, Any]) -> None:
    board = make.board("thrown", 10)
    services.lose(board=board, count=2, parting="broken", cause="rim", **who)
    assert selectors.losses().by_step["drying"] == {}
    services.lose(board=board, count=8, parting="broken", cause="frost", **who)
    found = selectors.losses()
    assert found.by_step["drying"][made(glazed=False)] == (Batch(good=0, of=10),)


def test_the_steps_of_a_board(who: dict[str, Any]) -> None:
    board = make.board("fired", 10)
    found = selectors.losses()
    for step in ("drying", "bisque", "glazing"):
        assert found.by_step[step][made(glazed=False)] == (Batch(good=10, of=10),)
        assert (found.good(step), found.seen(step)) == (10, 10)
    # Not graded yet, so nothing is known of firsts.
    assert found.seen("glaze") == 0
    change = services.grade(board=board, firsts=6, seconds=2, scraps=1, refires=1, **who)
    assert selectors.losses().by_step["glaze"][made()] == (Batch(good=6, of=10),)
    services.undo(change=change, **who)
    assert selectors.losses().seen("glaze") == 0


def test_a_lot_lost_in_the_hand(who: dict[str, Any]) -> None:
    board = make.board("bisqued", 6)
    line = make.line()
    services.glaze(
        board=board, coats=line.coats, schedule=line.schedule, count=5, lost=1, cause="knock", **who
    )
    found = selectors.losses()
    assert found.by_step["glazing"][made(glazed=False)] == (Batch(good=5, of=6),)


def test_like_is_told_apart_from_the_same() -> None:
    def graded(**values: Any) -> None:
        make.board("graded", 4, **values)

    graded()
    graded(form=make.form("Bowl"))
    graded(clay_lot=make.clay_lot("Chalk", "1"))
    graded(form=make.form("Bowl"), clay_lot=make.clay_lot("Chalk", "1"))
    record = selectors.losses().record("glaze", made())
    four = (Batch(good=4, of=4),)
    assert (record.line, record.form, record.body, record.rest) == (
        four, (four,), (four,), (four,),
    )  # fmt: skip
    assert len(selectors.losses().studio("glaze").rest) == 4


def test_a_record_of_losses_asks_for_more(who: dict[str, Any]) -> None:
    line = make.line()
    none = selectors.number_to_start(line=line, wanted=12, chance_percent=80)
    assert none.rows[3] == (
        "Glaze fire, and a first at grading", "no record yet: we reckon with 88 in 100, a guess",
    )  # fmt: skip
    for _ in range(4):
        services.grade(board=make.board("fired", 10), firsts=6, seconds=4, **who)
    poor = selectors.number_to_start(line=line, wanted=12, chance_percent=80)
    assert none.start is not None
    assert poor.start is not None
    assert 12 < none.start < poor.start
    # 24 of 40 are firsts: 12 firsts need 20 on the mean alone, and more to be sure.
    assert poor.start > 20
    assert poor.rows[3][1].startswith("24 of 40 good so far: we reckon with ")


def test_the_page_reckons(signed_in: Client) -> None:
    line = make.line()
    page = reverse("wares:line", args=[line.id])
    assert "thrown give 12 firsts, 80 times in 100" in signed_in.get(page).text
    more = signed_in.get(page, {"wanted": "20", "chance": "90"}).text
    assert "thrown give 20 firsts, 90 times in 100" in more
    wrong = signed_in.get(page, {"wanted": "0", "chance": "90"})
    assert (wrong.status_code, "thrown give 12 firsts" in wrong.text) == (200, True)
