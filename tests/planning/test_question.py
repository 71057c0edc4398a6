"""Does the question hold what the studio's records say, each pot once, and nothing else?"""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest

import studio.sales.services as sales
from studio.craft.problem import BadProblem, Stage
from studio.parcels.models import Parcel, ParcelPiece, Supporter, Tier
from studio.planning.models import DayOff
from studio.planning.selectors import problem
from studio.planning.selectors.question import MOST_DAYS, NOTHING_PROMISED, ask
from studio.sales.models import Listing, SaleDay
from studio.wares.models import Piece, Reservation
from tests.planning.asked import causes, key, stood, ware
from tests.planning.cast import NOW, TODAY, Cast, at

DAY = timedelta(days=1)
SALE = TODAY + 45 * DAY


def test_a_sale_and_a_shipment_become_needs(cast: Cast) -> None:
    sale = cast.sale("Winter sale", SALE, {cast.mugs: 40, cast.bowls: 12})
    shipment = cast.shipment(TODAY + 20 * DAY, {cast.mugs: 5})
    found = problem(today_date=TODAY)
    assert [(n.key, n.name, n.due_date) for n in found.needs] == [
        (f"shipment-{shipment.pk}", "Parcels of December 2026", TODAY + 20 * DAY),
        (f"sale-{sale.pk}", "Winter sale", SALE),
    ]
    assert found.needs[1].counts == ((key(cast.mugs), 40), (key(cast.bowls), 12))
    assert found.needs[1].buffer_days == 3
    assert found.last_date == SALE + DAY
    assert [line.name for line in found.lines] == ["Mug in Sky", "Bowl in Sky"]


def test_a_sale_that_opens_late_in_the_evening_is_due_on_the_day_people_live_in(cast: Cast) -> None:
    sale = cast.sale("Evening sale", SALE, {cast.mugs: 1})
    sale.members_at, sale.public_at = at(SALE, 23, 30), at(SALE + DAY, 9)
    sale.save()
    assert problem(today_date=TODAY).needs[0].due_date == SALE


def test_a_plan_looks_two_weeks_ahead_at_least(cast: Cast) -> None:
    cast.sale("Tomorrow", TODAY + DAY, {cast.mugs: 1})
    found = problem(today_date=TODAY)
    assert found.last_date == TODAY + 14 * DAY
    assert len(found.days) == 15


def test_a_sale_in_the_past_is_ignored_and_one_of_today_counts(cast: Cast) -> None:
    cast.sale("Yesterday", TODAY - DAY, {cast.mugs: 9})
    assert causes() == [NOTHING_PROMISED]
    cast.sale("Today", TODAY, {cast.mugs: 2})
    assert [need.name for need in problem(today_date=TODAY).needs] == ["Today"]


def test_nothing_promised_is_said(cast: Cast) -> None:
    assert causes() == [NOTHING_PROMISED]


def test_dates_beyond_the_look_ahead_wait_and_are_named(cast: Cast) -> None:
    cast.sale("Near", SALE, {cast.mugs: 2})
    cast.sale("Far", TODAY + (MOST_DAYS + 1) * DAY, {cast.mugs: 2})
    question = ask(today_date=TODAY)
    assert [need.name for need in question.problem.needs] == ["Near"]
    assert question.remarks[0].startswith("Far: later than ")
    shorter = causes(last_date=TODAY + 5 * DAY)
    assert shorter[0].endswith("the next date is Near on Sat 9 Jan 2027.")
    assert "is past" in causes(last_date=TODAY - DAY)[0]


def test_hands_by_weekday_and_days_off(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 1})
    DayOff.objects.create(date=TODAY + DAY)
    days = {day.date: day for day in problem(today_date=TODAY).days}
    wednesday, thursday, saturday = days[TODAY], days[TODAY + DAY], days[TODAY + 3 * DAY]
    assert (wednesday.throwing_min, wednesday.glazing_min, wednesday.finishing_min) == (
        240,
        120,
        120,
    )
    assert wednesday.may_start
    assert (thursday.throwing_min, thursday.may_start) == (0, False)
    assert (saturday.throwing_min, saturday.may_start) == (0, False)


def test_stock_counts_by_stage_and_thrown_ware_is_ready_when_dry(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 90})
    cast.board("T1", 6, made_date=TODAY - 2 * DAY)
    cast.board("T2", 4, made_date=TODAY - 2 * DAY, dry_date=TODAY - DAY)
    cast.board("B1", 7, stage="bisqued")
    cast.board("G1", 8, stage="glazed")
    cast.board("F1", 9, stage="fired")
    cast.board("R1", 3, stage="graded")
    cast.board("R2", 2, stage="graded", grade="second")
    found = problem(today_date=TODAY)
    thrown = {(h.ready_date, h.count) for h in found.on_hand if h.stage == Stage.THROWN}
    # Thrown two days ago with five drying days: three to go. Four are dry already.
    assert thrown == {(TODAY + 3 * DAY, 6), (TODAY, 4)}
    assert stood(found) == Counter(
        {
            ("thrown", ware(cast)): 10,
            ("bisqued", ware(cast)): 7,
            ("glazed", key(cast.mugs)): 8,
            ("fired", key(cast.mugs)): 9,
            ("graded", key(cast.mugs)): 3,
        }
    )


def test_parted_and_reserved_pieces_serve_no_date(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    pieces = cast.board("R1", 4, stage="graded")
    Piece.objects.filter(pk=pieces[0].pk).update(parting="sold", parted_date=TODAY, board=None)
    Reservation.objects.create(piece=pieces[1], kind="claim", by=cast.by, at=NOW)
    assert stood(problem(today_date=TODAY)) == Counter({("graded", key(cast.mugs)): 2})


def test_a_listed_piece_lessens_its_own_date_and_is_not_on_hand(cast: Cast) -> None:
    sale = cast.sale("Winter sale", SALE, {cast.mugs: 10})
    cast.sale("Later", SALE + 10 * DAY, {cast.mugs: 5})
    pieces = cast.board("L1", 3, stage="listed")
    for piece in pieces:
        Listing.objects.create(piece=piece, sale_day=sale, price_pence=3200, listed_at=NOW)
    Piece.objects.filter(pk=pieces[0].pk).update(parting="sold", parted_date=TODAY, board=None)
    Piece.objects.filter(pk=pieces[1].pk).update(parting="broken", parted_date=TODAY, board=None)
    found = problem(today_date=TODAY)
    # 10 asked - 1 listed - 1 sold there already; the broken one is no use.
    assert [need.counts for need in found.needs] == [
        ((key(cast.mugs), 8),),
        ((key(cast.mugs), 5),),
    ]
    assert stood(found) == Counter()


def listed(cast: Cast, sale: SaleDay, count: int) -> None:
    for piece in cast.board("L1", count, stage="listed"):
        Listing.objects.create(piece=piece, sale_day=sale, price_pence=3200, listed_at=NOW)


def test_what_an_open_ended_sale_offers_is_still_on_sale(cast: Cast) -> None:
    sale = cast.sale("Autumn sale", TODAY - 10 * DAY, {cast.mugs: 10})
    assert sale.closes_at is None
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    listed(cast, sale, 2)
    question = ask(today_date=TODAY, now=NOW)
    assert stood(question.problem) == Counter()
    assert question.problem.needs[0].counts == ((key(cast.mugs), 10),)
    assert question.remarks == ()


def test_what_a_sale_that_is_over_left_listed_is_told_until_it_is_taken_back(cast: Cast) -> None:
    over = cast.sale("Autumn sale", TODAY - 10 * DAY, {cast.mugs: 10})
    over.closes_at = NOW
    over.save()
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    listed(cast, over, 2)
    question = ask(today_date=TODAY, now=NOW)
    assert stood(question.problem) == Counter()
    assert question.remarks == (
        "Still listed for Autumn sale, which is over: 2 × Mug in Sky. They do not count until they "
        "are taken back.",
    )
    assert ask(today_date=TODAY, now=NOW - timedelta(minutes=1)).remarks == ()
    sales.take_back(sale_day=over, pieces=Piece.objects.all(), by=cast.by, at=NOW)
    question = ask(today_date=TODAY, now=NOW)
    assert stood(question.problem) == Counter({("graded", key(cast.mugs)): 2})
    assert question.remarks == ()


def test_a_sale_that_has_opened_asks_for_nothing_more(cast: Cast) -> None:
    sale = cast.sale("Today", TODAY, {cast.mugs: 3})
    cast.sale("Winter sale", SALE, {cast.mugs: 10})
    before, after = sale.members_at - timedelta(hours=1), sale.members_at + timedelta(hours=1)
    asked = [
        [need.name for need in problem(today_date=TODAY, now=now).needs] for now in (before, after)
    ]
    assert asked == [["Today", "Winter sale"], ["Winter sale"]]
    SaleDay.objects.exclude(pk=sale.pk).delete()
    with pytest.raises(BadProblem) as caught:
        ask(today_date=TODAY, now=after)
    assert caught.value.causes == (NOTHING_PROMISED,)


def test_ware_that_nobody_called_dry_is_told(cast: Cast) -> None:
    cast.sale("Winter sale", SALE, {cast.mugs: 9})
    cast.board("T1", 6, made_date=TODAY - 2 * DAY)
    cast.board("T2", 4, made_date=TODAY - DAY)
    cast.board("T3", 5, made_date=TODAY - DAY, dry_date=TODAY)
    cast.board("T4", 3, form=cast.bowl)  # nobody asks for bowls
    # Thrown yesterday with five drying days: dry in four.
    assert ask(today_date=TODAY).remarks == (
        "Not called dry by anybody yet: 10 × Mug. They are taken as dry after their drying days, "
        "the last of them on Sun 29 Nov 2026.",
    )


def test_a_piece_in_a_parcel_lessens_that_shipment(cast: Cast) -> None:
    shipment = cast.shipment(TODAY + 20 * DAY, {cast.mugs: 5})
    [piece] = cast.board("R1", 1, stage="graded")
    tier = Tier.objects.create(name="Shelf", monthly_pence=500)
    friend = Supporter.objects.create(
        number=1, name="Kit", tier=tier, joined_month=24000, country_code="GB"
    )
    parcel = Parcel.objects.create(shipment=shipment, supporter=friend)
    ParcelPiece.objects.create(parcel=parcel, piece=piece, supporter=friend, line=cast.mugs)
    found = problem(today_date=TODAY)
    assert found.needs[0].counts == ((key(cast.mugs), 4),)
    assert stood(found) == Counter()
