"""Is a laboratory's result told, and nothing stronger than it?"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.wares import rules, selectors, services
from studio.wares.models import LabResult, Line, ProofRule
from studio.web.refusal import Refusal
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def who() -> dict[str, Any]:
    return {"by": make.user(), "at": timezone.now()}


# --- laboratory results --------------------------------------------------------------------------


def lead(**values: Any) -> dict[str, Any]:
    own = {
        "lab": "Weir Laboratory", "tested_date": date(2026, 2, 3),
        "method": "acetic acid 4 %, 24 h", "measured": "lead given off",
        "result": Decimal("0.02"), "is_below": True, "unit": "mg/l",
    }  # fmt: skip
    return own | values


LIMIT = {
    "limit": Decimal("1.5"),
    "limit_source": "our own entry for a test",
    "limit_date": date(2026, 2, 1),
}


def test_a_result_on_file_is_told_and_nothing_stronger(who: dict[str, Any]) -> None:
    line = make.line()
    assert selectors.food_of(line).caution.startswith(rules.NO_LAB_RESULT)
    change = services.file_result(line=line, **lead(**LIMIT), **who)
    food = selectors.food_of(line)
    assert food.words == (
        "lab test on file: lead given off under 0.02 mg/l, acetic acid 4 %, 24 h, Weir Laboratory,"
        " 03 Feb 2026; limit entered 1.5 mg/l: our own entry for a test, read 01 Feb 2026",
    )
    assert food.caution == ""
    # Another clay lot was not tested.
    other = make.line(clay_lot=make.clay_lot(lot="9"))
    assert selectors.food_of(other).words == ()
    services.undo(change=change, **who)
    assert not LabResult.objects.exists()


def test_over_the_limit_and_crazed_lose_the_claim(who: dict[str, Any]) -> None:
    line = make.line()
    board = make.board("graded", 2)
    over = lead(result=Decimal("1.6"), is_below=False, **LIMIT)
    services.file_result(line=line, **over, **who)
    assert "lies above the limit you entered" in selectors.food_of(line).caution
    services.see_fault(piece=board.pieces.all()[0], fault="craze", **who)
    food = selectors.food_of(line)
    assert food.words == ()
    assert food.caution.startswith("Crazing was seen on 1 piece of this glaze on this clay.")


def test_a_slip_names_the_tests_of_all_its_pieces_or_none(who: dict[str, Any]) -> None:
    line = make.line()
    mug = make.board("graded", 1).pieces.all()[0]
    vase = make.board("graded", 1, form=make.form("Vase", holds_food=False)).pieces.all()[0]
    assert selectors.food_words([vase]) == ""
    assert selectors.food_words([mug, vase]) == rules.NO_LAB_RESULT
    services.file_result(line=line, **lead(), **who)
    told = "Lab test on file: lead given off, Weir Laboratory, 03 Feb 2026."
    assert selectors.food_words([mug, mug, vase]) == told
    bowl = make.board("graded", 1, form=make.form("Bowl")).pieces.all()[0]
    make.line(form=bowl.form, clay_lot=make.clay_lot("Chalk", "1"))
    other = make.board(
        "graded", 1, form=bowl.form, clay_lot=make.clay_lot("Chalk", "1")
    ).pieces.all()[0]
    assert selectors.food_words([mug, other]) == rules.NO_LAB_RESULT
    services.see_fault(piece=mug, fault="craze", **who)
    assert selectors.food_words([mug]) == rules.NO_LAB_RESULT


def test_a_line_not_proven_is_looked_at_again(signed_in: Client) -> None:
    line = make.line(standing="trial")
    piece = make.board("graded", 1).pieces.select_related("glaze_firing")[0]
    firing = piece.glaze_firing
    assert firing is not None
    opened = timezone.now() - timedelta(days=3)
    type(firing).objects.filter(pk=firing.pk).update(
        lit_at=opened - timedelta(days=2), off_at=None, opened_at=opened
    )
    page = reverse("wares:piece", args=[piece.id])
    assert "crazing can come late: look at it again on" in signed_in.get(page).text
    Line.objects.filter(pk=line.pk).update(standing="proven")
    assert "crazing can come late: look" not in signed_in.get(page).text
    Line.objects.filter(pk=line.pk).update(standing="trial")
    ProofRule.objects.create(craze_days=2)
    assert "crazing can come late: look" not in signed_in.get(page).text


def test_a_form_not_for_food_asks_for_nothing() -> None:
    line = make.line(form=make.form("Vase", holds_food=False))
    assert selectors.food_of(line).caution == ""


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"tested_date": date(2126, 1, 1)}, "is in the future: file a result once"),
        ({"result": Decimal(-1)}, "A measured amount is 0 or more"),
        ({"limit_source": "a rule"}, "The limit itself is missing"),
        ({"limit": Decimal(2)}, "Say where the limit is written"),
        ({"limit": Decimal(2), "limit_source": "a rule"}, "Say on which day you read the limit"),
        (LIMIT | {"limit_date": date(2126, 1, 1)}, "say on which day you read the limit"),
        ({"unit": " "}, "or a field is empty"),
    ],
)
def test_results_that_cannot_be(who: dict[str, Any], values: dict[str, Any], says: str) -> None:
    with pytest.raises(Refusal, match=says):
        services.file_result(line=make.line(), **lead(**values), **who)
    assert not LabResult.objects.exists()


def test_the_same_result_is_filed_once(who: dict[str, Any]) -> None:
    change = services.file_result(line=make.line(), **lead(), **who)
    with pytest.raises(Refusal, match="is on file already"):
        services.file_result(line=make.line(), **lead(), **who)
    LabResult.objects.all().delete()
    with pytest.raises(Refusal, match="the result is gone already"):
        services.undo(change=change, **who)
