"""Are parcels picked, swapped, packed and posted by the rules, and each undone?"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from studio.parcels import selectors, services
from studio.parcels.models import Parcel, ParcelPiece, Shipment, Skip
from studio.sales import selectors as sales_selectors
from studio.sales import services as sales_services
from studio.sales.models import Listing
from studio.wares import selectors as wares_selectors
from studio.wares import services as wares
from studio.wares.models import Line, Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast
from tests.sales.test_sale_days import make as make_sale

pytestmark = pytest.mark.django_db


@pytest.fixture
def mug(db: None) -> Line:
    return wares_cast.line()


@pytest.fixture
def bowl(db: None) -> Line:
    return wares_cast.line("Bowl", price_pence=4500)


def picked(by: User, count: int = 2, **values: Any) -> Shipment:
    shipment = cast.shipment(by, parcel_count=count, **values)
    services.pick_parcels(shipment=shipment, by=by, at=NOW)
    return shipment


def contents(shipment: Shipment) -> dict[str, list[str]]:
    return {
        parcel.supporter.name: [str(row.piece) for row in parcel.lines.all()]
        for parcel in shipment.parcels.all()
    }


def test_a_month_from_pick_to_post_and_every_way_back(potter: User, mug: Line, bowl: Line) -> None:
    cast.supporter("Ada", potter)
    cast.supporter("Bo", potter)
    pieces = [*wares_cast.pots(mug, 2, potter), *wares_cast.pots(bowl, 1, potter)]
    shipment = picked(potter)
    assert contents(shipment) == {"Ada": ["No. 1"], "Bo": ["No. 2"]}
    parcels = list(shipment.parcels.all())
    assert str(parcels[0]) == "2026-12-1"
    assert parcels[0].why == (
        "Waited longest and joined first (3 paid months, none sent yet); joined January 2024."
    )
    assert list(Reservation.objects.values_list("piece", "kind", "note")) == [
        (pieces[0].id, "parcel", "parcel 2026-12-1"),
        (pieces[1].id, "parcel", "parcel 2026-12-2"),
    ]
    packed = services.mark_packed(parcels=parcels, box=" small ", by=potter, at=NOW)
    assert packed.said == "Packed 2 parcels of December 2026"
    posted = services.mark_posted(parcels=parcels, by=potter, at=NOW)
    assert (
        list(Parcel.objects.values_list("state", "box", "posted_date"))
        == [("posted", "small", date(2026, 11, 20))] * 2
    )
    assert not Reservation.objects.exists()
    assert wares_selectors.sums().partings["sent"] == 2
    with pytest.raises(Refusal, match="a parcel was posted since"):
        services.undo(change=packed, by=potter, at=NOW)
    services.undo(change=posted, by=potter, at=NOW)
    assert Reservation.objects.filter(kind="parcel").count() == 2
    assert wares_selectors.sums().partings["sent"] == 0
    services.undo(change=packed, by=potter, at=NOW)
    services.undo(change=Change.objects.get(action="pick"), by=potter, at=NOW)
    assert not Parcel.objects.exists()
    assert not Reservation.objects.exists()
    assert wares_selectors.broken_sums() == []


def test_seconds_go_to_those_who_take_them_and_firsts_before(potter: User, mug: Line) -> None:
    cast.supporter("Ada", potter)
    cast.supporter("Bo", potter, takes_seconds=True)
    wares_cast.pots(mug, 1, potter, grade="second")
    wares_cast.pots(mug, 1, potter)
    shipment = picked(potter)
    assert contents(shipment) == {"Ada": ["No. 2"], "Bo": ["No. 1"]}


def test_listed_and_promised_pieces_are_left_alone(potter: User, mug: Line) -> None:
    cast.supporter("Ada", potter)
    pieces = wares_cast.pots(mug, 3, potter)
    day = make_sale(potter)
    sales_services.list_for_sale(sale_day=day, prices_pence={pieces[0].id: 3200}, by=potter, at=NOW)
    wares.reserve(piece=pieces[1], kind="held", note="shop", by=potter, at=NOW)
    shipment = picked(potter, 1)
    assert contents(shipment) == {"Ada": ["No. 3"]}


def test_wanted_lines_go_first_as_far_as_they_are_wanted(
    potter: User, mug: Line, bowl: Line
) -> None:
    for name in ("Ada", "Bo"):
        cast.supporter(name, potter)
    wares_cast.pots(mug, 2, potter)
    wares_cast.pots(bowl, 2, potter)
    shipment = cast.shipment(potter)
    services.set_want(shipment=shipment, line=bowl, count=2, by=potter, at=NOW)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    lines = ParcelPiece.objects.values_list("line", flat=True)
    assert set(lines) == {bowl.id}
    (row,) = selectors.want_rows(shipment)
    assert (row.picked, row.free, row.short) == (2, 0, 0)


def test_nobody_is_sent_a_line_twice(potter: User, mug: Line, bowl: Line) -> None:
    ada = cast.supporter("Ada", potter)
    wares_cast.pots(mug, 2, potter)
    picked(potter, 1)
    wares_cast.pots(bowl, 1, potter)
    later = picked(potter, 1, month="2027-01")
    assert contents(later) == {"Ada": ["No. 3"]}
    third = cast.shipment(potter, month="2027-02", parcel_count=1)
    with pytest.raises(Refusal) as refusal:
        services.pick_parcels(shipment=third, by=potter, at=NOW)
    assert str(refusal.value) == (
        "Nobody can be given a parcel now: no pot for them this month: 1 of lines they had before."
    )
    assert not Skip.objects.exists()
    with pytest.raises(IntegrityError), transaction.atomic():
        ParcelPiece.objects.create(parcel=later.parcels.get(), piece_id=2, supporter=ada, line=mug)


def test_a_pick_fills_up_after_a_skip(potter: User, mug: Line) -> None:
    people = [cast.supporter(name, potter) for name in ("Ada", "Bo", "Cy")]
    wares_cast.pots(mug, 3, potter)
    shipment = picked(potter)
    with pytest.raises(Refusal, match="All 2 parcels of December 2026 are picked already"):
        services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    change = services.skip(
        shipment=shipment, supporter=people[0], reason=" no  address ", by=potter, at=NOW
    )
    assert change.said == "Skipped Ada in December 2026: no address"
    assert Piece.objects.free().count() == 2
    with pytest.raises(Refusal, match="Ada is skipped this month already"):
        services.skip(shipment=shipment, supporter=people[0], reason="x", by=potter, at=NOW)
    again = services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    assert sorted(contents(shipment)) == ["Bo", "Cy"]
    with pytest.raises(Refusal, match="next turn has moved up"):
        services.undo(change=change, by=potter, at=NOW)
    services.undo(change=again, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert sorted(contents(shipment)) == ["Ada", "Bo"]
    assert Reservation.objects.count() == 2


def test_a_swap_by_hand_keeps_the_rules(potter: User, mug: Line, bowl: Line) -> None:
    vase = wares_cast.line("Vase")
    ada = cast.supporter("Ada", potter, please_no=(vase.form,))
    cast.supporter("Bo", potter)
    wares_cast.pots(mug, 2, potter)
    shipment = picked(potter)
    parcel = shipment.parcels.get(supporter=ada)
    row = parcel.lines.get()
    other_mug, second, no_vase, fired = (
        wares_cast.pots(mug, 1, potter)[0],
        wares_cast.pots(bowl, 1, potter, grade="second")[0],
        wares_cast.pots(vase, 1, potter)[0],
        wares_cast.pots(bowl, 1, potter, stage="fired")[0],
    )
    taken = shipment.parcels.exclude(id=parcel.id).get().lines.get().piece

    def choose(piece: Piece, instead_of: ParcelPiece | None = row) -> Change:
        return services.choose_piece(
            parcel=parcel, piece=piece, instead_of=instead_of, by=potter, at=NOW
        )

    for piece, sentence in (
        (second, "No. 4 is a second, and Ada has not said yes to seconds."),
        (no_vase, "Ada would rather not have this form, so No. 5 cannot go there."),
        (taken, "No. 2 is promised already (parcel: parcel 2026-12-2)."),
    ):
        with pytest.raises(Refusal) as refusal:
            choose(piece)
        assert str(refusal.value).lower() == sentence.lower()
    with pytest.raises(Refusal, match=r"is fired\. Only a graded piece can be sent"):
        choose(fired)
    with pytest.raises(Refusal) as refusal:
        choose(other_mug, None)
    assert str(refusal.value) == (
        "Ada was sent a pot of this line before, so No. 3 cannot go there."
    )
    change = choose(other_mug)
    assert change.said == "Put No. 3 into the parcel of Ada instead of No. 1"
    assert Piece.objects.free().filter(number=1).exists()
    with pytest.raises(Refusal, match="no longer in this parcel"):
        choose(other_mug)
    services.undo(change=change, by=potter, at=NOW)
    assert contents(shipment)["Ada"] == ["No. 1"]
    services.mark_packed(parcels=[parcel], by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"The parcel of Ada is packed already\. Undo that first"):
        choose(other_mug, parcel.lines.get())


def test_a_piece_in_a_parcel_is_not_for_sale_even_without_its_promise(
    potter: User, mug: Line
) -> None:
    """Whatever became of the promise, what stands in a parcel is neither listed nor sold."""
    cast.supporter("Ada", potter)
    (piece,) = wares_cast.pots(mug, 1, potter)
    parcel = picked(potter, 1).parcels.get()
    day = make_sale(potter)
    where = "No. 1 stands in parcel 2026-12-1. Swap it there for another piece first,"
    Reservation.objects.all().delete()
    assert not sales_selectors.offer_groups(day)
    prices = {piece.id: 3200}
    with pytest.raises(Refusal) as refusal:
        sales_services.list_for_sale(sale_day=day, prices_pence=prices, by=potter, at=NOW)
    assert str(refusal.value) == f"{where} or skip that turn."
    other = cast.supporter("Bo", potter)
    with pytest.raises(Refusal, match=r"No\. 1 stands in parcel 2026-12-1 already"):
        services.choose_piece(
            parcel=Parcel.objects.create(shipment=parcel.shipment, supporter=other),
            piece=piece,
            by=potter,
            at=NOW,
        )
    # Past every service: listed all the same, it is neither claimed, sold, packed nor posted.
    Piece.objects.update(stage="listed", seq=7)
    Listing.objects.create(piece=piece, sale_day=day, price_pence=3200, listed_at=NOW)
    with pytest.raises(Refusal, match=where):
        sales_services.sell(sale_day=day, pieces=[piece], by=potter, at=NOW)
    with pytest.raises(Refusal, match=where):
        sales_services.claim(sale_day=day, pieces=[piece], for_whom="Cy", by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"is listed\. Take it off the list"):
        services.mark_packed(parcels=[parcel], by=potter, at=NOW)
    Parcel.objects.filter(id=parcel.id).update(state="packed")
    with pytest.raises(Refusal, match=r"is listed\. Take it off the list"):
        services.mark_posted(parcels=[parcel], by=potter, at=NOW)


def test_offers_tell_why_not(potter: User, mug: Line, bowl: Line) -> None:
    ada = cast.supporter("Ada", potter)
    wares_cast.pots(mug, 2, potter)
    wares_cast.pots(bowl, 1, potter, grade="second")
    shipment = picked(potter, 1)
    parcel = shipment.parcels.get(supporter=ada)
    assert [(str(o.piece), o.cannot) for o in selectors.offers(parcel=parcel)] == [
        ("No. 3", "No. 3 is a second, and Ada has not said yes to seconds."),
        ("No. 2", "Ada was sent a pot of this line before, so No. 2 cannot go there."),
    ]
    swaps = selectors.offers(parcel=parcel, instead_of=parcel.lines.get())
    assert [(str(o.piece), o.cannot is None) for o in swaps] == [("No. 2", True), ("No. 3", False)]


def test_refusals_of_picking(potter: User, mug: Line) -> None:
    shipment = cast.shipment(potter)
    with pytest.raises(Refusal, match="Nobody is eligible for a turn"):
        services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    cast.supporter("Ada", potter)
    with pytest.raises(Refusal, match="No graded piece is free to be sent"):
        services.pick_parcels(shipment=shipment, by=potter, at=NOW)


def test_refusals_of_packing_and_posting(potter: User, mug: Line) -> None:
    ada = cast.supporter("Ada", potter)
    wares_cast.pots(mug, 1, potter)
    shipment = picked(potter, 1)
    parcel = shipment.parcels.get()
    for act in (services.mark_packed, services.mark_posted):
        with pytest.raises(Refusal, match="Choose at least one parcel"):
            act(parcels=[], by=potter, at=NOW)
    with pytest.raises(Refusal, match="The parcel of Ada is not packed yet"):
        services.mark_posted(parcels=[parcel], by=potter, at=NOW)
    with pytest.raises(Refusal, match="40 characters at most"):
        services.mark_packed(parcels=[parcel], box="x" * 41, by=potter, at=NOW)
    piece = parcel.lines.get().piece
    with pytest.raises(Refusal, match=r"No\. 1 is in a parcel"):
        wares.release(piece=piece, by=potter, at=NOW)
    wares.release(piece=piece, owner="parcel", by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"No\. 1 stands in the parcel of Ada, but its promise was"):
        services.mark_packed(parcels=[parcel], by=potter, at=NOW)
    wares.undo(change=Change.objects.get(action="release"), by=potter, at=NOW)
    services.mark_packed(parcels=[parcel], by=potter, at=NOW)
    with pytest.raises(Refusal, match="The parcel of Ada is packed already"):
        services.mark_packed(parcels=[parcel], by=potter, at=NOW)
    with pytest.raises(Refusal, match="packed already, so the turn is taken"):
        services.skip(shipment=shipment, supporter=ada, reason="x", by=potter, at=NOW)
    services.mark_posted(parcels=[parcel], by=potter, at=NOW)
    with pytest.raises(Refusal, match="The parcel of Ada is posted already"):
        services.mark_posted(parcels=[parcel], by=potter, at=NOW)


def test_a_skip_needs_a_reason_of_some_words(potter: User) -> None:
    ada, shipment = cast.supporter("Ada", potter), cast.shipment(potter)
    with pytest.raises(Refusal, match="Say why: a turn that is skipped keeps its place"):
        services.skip(shipment=shipment, supporter=ada, reason="  ", by=potter, at=NOW)
    with pytest.raises(Refusal, match="200 characters"):
        services.skip(shipment=shipment, supporter=ada, reason="x" * 201, by=potter, at=NOW)


def test_a_note_is_written_and_put_back(potter: User, mug: Line) -> None:
    cast.supporter("Ada", potter)
    wares_cast.pots(mug, 1, potter)
    parcel = picked(potter, 1).parcels.get()
    change = services.set_note(parcel=parcel, note=" Thank you! ", by=potter, at=NOW)
    parcel.refresh_from_db()
    assert parcel.note == "Thank you!"
    with pytest.raises(Refusal, match="200 characters"):
        services.set_note(parcel=parcel, note="x" * 201, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    parcel.refresh_from_db()
    assert parcel.note == ""
