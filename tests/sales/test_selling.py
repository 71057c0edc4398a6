"""Is each piece listed, claimed and sold once, and do the sums still balance?"""

from __future__ import annotations

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection, connections

from studio.sales import rules, selectors, services
from studio.sales.models import Listing, SaleDay
from studio.wares import selectors as wares_selectors
from studio.wares import services as wares
from studio.wares.models import Line, Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.sales import cast
from tests.sales.test_sale_days import NOW, make


@pytest.fixture
def day(potter: User) -> SaleDay:
    return make(potter)


@pytest.fixture
def mug(db: None) -> Line:
    return cast.line()


def listed(day: SaleDay, pieces: list[Piece], by: User, price_pence: int = 3200) -> Change:
    prices = {piece.id: price_pence for piece in pieces}
    return services.list_for_sale(sale_day=day, prices_pence=prices, by=by, at=NOW)


def balanced() -> bool:
    return wares_selectors.sums().holds and wares_selectors.broken_sums() == []


@pytest.mark.django_db
def test_listing_selling_and_every_way_back(potter: User, day: SaleDay, mug: Line) -> None:
    pieces = cast.pots(mug, 5, potter)
    listing = listed(day, pieces[:4], potter)
    assert listing.said == "Listed No. 1, No. 2, No. 3, No. 4 for December restock"
    assert [p.stage for p in Piece.objects.order_by("id")] == ["listed"] * 4 + ["graded"]
    sale = services.sell(sale_day=day, pieces=pieces[:2], by=potter, at=NOW)
    assert sale.said == "Sold No. 1, No. 2 at December restock"
    sums = wares_selectors.sums()
    # made 5 = 1 graded + 2 listed + 2 sold
    assert (sums.made, sums.on_hand["graded"], sums.on_hand["listed"], sums.partings["sold"]) == (
        5, 1, 2, 2,
    )  # fmt: skip
    assert selectors.takings_pence(selectors.sold_listings(day)) == 2 * 3200
    back = services.take_back(sale_day=day, pieces=[pieces[2]], by=potter, at=NOW)
    assert Listing.objects.count() == 3
    assert balanced()
    services.undo(change=back, by=potter, at=NOW)
    assert Listing.objects.get(piece=pieces[2]).price_pence == 3200
    services.undo(change=sale, by=potter, at=NOW)
    assert wares_selectors.sums().partings["sold"] == 0
    assert balanced()
    with pytest.raises(Refusal, match="can no longer be undone"):
        services.undo(change=listing, by=potter, at=NOW)  # piece 3 went on since


@pytest.mark.django_db
def test_undoing_a_listing_takes_the_price_away(potter: User, day: SaleDay, mug: Line) -> None:
    change = listed(day, cast.pots(mug, 2, potter), potter)
    services.undo(change=change, by=potter, at=NOW)
    assert not Listing.objects.exists()
    assert set(Piece.objects.values_list("stage", flat=True)) == {"graded"}
    assert balanced()


@pytest.mark.django_db
def test_ungraded_and_promised_pieces_are_not_listed(potter: User, day: SaleDay, mug: Line) -> None:
    fired = cast.pots(mug, 1, potter, stage="fired")
    with pytest.raises(Refusal, match="From fired the next stage is graded, not listed"):
        listed(day, fired, potter)
    good = cast.pots(mug, 2, potter)
    wares.reserve(piece=good[1], kind="parcel", note="2026-12", by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"No\. 2 is promised .* so it cannot be listed"):
        listed(day, good, potter)
    assert not Listing.objects.exists()
    assert set(Piece.objects.values_list("stage", flat=True)) == {"fired", "graded"}


@pytest.mark.django_db
def test_other_refusals_of_listing(potter: User, day: SaleDay, mug: Line) -> None:
    pieces = cast.pots(mug, 1, potter)
    with pytest.raises(Refusal, match="Choose at least one piece to list"):
        listed(day, [], potter)
    with pytest.raises(Refusal, match=r"No\. 1 needs a price above 0"):
        listed(day, pieces, potter, price_pence=0)
    with pytest.raises(Refusal, match="not known here"):
        services.list_for_sale(sale_day=day, prices_pence={999999: 100}, by=potter, at=NOW)
    with pytest.raises(Refusal, match="December restock closed at 8 Dec 2026, 18:00"):
        services.list_for_sale(
            sale_day=day,
            prices_pence={pieces[0].id: 3200},
            by=potter,
            at=datetime(2026, 12, 8, 18, 0, tzinfo=UTC),
        )
    listed(day, pieces, potter)
    with pytest.raises(Refusal, match="A listed piece has no further stage"):
        listed(day, pieces, potter)


@pytest.mark.django_db
def test_a_claim_holds_a_piece_and_a_sale_fulfils_it(potter: User, day: SaleDay, mug: Line) -> None:
    pieces = cast.pots(mug, 2, potter)
    listed(day, pieces, potter)
    claim = services.claim(
        sale_day=day, pieces=[pieces[0]], for_whom="  Cy  Reed ", by=potter, at=NOW
    )
    assert claim.said == "Cy Reed claims No. 1 at December restock"
    with pytest.raises(Refusal, match=r"No\. 1 is promised already \(claim: Cy Reed\)"):
        services.claim(sale_day=day, pieces=[pieces[0]], for_whom="Di", by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"No\. 1 is promised \(claim: Cy Reed\)"):
        services.take_back(sale_day=day, pieces=[pieces[0]], by=potter, at=NOW)
    with pytest.raises(Refusal) as refusal:
        services.sell(sale_day=day, pieces=pieces, by=potter, at=NOW)
    assert str(refusal.value) == (
        "No. 1 is claimed by Cy Reed. Say that they are sold to those names, or release the claims"
        " first."
    )
    sale = services.sell(sale_day=day, pieces=pieces, to_claimants=True, by=potter, at=NOW)
    assert not Reservation.objects.exists()
    sold = {str(row.piece): row.piece.parting_cause for row in selectors.sold_listings(day)}
    assert sold == {"No. 1": "Cy Reed", "No. 2": ""}
    with pytest.raises(Refusal, match="claim was fulfilled or released"):
        services.undo(change=claim, by=potter, at=NOW)
    services.undo(change=sale, by=potter, at=NOW)
    held = Reservation.objects.get()
    assert (held.piece, held.kind, held.note) == (pieces[0], "claim", "Cy Reed")
    assert balanced()


@pytest.mark.django_db
def test_a_claim_is_released_and_taken_again(potter: User, day: SaleDay, mug: Line) -> None:
    pieces = cast.pots(mug, 2, potter)
    listed(day, pieces, potter)
    services.claim(sale_day=day, pieces=pieces[:1], for_whom="Cy", by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"No\. 2 is not claimed by anybody"):
        services.release(sale_day=day, pieces=pieces, by=potter, at=NOW)
    assert Reservation.objects.count() == 1  # nothing half done
    freed = services.release(sale_day=day, pieces=pieces[:1], by=potter, at=NOW)
    with pytest.raises(Refusal) as refusal:
        services.release(sale_day=day, pieces=pieces, by=potter, at=NOW)
    assert str(refusal.value) == "Nobody has claimed a piece that is listed for December restock."
    assert str(refusal.value) == selectors.cannot_release_any(day)
    services.undo(change=freed, by=potter, at=NOW)
    assert Reservation.objects.get().note == "Cy"


@pytest.mark.django_db
def test_other_refusals_of_selling(potter: User, day: SaleDay, mug: Line) -> None:
    pieces = cast.pots(mug, 3, potter)
    with pytest.raises(Refusal, match="Choose at least one piece"):
        services.sell(sale_day=day, pieces=[], by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"No\. 1 is not listed for December restock now"):
        services.sell(sale_day=day, pieces=pieces[:1], by=potter, at=NOW)
    listed(day, pieces, potter)
    Reservation.objects.create(piece=pieces[1], kind="spare", by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"No\. 2 is promised \(spare\), so it cannot be sold"):
        services.sell(sale_day=day, pieces=pieces, by=potter, at=NOW)
    with pytest.raises(Refusal, match="Say who claims it"):
        services.claim(sale_day=day, pieces=pieces[:1], for_whom=" ", by=potter, at=NOW)
    services.sell(sale_day=day, pieces=pieces[:1], by=potter, at=NOW)
    for again in (services.sell, services.take_back):
        with pytest.raises(Refusal, match=r"No\. 1 is sold already"):
            again(sale_day=day, pieces=pieces[:1], by=potter, at=NOW)
    with pytest.raises(Refusal, match=r"No\. 1 is sold already"):
        services.claim(sale_day=day, pieces=pieces[:1], for_whom="Cy", by=potter, at=NOW)


@pytest.mark.django_db(transaction=True)
def test_of_two_people_at_once_one_sells_it(potter: User, other_potter: User) -> None:
    day, mug = make(potter), cast.line()
    piece = cast.pots(mug, 1, potter)[0]
    listed(day, [piece], potter)
    together = threading.Barrier(2)
    told: list[str] = []

    def sell(by: User) -> None:
        try:
            together.wait()
            told.append(services.sell(sale_day=day, pieces=[piece], by=by, at=NOW).said)
        except Refusal as refusal:
            told.append(str(refusal))
        finally:
            connections["default"].close()

    people = [threading.Thread(target=sell, args=[who]) for who in (potter, other_potter)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    done = [said for said in told if said == "Sold No. 1 at December restock"]
    refused = [said for said in told if "already" in said or "quicker" in said]
    assert (len(done), len(refused)) == (1, 1), told
    assert Change.objects.filter(action="sell").count() == 1
    assert wares_selectors.sums().partings["sold"] == 1
    assert balanced()
    assert connection.vendor in ("sqlite", "postgresql")


@pytest.mark.django_db
def test_what_stands_towards_a_want(potter: User, day: SaleDay, mug: Line) -> None:
    services.set_want(sale_day=day, line=mug, count=10, by=potter, at=NOW)
    good = cast.pots(mug, 5, potter)
    second = cast.pots(mug, 1, potter, grade="second")
    for stage, count in (("thrown", 7), ("bisqued", 6), ("glazed", 3), ("fired", 2)):
        cast.pots(mug, count, potter, stage=stage)
    cast.pots(cast.line("Bowl"), 4, potter)
    listed(day, [*good[:3], *second], potter)
    services.sell(sale_day=day, pieces=good[:1], by=potter, at=NOW)
    wares.reserve(piece=good[4], kind="held", note="shop", by=potter, at=NOW)
    (row,) = selectors.want_rows(day)
    # on hand: thrown 7, bisqued 6, glazed 3, fired 2, graded 5 - 3 = 2, listed 3 - 1 + 1 second
    assert row.stages == {
        "thrown": 7, "bisqued": 6, "glazed": 3, "fired": 2, "graded": 2, "listed": 3,
    }  # fmt: skip
    assert (row.listed, row.sold, row.done) == (2, 1, 2 + 1)
    assert (row.short, row.free_firsts, row.could_list) == (10 - 3, 1, 1)
    (need,) = selectors.needs(date(2026, 12, 4))
    assert (need.key, need.due_date, need.ready_by_date) == (
        f"sale-{day.id}", date(2026, 12, 4), date(2026, 12, 1),
    )  # fmt: skip
    assert [(line.line, line.count) for line in need.lines] == [(mug, 10 - 3)]


@pytest.mark.django_db
def test_needs_leave_out_past_and_finished_sales(potter: User, day: SaleDay, mug: Line) -> None:
    services.set_want(sale_day=day, line=mug, count=2, by=potter, at=NOW)
    assert len(selectors.needs(date(2026, 12, 4))) == 1
    assert selectors.needs(date(2026, 12, 5)) == []
    pieces = cast.pots(mug, 2, potter)
    listed(day, pieces, potter)
    assert selectors.needs(date(2026, 11, 2)) == []
    # A listed piece that breaks is wanted again.
    wares.part(piece=pieces[0], parting="broken", cause="dropped", by=potter, at=NOW)
    (need,) = selectors.needs(date(2026, 11, 2))
    assert need.lines[0].count == 1


@pytest.mark.django_db
def test_groups_to_list_put_wanted_firsts_on_top(potter: User, day: SaleDay, mug: Line) -> None:
    bowl = cast.line("Bowl", price_pence=4500)
    services.set_want(sale_day=day, line=mug, count=3, by=potter, at=NOW)
    cast.pots(mug, 2, potter)
    cast.pots(mug, 1, potter, grade="second")
    cast.pots(bowl, 1, potter)
    groups = selectors.offer_groups(day)
    assert [(g.line, g.grade, g.wanted, g.price_pence, len(g.pieces)) for g in groups] == [
        (mug, "first", 3, 3200, 2),
        (bowl, "first", 0, 4500, 1),
        (mug, "second", 0, None, 1),  # a second is not worth what a first is
    ]


@pytest.mark.django_db
def test_sale_days_are_told_apart_as_coming_and_past(potter: User, day: SaleDay) -> None:
    assert list(selectors.upcoming(NOW)) == [day]
    after = datetime(2026, 12, 4, 9, 0, tzinfo=UTC) + timedelta(days=1)
    assert list(selectors.past(after)) == [day]
    assert not selectors.upcoming(after).exists()


@pytest.mark.django_db
def test_a_released_claim_does_not_come_back_over_anothers(
    potter: User, day: SaleDay, mug: Line
) -> None:
    pieces = cast.pots(mug, 1, potter)
    listed(day, pieces, potter)
    services.claim(sale_day=day, pieces=pieces, for_whom="Cy", by=potter, at=NOW)
    freed = services.release(sale_day=day, pieces=pieces, by=potter, at=NOW)
    services.claim(sale_day=day, pieces=pieces, for_whom="Di", by=potter, at=NOW)
    with pytest.raises(Refusal, match="undone: a piece is not listed and free now"):
        services.undo(change=freed, by=potter, at=NOW)
    assert Reservation.objects.get().note == "Di"


def test_only_a_claim_is_fulfilled_by_a_sale() -> None:
    asked = {"name": "No. 7", "stage": "listed", "gone": "", "parcel": ""}
    held = rules.can_sell(**asked, promise_kind="held", promise="held back")
    assert held == "No. 7 is promised (held back), so it cannot be sold. Release it first."
    assert rules.can_sell(**asked, promise_kind="claim", promise="claim: Ada") is None
