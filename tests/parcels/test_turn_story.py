"""Is a supporter told why their turn comes when it comes, and shown nobody else?"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from studio.drawing.turn_sheets import TurnSheet
from studio.parcels import selectors, services
from studio.parcels.models import Supporter, TurnRule
from studio.parcels.rules import month_name, why_then
from tests.drawing.paper_reading import texts
from tests.parcels import cast
from tests.parcels.cast import NOVEMBER, NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def three(potter: User) -> list[Supporter]:
    """Three who joined one after the other, and one pot."""
    people = [cast.supporter(name, potter) for name in ("Ada Lind", "Bo Reed", "Cy Wu")]
    wares_cast.pots(wares_cast.line(), 1, potter)
    return people


def december(potter: User) -> None:
    """Ada is sent December's parcel, Bo is skipped in it, Cy waits."""
    shipment = cast.shipment(potter, month="2026-12", parcel_count=1)
    bo = Supporter.objects.get(name="Bo Reed")
    services.skip(shipment=shipment, supporter=bo, reason="away", by=potter, at=NOW)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)


def test_the_story_is_the_ledger_of_one(potter: User, three: list[Supporter]) -> None:
    december(potter)
    ada, bo, _ = (selectors.turn_story(person, today_date=NOW.date()) for person in three)
    (month,) = ada.months
    assert (month.name, month.parcels, month.among) == ("December 2026", 1, 3)
    assert (month.part, month.sent, month.due) == (Fraction(1, 3), True, Fraction(-2, 3))
    (month,) = bo.months
    assert (month.sent, month.due, month.note) == (False, Fraction(1, 3), "away")
    # Bo and Cy are due the same and were never sent one: Bo joined first.
    assert (bo.before, bo.eligible) == (0, 3)
    assert ada.before == 2 or ada.line.next_month == bo.line.next_month
    assert [one.line.due for one in (ada, bo)] == [Fraction(-2, 3), Fraction(1, 3)]


def test_the_paper_shows_one_and_nobody_else(
    signed_in: Client, potter: User, three: list[Supporter]
) -> None:
    december(potter)
    answer = signed_in.get(reverse("parcels:turn-sheet", args=[three[1].id]))
    assert answer["Content-Type"] == "application/pdf"
    (page,) = texts(answer.content)
    assert "The turn of Bo Reed" in page
    assert "Next parcel: about January 2027. Nobody's turn comes before it." in page
    assert "skipped: away. The place was kept." in page
    assert "December 2026 1 3 0.33 +0.33" in page
    assert "in equal parts among all" in page
    assert "Ada" not in page
    assert "Cy" not in page
    assert answer["Cache-Control"] == "no-store"
    assert signed_in.get(reverse("parcels:turn-sheet", args=[999])).status_code == 404


def test_who_has_no_turn_is_told_why(signed_in: Client, potter: User) -> None:
    new = cast.supporter("New", potter, paid=("2026-11",))
    TurnRule.objects.create(id=1, months_needed=3, equal_turns=False)
    (page,) = texts(signed_in.get(reverse("parcels:turn-sheet", args=[new.id])).content)
    assert "No turn now: 1 of 3 paid months." in page
    assert "by the weight of their tier" in page
    assert "No month with parcels yet." in page


def test_the_ledger_stands_by_the_next_turn(
    signed_in: Client, potter: User, three: list[Supporter]
) -> None:
    december(potter)
    lines = selectors.ledger_lines(today_date=NOW.date())
    assert [line.supporter.name for line in lines] == ["Bo Reed", "Cy Wu", "Ada Lind"]
    months = [line.next_month for line in lines]
    assert months == sorted(months)  # type: ignore[type-var]
    page = signed_in.get(reverse("parcels:turns")).text
    assert page.index("Bo Reed") < page.index("Cy Wu") < page.index("Ada Lind")
    assert f"next about {month_name(months[0] or 0)}" in page
    assert "Skipped, December 2026: away" in page


def test_a_tier_weighs_in_the_months_it_was_held(potter: User, three: list[Supporter]) -> None:
    """Ada's tier tripled in November: December's parcel is shared 3, 1, 1, and October's not."""
    TurnRule.objects.create(id=1, months_needed=3, equal_turns=False)
    bowl = cast.tier("Bowl", 3)
    services.change_supporter(supporter=three[0], values={"tier": bowl}, by=potter, at=NOW)
    weights = [[t.weight for t in selectors.turners(month=month)] for month in
               (NOVEMBER - 1, NOVEMBER, NOVEMBER + 1)]  # fmt: skip
    assert weights == [[1, 1, 1], [3, 1, 1], [3, 1, 1]]


@pytest.mark.parametrize(
    ("before", "ahead"),
    [(1, "1 supporter has theirs before"), (4, "4 supporters have theirs before")],
)
def test_why_then_in_words(before: int, ahead: str) -> None:
    words = why_then(eligible=True, why_not="", next_words="about May 2027", before=before, among=9)
    assert words == f"Next parcel: about May 2027. {ahead}, of 9 with a turn."


def test_a_row_of_another_shape_is_refused() -> None:
    with pytest.raises(ValueError, match="a row of a turn sheet is Month, Parcels"):
        TurnSheet(title="t", sentence="s", why="w", facts=(), rows=(("May",),), rule=(), foot="f")
