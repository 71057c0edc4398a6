"""Do the slips and the packer's list say what they must, and never a price?"""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.core.management.base import CommandError
from pypdf import PdfReader

from studio.parcels import papers, services
from studio.parcels.models import Parcel, Shipment, Supporter
from studio.wares.services import count_in
from studio.web.models import Studio
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db


def pages(data: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


@pytest.fixture
def december(potter: User) -> Shipment:
    Studio.objects.create(
        id=1, name="Lantern Yard Pots", reply_address="4 Lantern Yard\nWhitby YO22 4DE"
    )
    cast.supporter(
        "Gil Over",
        potter,
        is_gift=True,
        gift_from="Aunt Wren",
        packing_note="no wool: asthma",
        street_address="1 Chapel Hill\nHeswall",
        city="Bournemouth",
        postal_code="BH1 1AA",
    )
    cast.supporter(
        "Réka Tóth",
        potter,
        country_code="HU",
        street_address="Fő utca 1.",
        city="Pécs",
        postal_code="7621",
    )
    line = wares_cast.line(price_pence=3247)
    wares_cast.pots(line, 2, potter)
    shipment = cast.shipment(potter)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    services.set_note(
        parcel=shipment.parcels.get(supporter__number=1), note="Thank you, Gil.", by=potter, at=NOW
    )
    cast.lock(shipment, potter)
    return shipment


def test_a_slip_has_the_name_the_address_in_order_and_the_pot(december: Shipment) -> None:
    gift, other = pages(papers.slips_paper(december))
    wanted = [
        "Lantern Yard Pots", "Whitby YO22 4DE", "Gil Over", "1 Chapel Hill", "Heswall",
        "BOURNEMOUTH", "BH1 1AA", "UNITED KINGDOM",
    ]  # fmt: skip
    places = [gift.index(word) for word in wanted]
    assert places == sorted(places)
    for word in (
        "2026-12-1", "December 2026",
        "A gift from Aunt Wren", "Mug", "Tidepool on Harbour", "No. 1",
        "Clay lot 7", "fired to cone 6", "out of the kiln on 2 September 2026", "Thank you, Gil.",
    ):  # fmt: skip
        assert word in gift, word
    assert "gift" not in other
    # Hungary's name line is in capitals and stands once.
    assert other.count("RÉKA TÓTH") == 1
    assert "Réka Tóth" not in other
    assert [other.index(w) for w in ("PÉCS", "FŐ UTCA 1.", "7621", "HUNGARY")] == sorted(
        other.index(w) for w in ("PÉCS", "FŐ UTCA 1.", "7621", "HUNGARY")
    )


def test_a_pot_counted_in_was_fired_before_the_records_began(potter: User) -> None:
    cast.supporter("Gil Over", potter)
    line = wares_cast.line(price_pence=3247)
    kind = {name: getattr(line, name) for name in ("form", "clay_lot", "coats", "schedule")}
    count_in(**kind, stage="graded", count=1, made_date=date(2026, 8, 3), by=potter, at=cast.NOW)
    shipment = cast.shipment(potter, parcel_count=1)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    cast.lock(shipment, potter)
    (slip,) = pages(papers.slips_paper(shipment))
    words = " ".join(slip.split())
    assert "Clay lot 7, fired to cone 6, fired before the records began" in words
    assert "out of the kiln on" not in words


def test_no_slip_has_a_price_or_a_bare_promise(december: Shipment) -> None:
    for page in pages(papers.slips_paper(december)):
        for word in ("£", "32.47", "3247", "GBP", "Saucer", "5.00", "@"):
            assert word not in page, word
        assert "No lab result on file for use with food." in " ".join(page.split())
        assert "food safe" not in page.casefold()
        assert "food-safe" not in page.casefold()
        assert "Hand washing keeps it nicest." in " ".join(page.split())


def test_the_packers_list_has_wishes_and_the_state_of_the_address(december: Shipment) -> None:
    Supporter.objects.filter(number=2).update(address_confirmed_date="2026-11-03")
    (page,) = pages(papers.packers_paper(december))
    for word in ("Parcels of December 2026", "Gil Over", "no wool", "United\nKingdom", "3 Nov 2026",
                 "2026-12-2", "No. 1 Mug"):  # fmt: skip
        assert word in page, word
    assert "Chapel" not in page  # the list stays in the studio and needs no street


def test_printing_marks_nothing(december: Shipment) -> None:
    before = list(Parcel.objects.values()), list(Shipment.objects.values())
    papers.slips_paper(december)
    papers.packers_paper(december)
    assert (list(Parcel.objects.values()), list(Shipment.objects.values())) == before


def test_what_cannot_be_printed(potter: User, december: Shipment) -> None:
    empty = cast.shipment(potter, month="2027-01")
    for paper in (papers.slips_paper, papers.packers_paper):
        with pytest.raises(Refusal, match="No parcels are picked for January 2027 yet"):
            paper(empty)
    december.parcels.get(supporter__number=1).lines.all().delete()
    with pytest.raises(Refusal, match="The parcel of Gil Over has no piece in it yet"):
        papers.slips_paper(december)


def run(*args: Any) -> str:
    out = io.StringIO()
    call_command("slips", *args, stdout=out)
    return out.getvalue()


def test_the_command_writes_the_file(december: Shipment, tmp_path: Path) -> None:
    file = tmp_path / "december.pdf"
    assert run("2026-12", "--out", str(file)) == f"Wrote 2 slips to {file}.\n"
    assert len(pages(file.read_bytes())) == 2


@pytest.mark.parametrize(
    ("month", "sentence"),
    [
        ("December", "'December' is no month. Write year and month, such as 2026-12."),
        (
            "2027-02",
            "No parcels are set for February 2027. There are parcels for 2026-12, 2027-01.",
        ),
        ("2027-01", "No parcels are picked for January 2027 yet, so there is no slip to print."),
    ],
)
def test_the_command_says_what_is_wrong(
    potter: User, december: Shipment, tmp_path: Path, month: str, sentence: str
) -> None:
    cast.shipment(potter, month="2027-01")
    with pytest.raises(CommandError) as wrong:
        run(month, "--out", str(tmp_path / "x.pdf"))
    assert str(wrong.value) == sentence
    assert not list(tmp_path.iterdir())


def test_the_command_needs_a_place_to_write(december: Shipment, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="There is no folder"):
        run("2026-12", "--out", str(tmp_path / "none" / "x.pdf"))
    with pytest.raises(CommandError, match="cannot be written"):
        run("2026-12", "--out", str(tmp_path))
    with pytest.raises(CommandError, match="--out"):
        run("2026-12")
