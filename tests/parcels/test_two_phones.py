"""Is the second of two people told what the first took at the same moment?"""

from __future__ import annotations

import threading
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connections

from studio.parcels import services
from studio.parcels.models import Parcel, Payment, Supporter, Tier
from studio.wares.models import Reservation
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import LEEDS, NOVEMBER, NOW
from tests.sales import cast as wares_cast
from tests.two_at_once import told, while_held

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def who(potter: User) -> dict[str, Any]:
    return {"by": potter, "at": NOW}


def person(name: str, **values: Any) -> dict[str, Any]:
    return {"name": name, "tier": cast.tier(), "joined_month": NOVEMBER, **LEEDS, **values}


def test_the_next_number_goes_to_one(who: dict[str, Any]) -> None:
    ada, bo = person("Ada"), person("Bo")
    answers = while_held(
        lambda: services.add_supporter(values=ada, **who),
        lambda: services.add_supporter(values=bo, **who),
    )
    numbers = list(Supporter.objects.values_list("number", "name"))
    if numbers == [(1, "Ada"), (2, "Bo")]:  # the second waited for its turn to write
        return
    assert told(answers) == "Number 1 is Ada's already."
    assert numbers == [(1, "Ada")]


def test_an_email_goes_to_one(who: dict[str, Any]) -> None:
    ada, bo = person("Ada", email="a@example.org"), person("Bo", email="A@example.org", number=9)
    answers = while_held(
        lambda: services.add_supporter(values=ada, **who),
        lambda: services.add_supporter(values=bo, **who),
    )
    assert told(answers) == "The e-mail A@example.org is supporter 1's."


def test_two_people_are_changed_to_one_email(who: dict[str, Any]) -> None:
    ada, bo = cast.supporter("Ada", who["by"]), cast.supporter("Bo", who["by"])
    both = {"values": {"email": "a@example.org"}, **who}
    answers = while_held(
        lambda: services.change_supporter(supporter=ada, **both),
        lambda: services.change_supporter(supporter=bo, **both),
    )
    assert told(answers) == "The e-mail a@example.org is supporter 1's."


def test_a_month_is_marked_once(who: dict[str, Any]) -> None:
    cast.supporter("Ada", who["by"], paid=())
    answers = while_held(
        lambda: services.mark_paid(month=NOVEMBER, **who),
        lambda: services.mark_paid(month=NOVEMBER, **who),
    )
    assert "November 2026" in told(answers)
    assert Payment.objects.count() == 1


def test_a_tier_is_added_once(who: dict[str, Any]) -> None:
    bowl: dict[str, Any] = {"tier": None, "name": "Bowl", "monthly_pence": 900, "weight": 1, **who}
    answers = while_held(lambda: services.set_tier(**bowl), lambda: services.set_tier(**bowl))
    assert told(answers) == "There is a tier called Bowl already."
    assert Tier.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_picks_at_once_one_piece_goes_out_once(potter: User, other_potter: User) -> None:
    for name in ("Ada", "Bo"):
        cast.supporter(name, potter)
    wares_cast.pots(wares_cast.line(), 2, potter)
    shipment = cast.shipment(potter)
    together = threading.Barrier(2)
    told: list[str] = []

    def act(by: User) -> None:
        try:
            together.wait()
            told.append(services.pick_parcels(shipment=shipment, by=by, at=NOW).said)
        except Refusal as refusal:
            told.append(str(refusal))
        finally:
            connections["default"].close()

    people = [threading.Thread(target=act, args=[who]) for who in (potter, other_potter)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert sorted(told) == [
        "All 2 parcels of December 2026 are picked already.",
        "Picked 2 parcels of December 2026",
    ]
    assert Reservation.objects.count() == Parcel.objects.count() == 2
