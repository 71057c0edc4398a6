"""Is nothing left of who somebody was, and everything of what was sent?"""

from __future__ import annotations

import contextlib
import json
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.urls import reverse

from studio.parcels import papers, roll, selectors, services
from studio.parcels.models import Parcel, Payment, Supporter
from studio.parcels.roll import read_roll
from studio.sales import services as sales_services
from studio.wares.models import Glaze, Reservation
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOVEMBER, NOW
from tests.sales import cast as wares_cast
from tests.sales.test_sale_days import make as make_sale

pytestmark = pytest.mark.django_db

STRINGS = (
    "Zoë Quillfeather", "Zoë Oldname", "zoe@quill.example", "old@quill.example", "7 Heron Lane",
    "9 Former Street", "Wickhaven", "ZE1 0AA", "feathers make me sneeze", "Uncle Barnaby",
    "for your fortieth", "moving to Lerwick", "1 Import Road",
)  # fmt: skip
ZOE: dict[str, Any] = {
    "email": "old@quill.example", "street_address": "9 Former Street", "city": "Wickhaven",
    "postal_code": "ZE1 0AA", "packing_note": "feathers make me sneeze", "is_gift": True,
    "gift_from": "Uncle Barnaby",
}  # fmt: skip


def everything() -> str:
    """Every value of every table, as one text; what JSON writes with \\u is read back."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            for row in cursor.fetchall():
                for value in row:
                    text = str(value)
                    if text[:1] in "[{":
                        with contextlib.suppress(ValueError):
                            text = json.dumps(json.loads(text), ensure_ascii=False)
                    found.append(text)
    return "\n".join(found)


def left() -> list[str]:
    """Which strings of hers stand anywhere, in any case of letters."""
    text = everything().casefold()
    return [string for string in STRINGS if string.casefold() in text]


@pytest.fixture
def zoe(potter: User) -> Supporter:
    """Somebody about whom every room knows something."""
    who: dict[str, Any] = {"by": potter, "at": NOW}
    forms = (wares_cast.line("Vase").form,)
    zoe = cast.supporter("Zoë Oldname", potter, please_no=forms, **ZOE)
    moved = {"name": "Zoë Quillfeather", "email": "zoe@quill.example"}
    change = services.change_supporter(supporter=zoe, values=moved, **who)
    services.undo(change=change, **who)
    services.change_supporter(
        supporter=zoe, values={**moved, "street_address": "7 Heron Lane"}, **who
    )
    services.pause(supporter=zoe, from_month=NOVEMBER, to_month=None, **who)
    services.go_on(supporter=zoe, **who)
    Payment.objects.filter(supporter=zoe, month=NOVEMBER).delete()
    services.set_payments(
        supporter=zoe, states={"paid": [NOVEMBER - 2, NOVEMBER - 1, NOVEMBER]}, **who
    )
    file = (
        "number,name,email,tier,country,street_address,city,postal_code\n"
        "1,Zoë Quillfeather,zoe@quill.example,Saucer,GB,1 Import Road,Wickhaven,ZE1 0AA\n"
        "50,Bo Reed,bo@example.org,Saucer,GB,4 Kiln Row,Leeds,LS1 4DY\n"
    )
    rows = read_roll(file.encode(), tiers=["Saucer"], forms=[], this_month=NOVEMBER)
    services.import_supporters(rows=rows, **who)
    wares_cast.pots(wares_cast.line(), 3, potter)
    shipment = cast.shipment(potter, parcel_count=1)
    skipped = services.skip(shipment=shipment, supporter=zoe, reason="moving to Lerwick", **who)
    services.undo(change=skipped, **who)
    services.pick_parcels(shipment=shipment, **who)
    parcel = shipment.parcels.get()
    note = "for your fortieth, Zoë Quillfeather"
    services.set_note(parcel=parcel, note=note, **who)
    services.mark_packed(parcels=[parcel], **who)
    services.mark_posted(parcels=[parcel], **who)
    later = cast.shipment(potter, month="2027-01", parcel_count=1)
    services.skip(shipment=later, supporter=zoe, reason="moving to Lerwick", **who)
    day = make_sale(potter)
    pots = list(wares_cast.pots(wares_cast.line("Bowl"), 1, potter))
    sales_services.list_for_sale(sale_day=day, prices_pence={pots[0].id: 100}, **who)
    sales_services.claim(sale_day=day, pieces=pots, for_whom="Zoë Quillfeather", **who)
    zoe.refresh_from_db()
    return zoe


def test_nothing_is_left_of_who_it_was(potter: User, zoe: Supporter) -> None:
    """First all of it stands there, so that a search that finds nothing says something."""
    assert left() == list(STRINGS)
    said = {change.id: change.said for change in Change.objects.all()}
    change = services.erase(supporter=zoe, by=potter, at=NOW)
    assert left() == []
    assert (change.said, change.undo) == ("Erased who supporter 1 was", None)
    assert Change.objects.count() == len(said) + 1
    assert Reservation.objects.get(kind="claim").note == "supporter 1"
    zoe.refresh_from_db()
    assert (zoe.name, selectors.pauses(zoe), zoe.country_code) == (
        "supporter 1", [(NOVEMBER, None)], "GB",
    )  # fmt: skip
    assert not zoe.please_no.exists()


def test_what_was_sent_and_paid_stays(potter: User, zoe: Supporter, signed_in: Client) -> None:
    before = selectors.ledger_lines(today_date=NOW.date())
    services.erase(supporter=zoe, by=potter, at=NOW)
    after = selectors.ledger_lines(today_date=NOW.date())
    sums = [(line.supporter.number, line.share, line.sent) for line in before]
    assert sorted((line.supporter.number, line.share, line.sent) for line in after) == sorted(sums)
    assert Payment.objects.filter(supporter=zoe).count() == 3
    parcel = Parcel.objects.get()
    assert (parcel.state, parcel.lines.count(), parcel.note) == ("posted", 1, "")
    # The pages of what was sent can still be shown; a slip with only a country is none.
    with pytest.raises(Refusal, match="The printed address of supporter 1 is no longer kept"):
        papers.slips_paper(parcel.shipment)
    for url in (
        reverse("parcels:supporter", args=[zoe.id]),
        reverse("parcels:shipment", args=[parcel.shipment_id]),
        reverse("parcels:turns"),
    ):
        assert signed_in.get(url).status_code == 200
    # The file that is written can be read in again: who was erased is not in it.
    rows = roll.read_roll(
        "".join(selectors.as_roll()).encode(), tiers=["Saucer"], forms=["Vase"], this_month=NOVEMBER
    )
    assert [row.values["name"] for row in rows] == ["Bo Reed"]


def test_what_was_blanked_has_no_way_back_and_the_rest_has(potter: User, zoe: Supporter) -> None:
    services.erase(supporter=zoe, by=potter, at=NOW)
    own = Change.objects.filter(subject="supporter", subject_id=zoe.id)
    assert own.count() == 8  # added, changed, undone, changed, paused, on again, months, erased
    assert not own.exclude(undo=None).exists()
    for change in own.exclude(action="undo"):
        with pytest.raises(Refusal, match="has no way back"):
            services.undo(change=change, by=potter, at=NOW)
    claim = Change.objects.get(action="claim")
    assert claim.said == "supporter 1 claims No. 4 at December restock"
    sales_services.undo(change=claim, by=potter, at=NOW)


def test_the_same_name_of_another_stays(potter: User, zoe: Supporter) -> None:
    cast.supporter("Zoë Quillfeather", potter, email="other@example.org")
    services.erase(supporter=zoe, by=potter, at=NOW)
    assert left() == ["Zoë Quillfeather"]
    assert Supporter.objects.filter(name="Zoë Quillfeather").count() == 1
    # The claim at the sale may be the other's, so it stays in their name.
    assert Reservation.objects.get(kind="claim").note == "Zoë Quillfeather"


@pytest.mark.parametrize("state", ["picked", "packed"])
def test_not_while_a_parcel_waits(potter: User, state: str) -> None:
    ada = cast.supporter("Ada", potter)
    wares_cast.pots(wares_cast.line(), 1, potter)
    shipment = cast.shipment(potter, parcel_count=1)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    if state == "packed":
        services.mark_packed(parcels=list(shipment.parcels.all()), by=potter, at=NOW)
    with pytest.raises(Refusal, match=f"A parcel of Ada for December 2026 is {state}"):
        services.erase(supporter=ada, by=potter, at=NOW)
    ada.refresh_from_db()
    assert ada.street_address == "4 Kiln Row"


def test_the_name_goes_from_what_was_sold_to_them_and_from_the_household(
    potter: User, zoe: Supporter
) -> None:
    who: dict[str, Any] = {"by": potter, "at": NOW}
    glaze = Glaze.objects.create(name="Ash", mixed_date=NOW.date(), top_cone="6")
    services.change_supporter(
        supporter=zoe, values={"household": "Quillfeather"}, no_glazes=[glaze], **who
    )
    (piece,) = wares_cast.pots(wares_cast.line("Jar"), 1, potter)
    day = make_sale(potter, name="Spring sale")
    sales_services.list_for_sale(sale_day=day, prices_pence={piece.id: 100}, **who)
    sales_services.claim(sale_day=day, pieces=[piece], for_whom="Zoë Quillfeather", **who)
    sales_services.sell(sale_day=day, pieces=[piece], to_claimants=True, **who)
    piece.refresh_from_db()
    assert piece.parting_cause == "Zoë Quillfeather"
    services.erase(supporter=zoe, **who)
    piece.refresh_from_db()
    assert piece.parting_cause == "supporter 1"
    assert "supporter 1" in piece.moves.values_list("cause", flat=True)
    assert not piece.moves.filter(cause__contains="Zoë").exists()
    zoe.refresh_from_db()
    assert (zoe.household, zoe.no_glazes.count()) == ("", 0)
