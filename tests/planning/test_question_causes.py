"""What no plan can bring: is it told before one is sought?"""

from __future__ import annotations

from datetime import timedelta

from studio.firings.models import Kiln, Run
from studio.planning.models import Hands
from studio.planning.selectors import problem
from tests.planning.asked import causes
from tests.planning.cast import TODAY, Cast

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY


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
