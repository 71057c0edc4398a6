"""Are parcels weighed, boxed, marked and tracked?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from studio.parcels import selectors, services
from studio.parcels.models import BoxType, PostSettings, Shipment
from studio.wares.models import Form, Line
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.conftest import MODEL_BACKEND
from tests.parcels import cast
from tests.parcels.cast import NOW, box, parcel_of, posted, row_of

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture
def mug(db: None) -> Line:
    return cast.mug()


@pytest.fixture
def december(potter: User, mug: Line) -> Shipment:
    return cast.mugs_for_three(potter, mug)


# Boxes and weights.


def test_a_parcel_takes_the_smallest_box_and_its_weight(potter: User, december: Shipment) -> None:
    assert row_of(december, "Ada").facts.why_unknown == "the table has no boxes yet"
    box(potter)
    box(potter, "large", length_mm=400, width_mm=400, height_mm=400, weight_g=900)
    facts = row_of(december, "Ada").facts
    # 360 g of mug and 420 g of box and fill
    assert (facts.box, facts.is_suggested, facts.reckoned_g) == ("mug box", True, 780)
    # 258 x 208 x 208 mm = 11 162 cm³; / 5000 = 2.2324 kg
    assert (facts.volume_g, facts.billable_g) == (2233, 2233)
    PostSettings.objects.create(id=1, divisor_cm3_per_kg=20_000)
    assert row_of(december, "Ada").facts.billable_g == 780
    PostSettings.objects.update(padding_mm=60)  # 130 + 120 = 250, 95 + 120 = 215 > 200
    assert row_of(december, "Ada").facts.box == "large"


def test_the_scale_goes_before_what_is_reckoned(potter: User, december: Shipment) -> None:
    box(potter)
    change = services.weigh(
        parcel=parcel_of(december, "Ada"), weighed_g=815, box="mug box", by=potter, at=NOW
    )
    assert change.said == "The parcel of Ada weighs 815 g, box mug box"
    facts = row_of(december, "Ada").facts
    assert (facts.weight_g, facts.reckoned_g, facts.is_suggested) == (815, 780, False)
    services.undo(change=change, by=potter, at=NOW)
    assert row_of(december, "Ada").facts.weight_g == 780


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
        services.weigh(parcel=parcel_of(december, "Ada"), weighed_g=grams, by=potter, at=NOW)


def test_what_has_left_is_not_weighed(potter: User, december: Shipment) -> None:
    posted(december, potter)
    for grams in (900, None):
        with pytest.raises(Refusal, match="is posted already, so its weight is no longer asked"):
            services.weigh(parcel=parcel_of(december, "Ada"), weighed_g=grams, by=potter, at=NOW)


def test_a_box_that_is_not_in_the_table_has_no_weight(potter: User, december: Shipment) -> None:
    box(potter)
    services.weigh(
        parcel=parcel_of(december, "Ada"), weighed_g=None, box="shoe box", by=potter, at=NOW
    )
    facts = row_of(december, "Ada").facts
    assert facts.weight_g is None
    assert facts.why_unknown.startswith("no box type is called “shoe box”")
    with pytest.raises(Refusal, match="Name the box in 40 characters at most"):
        services.weigh(
            parcel=parcel_of(december, "Ada"), weighed_g=None, box="x" * 41, by=potter, at=NOW
        )
    Form.objects.update(width_mm=400)
    assert row_of(december, "Bo").facts.why_unknown.startswith("no box of the table holds it")


def test_packing_writes_down_the_best_fit(potter: User, december: Shipment) -> None:
    box(potter)
    ada, bo = parcel_of(december, "Ada"), parcel_of(december, "Bo")
    services.weigh(parcel=bo, weighed_g=None, box="shoe box", by=potter, at=NOW)
    services.mark_packed(parcels=[ada, bo], by=potter, at=NOW)
    assert (parcel_of(december, "Ada").box, parcel_of(december, "Bo").box) == (
        "mug box",
        "shoe box",
    )


def test_a_box_is_changed_taken_away_and_brought_back(potter: User, december: Shipment) -> None:
    made = box(potter)
    services.mark_packed(parcels=[parcel_of(december, "Ada")], by=potter, at=NOW)
    change = services.set_box(box=made, values={"name": "cup box"}, by=potter, at=NOW)
    assert parcel_of(december, "Ada").box == "cup box"
    services.undo(change=change, by=potter, at=NOW)
    assert parcel_of(december, "Ada").box == "mug box"
    gone = services.drop_box(box=made, by=potter, at=NOW)
    with pytest.raises(Refusal, match="was taken off the table already"):
        services.drop_box(box=made, by=potter, at=NOW)
    assert parcel_of(december, "Ada").box == "mug box"
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
    services.mark_arrived(parcels=[parcel_of(december, "Bo")], by=potter, at=NOW)
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
    ada, bo = parcel_of(december, "Ada"), parcel_of(december, "Bo")
    with pytest.raises(Refusal, match="is not packed yet"):
        services.set_tracking(parcel=ada, number="RR473124829GB", by=potter, at=NOW)
    services.mark_packed(parcels=[ada, bo], by=potter, at=NOW)
    # RR473124829GB is the usual worked example of UPU S10
    change = services.set_tracking(parcel=ada, number="rr 473 124 829 gb", by=potter, at=NOW)
    assert parcel_of(december, "Ada").tracking == "RR473124829GB"
    with pytest.raises(Refusal, match="stands at parcel 2026-12-1 already"):
        services.set_tracking(parcel=bo, number="RR473124829GB", by=potter, at=NOW)
    with pytest.raises(Refusal, match="its check digit is 8, but the eight digits before it ask"):
        services.set_tracking(parcel=bo, number="EB900717618HK", by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert parcel_of(december, "Ada").tracking == ""
    services.set_tracking(parcel=bo, number="1Z 999 AA1", by=potter, at=NOW)
    services.set_tracking(parcel=bo, number=" ", by=potter, at=NOW)
    assert parcel_of(december, "Bo").tracking == ""
