"""Is everybody within a parcel of the fair share over a simulated year, and nothing sent twice?"""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.craft.turn_claims import deviation_bound
from studio.craft.turns import Ground, draw
from studio.parcels import selectors, services
from studio.parcels.models import Parcel, ParcelPiece, Payment, Shipment, Skip, Supporter
from studio.parcels.rules import read_month, why_now
from studio.wares import selectors as wares_selectors
from studio.wares.models import Reservation
from tests.parcels import cast
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
JANUARY = read_month("2027-01")


def at_month(month: int, day: int = 10) -> datetime:
    return datetime(month // 12, month % 12 + 1, day, 9, 0, tzinfo=UTC)


def pay(people: list[Supporter], month: int) -> None:
    Payment.objects.bulk_create(Payment(supporter=one, month=month) for one in people)


def post_month(month: int, by: User, count: int) -> Shipment:
    """A whole month through the services: set, pick, pack, post."""
    at = at_month(month)
    change = services.set_shipment(
        month=month, post_date=at.date(), parcel_count=count, by=by, at=at
    )
    shipment = Shipment.objects.get(id=change.subject_id)
    services.pick_parcels(shipment=shipment, by=by, at=at)
    parcels = list(shipment.parcels.all())
    services.mark_packed(parcels=parcels, by=by, at=at)
    services.mark_posted(parcels=parcels, by=by, at=at)
    return shipment


def test_a_year_of_turns_is_fair_and_repeats_no_line(potter: User) -> None:
    """7 people, 3 parcels a month, 12 months: 36 parcels, each 36 / 7 = 5.14 in fair share."""
    people = [
        cast.supporter(f"Person {n}", potter, paid=("2026-10", "2026-11", "2026-12"))
        for n in range(7)
    ]
    lines = [
        wares_cast.line(form, coats)
        for form in ("Mug", "Bowl", "Vase")
        for coats in ("Tidepool", "Rust", "Chalk")
    ]
    bound = deviation_bound(len(people))
    for month in range(JANUARY, JANUARY + 12):
        pay(people, month)
        for line in lines:
            wares_cast.pots(line, 1, potter)
        post_month(month, potter, 3)
        done = month - JANUARY + 1
        sent = Counter(Parcel.objects.values_list("supporter_id", flat=True))
        for one in people:
            # Tijdeman, Discrete Mathematics 32 (1980): never 1 - 1/(2n - 2) away from the share.
            assert abs(Fraction(3 * done, 7) - sent[one.id]) <= bound, (month, one)
    assert sorted(Counter(Parcel.objects.values_list("supporter_id", flat=True)).values()) == [
        5, 5, 5, 5, 5, 5, 6,
    ]  # fmt: skip
    pairs = list(ParcelPiece.objects.values_list("supporter_id", "line_id"))
    assert len(pairs) == len(set(pairs)) == 36
    assert not Reservation.objects.exists()
    sums = wares_selectors.sums()
    # made 12 x 9 = 108 = 36 sent + 72 graded
    assert (sums.made, sums.partings["sent"], sums.on_hand["graded"]) == (108, 36, 72)
    assert wares_selectors.broken_sums() == []
    lines_of_ledger = selectors.ledger_lines(today_date=at_month(JANUARY + 11).date())
    assert sum(line.share for line in lines_of_ledger) == 36
    assert {line.share for line in lines_of_ledger} == {Fraction(36, 7)}


def test_weights_give_more_turns_when_the_rule_says_so(potter: User) -> None:
    """Weights 2, 1, 1 and 1 parcel a month over 8 months: 4, 2 and 2 parcels."""
    services.set_turn_rule(months_needed=1, equal_turns=False, by=potter, at=cast.NOW)
    big = cast.supporter("Big", potter, tier=cast.tier("Bowl", 2))
    small = [cast.supporter(name, potter) for name in ("Small", "Smaller")]
    for month in range(JANUARY, JANUARY + 8):
        pay([big, *small], month)
        wares_cast.pots(wares_cast.line("Mug", f"Glaze {month}"), 1, potter)
        post_month(month, potter, 1)
    sent = Counter(Parcel.objects.values_list("supporter__name", flat=True))
    assert sent == {"Big": 4, "Small": 2, "Smaller": 2}


def test_a_pause_stops_the_clock_and_loses_nothing(potter: User) -> None:
    people = [cast.supporter(name, potter) for name in ("Ada", "Bo", "Cy", "Di")]
    ada = people[0]
    for month in range(JANUARY, JANUARY + 2):
        pay(people, month)
        wares_cast.pots(wares_cast.line("Mug", f"Glaze {month}"), 1, potter)
        post_month(month, potter, 1)
    before = {line.supporter.id: line for line in ledger(JANUARY + 2)}
    services.pause(
        supporter=ada, from_month=JANUARY + 2, to_month=None, by=potter, at=at_month(JANUARY + 2)
    )
    for month in range(JANUARY + 2, JANUARY + 5):
        pay([one for one in people if one != ada], month)
        wares_cast.pots(wares_cast.line("Mug", f"Glaze {month}"), 1, potter)
        post_month(month, potter, 1)
    paused = {line.supporter.id: line for line in ledger(JANUARY + 5)}
    assert paused[ada.id].due == before[ada.id].due
    assert (paused[ada.id].eligible, paused[ada.id].why_not) == (
        False, "paused: what is due stays",
    )  # fmt: skip
    assert not Parcel.objects.filter(supporter=ada, shipment__month__gt=JANUARY + 1).exists()


def test_a_skip_keeps_the_place(potter: User) -> None:
    people = [cast.supporter(name, potter) for name in ("Ada", "Bo", "Cy")]
    pay(people, JANUARY)
    wares_cast.pots(wares_cast.line("Mug", "One"), 1, potter)
    at = at_month(JANUARY)
    change = services.set_shipment(
        month=JANUARY, post_date=at.date(), parcel_count=1, by=potter, at=at
    )
    shipment = Shipment.objects.get(id=change.subject_id)
    services.skip(shipment=shipment, supporter=people[0], reason="moving house", by=potter, at=at)
    services.pick_parcels(shipment=shipment, by=potter, at=at)
    assert Parcel.objects.get().supporter == people[1]
    parcels = list(shipment.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=at)
    services.mark_posted(parcels=parcels, by=potter, at=at)
    pay(people, JANUARY + 1)
    wares_cast.pots(wares_cast.line("Mug", "Two"), 1, potter)
    post_month(JANUARY + 1, potter, 1)
    assert Parcel.objects.order_by("-shipment__month")[0].supporter == people[0]
    (line,) = [line for line in ledger(JANUARY + 2) if line.supporter == people[0]]
    assert line.skips == ("January 2027: moving house",)


def test_a_month_nobody_is_marked_for_counts_all_who_are_active(potter: User) -> None:
    people = [cast.supporter(name, potter) for name in ("Ada", "Bo", "Cy", "Di")]
    services.pause(
        supporter=people[3], from_month=cast.NOVEMBER, to_month=None, by=potter, at=cast.NOW
    )
    wares_cast.pots(wares_cast.line(), 1, potter)
    shipment = cast.shipment(potter, parcel_count=1)
    services.skip(shipment=shipment, supporter=people[1], reason="away", by=potter, at=cast.NOW)
    services.pick_parcels(shipment=shipment, by=potter, at=cast.NOW)
    shares = {line.supporter.name: line.share for line in ledger(cast.NOVEMBER)}
    third = Fraction(1, 3)
    assert shares == {"Ada": third, "Bo": third, "Cy": third, "Di": 0}
    pay(people[:1], cast.DECEMBER)  # now it is known who paid: Ada, and Bo who was skipped
    shares = {line.supporter.name: line.share for line in ledger(cast.NOVEMBER)}
    assert shares == {"Ada": Fraction(1, 2), "Bo": Fraction(1, 2), "Cy": 0, "Di": 0}


def test_the_ledger_says_when_the_next_turn_comes(potter: User) -> None:
    """3 people, 1 parcel a month, nothing sent: months 1, 2 and 3."""
    for name in ("Ada", "Bo", "Cy"):
        cast.supporter(name, potter)
    cast.supporter("New", potter, paid=())
    cast.shipment(potter, parcel_count=1)
    assert {line.supporter.name: line.next_words for line in ledger(cast.NOVEMBER)} == {
        "Ada": "about November 2026",
        "Bo": "about December 2026",
        "Cy": "about January 2027",
        "New": "",
    }


def test_who_joined_together_is_drawn_and_told_so(potter: User) -> None:
    for n in range(11):
        cast.supporter(f"Person {n + 1}", potter, joined_month=read_month("2026-01"))
    wares_cast.pots(wares_cast.line(), 2, potter)
    shipment = cast.shipment(potter, parcel_count=2)
    services.pick_parcels(shipment=shipment, by=potter, at=cast.NOW)
    picked = {parcel.supporter.number: parcel.why for parcel in shipment.parcels.all()}
    lots = sorted(range(1, 12), key=lambda number: draw(cast.DECEMBER, f"{number:010d}"))
    assert set(picked) == set(lots[:2])
    assert picked[lots[0]] == (
        "Waited longest (3 paid months, none sent yet); joined January 2026."
        " Drawn by lot among the 11 who are equal in this."
    )
    assert picked[lots[1]].endswith("Drawn by lot among the 10 who are equal in this.")


@pytest.mark.parametrize(
    ("ground", "other", "sentence"),
    [
        (Ground.WAIT, {}, "Waited longest (19 paid months, none sent yet); joined May 2024."),
        (
            Ground.JOINED,
            {"sent": 2, "last_month": read_month("2025-11")},
            "Waited longest and joined first (19 paid months, 2 parcels sent, last in"
            " November 2025); joined May 2024.",
        ),
        (
            Ground.SHARE,
            {"months_paid": 1},
            "Next by fair share (1 paid month, none sent yet, 0.75 of a parcel due);"
            " joined May 2024.",
        ),
        (
            Ground.SHARE,
            {"due": -0.25, "sent": 1},
            "Next by fair share (19 paid months, 1 parcel sent); joined May 2024.",
        ),
        (
            Ground.ALONE,
            {},
            "The only one with a turn this month (19 paid months, none sent yet); joined May 2024.",
        ),
    ],
)
def test_why_is_said_as_a_supporter_would_have_it(
    ground: Ground, other: dict[str, Any], sentence: str
) -> None:
    plain: dict[str, Any] = {
        "among": 3, "due": 0.75, "months_paid": 19, "sent": 0, "last_month": None,
        "joined_month": read_month("2024-05"),
    }  # fmt: skip
    assert why_now(ground=ground, **{**plain, **other}) == sentence


def test_the_longest_sentence_fits_its_column() -> None:
    for ground in Ground:
        longest = why_now(
            ground=ground, among=9999, due=0.75, months_paid=999, sent=999,
            last_month=read_month("2026-09"), joined_month=read_month("2024-09"),
        )  # fmt: skip
        assert len(longest) <= 200


def test_the_page_of_turns_reads_the_rule_once(signed_in: Client, potter: User) -> None:
    cast.supporter("Ada", potter)
    with CaptureQueriesContext(connection) as asked:
        signed_in.get(reverse("parcels:turns"))
    rules_read = [one for one in asked.captured_queries if "parcels_turnrule" in one["sql"]]
    assert len(rules_read) == 1


def test_who_has_not_paid_enough_has_no_turn_yet(potter: User) -> None:
    new = cast.supporter("New", potter, paid=("2026-11",))
    cast.supporter("Old", potter)
    wares_cast.pots(wares_cast.line(), 2, potter)
    shipment = cast.shipment(potter, parcel_count=2)
    services.pick_parcels(shipment=shipment, by=potter, at=cast.NOW)
    assert [parcel.supporter.name for parcel in shipment.parcels.all()] == ["Old"]
    (line,) = [line for line in ledger(cast.NOVEMBER) if line.supporter == new]
    assert line.why_not == "1 of 3 paid months"
    assert line.next_month is None


def test_who_can_be_given_no_pot_is_skipped_with_the_reason(potter: User) -> None:
    mug = wares_cast.line()
    cast.supporter("Ada", potter, please_no=(mug.form,))
    cast.supporter("Bo", potter)
    wares_cast.pots(mug, 2, potter)
    wares_cast.pots(mug, 1, potter, grade="second")
    shipment = cast.shipment(potter, parcel_count=1)
    change = services.pick_parcels(shipment=shipment, by=potter, at=cast.NOW)
    assert [parcel.supporter.name for parcel in shipment.parcels.all()] == ["Bo"]
    assert Skip.objects.get().reason == (
        "no pot for them this month: 3 of forms they would rather not have"
    )
    services.undo(change=change, by=potter, at=cast.NOW)
    assert not Skip.objects.exists()
    assert not Parcel.objects.exists()
    assert not Reservation.objects.exists()


def ledger(month: int) -> list[selectors.LedgerLine]:
    return selectors.ledger_lines(today_date=at_month(month, 1).date())
