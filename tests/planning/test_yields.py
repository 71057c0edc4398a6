"""Do plans reckon with the studio's own records once there are enough, and say so?"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.planning import selectors, services
from studio.planning.models import PlanRule
from studio.planning.selectors.yields import ENOUGH, yields_of
from studio.wares import services as wares
from tests import make

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


def graded(boards: int, *, firsts: int, seconds: int, by: User) -> None:
    """So many boards of ten from one fire each, graded alike."""
    for _ in range(boards):
        board = make.board("fired", firsts + seconds)
        wares.grade(board=board, firsts=firsts, seconds=seconds, by=by, at=timezone.now())


def test_too_short_a_record_leaves_the_stated_numbers(potter: User) -> None:
    graded(3, firsts=6, seconds=4, by=potter)
    rows = selectors.yield_rows(PlanRule())
    assert [row.percent for row in rows] == [96, 98, 88]
    assert rows[2].said == f"18 of 30 good so far; from {ENOUGH} on the record counts"
    assert selectors.yield_rows(PlanRule())[0].said.startswith("30 of 30 good so far; from")


def test_no_record_is_a_guess() -> None:
    assert selectors.yield_rows(PlanRule())[1].said == "no record yet: 98 in 100 is a guess"


def test_a_long_record_goes_before_the_stated_numbers(potter: User) -> None:
    graded(8, firsts=6, seconds=4, by=potter)
    learnt = yields_of(PlanRule())
    # 48 of 80 are firsts: 60 in 100, pulled a little towards the stated 88.
    assert 55 <= learnt.glaze_percent <= 72
    assert learnt.drying_percent >= 94
    stated = yields_of(PlanRule(is_learnt=False))
    assert (stated.drying_percent, stated.bisque_percent, stated.glaze_percent) == (96, 98, 88)


def test_the_page_says_what_the_records_say(signed_in: Client, form_key: Key, potter: User) -> None:
    graded(5, firsts=9, seconds=1, by=potter)
    page = reverse("planning:rules")
    shown = signed_in.get(page).text
    assert "45 of 50 good so far: the next loads are reckoned with" in shown
    typed: dict[str, Any] = {
        "drying_percent": 96, "bisque_percent": 98, "glaze_percent": 88, "least_pieces": 2,
        "most_pieces": 6, "form_key": form_key(),
    }  # fmt: skip
    assert signed_in.post(page, typed).status_code == 302
    assert PlanRule.objects.get().is_learnt is False
    services.set_rule(
        drying_percent=96, bisque_percent=98, glaze_percent=88, by=potter, at=timezone.now()
    )
    assert PlanRule.objects.get().is_learnt is True
