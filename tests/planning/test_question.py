"""Does the question hold what the studio's records say, each pot once, and nothing else?"""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest

import studio.sales.services as sales
from studio.craft.problem import BISQUE, BadProblem, Problem, Stage
from studio.firings.models import Kiln, PlannedWare, Run, Schedule, TrialRule
from studio.parcels.models import Parcel, ParcelPiece, Supporter, Tier
from studio.planning.models import BackPlan, DayOff, Hands, PlannedFiring, PlanRule
from studio.planning.selectors import problem
from studio.planning.selectors.question import ALL_READY, MOST_DAYS, NOTHING_PROMISED, ask
from studio.sales.models import Listing, SaleDay
from studio.wares.models import Piece, Reservation
from tests.planning.cast import NOW, TODAY, Cast, at

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY


def key(line_or_kiln: object) -> str:
    return str(line_or_kiln.pk)  # type: ignore[attr-defined]


def ware(cast: Cast) -> str:
    return f"{cast.mug.pk}-{cast.clay.pk}"


def stood(found: Problem) -> Counter[tuple[str, str]]:
    counted: Counter[tuple[str, str]] = Counter()
    for hand in found.on_hand:
        counted[hand.stage.value, hand.key] += hand.count
    return counted


def causes(**given: object) -> list[str]:
    with pytest.raises(BadProblem) as caught:
        ask(today_date=TODAY, **given)  # type: ignore[arg-type]
    return list(caught.value.causes)


def test_a_sale_and_a_shipment_become_needs(cast: Cast) -> None:
    sale = cast.sale("Winter sale", SALE, {cast.mugs: 40, cast.bowls: 12})
    shipment = cast.shipment(TODAY + 20 * DAY, {cast.mugs: 5})
    found = problem(today_date=TODAY)
    assert [(n.key, n.name, n.due_date) for n in found.needs] == [
        (f"shipment-{shipment.pk}", "Parcels of December 2026", TODAY + 20 * DAY),
        (f"sale-{sale.pk}", "Winter sale", SALE),
    ]
    assert found.needs[1].counts == ((key(cast.mugs), 40), (key(cast.bowls), 12))
    assert found.needs[1].buffer_days == 3
    assert found.last_date == SALE + DAY
    assert [line.name for line in found.lines] == ["Mug in Sky", "Bowl in Sky"]


def test_a_sale_that_opens_late_in_the_evening_is_due_on_the_day_people_live_in(cast: Cast) -> None:
    sale = cast.sale("Evening sale", SALE, {cast.mugs: 1})
    sale.members_at, sale.public_at = at(SALE, 23, 30), at(SALE + DAY, 9)
    sale.save()
    assert problem(today_date=TODAY).needs[0].due_date == SALE


def test_a_plan_looks_two_weeks_ahead_at_least(cast: Cast) -> None:
    cast.sale("Tomorrow", TODAY + DAY, {cast.mugs: 1})
    found = problem(today_date=TODAY)
    assert found.last_date == TODAY + 14 * DAY
    assert len(found.days) == 15


def test_a_sale_in_the_past_is_ignored_and_one_of_today_counts(cast: Cast) -> None:
    cast.sale("Yesterday", TODAY - DAY, {cast.mugs: 9})
    assert causes() == [NOTHING_PROMISED]
    cast.sale("Today", TODAY, {cast.mugs: 2})
    assert [need.name for need in problem(today_date=TODAY).needs] == ["Today"]


def test_nothing_promised_is_said(cast: Cast) -> None:
    assert causes() == [NOTHING_PROMISED]


def test_dates_beyond_the_look_ahead_wait_and_are_named(cast: Cast) -> None:
    cast.sale("Near", SALE, {cast.mugs: 2})
    cast.sale("Far", TODAY + (MOST_DAYS + 1) * DAY, {cast.mugs: 2})
    question = ask(today_date=TODAY)
    assert [need.name for need in question.problem.needs] == ["Near"]
    assert question.remarks[0].startswith("Far: later than ")
    shorter = causes(last_date=TODAY + 5 * DAY)
    assert shorter[0].endswith("the next date is Near on Sat 9 Jan 2027.")
    assert "is past" in causes(last_date=TODAY - DAY)[0]


def test_hands_by_weekday_and_days_off(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 1})
    DayOff.objects.create(date=TODAY + DAY)
    days = {day.date: day for day in problem(today_date=TODAY).days}
    wednesday, thursday, saturday = days[TODAY], days[TODAY + DAY], days[TODAY + 3 * DAY]
    assert (wednesday.throwing_min, wednesday.glazing_min, wednesday.finishing_min) == (
        240,
        120,
        120,
    )
    assert wednesday.may_start
    assert (thursday.throwing_min, thursday.may_start) == (0, False)
    assert (saturday.throwing_min, saturday.may_start) == (0, False)


def test_stock_counts_by_stage_and_thrown_ware_is_ready_when_dry(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 90})
    cast.board("T1", 6, made_date=TODAY - 2 * DAY)
    cast.board("T2", 4, made_date=TODAY - 2 * DAY, dry_date=TODAY - DAY)
    cast.board("B1", 7, stage="bisqued")
    cast.board("G1", 8, stage="glazed")
    cast.board("F1", 9, stage="fired")
    cast.board("R1", 3, stage="graded")
    cast.board("R2", 2, stage="graded", grade="second")
    found = problem(today_date=TODAY)
    thrown = {(h.ready_date, h.count) for h in found.on_hand if h.stage == Stage.THROWN}
    # Thrown two days ago with five drying days: three to go. Four are dry already.
    assert thrown == {(TODAY + 3 * DAY, 6), (TODAY, 4)}
    assert stood(found) == Counter(
        {
            ("thrown", ware(cast)): 10,
            ("bisqued", ware(cast)): 7,
            ("glazed", key(cast.mugs)): 8,
            ("fired", key(cast.mugs)): 9,
            ("graded", key(cast.mugs)): 3,
        }
    )


def test_parted_and_reserved_pieces_serve_no_date(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    pieces = cast.board("R1", 4, stage="graded")
    Piece.objects.filter(pk=pieces[0].pk).update(parting="sold", parted_date=TODAY, board=None)
    Reservation.objects.create(piece=pieces[1], kind="claim", by=cast.by, at=NOW)
    assert stood(problem(today_date=TODAY)) == Counter({("graded", key(cast.mugs)): 2})


def test_a_listed_piece_lessens_its_own_date_and_is_not_on_hand(cast: Cast) -> None:
    sale = cast.sale("Winter sale", SALE, {cast.mugs: 10})
    cast.sale("Later", SALE + 10 * DAY, {cast.mugs: 5})
    pieces = cast.board("L1", 3, stage="listed")
    for piece in pieces:
        Listing.objects.create(piece=piece, sale_day=sale, price_pence=3200, listed_at=NOW)
    Piece.objects.filter(pk=pieces[0].pk).update(parting="sold", parted_date=TODAY, board=None)
    Piece.objects.filter(pk=pieces[1].pk).update(parting="broken", parted_date=TODAY, board=None)
    found = problem(today_date=TODAY)
    # 10 asked - 1 listed - 1 sold there already; the broken one is no use.
    assert [need.counts for need in found.needs] == [
        ((key(cast.mugs), 8),),
        ((key(cast.mugs), 5),),
    ]
    assert stood(found) == Counter()


def listed(cast: Cast, sale: SaleDay, count: int) -> None:
    for piece in cast.board("L1", count, stage="listed"):
        Listing.objects.create(piece=piece, sale_day=sale, price_pence=3200, listed_at=NOW)


def test_what_an_open_ended_sale_offers_is_still_on_sale(cast: Cast) -> None:
    sale = cast.sale("Autumn sale", TODAY - 10 * DAY, {cast.mugs: 10})
    assert sale.closes_at is None
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    listed(cast, sale, 2)
    question = ask(today_date=TODAY, now=NOW)
    assert stood(question.problem) == Counter()
    assert question.problem.needs[0].counts == ((key(cast.mugs), 10),)
    assert question.remarks == ()


def test_what_a_sale_that_is_over_left_listed_is_told_until_it_is_taken_back(cast: Cast) -> None:
    over = cast.sale("Autumn sale", TODAY - 10 * DAY, {cast.mugs: 10})
    over.closes_at = NOW
    over.save()
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    listed(cast, over, 2)
    question = ask(today_date=TODAY, now=NOW)
    assert stood(question.problem) == Counter()
    assert question.remarks == (
        "Still listed for Autumn sale, which is over: 2 × Mug in Sky. They do not count until they "
        "are taken back.",
    )
    assert ask(today_date=TODAY, now=NOW - timedelta(minutes=1)).remarks == ()
    sales.take_back(sale_day=over, pieces=Piece.objects.all(), by=cast.by, at=NOW)
    question = ask(today_date=TODAY, now=NOW)
    assert stood(question.problem) == Counter({("graded", key(cast.mugs)): 2})
    assert question.remarks == ()


def test_a_sale_that_has_opened_asks_for_nothing_more(cast: Cast) -> None:
    sale = cast.sale("Today", TODAY, {cast.mugs: 3})
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    before, after = sale.members_at - timedelta(hours=1), sale.members_at + timedelta(hours=1)
    asked = [
        [need.name for need in problem(today_date=TODAY, now=now).needs] for now in (before, after)
    ]
    assert asked == [["Today", "Winter sale"], ["Winter sale"]]
    SaleDay.objects.exclude(pk=sale.pk).delete()
    with pytest.raises(BadProblem) as caught:
        ask(today_date=TODAY, now=after)
    assert caught.value.causes == (NOTHING_PROMISED,)


def test_ware_that_nobody_called_dry_is_told(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 9})
    cast.board("T1", 6, made_date=TODAY - 2 * DAY)
    cast.board("T2", 4, made_date=TODAY - DAY)
    cast.board("T3", 5, made_date=TODAY - DAY, dry_date=TODAY)
    cast.board("T4", 3, form=cast.bowl)  # nobody asks for bowls
    # Thrown yesterday with five drying days: dry in four.
    assert ask(today_date=TODAY).remarks == (
        "Not called dry by anybody yet: 10 × Mug. They are taken as dry after their drying days, "
        "the last of them on Sun 29 Nov 2026.",
    )


def test_a_piece_in_a_parcel_lessens_that_shipment(cast: Cast) -> None:
    shipment = cast.shipment(TODAY + 20 * DAY, {cast.mugs: 5})
    [piece] = cast.board("R1", 1, stage="graded")
    tier = Tier.objects.create(name="Shelf", monthly_pence=500)
    friend = Supporter.objects.create(
        number=1, name="Kit", tier=tier, joined_month=24000, country_code="GB"
    )
    parcel = Parcel.objects.create(shipment=shipment, supporter=friend)
    ParcelPiece.objects.create(parcel=parcel, piece=piece, supporter=friend, line=cast.mugs)
    found = problem(today_date=TODAY)
    assert found.needs[0].counts == ((key(cast.mugs), 4),)
    assert stood(found) == Counter()


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


# What no plan can bring is told before one is sought.


def test_no_minutes_at_all(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    Hands.objects.all().delete()
    assert causes() == [
        "No day from Wed 25 Nov 2026 to Sun 10 Jan 2027 has any minutes for throwing, glazing or "
        "finishing. Fill in the hands of the week."
    ]


def test_no_kiln_runs_the_schedule(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    Run.objects.filter(schedule=cast.gloss).delete()
    assert causes() == [
        "Mug in Sky: no kiln has a run of Gloss within its top cone. Add the run (days busy, cost) "
        "to a kiln that reaches it."
    ]
    cast.board("F1", 40, stage="fired")
    assert problem(today_date=TODAY).needs  # all are fired already: nothing to fire


def test_no_bisque_run_matters_only_when_something_must_be_bisqued(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    Run.objects.filter(schedule=cast.bisque).delete()
    assert causes() == ["Mug in Sky: no kiln has a bisque run. Add one to a kiln."]
    cast.board("B1", 40, stage="bisqued")
    assert problem(today_date=TODAY).needs


def test_too_high_for_every_kiln(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    # 500 mm inside less 50 for the shelf and air leaves 450; dry it stands 430 * 0.94 / 0.88 = 460
    cast.mug.height_mm = 430
    cast.mug.save()
    assert causes() == [
        "Mug in Sky: it is too high or too wide for every kiln that fires it.",
        "Mug in Sky: Mug is too high or too wide for every bisque kiln.",
    ]


def test_clay_or_glaze_that_cannot_take_the_cone(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    cast.sky.top_cone = "5"
    cast.sky.save()
    assert causes() == [
        "Mug in Sky on Speckled cannot be fired: Gloss goes to cone 6, Sky only to cone 5."
    ]


def test_an_unproven_line_needs_a_trial_kiln(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    cast.mugs.standing = "untried"
    cast.mugs.save()
    assert problem(today_date=TODAY).lines[0].proven is False
    Kiln.objects.update(takes_trials=False)
    assert causes() == [
        "Mug in Sky is not proven, and no kiln that takes trials fires Gloss with room for it. "
        "Mark a kiln as taking trials."
    ]


def test_a_line_on_a_bisque_schedule_is_refused_in_words(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    cast.mugs.schedule = cast.bisque
    cast.mugs.save()
    assert causes() == [
        "Mug in Sky on Speckled: Slow bisque is a bisque schedule. A line needs a glaze schedule."
    ]


def test_no_kiln_at_all(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 40})
    Kiln.objects.all().delete()
    assert causes() == ["There is no kiln yet. Add one with the schedules it fires."]


def test_two_lines_of_one_name_are_told_apart(cast: Cast) -> None:
    other = cast.mugs
    other.pk, other.clay_lot = None, cast.clay
    clay = cast.clay
    clay.pk, clay.body = None, "White"
    clay.save()
    other.clay_lot = clay
    other.save()
    cast.sale("Winter sale", SALE, {other: 4, cast.bowls: 1})
    first = type(other).objects.get(clay_lot__body="Speckled", form=cast.mug)
    cast.sale("Later", SALE + DAY, {first: 4})
    assert sorted(line.name for line in problem(today_date=TODAY).lines) == [
        "Bowl in Sky",
        "Mug in Sky on Speckled",
        "Mug in Sky on White",
    ]


def test_two_lots_of_one_body_are_told_apart(cast: Cast) -> None:
    lot = type(cast.clay).objects.get(pk=cast.clay.pk)
    lot.pk, lot.lot = None, "26-2"
    lot.save()
    other = type(cast.mugs).objects.create(
        form=cast.mug, clay_lot=lot, coats=cast.sky, schedule=cast.gloss
    )
    cast.sale("Winter sale", SALE, {cast.mugs: 4, other: 4})
    found = problem(today_date=TODAY)
    assert [line.name for line in found.lines] == [
        "Mug in Sky (lot 26-1)",
        "Mug in Sky (lot 26-2)",
    ]
    assert [one.name for one in found.wares] == ["Mug (lot 26-1)", "Mug (lot 26-2)"]
