"""What moved since a plan was worked out?"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest

from studio.craft.problem import BadProblem
from studio.planning import services
from studio.planning.selectors import drift, overtaken
from studio.planning.selectors.question import ALL_READY, ask
from studio.sales.models import Listing, SaleDay
from tests.planning.cast import NOW, TODAY, Cast, at
from tests.planning.proposals import accept, propose

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY


# What moved since is said, and hinders nothing.


def test_drift_is_silent_when_nothing_changed(wanted: Cast) -> None:
    backplan = propose(wanted)
    assert drift(backplan=backplan, today_date=TODAY) == ""


def test_drift_names_what_changed(wanted: Cast) -> None:
    backplan = propose(wanted)
    wanted.board("T1", 3)
    assert drift(backplan=backplan, today_date=TODAY) == (
        "Since this plan was worked out, pots have moved. Work it out again to be sure."
    )
    wanted.sale("Another", SALE - DAY, {wanted.mugs: 3})
    assert drift(backplan=backplan, today_date=TODAY + DAY) == (
        "Since this plan was worked out, today is no longer Wed 25 Nov 2026, pots have moved and "
        "what is promised has changed. Work it out again to be sure."
    )
    accept(wanted, backplan)


def test_a_plan_in_force_is_not_overtaken_by_pots_and_days(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    wanted.board("T1", 3)
    assert overtaken(backplan=backplan, today_date=TODAY + DAY, now=NOW + DAY) == ""


def test_a_plan_in_force_is_overtaken_by_promises_and_hands(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    wanted.sale("Another", SALE - DAY, {wanted.mugs: 3})
    assert overtaken(backplan=backplan, today_date=TODAY) == (
        "Since this plan was put in force, more is promised than it reckons with. "
        "Work it out again."
    )
    services.take_day_off(day=TODAY + DAY, by=wanted.by, at=NOW)
    assert overtaken(backplan=backplan, today_date=TODAY) == (
        "Since this plan was put in force, more is promised than it reckons with and the hands "
        "or days off have changed. Work it out again."
    )


def test_a_plan_in_force_is_not_overtaken_once_nothing_is_left_to_plan(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    after = SALE + DAY
    assert overtaken(backplan=backplan, today_date=after, now=at(after)) == ""


def test_a_plan_in_force_is_not_overtaken_once_all_is_ready(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    sale = SaleDay.objects.get()
    for form, count in ((wanted.mug, 30), (wanted.bowl, 10)):
        for piece in wanted.board(f"L{form.pk}", count, stage="listed", form=form):
            Listing.objects.create(sale_day=sale, piece=piece, price_pence=3200, listed_at=NOW)
    with pytest.raises(BadProblem) as caught:
        ask(today_date=TODAY)
    assert caught.value.causes == (ALL_READY,)
    assert overtaken(backplan=backplan, today_date=TODAY) == ""


def test_what_moved_is_asked_without_the_whole_question(
    wanted: Cast, django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]]
) -> None:
    for label in "ABCDEFGH":
        wanted.board(label, 3)
    backplan = propose(wanted)
    with django_assert_max_num_queries(16):
        assert drift(backplan=backplan, today_date=TODAY) == ""
    with django_assert_max_num_queries(12):  # of these three ask for losses and failed firings
        assert overtaken(backplan=backplan, today_date=TODAY) == ""


def test_a_plan_in_force_says_when_no_plan_could_be_worked_out_now(wanted: Cast) -> None:
    backplan = propose(wanted)
    accept(wanted, backplan)
    wanted.wide.delete()
    wanted.little.delete()
    assert "No plan could be worked out" in overtaken(backplan=backplan, today_date=TODAY)


def test_drift_says_when_no_plan_could_be_worked_out_now(wanted: Cast) -> None:
    backplan = propose(wanted)
    wanted.wide.delete()
    wanted.little.delete()
    assert "none could be worked out now" in drift(backplan=backplan, today_date=TODAY)
