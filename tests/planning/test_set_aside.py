"""Does what the coming turns need, and is not there, become a dated need of the plan?"""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

import studio.parcels.services as parcels
from studio.parcels.models import Payment, Supporter, Tier
from studio.planning.selectors import problem
from studio.wares.models import Line
from tests.planning.cast import NOW, TODAY, Cast


@pytest.mark.django_db
def test_the_lines_a_month_is_short_of_are_asked_of_the_plan(cast: Cast) -> None:
    """Three turns, one free mug: two more pots are made by the day the parcels are posted."""
    with time_machine.travel(NOW, tick=False):
        Line.objects.filter(id=cast.mugs.id).update(standing="proven")
        tier = Tier.objects.create(name="Cup", monthly_pence=500)
        month = TODAY.year * 12 + TODAY.month - 1
        for number in (1, 2, 3):
            person = Supporter.objects.create(
                number=number, name=f"P{number}", tier=tier, joined_month=month - 6,
                country_code="GB",
            )  # fmt: skip
            Payment.objects.bulk_create(
                Payment(supporter=person, month=month - back) for back in range(3)
            )
        cast.board("M", 1, stage="graded")
        posted = TODAY + timedelta(days=30)
        shipment = cast.shipment(posted, {})
        shipment.parcel_count = 3
        shipment.save()
        change = parcels.set_aside(shipment=shipment, by=cast.by, at=NOW)
        assert change.said.endswith("2 of them to be made")
        found = problem(today_date=TODAY)
    (need,) = found.needs
    assert (need.key, need.due_date) == (f"shipment-{shipment.pk}", posted)
    # The one that is free counts as stock of the plan: 3 asked for, 1 on hand.
    assert need.counts == ((str(cast.mugs.pk), 3),)
    assert [(hand.stage.value, hand.count) for hand in found.on_hand] == [("graded", 1)]
