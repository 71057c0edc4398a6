"""Does a page of parcels ask the database a bounded number of times, however many parcels?"""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from studio.parcels import services
from studio.parcels.models import PostSettings, Shipment
from studio.wares.models import Form
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
OPEN, PICKED, PAPER = 29, 24, 24
"""A month whose turns are tried, one that is picked, and any paper: sign-in and looks included."""


def at(name: str, *args: Any) -> str:
    return reverse(f"parcels:{name}", args=args)


@pytest.fixture
def months(potter: User) -> tuple[Shipment, Shipment]:
    """Eight parcels across a border, locked; and the next month, with a want, nobody picked."""
    PostSettings.objects.update_or_create(id=1, defaults={"home_code": "HU"})
    lines = [wares_cast.line(name) for name in ("Mug", "Bowl", "Vase")]
    for n in range(8):
        cast.supporter(f"Person {n}", potter, please_no=(lines[2].form,))
    for line in lines:
        wares_cast.pots(line, 6, potter)
    Form.objects.update(weight_g=360, price_pence=3200, width_mm=88, height_mm=95)
    cast.box(potter)
    december = cast.shipment(potter, parcel_count=8)
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    cast.lock(december, potter)
    january = cast.shipment(potter, month="2027-01", parcel_count=8)
    services.set_want(shipment=january, line=lines[1], count=2, by=potter, at=NOW)
    return december, january


def test_the_page_of_a_month(
    signed_in: Client, months: tuple[Shipment, Shipment], django_assert_max_num_queries: Any
) -> None:
    picked, still_open = months
    for month, most in ((picked, PICKED), (still_open, OPEN)):
        with django_assert_max_num_queries(most):
            answer = signed_in.get(at("shipment", month.id))
        assert answer.status_code == 200
    with django_assert_max_num_queries(PICKED):
        signed_in.get(at("ask", picked.id))


def test_the_page_of_a_parcel(
    signed_in: Client, months: tuple[Shipment, Shipment], django_assert_max_num_queries: Any
) -> None:
    parcel = months[0].parcels.all()[0]
    with django_assert_max_num_queries(PICKED):
        signed_in.get(at("parcel", parcel.id))
    with django_assert_max_num_queries(OPEN):
        signed_in.get(at("parcel", parcel.id) + "?add=1")


@pytest.mark.parametrize("name", ["slips", "labels", "customs", "packers"])
def test_the_papers_of_a_month(
    signed_in: Client,
    months: tuple[Shipment, Shipment],
    django_assert_max_num_queries: Any,
    name: str,
) -> None:
    with django_assert_max_num_queries(PAPER):
        answer = signed_in.get(at(name, months[0].id))
    assert answer["Content-Type"] == "application/pdf"
