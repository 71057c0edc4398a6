"""Is a parcel sent again when it breaks, from what was kept for that?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from django.contrib.auth.models import User

from studio.craft.losses import upper_bound_of_loss
from studio.parcels import papers, selectors, services
from studio.parcels.models import Parcel, Shipment, Supporter
from studio.parcels.selectors.bench import Broken
from studio.wares import services as wares
from studio.wares.models import Line, Piece, Reservation
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOW, box, parcel_of, posted
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture
def mug(db: None) -> Line:
    return cast.mug()


@pytest.fixture
def december(potter: User, mug: Line) -> Shipment:
    return cast.mugs_for_three(potter, mug)


def test_a_breakage_leads_to_a_spare_and_uses_no_turn(
    potter: User, december: Shipment, mug: Line
) -> None:
    (kept,) = wares_cast.pots(mug, 1, potter)
    bowl = wares_cast.line("Bowl")
    wares_cast.pots(bowl, 1, potter)
    services.keep_spare(shipment=december, piece=kept, by=potter, at=NOW)
    assert Reservation.objects.get(piece=kept).note == "spare of December 2026"
    assert [str(piece) for piece in selectors.spares()] == [str(kept)]
    posted(december, potter)
    ada = parcel_of(december, "Ada")
    with pytest.raises(Refusal, match="Only a broken one is replaced"):
        services.replace_broken(parcel=ada, piece=kept, by=potter, at=NOW)
    told = services.report_broken(parcel=ada, note="  handle   off ", by=potter, at=NOW)
    assert told.said == "The parcel of Ada arrived broken: handle off"
    before = selectors.ledger_lines(today_date=date(2026, 12, 20))
    offers = selectors.spare_offers(parcel_of(december, "Ada"))
    assert offers[0].piece == kept
    assert all(offer.cannot is None for offer in offers)
    change = services.replace_broken(
        parcel=parcel_of(december, "Ada"), piece=kept, by=potter, at=NOW
    )
    again = Parcel.objects.get(replaces=ada)
    assert str(again) == "2026-12-1-again"
    assert again.lines.get().piece == kept
    assert Reservation.objects.get(piece=kept).kind == "parcel"
    after = selectors.ledger_lines(today_date=date(2026, 12, 20))
    assert [(one.supporter, one.sent, one.share) for one in before] == [
        (one.supporter, one.sent, one.share) for one in after
    ]
    assert december.parcels.turns().count() == 3
    with pytest.raises(Refusal, match="2026-12-1-again goes to Ada already in place of this one"):
        services.replace_broken(parcel=parcel_of(december, "Ada"), piece=kept, by=potter, at=NOW)
    with pytest.raises(Refusal, match="another parcel goes out in its place"):
        services.undo(change=told, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert Reservation.objects.get(piece=kept).kind == "spare"
    services.undo(change=told, by=potter, at=NOW)
    assert parcel_of(december, "Ada").state == "posted"


def test_a_replacement_is_locked_packed_and_posted_like_any_other(
    potter: User, december: Shipment, mug: Line
) -> None:
    (free,) = wares_cast.pots(mug, 1, potter)
    posted(december, potter)
    services.report_broken(parcel=parcel_of(december, "Ada"), by=potter, at=NOW)
    made = services.replace_broken(parcel=parcel_of(december, "Ada"), piece=free, by=potter, at=NOW)
    again = Parcel.objects.get(id=made.subject_id)
    with pytest.raises(Refusal, match="The address of Ada is not locked yet"):
        papers.slips_paper(december)
    cast.lock(december, potter)
    assert papers.slips_paper(december, parcel=again)
    services.mark_packed(parcels=[again], by=potter, at=NOW)
    services.mark_posted(parcels=[again], by=potter, at=NOW)
    free.refresh_from_db()
    assert free.parting == "sent"
    with pytest.raises(Refusal, match="that parcel is posted"):
        services.undo(change=made, by=potter, at=NOW)


def test_the_line_that_broke_can_be_swapped_into_its_replacement_and_out_again(
    potter: User, december: Shipment, mug: Line
) -> None:
    (same,) = wares_cast.pots(mug, 1, potter)
    (bowl,) = wares_cast.pots(wares_cast.line("Bowl"), 1, potter)
    posted(december, potter)
    ada = parcel_of(december, "Ada")
    assert ada.lines.get().line == mug
    services.report_broken(parcel=ada, by=potter, at=NOW)
    made = services.replace_broken(parcel=parcel_of(december, "Ada"), piece=bowl, by=potter, at=NOW)
    again = Parcel.objects.get(id=made.subject_id)
    old = again.lines.get()
    groups = selectors.offer_groups(parcel=again, instead_of=old)
    assert same in [offer.piece for group in groups for offer in group.may]
    first = services.choose_piece(parcel=again, piece=same, instead_of=old, by=potter, at=NOW)
    row = again.lines.get()
    assert (row.piece, row.line, row.in_place_of_broken) == (same, mug, True)
    second = services.choose_piece(parcel=again, piece=bowl, instead_of=row, by=potter, at=NOW)
    services.undo(change=second, by=potter, at=NOW)  # puts the line that broke in again
    row = again.lines.get()
    assert (row.piece, row.in_place_of_broken) == (same, True)
    services.undo(change=first, by=potter, at=NOW)
    row = again.lines.get()
    assert (row.piece, row.in_place_of_broken) == (bowl, True)
    services.undo(change=made, by=potter, at=NOW)
    assert not Parcel.objects.filter(replaces=ada).exists()


def test_a_replacement_that_was_swapped_leaves_no_promise_behind(
    potter: User, december: Shipment, mug: Line
) -> None:
    free, other = wares_cast.pots(mug, 1, potter) + wares_cast.pots(
        wares_cast.line("Bowl"), 1, potter
    )
    posted(december, potter)
    ada = parcel_of(december, "Ada")
    services.report_broken(parcel=ada, by=potter, at=NOW)
    made = services.replace_broken(parcel=parcel_of(december, "Ada"), piece=free, by=potter, at=NOW)
    again = Parcel.objects.get(id=made.subject_id)
    services.choose_piece(
        parcel=again, piece=other, instead_of=again.lines.get(), by=potter, at=NOW
    )
    with pytest.raises(Refusal, match="another pot is in it now"):
        services.undo(change=made, by=potter, at=NOW)
    assert Reservation.objects.get(piece=other).kind == "parcel"


def test_a_spare_keeps_the_rules(potter: User, december: Shipment, mug: Line) -> None:
    bowl, vase = wares_cast.line("Bowl"), wares_cast.line("Tall vase")
    ada = Supporter.objects.get(name="Ada")
    ada.please_no.add(vase.form)
    # Ada had a bowl in January already; the mug that breaks may go again.
    wares_cast.pots(bowl, 1, potter)
    posted(december, potter)
    january = cast.shipment(potter, month="2027-01", parcel_count=1)
    services.pick_parcels(shipment=january, by=potter, at=NOW)
    wares_cast.pots(mug, 1, potter)
    (second,) = wares_cast.pots(mug, 1, potter, grade="second")
    wares_cast.pots(bowl, 1, potter)
    wares_cast.pots(vase, 1, potter)
    name = january.parcels.get().supporter.name
    broken = parcel_of(december, name)
    Supporter.objects.get(name=name).please_no.set([vase.form])
    services.report_broken(parcel=broken, by=potter, at=NOW)
    reasons = {
        offer.line_name.split(",")[0] + (" second" if offer.piece.grade == "second" else ""): (
            offer.cannot
        )
        for offer in selectors.spare_offers(parcel_of(december, name))
    }
    good = [line for line, why in reasons.items() if why is None]
    assert len(good) == 1
    assert "Mug" in good[0]
    said = " ".join(why for why in reasons.values() if why)
    assert f"{name} was sent a pot of this line before" in said
    assert f"{name} would rather not have this form" in said
    assert f"{name} has not said yes to seconds" in said
    with pytest.raises(Refusal, match="has not said yes to seconds"):
        services.replace_broken(parcel=parcel_of(december, name), piece=second, by=potter, at=NOW)
    wares.reserve(piece=Piece.objects.get(id=second.id), kind="held", note="", by=potter, at=NOW)
    with pytest.raises(Refusal, match="is neither a spare nor free any more"):
        services.replace_broken(parcel=parcel_of(december, name), piece=second, by=potter, at=NOW)


def test_what_cannot_be_broken(potter: User, december: Shipment) -> None:
    with pytest.raises(Refusal, match="A pot broken here is parted on its page"):
        services.report_broken(parcel=parcel_of(december, "Ada"), by=potter, at=NOW)
    posted(december, potter)
    with pytest.raises(Refusal, match="Say what happened in 200 characters at most"):
        services.report_broken(parcel=parcel_of(december, "Ada"), note="x" * 201, by=potter, at=NOW)
    services.report_broken(parcel=parcel_of(december, "Ada"), by=potter, at=NOW)
    with pytest.raises(Refusal, match="The parcel of Ada is broken already"):
        services.report_broken(parcel=parcel_of(december, "Ada"), by=potter, at=NOW)


def test_breakages_are_counted_by_box_with_what_is_not_known(
    potter: User, december: Shipment
) -> None:
    box(potter)
    services.weigh(
        parcel=parcel_of(december, "Cy"), weighed_g=None, box="shoe box", by=potter, at=NOW
    )
    posted(december, potter)
    services.report_broken(parcel=parcel_of(december, "Ada"), by=potter, at=NOW)
    services.mark_arrived(
        parcels=[parcel_of(december, "Bo"), parcel_of(december, "Cy")], by=potter, at=NOW
    )
    assert [(one.box, one.broken, one.of) for one in selectors.broken_by_box()] == [
        ("mug box", 1, 2),
        ("shoe box", 0, 1),
    ]
    # Clopper and Pearson 1934, one-sided 95 %: 1 of 40 is up to 11.3 % (0 of n close to 3 / n)
    assert upper_bound_of_loss(lost=1, of=40) == pytest.approx(0.113, abs=0.001)
    said = Broken(box="mug box", broken=1, of=40).said
    assert said == "1 of 40 broken (3 %): up to about 11 % may be"
