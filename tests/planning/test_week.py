"""Are the hands, the days off and the rules saved whole, refused in words, and undone?"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User

import studio.firings.services as firings
from studio.firings.selectors import trial_rule
from studio.planning import services
from studio.planning.models import DayOff, Hands, PlanRule
from studio.planning.selectors import plan_rule
from studio.planning.services import DayHands
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.planning.cast import NOW, TODAY

DAY = timedelta(days=1)


def week(**monday: int) -> list[DayHands]:
    given = {"throwing_min": 60, "glazing_min": 30, "finishing_min": 0} | monday
    return [
        DayHands(weekday=0, may_start=True, **given),
        DayHands(weekday=6, may_start=False, throwing_min=0, glazing_min=0, finishing_min=0),
    ]


def hands() -> list[tuple[int, int, bool]]:
    return [(h.weekday, h.throwing_min, h.may_start) for h in Hands.objects.all()]


def set_hands(by: User, days: list[DayHands]) -> Change:
    return services.set_hands(week=days, by=by, at=NOW)


def undo(by: User, change: Change) -> Change:
    return services.undo(change=change, by=by, at=NOW)


def test_hands_are_saved_and_undone(potter: User) -> None:
    set_hands(potter, week())
    change = set_hands(potter, week(throwing_min=1440))
    assert hands() == [(0, 1440, True), (6, 0, False)]
    undo(potter, change)
    assert hands() == [(0, 60, True), (6, 0, False)]


@pytest.mark.parametrize("kind", ["throwing_min", "glazing_min", "finishing_min"])
@pytest.mark.parametrize("minutes", [1441, -1])
def test_minutes_over_a_day_are_refused_and_nothing_is_saved(
    potter: User, kind: str, minutes: int
) -> None:
    with pytest.raises(Refusal) as caught:
        set_hands(potter, week(**{kind: minutes}))
    assert str(caught.value) == (
        f"Monday: {minutes} minutes cannot be. Give 0 to 1440, a whole day."
    )
    assert not Hands.objects.exists()


def test_hands_changed_again_are_not_undone(potter: User) -> None:
    change = set_hands(potter, week())
    set_hands(potter, week(throwing_min=61))
    with pytest.raises(Refusal, match="changed again since"):
        undo(potter, change)


def take_off(by: User, day: date) -> Change:
    return services.take_day_off(day=day, why="fair", by=by, at=NOW)


def test_a_day_off_and_back(potter: User) -> None:
    change = take_off(potter, TODAY)
    assert [str(off) for off in DayOff.objects.all()] == [str(TODAY)]
    undo(potter, change)
    assert not DayOff.objects.exists()
    with pytest.raises(Refusal, match="This was undone already"):
        undo(potter, change)


def test_a_day_off_in_the_past_is_refused(potter: User) -> None:
    with pytest.raises(Refusal) as caught:
        take_off(potter, TODAY - DAY)
    assert str(caught.value) == "Tue 24 Nov 2026 is past. A day off is today or later."


def test_a_day_is_not_off_twice(potter: User) -> None:
    take_off(potter, TODAY)
    with pytest.raises(Refusal, match="Wed 25 Nov 2026 is a day off already"):
        take_off(potter, TODAY)


def test_a_working_day_after_all_and_off_again(potter: User) -> None:
    first = take_off(potter, TODAY)
    off = DayOff.objects.get()
    change = services.work_day_after_all(day_off=off, by=potter, at=NOW)
    with pytest.raises(Refusal, match="no day off any more"):
        services.work_day_after_all(day_off=off, by=potter, at=NOW)
    with pytest.raises(Refusal, match="no day off any more"):
        undo(potter, first)
    undo(potter, change)
    assert DayOff.objects.get().why == "fair"
    again = services.work_day_after_all(day_off=DayOff.objects.get(), by=potter, at=NOW)
    take_off(potter, TODAY)
    with pytest.raises(Refusal, match="a day off again already"):
        undo(potter, again)


RULE = {
    "drying_percent": 95,
    "bisque_percent": 97,
    "glaze_percent": 85,
}


def set_rule(by: User, **changed: int) -> Change:
    return services.set_rule(**(RULE | changed), by=by, at=NOW)


def test_rules_are_saved_and_undone(potter: User) -> None:
    set_rule(potter)
    change = set_rule(potter, glaze_percent=100)
    assert PlanRule.objects.get().glaze_percent == 100
    undo(potter, change)
    assert PlanRule.objects.get().glaze_percent == 85


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"drying_percent": 0}, "Drying: 0 of 100 is no yield. Give 1 to 100."),
        ({"bisque_percent": 101}, "Bisque: 101 of 100 is no yield. Give 1 to 100."),
        ({"glaze_percent": -1}, "Glaze firing: -1 of 100 is no yield. Give 1 to 100."),
    ],
)
def test_rules_out_of_range_are_refused(
    potter: User, changed: dict[str, int], sentence: str
) -> None:
    with pytest.raises(Refusal) as caught:
        set_rule(potter, **changed)
    assert str(caught.value) == sentence
    assert not PlanRule.objects.exists()


def test_rules_changed_again_are_not_undone(potter: User) -> None:
    change = set_rule(potter)
    set_rule(potter, glaze_percent=86)
    with pytest.raises(Refusal, match="changed again since"):
        undo(potter, change)


TRIALS = {"least_pieces": 2, "most_pieces": 6}


def set_reckoning(by: User, **changed: int) -> list[Change]:
    return services.set_reckoning(**(RULE | TRIALS | changed), by=by, at=NOW)


def test_yields_and_trials_are_two_changes_each_with_its_own_way_back(potter: User) -> None:
    yields, trials = set_reckoning(potter, most_pieces=4)
    assert (yields.room, trials.room) == ("planning", "firings")
    assert (trial_rule().least_pieces, trial_rule().most_pieces) == (2, 4)
    firings.undo(change=trials, by=potter, at=NOW)
    assert trial_rule().most_pieces == 6
    assert plan_rule().glaze_percent == 85


def test_what_was_not_changed_is_not_recorded(potter: User) -> None:
    set_reckoning(potter)
    assert set_reckoning(potter) == []
    assert [change.room for change in set_reckoning(potter, least_pieces=3)] == ["firings"]


def test_trial_sizes_out_of_range_leave_the_yields_too(potter: User) -> None:
    with pytest.raises(Refusal) as caught:
        set_reckoning(potter, least_pieces=7)
    assert str(caught.value) == "A trial of at most 6 cannot have at least 7."
    assert not PlanRule.objects.exists()
