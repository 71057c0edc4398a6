"""Are addresses confirmed, locked for printing, and told when they change?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from studio.parcels import papers, selectors, services
from studio.parcels.models import AddressLook, Parcel, PostSettings, Shipment, Supporter
from studio.wares.models import Form
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import LEEDS, NOW, parcel_of, state_of
from tests.parcels.test_papers import pages

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture
def december(potter: User) -> Shipment:
    return cast.asked(potter)


def test_a_confirmation_counts_for_one_shipment_only(potter: User, december: Shipment) -> None:
    # 10 December less 21 days is 19 November: Ada's day counts, the day before does not
    assert state_of(parcel_of(december, "Ada")).confirmed
    assert not state_of(parcel_of(december, "Bo")).confirmed
    assert not state_of(parcel_of(december, "Cy")).confirmed
    # For a shipment a month later, everybody is asked again.
    later = cast.shipment(potter, month="2027-01")
    ada = Parcel.objects.create(shipment=later, supporter=Supporter.objects.get(name="Ada"))
    assert not state_of(ada).confirmed


def test_nobody_is_locked_unconfirmed_unless_ticked_off(potter: User, december: Shipment) -> None:
    with pytest.raises(Refusal) as refused:
        services.lock_addresses(shipment=december, by=potter, at=NOW)
    assert str(refused.value) == (
        "2 addresses are not confirmed: Bo and Cy."
        " Ask them, or tick each one off to print it as it stands."
    )
    bo = parcel_of(december, "Bo")
    with pytest.raises(Refusal, match="1 address is not confirmed: Cy"):
        services.lock_addresses(shipment=december, ticked=[bo.id], by=potter, at=NOW)
    cy = Supporter.objects.get(name="Cy")
    services.confirm_address(supporter=cy, day=date(2026, 11, 20), by=potter, at=NOW)
    ada = parcel_of(december, "Ada")
    change = services.lock_addresses(shipment=december, ticked=[bo.id, ada.id], by=potter, at=NOW)
    assert change.said == "Locked 3 addresses of December 2026"
    assert [(p.locked_name, p.ticked_off) for p in december.parcels.all()] == [
        ("Ada", False),  # confirmed, so the tick says nothing
        ("Bo", True),
        ("Cy", False),
    ]
    with pytest.raises(Refusal, match="All addresses of December 2026 are locked already"):
        services.lock_addresses(shipment=december, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert not december.parcels.exclude(locked_at=None).exists()
    assert not december.parcels.exclude(locked_address={}).exists()


def test_a_month_without_parcels_has_nothing_to_lock(potter: User) -> None:
    with pytest.raises(Refusal, match="No parcel of January 2027 waits for an address"):
        services.lock_addresses(shipment=cast.shipment(potter, month="2027-01"), by=potter, at=NOW)


def test_nothing_with_an_address_is_printed_before_the_lock(
    potter: User, december: Shipment
) -> None:
    for paper in (
        papers.slips_paper,
        papers.customs_paper,
        lambda one: papers.labels_paper(one, sheet="a4"),
    ):
        with pytest.raises(Refusal) as refused:
            paper(december)
        assert str(refused.value) == (
            "3 addresses of December 2026 are not locked yet (Ada, Bo and Cy)."
            " Lock them first, then print."
        )
    ada = parcel_of(december, "Ada")
    with pytest.raises(Refusal, match="The address of Ada is not locked yet"):
        papers.slips_paper(december, parcel=ada)
    assert papers.packers_paper(december)  # it has no street
    cast.lock(december, potter)
    assert papers.slips_paper(december)


def test_a_change_after_the_lock_is_told_and_not_printed(potter: User, december: Shipment) -> None:
    cast.lock(december, potter)
    ada = parcel_of(december, "Ada")
    assert not state_of(ada).changed
    with pytest.raises(Refusal, match="The address of Ada has not changed since"):
        services.take_address(parcel=ada, by=potter, at=NOW)
    moved = LEEDS | {"street_address": "9 Ash Lane"}
    services.set_own_address(supporter=ada.supporter, fields=moved, at=NOW)
    assert state_of(ada).changed
    (slip,) = pages(papers.slips_paper(december, parcel=ada))
    assert "4 Kiln Row" in slip
    assert "9 Ash Lane" not in slip
    services.keep_looks(page="slips", by=potter, at=NOW, parcels=[ada])
    assert not state_of(ada).print_again
    later = NOW + timedelta(hours=1)
    change = services.take_address(parcel=ada, by=potter, at=later)
    assert change.said == "Took the new address of Ada. Print its slip and label again"
    assert (state_of(ada).changed, state_of(ada).print_again) == (False, True)
    (slip,) = pages(papers.slips_paper(december, parcel=ada))
    assert "9 Ash Lane" in slip
    services.keep_looks(page="labels", by=potter, at=later + timedelta(minutes=1), parcels=[ada])
    assert not state_of(ada).print_again
    services.undo(change=change, by=potter, at=later)
    assert parcel_of(december, "Ada").locked_address["street_address"] == "4 Kiln Row"
    with pytest.raises(Refusal, match="was undone already"):
        services.undo(change=change, by=potter, at=later)


def test_a_posted_parcel_keeps_its_address(potter: User, december: Shipment) -> None:
    cast.lock(december, potter)
    lock = Change.objects.get(action="lock")
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    ada = parcel_of(december, "Ada")
    services.set_own_address(
        supporter=ada.supporter, fields=LEEDS | {"street_address": "9 Ash Lane"}, at=NOW
    )
    with pytest.raises(Refusal, match="is posted already"):
        services.take_address(parcel=ada, by=potter, at=NOW)
    with pytest.raises(Refusal, match="a parcel was posted or taken away since"):
        services.undo(change=lock, by=potter, at=NOW)


def test_a_parcel_picked_after_the_lock_is_locked_by_itself(
    potter: User, december: Shipment
) -> None:
    cast.lock(december, potter)
    ada = Supporter.objects.get(name="Ada")
    services.skip(shipment=december, supporter=ada, reason="away", by=potter, at=NOW)
    cast.supporter("Di", potter)
    services.pick_parcels(shipment=december, by=potter, at=NOW)
    with pytest.raises(Refusal, match="The address of Di is not locked yet"):
        papers.slips_paper(december)
    cast.lock(december, potter)
    assert papers.slips_paper(december)


def test_old_printed_addresses_are_forgotten(potter: User, december: Shipment) -> None:
    cast.lock(december, potter)
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    posted = NOW.date()
    # kept for 90 days: on the 90th day it is still there, on the 91st it goes
    assert services.forget_addresses(today_date=posted + timedelta(days=90)) == 0
    assert services.forget_addresses(today_date=posted + timedelta(days=91)) == 3
    ada = parcel_of(december, "Ada")
    assert (ada.locked_name, ada.locked_address) == ("", {})
    assert ada.locked_at is not None
    assert not state_of(ada).changed
    # A paper with a country and nothing else on it is none.
    sentence = "The printed address of Ada is no longer kept, so it cannot be printed."
    assert selectors.cannot_print_addresses(december, parcel=ada) == sentence
    for paper in (papers.slips_paper, papers.customs_paper):
        with pytest.raises(Refusal, match=sentence):
            paper(december, parcel=ada)


def test_a_month_leaves_out_whose_printed_address_is_forgotten(
    signed_in: Client, potter: User, december: Shipment
) -> None:
    Form.objects.update(weight_g=360, price_pence=3200, silhouette="mug")
    december.parcels.update(weighed_g=900)
    PostSettings.objects.update_or_create(id=1, defaults={"home_code": "HU"})
    cast.lock(december, potter)
    services.mark_packed(parcels=list(december.parcels.all()), by=potter, at=NOW)
    services.mark_posted(parcels=list(december.parcels.all()), by=potter, at=NOW)
    assert len(pages(papers.slips_paper(december))) == 3
    Parcel.objects.filter(supporter__name="Ada").update(locked_name="", locked_address={})
    services.erase(supporter=Supporter.objects.get(name="Bo"), by=potter, at=NOW)
    papers_of = (papers.slips_paper, papers.customs_paper)
    for paper in papers_of:
        (page,) = pages(paper(december))
        assert "Cy" in page
    signed_in.get(reverse("parcels:slips", args=[december.id]))
    assert [look.supporter.name for look in AddressLook.objects.filter(page="slips")] == ["Cy"]
    with pytest.raises(Refusal, match="The printed address of supporter 2 is no longer kept"):
        papers.slips_paper(december, parcel=december.parcels.get(supporter__name="supporter 2"))
    Parcel.objects.filter(supporter__name="Cy").update(locked_name="", locked_address={})
    for paper in papers_of:
        with pytest.raises(Refusal, match=r"The printed address of Ada.*Cy is no longer kept"):
            paper(december)


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        (date(2026, 11, 21), "21 November 2026 is still to come"),
        (date(2026, 11, 19), "The address of Ada is confirmed on that day already"),
    ],
)
def test_what_is_no_confirmation(
    potter: User, december: Shipment, day: date, sentence: str
) -> None:
    ada = Supporter.objects.get(name="Ada")
    with pytest.raises(Refusal, match=sentence):
        services.confirm_address(supporter=ada, day=day, by=potter, at=NOW)
