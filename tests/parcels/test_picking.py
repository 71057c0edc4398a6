"""Are wishes, households and the sales heard when pots are picked, by the pick and by hand?"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User

from studio.parcels import rules, selectors, services
from studio.parcels.models import ShipmentWant, Skip
from studio.sales import services as sales_services
from studio.sales.models import SaleDay
from studio.wares.models import Glaze, Line, Piece
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import DECEMBER, NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def mug(db: None) -> Line:
    return wares_cast.line()


@pytest.fixture
def bowl(db: None) -> Line:
    return wares_cast.line("Bowl", price_pence=4500)


def who(by: User) -> dict[str, Any]:
    return {"by": by, "at": NOW}


def sale(by: User, line: Line, count: int) -> SaleDay:
    change = sales_services.make_sale_day(
        name="Winter sale",
        members_at=datetime(2026, 12, 15, 10, tzinfo=UTC),
        public_at=datetime(2026, 12, 15, 12, tzinfo=UTC),
        **who(by),
    )
    day = SaleDay.objects.get(id=change.subject_id)
    sales_services.set_want(sale_day=day, line=line, count=count, **who(by))
    return day


def test_a_glaze_not_wished_for_is_not_sent_nor_put_in(potter: User, mug: Line) -> None:
    glaze = Glaze.objects.create(name="Ash", mixed_date=NOW.date(), top_cone="6")
    mug.coats.layers.create(seq=9, glaze=glaze)
    ada = cast.supporter("Ada", potter)
    services.change_supporter(supporter=ada, values={}, no_glazes=[glaze], **who(potter))
    wares_cast.pots(mug, 1, potter)
    shipment = cast.shipment(potter)
    with pytest.raises(Refusal) as refusal:
        services.pick_parcels(shipment=shipment, **who(potter))
    assert str(refusal.value) == (
        "Nobody can be given a parcel now: no pot for them this month:"
        " 1 in glazes they would rather not have."
    )
    bo = cast.supporter("Bo", potter)
    services.pick_parcels(shipment=shipment, **who(potter))
    parcel = shipment.parcels.get(supporter=bo)
    services.change_supporter(supporter=bo, values={}, no_glazes=[glaze], **who(potter))
    (spare,) = wares_cast.pots(wares_cast.line("Vase", "Tidepool"), 1, potter)
    with pytest.raises(Refusal) as refusal:
        services.choose_piece(parcel=parcel, piece=spare, **who(potter))
    assert str(refusal.value) == (
        f"Bo would rather not have a glaze on {spare}, so it cannot go there."
    )


def test_a_household_is_sent_one_parcel_and_the_other_keeps_the_place(
    potter: User, mug: Line
) -> None:
    ada = cast.supporter("Ada", potter, household="Row 4")
    bo = cast.supporter("Bo", potter, household="row 4")
    cy = cast.supporter("Cy", potter)
    wares_cast.pots(mug, 3, potter)
    shipment = cast.shipment(potter, parcel_count=2)
    services.pick_parcels(shipment=shipment, **who(potter))
    assert {parcel.supporter for parcel in shipment.parcels.all()} == {ada, cy}
    assert Skip.objects.get().supporter == bo
    assert Skip.objects.get().reason == rules.HOUSEHOLD
    # Next month Bo, whose place was kept, is before both.
    january = cast.shipment(potter, month="2027-01", parcel_count=1)
    due = selectors.due_turns(shipment=january, count=1, skips={})
    assert [person for person, _ in due.turns] == [bo]
    # A parcel that is there already counts for the household when more are picked later.
    services.set_shipment(
        month=DECEMBER, post_date=shipment.post_date, parcel_count=3, **who(potter)
    )
    shipment.refresh_from_db()
    with pytest.raises(Refusal, match="Nobody can be given a parcel now"):
        services.pick_parcels(shipment=shipment, **who(potter))


def test_what_a_sale_asks_for_is_left_to_it(potter: User, mug: Line, bowl: Line) -> None:
    cast.supporter("Ada", potter)
    cast.supporter("Bo", potter)
    wares_cast.pots(mug, 3, potter)
    day = sale(potter, mug, 2)
    shipment = cast.shipment(potter, parcel_count=2)
    # 3 free, 2 asked for by the sale: one may be sent.
    services.pick_parcels(shipment=shipment, **who(potter))
    assert [str(row.piece) for p in shipment.parcels.all() for row in p.lines.all()] == ["No. 1"]
    assert "asked for by a sale" in Skip.objects.get().reason
    parcel = shipment.parcels.get()
    offers = selectors.offers(parcel=parcel, instead_of=parcel.lines.get())
    assert {offer.cannot for offer in offers} == {
        f"No. {number} is asked for by a sale, and no more of its line are free. Set the line"
        " aside for this month's parcels, or want fewer for the sale."
        for number in (2, 3)
    }
    with pytest.raises(Refusal, match="is asked for by a sale"):
        services.choose_piece(
            parcel=parcel,
            piece=Piece.objects.get(number=2),
            instead_of=parcel.lines.get(),
            **who(potter),
        )
    # What the month itself has set aside is its own, whatever the sale asks.
    services.set_want(shipment=shipment, line=mug, count=2, **who(potter))
    offers = selectors.offers(parcel=parcel, instead_of=parcel.lines.get())
    assert {offer.cannot for offer in offers} == {None}
    services.drop_want(want=ShipmentWant.objects.get(), **who(potter))
    # A pot that is listed for the sale is asked for no longer.
    sales_services.list_for_sale(
        sale_day=day, prices_pence={Piece.objects.get(number=2).id: 100}, **who(potter)
    )
    assert sum(selectors.asked_by_sales().values()) == 1


def test_an_undo_puts_a_pot_back_though_a_sale_asks_for_it(
    potter: User, mug: Line, bowl: Line
) -> None:
    cast.supporter("Ada", potter)
    wares_cast.pots(mug, 1, potter)
    (other,) = wares_cast.pots(bowl, 1, potter)
    shipment = cast.shipment(potter, parcel_count=1)
    services.pick_parcels(shipment=shipment, **who(potter))
    row = shipment.parcels.get().lines.get()
    swap = services.choose_piece(parcel=row.parcel, piece=other, instead_of=row, **who(potter))
    sale(potter, mug, 5)
    services.undo(change=swap, **who(potter))
    assert shipment.parcels.get().lines.get().piece.form == mug.form


def test_without_anybody_eligible_both_are_refused_in_the_same_words() -> None:
    pick = rules.can_pick(month=DECEMBER, has=0, parcel_count=1, eligible=0, pots=1)
    set_aside = rules.can_set_aside(month=DECEMBER, left=1, eligible=0, lines=1)
    assert pick == set_aside == rules.turns.NOBODY


def test_the_coming_turns_set_aside_what_they_need(potter: User, mug: Line, bowl: Line) -> None:
    shipment = cast.shipment(potter, parcel_count=2)
    with pytest.raises(Refusal, match="Nobody is eligible for a turn"):
        services.set_aside(shipment=shipment, **who(potter))
    ada = cast.supporter("Ada", potter)
    cast.supporter("Bo", potter, please_no=(bowl.form,))
    with pytest.raises(Refusal, match="No line is proven yet, so there is none to make more of"):
        services.set_aside(shipment=shipment, **who(potter))
    Line.objects.update(standing="proven")
    wares_cast.pots(mug, 1, potter)
    # Ada may have either, Bo the mug alone: the one mug there is Bo's, a bowl is made for Ada.
    rows = {row.line: (row.count, row.to_make) for row in selectors.to_set_aside(shipment)}
    assert rows == {mug: (1, 0), bowl: (1, 1)} or rows == {mug: (2, 1)}
    change = services.set_aside(shipment=shipment, **who(potter))
    assert change.said == "Set aside 2 more for December 2026, 1 of them to be made"
    assert sum(want.count for want in shipment.wants.all()) == 2
    with pytest.raises(Refusal) as refusal:
        services.set_aside(shipment=shipment, **who(potter))
    assert str(refusal.value) == ("All that the turns of December 2026 need is set aside already.")
    services.undo(change=change, **who(potter))
    assert not shipment.wants.exists()
    services.set_want(shipment=shipment, line=bowl, count=1, **who(potter))
    again = services.set_aside(shipment=shipment, **who(potter))
    services.set_want(shipment=shipment, line=mug, count=9, **who(potter))
    with pytest.raises(Refusal, match="it was changed since"):
        services.undo(change=again, **who(potter))
    wares_cast.pots(bowl, 1, potter)
    services.pick_parcels(shipment=shipment, **who(potter))
    with pytest.raises(Refusal, match="Every parcel of December 2026 is picked"):
        services.set_aside(shipment=shipment, **who(potter))
    assert ada.parcels.count() == 1
