"""Of two people at the same moment, does the second decide by what the first did?"""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import User

from studio.parcels import services as parcels
from studio.parcels.models import ParcelPiece
from studio.sales import services
from studio.sales.models import Listing, SaleDay
from studio.wares import services as wares
from studio.wares.models import Piece, Reservation
from studio.wares.selectors import broken_sums
from tests.parcels import cast as people
from tests.sales import cast
from tests.sales.test_sale_days import NOW, SALE, make
from tests.two_at_once import told, while_held

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def who(potter: User) -> dict[str, Any]:
    return {"by": potter, "at": NOW}


@pytest.fixture
def day(potter: User) -> SaleDay:
    return make(potter)


def listed(day: SaleDay, who: dict[str, Any]) -> list[Piece]:
    pieces = cast.pots(cast.line(), 1, who["by"])
    services.list_for_sale(sale_day=day, prices_pence={pieces[0].id: 3200}, **who)
    return pieces


def stands() -> bool:
    """No promise on a piece that left, no piece in two places, and every sum right."""
    return (
        not Reservation.objects.exclude(piece__parting="").exists()
        and not Listing.objects.filter(piece__parting="", piece__stage="graded").exists()
        and not ParcelPiece.objects.filter(piece__stage="listed").exists()
        and broken_sums() == []
    )


def test_a_claim_and_then_a_sale(day: SaleDay, who: dict[str, Any]) -> None:
    """The sale hears of the claim that it could not have read before, and asks."""
    pieces = listed(day, who)
    answers = while_held(
        lambda: services.claim(sale_day=day, pieces=pieces, for_whom="Cy", **who),
        lambda: services.sell(sale_day=day, pieces=pieces, **who),
    )
    assert "No. 1 is claimed by Cy" in told(answers)
    assert Reservation.objects.get().note == "Cy"
    assert stands()


def test_a_sale_and_then_a_claim(day: SaleDay, who: dict[str, Any]) -> None:
    pieces = listed(day, who)
    answers = while_held(
        lambda: services.sell(sale_day=day, pieces=pieces, **who),
        lambda: services.claim(sale_day=day, pieces=pieces, for_whom="Cy", **who),
    )
    assert told(answers) == "No. 1 is sold already."
    assert stands()


def test_a_claim_and_then_taking_back(day: SaleDay, who: dict[str, Any]) -> None:
    pieces = listed(day, who)
    answers = while_held(
        lambda: services.claim(sale_day=day, pieces=pieces, for_whom="Cy", **who),
        lambda: services.take_back(sale_day=day, pieces=pieces, **who),
    )
    assert "No. 1 is promised (claim: Cy)" in told(answers)
    assert stands()


def test_taking_back_and_then_a_claim(day: SaleDay, who: dict[str, Any]) -> None:
    pieces = listed(day, who)
    answers = while_held(
        lambda: services.take_back(sale_day=day, pieces=pieces, **who),
        lambda: services.claim(sale_day=day, pieces=pieces, for_whom="Cy", **who),
    )
    assert told(answers) == "No. 1 is not listed for December restock now."
    assert not Reservation.objects.exists()
    assert stands()


def test_a_claim_and_then_undoing_the_listing(day: SaleDay, who: dict[str, Any]) -> None:
    pieces = cast.pots(cast.line(), 1, who["by"])
    change = services.list_for_sale(sale_day=day, prices_pence={pieces[0].id: 3200}, **who)
    answers = while_held(
        lambda: services.claim(sale_day=day, pieces=pieces, for_whom="Cy", **who),
        lambda: services.undo(change=change, **who),
    )
    assert "No. 1 is promised (claim: Cy) now" in told(answers)
    assert stands()


def test_a_pick_and_then_a_listing(day: SaleDay, who: dict[str, Any]) -> None:
    people.supporter("Ada", who["by"])
    shipment = people.shipment(who["by"], parcel_count=1)
    pieces = cast.pots(cast.line(), 1, who["by"])
    answers = while_held(
        lambda: parcels.pick_parcels(shipment=shipment, **who),
        lambda: services.list_for_sale(sale_day=day, prices_pence={pieces[0].id: 1}, **who),
    )
    assert told(answers).startswith("No. 1 stands in parcel 2026-12-1.")
    assert stands()


def test_a_listing_and_then_a_pick(day: SaleDay, who: dict[str, Any]) -> None:
    people.supporter("Ada", who["by"])
    shipment = people.shipment(who["by"], parcel_count=1)
    pieces = cast.pots(cast.line(), 1, who["by"])
    answers = while_held(
        lambda: services.list_for_sale(sale_day=day, prices_pence={pieces[0].id: 1}, **who),
        lambda: parcels.pick_parcels(shipment=shipment, **who),
    )
    assert "listed for a sale" in told(answers) or "No graded piece is free" in told(answers)
    assert not ParcelPiece.objects.exists()
    assert stands()


def test_a_listing_and_then_a_swap_by_hand(day: SaleDay, who: dict[str, Any]) -> None:
    people.supporter("Ada", who["by"])
    shipment = people.shipment(who["by"], parcel_count=1)
    cast.pots(cast.line("Bowl"), 1, who["by"])
    parcels.pick_parcels(shipment=shipment, **who)
    (mug,) = cast.pots(cast.line(), 1, who["by"])
    answers = while_held(
        lambda: services.list_for_sale(sale_day=day, prices_pence={mug.id: 3200}, **who),
        lambda: parcels.choose_piece(parcel=shipment.parcels.get(), piece=mug, **who),
    )
    assert told(answers) == "No. 2 is listed for a sale. Take it off the list first."
    assert stands()


def test_breaking_and_then_packing(who: dict[str, Any]) -> None:
    people.supporter("Ada", who["by"])
    shipment = people.shipment(who["by"], parcel_count=1)
    (mug,) = cast.pots(cast.line(), 1, who["by"])
    parcels.pick_parcels(shipment=shipment, **who)

    def breaks() -> None:
        wares.part(piece=mug, parting="broken", cause="dropped", keeps_promise="parcel", **who)

    answers = while_held(
        breaks,
        lambda: parcels.mark_packed(parcels=list(shipment.parcels.all()), **who),
    )
    assert "but is broken already" in told(answers)
    assert stands()


def test_two_sale_days_of_one_name(who: dict[str, Any]) -> None:
    answers = while_held(
        lambda: services.make_sale_day(**SALE, **who),
        lambda: services.make_sale_day(**SALE, **who),
    )
    assert told(answers) == (
        "There is a sale day called December restock already. Give this one another name."
    )
    assert SaleDay.objects.count() == 1
