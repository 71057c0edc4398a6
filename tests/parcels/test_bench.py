"""Are parcels weighed, marked, tracked, and sent again when they break?"""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import date, timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from studio.craft.losses import upper_bound_of_loss
from studio.parcels import papers, selectors, services
from studio.parcels.models import BoxType, Parcel, PostSettings, Shipment, Supporter
from studio.parcels.selectors.bench import Broken
from studio.wares import services as wares
from studio.wares.models import Form, Line, Piece, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.conftest import MODEL_BACKEND
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture
def mug(db: None) -> Line:
    """A mug of 88 x 95 mm, 130 over the handle, 360 g: a common size."""
    line = wares_cast.line()
    Form.objects.filter(id=line.form_id).update(
        width_mm=88, handle_mm=42, height_mm=95, weight_g=360, price_pence=3200
    )
    return line


@pytest.fixture
def december(potter: User, mug: Line) -> Shipment:
    for name in ("Ada", "Bo", "Cy"):
        cast.supporter(name, potter)
    wares_cast.pots(mug, 3, potter)
    shipment = cast.shipment(potter, parcel_count=3)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    return shipment


def box(potter: User, name: str = "mug box", **values: int | str | None) -> BoxType:
    own = {"length_mm": 250, "width_mm": 200, "height_mm": 200, "weight_g": 420, "wall_mm": 4}
    services.set_box(box=None, values={"name": name, **own, **values}, by=potter, at=NOW)
    return BoxType.objects.get(name=name)


def of(shipment: Shipment, name: str) -> Parcel:
    return shipment.parcels.turns().get(supporter__name=name)


def row(shipment: Shipment, name: str) -> selectors.BenchRow:
    rows = selectors.bench_rows(shipment, today_date=NOW.date())
    return next(one for one in rows if one.parcel.supporter.name == name)


def posted(shipment: Shipment, potter: User) -> list[Parcel]:
    parcels = list(shipment.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    return list(shipment.parcels.all())


# Boxes and weights.


def test_a_parcel_takes_the_smallest_box_and_its_weight(potter: User, december: Shipment) -> None:
    assert row(december, "Ada").facts.why_unknown == "the table has no boxes yet"
    box(potter)
    box(potter, "large", length_mm=400, width_mm=400, height_mm=400, weight_g=900)
    facts = row(december, "Ada").facts
    # 360 g of mug and 420 g of box and fill
    assert (facts.box, facts.is_suggested, facts.reckoned_g) == ("mug box", True, 780)
    # 258 x 208 x 208 mm = 11 162 cm³; / 5000 = 2.2324 kg
    assert (facts.volume_g, facts.billable_g) == (2233, 2233)
    PostSettings.objects.create(id=1, divisor_cm3_per_kg=20_000)
    assert row(december, "Ada").facts.billable_g == 780
    PostSettings.objects.update(padding_mm=60)  # 130 + 120 = 250, 95 + 120 = 215 > 200
    assert row(december, "Ada").facts.box == "large"


def test_the_scale_goes_before_what_is_reckoned(potter: User, december: Shipment) -> None:
    box(potter)
    change = services.weigh(
        parcel=of(december, "Ada"), weighed_g=815, box="mug box", by=potter, at=NOW
    )
    assert change.said == "The parcel of Ada weighs 815 g, box mug box"
    facts = row(december, "Ada").facts
    assert (facts.weight_g, facts.reckoned_g, facts.is_suggested) == (815, 780, False)
    services.undo(change=change, by=potter, at=NOW)
    assert row(december, "Ada").facts.weight_g == 780


@pytest.mark.parametrize(
    ("grams", "sentence"),
    [
        (360, r"360 g is less than the pots in it weigh \(360 g\)"),
        (0, "A parcel weighs 1 to 70000 g, not 0"),
        (70_001, "A parcel weighs 1 to 70000 g, not 70001"),
    ],
)
def test_what_a_parcel_cannot_weigh(
    potter: User, december: Shipment, grams: int, sentence: str
) -> None:
    with pytest.raises(Refusal, match=sentence):
        services.weigh(parcel=of(december, "Ada"), weighed_g=grams, by=potter, at=NOW)


def test_what_has_left_is_not_weighed(potter: User, december: Shipment) -> None:
    posted(december, potter)
    for grams in (900, None):
        with pytest.raises(Refusal, match="is posted already, so its weight is no longer asked"):
            services.weigh(parcel=of(december, "Ada"), weighed_g=grams, by=potter, at=NOW)


def test_a_box_that_is_not_in_the_table_has_no_weight(potter: User, december: Shipment) -> None:
    box(potter)
    services.weigh(parcel=of(december, "Ada"), weighed_g=None, box="shoe box", by=potter, at=NOW)
    facts = row(december, "Ada").facts
    assert facts.weight_g is None
    assert facts.why_unknown.startswith("no box type is called “shoe box”")
    with pytest.raises(Refusal, match="Name the box in 40 characters at most"):
        services.weigh(parcel=of(december, "Ada"), weighed_g=None, box="x" * 41, by=potter, at=NOW)
    Form.objects.update(width_mm=400)
    assert row(december, "Bo").facts.why_unknown.startswith("no box of the table holds it")


def test_packing_writes_down_the_best_fit(potter: User, december: Shipment) -> None:
    box(potter)
    ada, bo = of(december, "Ada"), of(december, "Bo")
    services.weigh(parcel=bo, weighed_g=None, box="shoe box", by=potter, at=NOW)
    services.mark_packed(parcels=[ada, bo], by=potter, at=NOW)
    assert (of(december, "Ada").box, of(december, "Bo").box) == ("mug box", "shoe box")


def test_a_box_is_changed_taken_away_and_brought_back(potter: User, december: Shipment) -> None:
    made = box(potter)
    services.mark_packed(parcels=[of(december, "Ada")], by=potter, at=NOW)
    change = services.set_box(box=made, values={"name": "cup box"}, by=potter, at=NOW)
    assert of(december, "Ada").box == "cup box"
    services.undo(change=change, by=potter, at=NOW)
    assert of(december, "Ada").box == "mug box"
    gone = services.drop_box(box=made, by=potter, at=NOW)
    with pytest.raises(Refusal, match="was taken off the table already"):
        services.drop_box(box=made, by=potter, at=NOW)
    assert of(december, "Ada").box == "mug box"
    services.undo(change=gone, by=potter, at=NOW)
    assert BoxType.objects.get().length_mm == 250
    added = Change.objects.filter(action="set_box").earliest("id")
    services.undo(change=added, by=potter, at=NOW)
    assert not BoxType.objects.exists()


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"name": " "}, "A box needs a name"),
        ({"name": "MUG box"}, "There is a box called MUG box already"),
        ({"length_mm": 0}, "The inside of a box is 1 to 2000 mm each way"),
        ({"height_mm": 2001}, "The inside of a box is 1 to 2000 mm each way"),
        ({"wall_mm": 101}, "A wall is 0 to 100 mm thick, not 101"),
        ({"weight_g": 0}, "weighs 1 to 20000 g, not 0"),
    ],
)
def test_what_is_no_box(potter: User, values: dict[str, int | str], sentence: str) -> None:
    box(potter)
    with pytest.raises(Refusal, match=sentence):
        box(potter, **({"name": "other"} | values))  # type: ignore[arg-type]
    assert BoxType.objects.count() == 1


# Marking many at once.


def test_those_that_are_there_already_are_left_and_said(potter: User, december: Shipment) -> None:
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels[:1], box="small", by=potter, at=NOW)
    packed = services.mark_packed(parcels=parcels, box="large", by=potter, at=NOW)
    assert packed.said == "Packed 2 parcels of December 2026; 1 was packed already"
    assert sorted(december.parcels.values_list("box", flat=True)) == ["large", "large", "small"]
    services.undo(change=packed, by=potter, at=NOW)
    assert december.parcels.filter(state="packed").count() == 1
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels[:2], by=potter, at=NOW)
    rest = services.mark_posted(parcels=parcels, by=potter, at=NOW)
    assert rest.said == "Posted the parcel of Cy, December 2026; 2 were posted already"
    arrived = services.mark_arrived(parcels=parcels, by=potter, at=NOW)
    assert arrived.said == "Arrived: 3 parcels of December 2026"
    for mark, word in (
        (services.mark_packed, "packed"),
        (services.mark_posted, "posted"),
        (services.mark_arrived, "arrived"),
    ):
        with pytest.raises(Refusal, match=f"All 3 parcels are {word} already"):
            mark(parcels=parcels, by=potter, at=NOW)
        with pytest.raises(Refusal, match="The parcel of Ada is arrived already"):
            mark(parcels=parcels[:1], by=potter, at=NOW)
    services.undo(change=arrived, by=potter, at=NOW)
    assert set(december.parcels.values_list("state", flat=True)) == {"posted"}
    with pytest.raises(Refusal, match="was undone already"):
        services.undo(change=arrived, by=potter, at=NOW)


def test_one_that_is_not_ready_stops_them_all(potter: User, december: Shipment) -> None:
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels[:2], by=potter, at=NOW)
    with pytest.raises(Refusal, match="The parcel of Cy is not packed yet"):
        services.mark_posted(parcels=parcels, by=potter, at=NOW)
    with pytest.raises(Refusal, match="The parcel of Ada is not posted yet"):
        services.mark_arrived(parcels=parcels, by=potter, at=NOW)
    assert not december.parcels.exclude(state__in=["picked", "packed"]).exists()


def test_what_should_have_arrived_is_listed(
    signed_in: Client, potter: User, december: Shipment
) -> None:
    posted(december, potter)
    services.mark_arrived(parcels=[of(december, "Bo")], by=potter, at=NOW)
    day = NOW.date()
    assert not selectors.overdue(today_date=day + timedelta(days=20)).exists()
    late = selectors.overdue(today_date=day + timedelta(days=21))
    assert [parcel.supporter.name for parcel in late] == ["Ada", "Cy"]
    with time_machine.travel(NOW + timedelta(days=21), tick=False):
        signed_in.force_login(potter, backend=MODEL_BACKEND)
        page = signed_in.get(reverse("parcels:parcels")).text
        assert "Posted, and not arrived after 21 days" in page
        assert "2026-12-2" not in page  # the parcel of Bo
        assert "Ask after parcels" in signed_in.get("/").text


# Tracking.


def test_a_tracking_number_is_checked_and_kept_without_blanks(
    potter: User, december: Shipment
) -> None:
    ada, bo = of(december, "Ada"), of(december, "Bo")
    with pytest.raises(Refusal, match="is not packed yet"):
        services.set_tracking(parcel=ada, number="RR473124829GB", by=potter, at=NOW)
    services.mark_packed(parcels=[ada, bo], by=potter, at=NOW)
    # RR473124829GB is the usual worked example of UPU S10
    change = services.set_tracking(parcel=ada, number="rr 473 124 829 gb", by=potter, at=NOW)
    assert of(december, "Ada").tracking == "RR473124829GB"
    with pytest.raises(Refusal, match="stands at parcel 2026-12-1 already"):
        services.set_tracking(parcel=bo, number="RR473124829GB", by=potter, at=NOW)
    with pytest.raises(Refusal, match="its check digit is 8, but the eight digits before it ask"):
        services.set_tracking(parcel=bo, number="EB900717618HK", by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert of(december, "Ada").tracking == ""
    services.set_tracking(parcel=bo, number="1Z 999 AA1", by=potter, at=NOW)
    services.set_tracking(parcel=bo, number=" ", by=potter, at=NOW)
    assert of(december, "Bo").tracking == ""


# Breakage.


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
    ada = of(december, "Ada")
    with pytest.raises(Refusal, match="Only a broken one is replaced"):
        services.replace_broken(parcel=ada, piece=kept, by=potter, at=NOW)
    told = services.report_broken(parcel=ada, note="  handle   off ", by=potter, at=NOW)
    assert told.said == "The parcel of Ada arrived broken: handle off"
    before = selectors.ledger_lines(today_date=date(2026, 12, 20))
    offers = selectors.spare_offers(of(december, "Ada"))
    assert offers[0].piece == kept
    assert all(offer.cannot is None for offer in offers)
    change = services.replace_broken(parcel=of(december, "Ada"), piece=kept, by=potter, at=NOW)
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
        services.replace_broken(parcel=of(december, "Ada"), piece=kept, by=potter, at=NOW)
    with pytest.raises(Refusal, match="another parcel goes out in its place"):
        services.undo(change=told, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert Reservation.objects.get(piece=kept).kind == "spare"
    services.undo(change=told, by=potter, at=NOW)
    assert of(december, "Ada").state == "posted"


def test_a_replacement_is_locked_packed_and_posted_like_any_other(
    potter: User, december: Shipment, mug: Line
) -> None:
    (free,) = wares_cast.pots(mug, 1, potter)
    posted(december, potter)
    services.report_broken(parcel=of(december, "Ada"), by=potter, at=NOW)
    made = services.replace_broken(parcel=of(december, "Ada"), piece=free, by=potter, at=NOW)
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
    ada = of(december, "Ada")
    assert ada.lines.get().line == mug
    services.report_broken(parcel=ada, by=potter, at=NOW)
    made = services.replace_broken(parcel=of(december, "Ada"), piece=bowl, by=potter, at=NOW)
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
    ada = of(december, "Ada")
    services.report_broken(parcel=ada, by=potter, at=NOW)
    made = services.replace_broken(parcel=of(december, "Ada"), piece=free, by=potter, at=NOW)
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
    broken = of(december, name)
    Supporter.objects.get(name=name).please_no.set([vase.form])
    services.report_broken(parcel=broken, by=potter, at=NOW)
    reasons = {
        offer.line_name.split(",")[0] + (" second" if offer.piece.grade == "second" else ""): (
            offer.cannot
        )
        for offer in selectors.spare_offers(of(december, name))
    }
    good = [line for line, why in reasons.items() if why is None]
    assert len(good) == 1
    assert "Mug" in good[0]
    said = " ".join(why for why in reasons.values() if why)
    assert f"{name} was sent a pot of this line before" in said
    assert f"{name} would rather not have this form" in said
    assert f"{name} has not said yes to seconds" in said
    with pytest.raises(Refusal, match="has not said yes to seconds"):
        services.replace_broken(parcel=of(december, name), piece=second, by=potter, at=NOW)
    wares.reserve(piece=Piece.objects.get(id=second.id), kind="held", note="", by=potter, at=NOW)
    with pytest.raises(Refusal, match="is neither a spare nor free any more"):
        services.replace_broken(parcel=of(december, name), piece=second, by=potter, at=NOW)


def test_what_cannot_be_broken(potter: User, december: Shipment) -> None:
    with pytest.raises(Refusal, match="A pot broken here is parted on its page"):
        services.report_broken(parcel=of(december, "Ada"), by=potter, at=NOW)
    posted(december, potter)
    with pytest.raises(Refusal, match="Say what happened in 200 characters at most"):
        services.report_broken(parcel=of(december, "Ada"), note="x" * 201, by=potter, at=NOW)
    services.report_broken(parcel=of(december, "Ada"), by=potter, at=NOW)
    with pytest.raises(Refusal, match="The parcel of Ada is broken already"):
        services.report_broken(parcel=of(december, "Ada"), by=potter, at=NOW)


def test_breakages_are_counted_by_box_with_what_is_not_known(
    potter: User, december: Shipment
) -> None:
    box(potter)
    services.weigh(parcel=of(december, "Cy"), weighed_g=None, box="shoe box", by=potter, at=NOW)
    posted(december, potter)
    services.report_broken(parcel=of(december, "Ada"), by=potter, at=NOW)
    services.mark_arrived(parcels=[of(december, "Bo"), of(december, "Cy")], by=potter, at=NOW)
    assert [(one.box, one.broken, one.of) for one in selectors.broken_by_box()] == [
        ("mug box", 1, 2),
        ("shoe box", 0, 1),
    ]
    # Clopper and Pearson 1934, one-sided 95 %: 1 of 40 is up to 11.3 % (0 of n close to 3 / n)
    assert upper_bound_of_loss(lost=1, of=40) == pytest.approx(0.113, abs=0.001)
    said = Broken(box="mug box", broken=1, of=40).said
    assert said == "1 of 40 broken (3 %): up to about 11 % may be"


# The pages.


def at(name: str, *args: int) -> str:
    return reverse(f"parcels:{name}", args=args)


def test_a_month_from_the_lock_to_a_breakage_on_the_pages(
    signed_in: Client, form_key: Key, potter: User, december: Shipment, mug: Line
) -> None:
    with time_machine.travel(NOW, tick=False):
        box(potter)
        wares_cast.pots(mug, 1, potter)
        page = signed_in.get(at("shipment", december.id)).text
        assert "mug box, best fit" in page
        assert "780 g, reckoned" in page
        assert page.count("address not locked") == 3
        free = selectors.free_pots().get()
        signed_in.post(at("spare", december.id), {"piece": free.id, "form_key": form_key()})
        ids = list(december.parcels.values_list("id", flat=True))
        signed_in.post(at("lock", december.id), {"ticked": ids, "form_key": form_key()})
        answer = signed_in.post(at("lock", december.id), {"ticked": "x", "form_key": form_key()})
        assert answer.status_code == 409
        ada = of(december, "Ada")
        answer = signed_in.post(
            at("weigh", ada.id), {"box": "mug box", "weighed_g": "200", "form_key": form_key()}
        )
        assert (answer.status_code, "is less than the pots" in answer.text) == (422, True)
        signed_in.post(
            at("weigh", ada.id), {"box": "mug box", "weighed_g": "800", "form_key": form_key()}
        )
        labels = signed_in.get(at("labels", december.id) + "?sheet=4x6")
        assert len(PdfReader(io.BytesIO(labels.content)).pages) == 3
        for query in ("sheet=a5", "sheet=a4&start=9", "parcel=9999", "parcel=x"):
            answer = signed_in.get(at("labels", december.id) + "?" + query)
            assert answer.status_code in (404, 409), query
        assert signed_in.get(at("labels", december.id) + "?sheet=letter&start=7").status_code == 409
        mark = at("mark", december.id)
        signed_in.post(mark, {"parcel": ids, "do": "pack", "form_key": form_key()})
        wrong = {"number": "EB900717618HK", "form_key": form_key()}
        answer = signed_in.post(at("tracking", ada.id), wrong)
        assert (answer.status_code, "ask for 2" in answer.text) == (422, True)
        assert 'value="EB900717618HK"' in answer.text
        right = {"number": "RR 473 124 829 GB", "form_key": form_key()}
        signed_in.post(at("tracking", ada.id), right)
        assert "RR 473 124 829 GB" in signed_in.get(at("parcel", ada.id)).text
        signed_in.post(mark, {"parcel": ids, "do": "post", "form_key": form_key()})
        signed_in.post(mark, {"parcel": ids, "do": "arrive", "form_key": form_key()})
        assert "3 of 3" not in signed_in.get(at("parcels")).text
        answer = signed_in.post(
            at("broken", ada.id), {"note": "rim chipped", "form_key": form_key()}
        )
        page = signed_in.get(at("parcel", ada.id)).text
        assert "rim chipped" in page
        assert "spare" in page
        answer = signed_in.post(at("replace", ada.id), {"piece": free.id, "form_key": form_key()})
        again = Parcel.objects.get(replaces=ada)
        assert answer["Location"] == at("parcel", again.id)
        assert "It uses no turn" in signed_in.get(at("parcel", again.id)).text
        assert "sent again" in signed_in.get(at("shipment", december.id)).text
        assert "1 of 3 broken" in signed_in.get(at("boxes")).text
        answer = signed_in.post(at("replace", ada.id), {"form_key": form_key()})
        assert answer.status_code == 409
        answer = signed_in.post(at("spare", december.id), {"form_key": form_key()})
        assert answer.status_code == 409


def test_boxes_on_the_page(signed_in: Client, form_key: Key) -> None:
    sent = {
        "name": "mug box", "length_mm": "250", "width_mm": "20 cm", "height_mm": "7.9 in",
        "wall_mm": "4", "weight_g": "420", "takes": "",
    }  # fmt: skip
    assert signed_in.post(at("boxes"), sent | {"form_key": form_key()}).status_code == 302
    made = BoxType.objects.get()
    # 7.9 in x 25.4 = 200.66 mm
    assert (made.width_mm, made.height_mm, made.takes) == (200, 201, None)
    answer = signed_in.post(at("boxes"), sent | {"form_key": form_key()})
    assert (answer.status_code, "There is a box called mug box" in answer.text) == (422, True)
    answer = signed_in.post(at("boxes"), sent | {"length_mm": "wide", "form_key": form_key()})
    assert answer.status_code == 422
    signed_in.post(at("box", made.id), sent | {"takes": "1", "form_key": form_key()})
    assert BoxType.objects.get().takes == 1
    assert "takes 1" in signed_in.get(at("boxes")).text
    signed_in.post(at("drop-box", made.id), {"form_key": form_key()})
    assert not BoxType.objects.exists()


def test_a_name_that_cannot_be_printed_is_told(
    signed_in: Client, potter: User, december: Shipment
) -> None:
    Supporter.objects.filter(name="Ada").update(name="Ada ნინო")
    ada = december.parcels.get(supporter__number=1)
    assert "letters missing" in signed_in.get(at("shipment", december.id)).text
    assert "No font here has ნ ი ო" in signed_in.get(at("parcel", ada.id)).text
    assert "No font" not in signed_in.get(at("parcel", of(december, "Bo").id)).text
