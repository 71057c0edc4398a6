"""Does Today hear which lines slip, and how long a late firing may still wait?"""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.test import Client

from studio.firings.models import Firing
from studio.planning import services
from studio.planning.models import BackPlan, Task
from studio.planning.selectors import due_work, may_wait_until
from studio.planning.selectors.slips import lacking
from tests.conftest import MODEL_BACKEND
from tests.planning.cast import NOW, TODAY, Cast, at

pytestmark = pytest.mark.usefixtures("clock")

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY


@pytest.fixture
def backplan(cast: Cast) -> BackPlan:
    """A plan in force for 12 mugs on a Saturday in January."""
    cast.sale("Winter sale", SALE, {cast.mugs: 12})
    found = services.work_out(today_date=TODAY, seconds=60, by=cast.by, at=NOW)
    services.accept(backplan=found, by=cast.by, at=NOW)
    found.refresh_from_db()
    return found


def test_what_nobody_has_thrown_is_lacking_until_it_is_thrown(
    cast: Cast, backplan: BackPlan
) -> None:
    [one] = lacking(today_date=TODAY)
    assert (one.line, one.need, one.count) == ("Mug in Sky", "Winter sale", 12)
    cast.board("T1", 5)
    assert [row.count for row in lacking(today_date=TODAY)] == [12 - 5]
    cast.board("F1", 7, stage="fired")
    assert lacking(today_date=TODAY) == []


def test_what_the_plan_gave_up_does_not_slip(cast: Cast, backplan: BackPlan) -> None:
    plan = dict(backplan.plan)
    plan["kept"] = [{**kept, "kept": 4, "in_buffer": 0} for kept in plan["kept"]]
    backplan.plan = plan
    backplan.save()
    # 12 are wanted, none is thrown, 8 were given up.
    assert [row.count for row in lacking(today_date=TODAY)] == [12 - 8]


def test_late_throwing_says_from_when_on_it_is_too_late(cast: Cast, backplan: BackPlan) -> None:
    first = Task.objects.filter(work="throwing").earliest("date", "id")
    [one] = lacking(today_date=TODAY)
    [work] = [w for w in due_work(today_date=first.date + DAY) if w.text == "Throw Mug"]
    day = f"{one.latest_date:%a} {one.latest_date.day} {one.latest_date:%b}"
    assert work.is_late
    assert work.detail.endswith(f"; after {day} it is too late")


def test_a_line_that_slips_turns_up_on_today_and_leads_to_the_plan(
    cast: Cast, backplan: BackPlan, client: Client
) -> None:
    [one] = lacking(today_date=TODAY)
    assert not [w for w in due_work(today_date=one.latest_date) if "slips" in w.text]
    after = one.latest_date + DAY
    [slip] = [w for w in due_work(today_date=after) if "slips" in w.text]
    assert (slip.text, slip.count, slip.is_late) == ("Mug in Sky slips", 12, True)
    with time_machine.travel(at(after), tick=False):
        client.force_login(cast.by, backend=MODEL_BACKEND)
        page = client.get("/").content.decode()
    assert "Mug in Sky slips" in page
    assert 'href="/plan/#work-out"' in page


def test_a_late_firing_says_how_long_it_may_wait(
    cast: Cast, backplan: BackPlan, client: Client
) -> None:
    firing = Firing.objects.filter(state="planned").earliest("start_date", "id")
    until = may_wait_until(firing)
    assert until is not None
    assert until >= firing.start_date
    for day, said in (
        (firing.start_date + DAY, f"it may wait until {until:%a %d %b}"),
        (until, "today is the last day that is early enough"),
        (until + DAY, "something promised comes too late now"),
    ):
        if not firing.start_date < day:
            continue
        with time_machine.travel(at(day), tick=False):
            client.force_login(cast.by, backend=MODEL_BACKEND)
            page = client.get("/").content.decode()
        if day < until or "may wait" not in said:
            assert said in page, day


def test_a_firing_that_is_none_of_the_plans_has_no_day(cast: Cast, backplan: BackPlan) -> None:
    own = cast.firing(cast.little, cast.gloss, start_date=TODAY + DAY)
    assert may_wait_until(own) is None
    backplan.state = "put_aside"
    backplan.save()
    assert may_wait_until(Firing.objects.filter(state="planned").earliest("id")) is None
    assert lacking(today_date=TODAY) == []


def test_a_plan_of_another_version_says_nothing(cast: Cast, backplan: BackPlan) -> None:
    backplan.plan = backplan.plan | {"version": 99}
    backplan.save()
    assert lacking(today_date=TODAY) == []
