"""Does the question hold the kilns, their firings and what stands in them?"""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest

from studio.craft.problem import BISQUE
from studio.firings.models import Kiln, PlannedWare, Run, Schedule, TrialRule
from studio.planning.models import BackPlan, PlannedFiring, PlanRule
from studio.planning.selectors import problem
from studio.planning.selectors.question import ALL_READY, ask
from studio.sales.models import Listing
from studio.wares.models import KilnTrial
from tests.planning.asked import causes, key, stood, ware
from tests.planning.cast import NOW, TODAY, Cast

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY


def test_all_that_is_promised_is_ready(cast: Cast) -> None:
    sale = cast.sale("Winter sale", SALE, {cast.mugs: 1})
    [piece] = cast.board("L1", 1, stage="listed")
    Listing.objects.create(piece=piece, sale_day=sale, price_pence=3200, listed_at=NOW)
    assert causes() == [ALL_READY]


@pytest.mark.parametrize("state", ["loaded", "firing", "cooling"])
def test_a_piece_in_a_kiln_comes_with_its_firing_and_is_not_on_hand(cast: Cast, state: str) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    pieces = cast.board("T1", 12, made_date=TODAY - 20 * DAY)
    cast.firing(cast.wide, cast.bisque, state=state, pieces=pieces[:9])
    found = problem(today_date=TODAY)
    [load] = found.pinned
    assert load.filled
    assert load.contents == ((ware(cast), 9),)
    assert (load.kiln_key, load.schedule_key) == (key(cast.wide), BISQUE)
    # 9 in the kiln + 3 on the board = the 12 that were thrown.
    assert stood(found) == Counter({("thrown", ware(cast)): 12 - 9})


def test_glazed_pieces_in_a_kiln_are_counted_by_line(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    mugs = cast.board("G1", 5, stage="glazed")
    bowls = cast.board("G2", 2, stage="glazed", form=cast.bowl)
    cast.firing(cast.wide, cast.gloss, state="firing", pieces=mugs + bowls)
    found = problem(today_date=TODAY)
    [load] = found.pinned
    assert dict(load.contents) == {key(cast.mugs): 5, key(cast.bowls): 2}
    assert load.schedule_key == key(cast.gloss)
    # Bowls are not wanted, but the kiln holds them, so they are declared.
    assert {line.key for line in found.lines} == {key(cast.mugs), key(cast.bowls)}


@pytest.mark.parametrize(
    ("state", "started_days_ago", "opens_in_days"),
    [
        ("loaded", 3, 2),  # lit today at the earliest: 0 + 2 days
        ("firing", 1, 1),  # -1 + 2 days
        ("firing", 5, 1),  # still hot: tomorrow at the earliest
        ("cooling", 1, 1),
        ("cooling", 5, 0),  # overdue and cooling: today
    ],
)
def test_a_firing_that_drags_on_opens_as_early_as_it_still_can(
    cast: Cast, state: str, started_days_ago: int, opens_in_days: int
) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    cast.firing(cast.wide, cast.bisque, state=state, start_date=TODAY - started_days_ago * DAY)
    [load] = problem(today_date=TODAY).pinned
    assert load.open_date == TODAY + opens_in_days * DAY


def test_a_planned_firing_is_a_kept_appointment_that_holds_nothing_yet(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    cast.board("T1", 12, made_date=TODAY - 20 * DAY)
    firing = cast.firing(cast.wide, cast.bisque, start_date=TODAY + 2 * DAY)
    PlannedWare.objects.create(firing=firing, form=cast.mug, clay_lot=cast.clay, count=12)
    found = problem(today_date=TODAY)
    [load] = found.pinned
    assert not load.filled
    assert load.contents == ((ware(cast), 12),)
    assert stood(found) == Counter({("thrown", ware(cast)): 12})


def test_an_overdue_planned_firing_is_taken_as_today(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    cast.firing(cast.wide, cast.bisque, start_date=TODAY - 3 * DAY)
    question = ask(today_date=TODAY)
    [load] = question.problem.pinned
    assert (load.start_date, load.filled) == (TODAY, False)
    assert question.remarks == (
        "The firing of Wide planned for Sun 22 Nov 2026 was not loaded: it is taken as today.",
    )


def test_an_overdue_planned_firing_is_left_out_when_its_kiln_is_not_free(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    cast.firing(cast.wide, cast.bisque, start_date=TODAY - 3 * DAY)
    cast.firing(cast.wide, cast.gloss, start_date=TODAY + DAY)
    question = ask(today_date=TODAY)
    assert [load.start_date for load in question.problem.pinned] == [TODAY + DAY]
    assert question.remarks[0].endswith("its kiln is not free today: it is left out.")


def test_planning_afresh_lets_go_of_the_plans_own_firings_only(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    by_plan = cast.firing(cast.wide, cast.bisque, start_date=TODAY + DAY)
    cast.firing(cast.little, cast.bisque, start_date=TODAY + DAY)
    plan = BackPlan.objects.create(
        state="accepted",
        today_date=TODAY,
        last_date=SALE,
        problem={},
        plan={},
        by=cast.by,
        made_at=NOW,
    )
    PlannedFiring.objects.create(backplan=plan, firing=by_plan)
    assert len(ask(today_date=TODAY).problem.pinned) == 2
    [kept] = ask(today_date=TODAY, keep_planned=False).problem.pinned
    assert kept.kiln_key == key(cast.little)


def test_standing_yields_and_trials_come_from_the_records(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40, cast.bowls: 4})
    cast.bowls.standing = "untried"
    cast.bowls.save()
    PlanRule.objects.create(id=1, drying_percent=90, bisque_percent=95, glaze_percent=80)
    TrialRule.objects.create(id=1, least_pieces=3, most_pieces=4)
    question = ask(today_date=TODAY)
    found = question.problem
    assert [line.proven for line in found.lines] == [True, False]
    assert (found.yields.drying_percent, found.yields.glaze_percent) == (90, 80)
    assert (found.trial_rule.least_pieces, found.trial_rule.most_pieces) == (3, 4)
    assert question.remarks == ()


def test_a_line_whose_trial_was_opened_asks_for_no_second_one(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40, cast.bowls: 4})
    cast.bowls.standing = "trial"
    cast.bowls.save()
    question = ask(today_date=TODAY)
    assert [line.proven for line in question.problem.lines] == [True, True]
    assert question.remarks == (
        "On trial: Bowl in Sky. The plan asks for no second trial; a first full load is a risk "
        "you take. Until you mark it proven, no load may hold more than 25 % of a kiln of it.",
    )


def test_a_line_on_trial_in_a_kiln_with_new_elements_is_told(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40, cast.bowls: 4})
    KilnTrial.objects.create(line=cast.mugs, kiln=cast.wide, said="new elements")
    question = ask(today_date=TODAY)
    assert [line.trial_kilns for line in question.problem.lines] == [(key(cast.wide),), ()]
    assert question.remarks == (
        f"Wide has new elements or a new thermocouple: {cast.mugs} on trial in it. No load of it"
        " may hold more than 25 % of Wide of one of them until a load came out well.",
    )


def test_a_kiln_over_its_top_cone_has_no_run(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    Kiln.objects.filter(pk=cast.little.pk).update(top_cone="1")
    question = ask(today_date=TODAY)
    little = next(k for k in question.problem.kilns if k.key == key(cast.little))
    assert [run.schedule_key for run in little.runs] == [BISQUE]
    assert question.remarks == (
        "Little goes to cone 1 at most; its run of Gloss (cone 6) is left out.",
    )


def test_the_shortest_then_cheapest_bisque_run_is_used(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    quick = Schedule.objects.create(name="Quick bisque", kind="bisque", cone="06")
    Run.objects.create(kiln=cast.wide, schedule=quick, busy_days=1, cost_pence=5000)
    wide = next(k for k in problem(today_date=TODAY).kilns if k.key == key(cast.wide))
    run = wide.run(BISQUE)
    assert run is not None
    assert (run.busy_days, run.cost_pence) == (1, 5000)


def test_a_dry_pot_stands_higher_than_a_fired_one(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    [found] = problem(today_date=TODAY).wares
    # 100 mm fired, 120 per thousand shrinkage, half of it gone when dry: 100 * 0.94 / 0.88 = 106.8
    assert found.height_mm == 107
