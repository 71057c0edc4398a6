"""Does the plan put in the spares that the potter asked for, and say so?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from math import comb

import pytest
from django.contrib.auth.models import User
from django.test import Client

from studio.firings.models import Circuit
from studio.planning import services
from studio.planning.models import BackPlan, Hands, PlanRule
from studio.planning.selectors import stored
from studio.planning.selectors.question import ask
from studio.planning.services.week import set_rule
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.planning.cast import NOW, TODAY, Cast

pytestmark = pytest.mark.django_db

YIELDS = {"drying_percent": 96, "bisque_percent": 98, "glaze_percent": 88}


def rule(by: User, sure_percent: int | None) -> Change:
    return set_rule(**YIELDS, sure_percent=sure_percent, by=by, at=NOW)


def worked_out(cast: Cast) -> BackPlan:
    """30 bisqued mugs stand, 10 are promised."""
    cast.board("B", 30, stage="bisqued")
    cast.sale("Winter sale", TODAY + timedelta(days=45), {cast.mugs: 10})
    return services.work_out(today_date=TODAY, seconds=60, by=cast.by, at=NOW)


def glazed(backplan: BackPlan) -> int:
    return sum(job.count for job in stored(backplan)[1].jobs if job.work == "glazing")


def test_nobody_said_anything_is_nine_in_ten(cast: Cast, signed_in: Client) -> None:
    # The mean asks for 10 / 0.88, so 12; that is enough in 83 of 100 firings, and 13 in 94.
    chances = [
        sum(comb(n, k) * 0.88**k * 0.12 ** (n - k) for k in range(10, n + 1)) for n in (12, 13)
    ]
    assert [round(100 * one) for one in chances] == [83, 94]
    found = worked_out(cast)
    assert stored(found)[0].sure_percent == 90
    assert glazed(found) == 13
    page = signed_in.get(f"/plan/{found.pk}/").content.decode()
    assert "10 come and 1 spare, 9 in 10 sure" in page
    assert "so that enough come 9 in 10 times" in page
    assert "more in the kiln" not in page


def test_off_reckons_as_the_mean_says(cast: Cast, signed_in: Client) -> None:
    rule(cast.by, None)
    found = worked_out(cast)
    assert stored(found)[0].sure_percent == 0
    assert glazed(found) == 12
    page = signed_in.get(f"/plan/{found.pk}/").content.decode()
    assert "10 come, 8 in 10 sure" in page
    assert "1 more in the kiln would make it 9 in 10" in page
    assert "Spare:" not in page


def test_what_does_not_fit_is_told(cast: Cast, signed_in: Client) -> None:
    # 12 places in every kiln, and one firing alone can still be opened in time: it is full.
    for kiln in (cast.wide, cast.little):
        kiln.glaze_room_tenths = 120
        kiln.save()
    Hands.objects.exclude(weekday=NOW.weekday()).update(may_start=False)
    Circuit.objects.update(at_once=1)
    rule(cast.by, 95)
    cast.board("B", 30, stage="bisqued")
    cast.sale("Winter sale", TODAY + timedelta(days=13), {cast.mugs: 10}, buffer_days=0)
    found = services.work_out(today_date=TODAY, seconds=60, by=cast.by, at=NOW)
    assert glazed(found) == 12
    page = signed_in.get(f"/plan/{found.pk}/").content.decode()
    # 13 are enough in 94, 14 in 98 of 100.
    assert "10 come, 8 in 10 sure" in page
    assert "2 more in the kiln would make it 95 in 100" in page


def test_the_rule_is_kept_undone_and_refused(cast: Cast) -> None:
    cast.sale("Winter sale", TODAY + timedelta(days=45), {cast.mugs: 10})
    rule(cast.by, 50)
    assert ask(today_date=TODAY).problem.sure_percent == 50
    change = rule(cast.by, 99)
    services.undo(change=change, by=cast.by, at=NOW)
    assert PlanRule.objects.get().sure_percent == 50
    for wrong in (49, 100):
        with pytest.raises(Refusal, match=f"How sure: {wrong} in 100 is not to be had"):
            rule(cast.by, wrong)
    assert PlanRule.objects.get().sure_percent == 50


def test_the_page_of_the_rule(signed_in: Client, form_key: Callable[[], str]) -> None:
    page = signed_in.get("/plan/rules/").content.decode()
    assert 'name="sure_percent" value="90"' in page
    typed = YIELDS | {"least_pieces": 2, "most_pieces": 6}
    for said, kept in (("80", 80), ("", None)):
        answer = signed_in.post(
            "/plan/rules/", typed | {"sure_percent": said, "form_key": form_key()}
        )
        assert answer.status_code == 302
        assert PlanRule.objects.get().sure_percent == kept
    answer = signed_in.post("/plan/rules/", typed | {"sure_percent": "49", "form_key": form_key()})
    assert answer.status_code == 422
    assert "How sure: 49 in 100 is not to be had" in answer.content.decode()
    assert PlanRule.objects.get().sure_percent is None
