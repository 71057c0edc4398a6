"""Is a month of parcels set, changed and wanted for by the rules?"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, connection, transaction

from studio.parcels import selectors, services
from studio.parcels.models import Shipment, ShipmentWant
from studio.wares.models import Line
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import DECEMBER, NOVEMBER, NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def mug(db: None) -> Line:
    return wares_cast.line()


@pytest.fixture
def bowl(db: None) -> Line:
    return wares_cast.line("Bowl", price_pence=4500)


SET = {
    "month": DECEMBER, "post_date": date(2026, 12, 10), "parcel_count": 5, "buffer_days": 2,
    "importance": 3,
}  # fmt: skip


@pytest.mark.parametrize(
    ("other", "sentence"),
    [
        (
            {"month": NOVEMBER - 1},
            "October 2026 is past. Parcels are planned for this month or later.",
        ),
        (
            {"month": NOVEMBER, "post_date": date(2026, 11, 19)},
            "The post date, 19 Nov 2026, is in the past.",
        ),
        (
            {"post_date": date(2026, 11, 30)},
            "The post date, 30 Nov 2026, is before December 2026 begins."
            " Choose a day in that month or after.",
        ),
        ({"parcel_count": 0}, "Parcels a month: 1 to 500, not 0."),
        ({"buffer_days": -1}, "Days in hand before posting: 0 to 60, not -1."),
        ({"importance": 0}, "How much it matters is a number from 1 to 9, not 0."),
    ],
)
def test_a_wrong_month_of_parcels_is_refused(
    potter: User, other: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(Refusal) as refusal:
        services.set_shipment(**{**SET, **other}, by=potter, at=NOW)
    assert str(refusal.value) == sentence
    assert not Shipment.objects.exists()


def test_a_month_is_not_put_back_to_fewer_parcels_than_are_picked(potter: User, mug: Line) -> None:
    shipment = cast.shipment(potter, parcel_count=1)
    change = services.set_shipment(**{**SET, "parcel_count": 2}, by=potter, at=NOW)
    for name in ("Ada", "Bo"):
        cast.supporter(name, potter)
    wares_cast.pots(mug, 2, potter)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"can no longer be undone: 2 parcels are picked\."):
        services.undo(change=change, by=potter, at=NOW)
    shipment.refresh_from_db()
    assert shipment.parcel_count == 2


def test_a_month_is_changed_and_put_back(potter: User, mug: Line) -> None:
    shipment = cast.shipment(potter)
    change = services.set_shipment(**SET, by=potter, at=NOW)
    assert change.said == "Changed the parcels of December 2026: 5, posted 10 Dec 2026"
    services.undo(change=change, by=potter, at=NOW)
    shipment.refresh_from_db()
    assert shipment.parcel_count == 2
    for name in ("Ada", "Bo"):
        cast.supporter(name, potter)
    wares_cast.pots(mug, 2, potter)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    with pytest.raises(Refusal, match="2 parcels are picked already, so there cannot be 1"):
        services.set_shipment(**{**SET, "parcel_count": 1}, by=potter, at=NOW)
    first = Change.objects.filter(action="set_shipment").order_by("id")[0]
    with pytest.raises(Refusal, match="wants, parcels or skips"):
        services.undo(change=first, by=potter, at=NOW)


def test_wants_of_a_month_and_what_the_planner_is_told(potter: User, mug: Line, bowl: Line) -> None:
    shipment = cast.shipment(potter, parcel_count=1)
    cast.supporter("Ada", potter)
    services.set_want(shipment=shipment, line=mug, count=3, by=potter, at=NOW)
    change = services.set_want(shipment=shipment, line=mug, count=4, by=potter, at=NOW)
    services.set_want(shipment=shipment, line=bowl, count=1, by=potter, at=NOW)
    for count, sentence in ((0, "1 or more, not 0"), (5001, "5000 at most")):
        with pytest.raises(Refusal, match=sentence):
            services.set_want(shipment=shipment, line=mug, count=count, by=potter, at=NOW)
    late = datetime(2026, 12, 11, 9, 0, tzinfo=UTC)
    with pytest.raises(Refusal, match="were for 10 Dec 2026"):
        services.set_want(shipment=shipment, line=mug, count=1, by=potter, at=late)
    wares_cast.pots(mug, 2, potter)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    (need,) = selectors.needs(date(2026, 12, 10))
    assert (need.key, need.due_date, need.ready_by_date) == (
        f"shipment-{shipment.id}", date(2026, 12, 10), date(2026, 12, 8),
    )  # fmt: skip
    # mugs 4 wanted - 1 picked = 3; bowls 1 - 0
    assert [(line.line, line.count) for line in need.lines] == [(mug, 4 - 1), (bowl, 1)]
    assert selectors.needs(date(2026, 12, 11)) == []
    services.undo(change=change, by=potter, at=NOW)
    want = ShipmentWant.objects.get(line=mug)
    assert want.count == 3
    dropped = services.drop_want(want=want, by=potter, at=NOW)
    with pytest.raises(Refusal, match="taken away already"):
        services.drop_want(want=want, by=potter, at=NOW)
    services.undo(change=dropped, by=potter, at=NOW)
    assert ShipmentWant.objects.get(line=mug).count == 3


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE parcels_shipment SET parcel_count = 0",
        "UPDATE parcels_shipment SET importance = 0",
        "INSERT INTO parcels_shipment (month, post_date, parcel_count, buffer_days, importance)"
        " SELECT month, post_date, 1, 1, 1 FROM parcels_shipment",
        "UPDATE parcels_parcel SET state = 'posted'",
        "UPDATE parcels_parcel SET posted_date = '2026-12-10'",
        "UPDATE parcels_parcel SET state = 'lost'",
        "INSERT INTO parcels_parcel (shipment_id, supporter_id, state, why, note, box)"
        " SELECT shipment_id, supporter_id, 'picked', '', '', '' FROM parcels_parcel",
        "INSERT INTO parcels_parcelpiece (parcel_id, piece_id, supporter_id, line_id)"
        " SELECT parcel_id, (SELECT max(id) FROM wares_piece), supporter_id, line_id"
        " FROM parcels_parcelpiece",
        "INSERT INTO parcels_skip (shipment_id, supporter_id, reason)"
        " SELECT shipment_id, supporter_id, '' FROM parcels_parcel",
        "UPDATE parcels_shipmentwant SET count = 0",
    ],
)
def test_the_database_refuses_wrong_months_and_parcels(potter: User, sql: str) -> None:
    mug = wares_cast.line()
    cast.supporter("Ada", potter)
    wares_cast.pots(mug, 2, potter)
    shipment = cast.shipment(potter, parcel_count=1)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    services.set_want(shipment=shipment, line=mug, count=1, by=potter, at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
