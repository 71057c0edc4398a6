"""Packing slips and the packer's list, read back from the finished PDF."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest
from paper_reading import MM, letters, picture, qr_texts, size_pt, texts
from PIL import Image

from studio.drawing.slips import TICKS, PackerRow, Slip, SlipPiece, packers_pdf, slips_pdf

MUG = SlipPiece(
    number="M-0412",
    form="Mug, 12 oz",
    line="Speckled stoneware, Tide over Chalk",
    facts="cone 6, fired 14 October 2026",
)
PLAIN = Slip(
    parcel_number="2026-11-003",
    studio_name="Lantern Yard Pots",
    studio_mark=None,
    studio_lines=("4 Lantern Yard, Whitby", "post@lantern.example"),
    ship_to=("Zoë Đặng", "Calle de la Princesa 12", "28008 Madrid", "SPAIN"),
    ship_name="Zoë Đặng",
    pieces=(MUG,),
    note="Thank you for eleven months.",
    care_note="Hand washing keeps it nicest.",
    price_line="Price as paid: £38.00",
    broken_note="Send a photograph within 7 days.",
    month_name="November 2026",
)
ROW = PackerRow(
    parcel_number="2026-11-003",
    name="Zoë Đặng",
    country="Spain",
    pieces="M-0412 mug",
    stands="sent shelf 2",
    box="250 × 200 × 200 mm",
    wishes="no wool: asthma",
    address_confirmed="3 Nov 2026",
)


def inside_margins(data: bytes, page: int = 0, margin: float = 15 * MM) -> bool:
    width, height = size_pt(data, page)
    found = letters(data, page)
    assert found
    return all(
        letter.left >= margin - 1
        and letter.right <= width - margin + 1
        and letter.bottom >= margin - 1
        and letter.top <= height - margin + 1
        for letter in found
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_slip_says_everything(paper: str) -> None:
    data = slips_pdf(slips=[PLAIN], paper=paper)  # type: ignore[arg-type]
    (read,) = texts(data)
    for words in (
        "Lantern Yard Pots",
        "4 Lantern Yard, Whitby",
        "Zoë Đặng Calle de la Princesa 12 28008 Madrid SPAIN",
        "Mug, 12 oz Speckled stoneware, Tide over Chalk cone 6, fired 14 October 2026",
        "Piece M-0412",
        "Thank you for eleven months.",
        "Hand washing keeps it nicest.",
        "Price as paid: £38.00",
        "Send a photograph within 7 days.",
        "November 2026",
        "page 1 of 1",
        *TICKS,
    ):
        assert words in read
    assert inside_margins(data)


def test_paper_sizes() -> None:
    assert size_pt(slips_pdf(slips=[PLAIN], paper="A4")) == pytest.approx(
        (210 * MM, 297 * MM), abs=0.1
    )
    assert size_pt(slips_pdf(slips=[PLAIN], paper="Letter")) == (8.5 * 72, 11 * 72)
    with pytest.raises(ValueError, match="paper must be one of A4, Letter"):
        slips_pdf(slips=[PLAIN], paper="A5")  # type: ignore[arg-type]


def test_the_code_is_the_parcel_number() -> None:
    data = slips_pdf(slips=[PLAIN, replace(PLAIN, parcel_number="P/ä-2")], paper="A4")
    assert qr_texts(data, 0) == ["2026-11-003"]
    assert qr_texts(data, 1) == ["P/ä-2"]


def test_a_gift_shows_no_price() -> None:
    with pytest.raises(ValueError, match="gift: its slip must not show a price"):
        replace(PLAIN, gift=True)
    gift = replace(PLAIN, gift=True, gift_from="Юрий", price_line=None)
    (read,) = texts(slips_pdf(slips=[gift], paper="A4"))
    assert "A gift from Юрий" in read
    assert "£" not in read
    assert "Price" not in read


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"parcel_number": " "}, "needs a parcel number"),
        ({"ship_to": ("", " ")}, "needs an address"),
        ({"pieces": ()}, "at least one piece"),
    ],
)
def test_an_empty_slip_is_refused(change: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        replace(PLAIN, **change)  # type: ignore[arg-type]


def test_no_slips_are_refused() -> None:
    with pytest.raises(ValueError, match="no parcel"):
        slips_pdf(slips=[], paper="A4")


@pytest.mark.parametrize(
    "address",
    [
        ("Đặng Łukasz Şahin", "GROẞE İpek 5"),
        ("Ελένη Παπαδοπούλου", "Οδός Ερμού 12"),
        ("Юрий Щербаков", "ул. Ленина 5"),
        ("〒150-0001", "東京都渋谷区神宮前１丁目", "山田 花子"),
        ("上海市静安区南京西路1266号", "李小龍"),
        ("서울특별시 종로구", "홍길동"),
    ],
)
def test_addresses_of_every_script_are_read_back(address: tuple[str, ...]) -> None:
    data = slips_pdf(slips=[replace(PLAIN, ship_to=address, ship_name=address[0])], paper="A4")
    read = texts(data)[0].replace(" ", "")
    for line in address:
        assert line.replace(" ", "") in read
    assert "□" not in read


def test_long_names_and_addresses_stay_inside() -> None:
    long = "Wolfeschlegelsteinhausenbergerdorffwelchevoralternwarengewissenhaft " * 3
    slip = replace(
        PLAIN,
        studio_name=long,
        studio_lines=(long,),
        ship_name=long,
        ship_to=(long, "東京都渋谷区神宮前" * 12, "شارع الملك فيصل الرياض " * 8, "X" * 150),
        pieces=(replace(MUG, form=long, line=long, facts="9" * 200, number="M" * 60),),
        gift_from=long,
        month_name=long,
        note=long,
        broken_note="mail@" + "x" * 200,
        price_line="£" + "1" * 150,
    )
    for paper in ("A4", "Letter"):
        data = slips_pdf(slips=[slip], paper=paper)  # type: ignore[arg-type]
        pages = texts(data)
        assert all(inside_margins(data, page) for page in range(len(pages)))
        read = "".join(pages).replace(" ", "")
        assert "X" * 40 in read
        assert read.count("X") == 150
        assert read.count("渋") == 12


def test_many_pieces_go_on_to_page_two_and_each_parcel_begins_a_page() -> None:
    many = replace(PLAIN, pieces=tuple(replace(MUG, number=f"M-{n}") for n in range(1, 13)))
    data = slips_pdf(slips=[many, PLAIN], paper="A4")
    pages = texts(data)
    assert len(pages) == 3
    assert "page 1 of 2" in pages[0]
    assert "page 2 of 2" in pages[1]
    assert "page 1 of 1" in pages[2]
    assert all("parcel 2026-11-003" in page for page in pages)
    both = pages[0] + pages[1]
    assert all(f"Piece M-{n}" in both for n in range(1, 13))


@pytest.mark.parametrize(
    ("paper", "count"), [("A4", 1), ("A4", 2), ("A4", 3), ("Letter", 1), ("Letter", 2)]
)
def test_a_few_pieces_stand_on_one_page(paper: str, count: int) -> None:
    pieces = tuple(replace(MUG, number=f"M-{n}") for n in range(count))
    slip = replace(PLAIN, pieces=pieces, note="", price_line=None)
    data = slips_pdf(slips=[slip], paper=paper)  # type: ignore[arg-type]
    assert len(texts(data)) == 1
    assert inside_margins(data)


def test_nobody_packs_with_a_lens() -> None:
    """The address stands at 14 points. A capital Z is about 0.7 of its size (from memory)."""
    data = slips_pdf(slips=[PLAIN], paper="A4")
    capitals = [letter for letter in letters(data) if letter.character == "Z"]
    assert capitals
    assert all(letter.top - letter.bottom > 0.65 * 14 for letter in capitals)


def test_a_name_that_looks_like_markup_is_only_a_name() -> None:
    name = '<img src="/etc/hostname" width="900"/>'
    (read,) = texts(slips_pdf(slips=[replace(PLAIN, ship_name=name, ship_to=(name,))], paper="A4"))
    assert name in read


def test_the_picture_is_printed_and_a_broken_one_is_told(tmp_path: Path) -> None:
    red, broken = tmp_path / "red.png", tmp_path / "broken.jpg"
    Image.new("RGB", (600, 400), (200, 30, 30)).save(red)
    broken.write_bytes(b"not a picture")
    data = slips_pdf(slips=[replace(PLAIN, pieces=(replace(MUG, picture=red),))], paper="A4")
    colours = picture(data, scale=1).getcolors(1_000_000) or []
    reddish = sum(count for count, (r, g, b) in colours if r > 150 and g < 80 and b < 80)
    # 40 mm wide and 2/3 of that high, at 72 dpi: 113 x 76 points.
    assert reddish == pytest.approx(113 * 76, rel=0.1)
    (read,) = texts(
        slips_pdf(slips=[replace(PLAIN, pieces=(replace(MUG, picture=broken),))], paper="A4")
    )
    assert "no picture" in read


def test_a_picture_put_in_anothers_place_is_printed(tmp_path: Path) -> None:
    mark = tmp_path / "mark.png"
    Image.new("RGB", (60, 60), (0, 0, 0)).save(mark)
    first = slips_pdf(slips=[replace(PLAIN, studio_mark=mark)], paper="A4")
    Image.new("RGB", (60, 60), (250, 20, 20)).save(mark)
    os.utime(mark, ns=(1, 1))
    assert slips_pdf(slips=[replace(PLAIN, studio_mark=mark)], paper="A4") != first


def test_an_address_longer_than_a_page_is_refused_rather_than_cut() -> None:
    with pytest.raises(ValueError, match="longer than a page"):
        slips_pdf(slips=[replace(PLAIN, ship_to=("line",) * 80)], paper="A4")


def test_the_same_slips_give_the_same_bytes() -> None:
    once = slips_pdf(slips=[PLAIN], paper="A4")
    assert once == slips_pdf(slips=[PLAIN], paper="A4")


def test_the_packers_list_wraps_and_repeats_its_heading() -> None:
    long = replace(ROW, name="Wolfeschlegelsteinhausenbergerdorff " * 3, wishes="no straw " * 30)
    rows = (*(replace(ROW, parcel_number=f"N-{n}") for n in range(40)), long)
    data = packers_pdf(title="November 2026", rows=rows, paper="A4")
    pages = texts(data)
    assert len(pages) > 1
    assert all("Address confirmed" in page for page in pages)
    assert all(inside_margins(data, page) for page in range(len(pages)))
    whole = " ".join(pages)
    assert all(f"N-{n} " in whole for n in range(40))
    assert whole.count("no straw") == 30
    width, height = size_pt(data)
    assert width > height


def test_an_address_nobody_confirmed_is_said() -> None:
    (read,) = texts(
        packers_pdf(title="May", rows=(replace(ROW, address_confirmed=""),), paper="Letter")
    )
    assert "not confirmed" in read.replace("  ", " ")
    assert "1 parcel." in read
