"""Address labels, read back from the finished PDF: sizes in millimetres and inches, nothing cut."""

from __future__ import annotations

from dataclasses import replace

import pytest
from paper_reading import MM, letters, size_pt, texts

from studio.drawing.labels import LEAST_PT, SHEETS, Label, TooLong, labels_pdf

ADA = Label(
    parcel_number="2026-12-1",
    to=("Ada Lind", "4 Kiln Row", "LEEDS", "LS1 4DY", "UNITED KINGDOM"),
    name="Ada Lind",
    sender=("Lantern Yard Pots", "4 Lantern Yard", "Whitby YO22 4DE"),
    marks="Pottery: this way up",
)


def box_of(data: bytes, page: int = 0) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of all letters of a page [pt]."""
    found = letters(data, page)
    return (
        min(one.left for one in found),
        min(one.bottom for one in found),
        max(one.right for one in found),
        max(one.top for one in found),
    )


@pytest.mark.parametrize("sheet", list(SHEETS))
def test_a_label_says_to_whom_from_whom_and_which_parcel(sheet: str) -> None:
    (read,) = texts(labels_pdf(labels=[ADA], sheet=sheet))
    assert "Ada Lind 4 Kiln Row LEEDS LS1 4DY UNITED KINGDOM" in read
    assert "Lantern Yard Pots · 4 Lantern Yard · Whitby YO22 4DE" in read
    assert "2026-12-1" in read
    assert "Pottery: this way up" in read


def test_paper_and_label_sizes() -> None:
    # A4 by ISO 216; Letter 8.5 x 11 in; 4 x 6 in single labels
    assert size_pt(labels_pdf(labels=[ADA], sheet="a4")) == pytest.approx((210 * MM, 297 * MM))
    assert size_pt(labels_pdf(labels=[ADA], sheet="letter")) == (8.5 * 72, 11 * 72)
    assert size_pt(labels_pdf(labels=[ADA], sheet="4x6")) == (4 * 72, 6 * 72)
    a4, letter = SHEETS["a4"], SHEETS["letter"]
    assert (a4.count, letter.count, SHEETS["4x6"].count) == (8, 6, 1)
    # two labels and a gap, four rows, both in the middle of the paper
    assert 2 * a4.left + 2 * a4.width + a4.gap_x == pytest.approx(210 * MM)
    assert 2 * a4.top + 4 * a4.height == pytest.approx(297 * MM)
    assert 2 * letter.left + 2 * letter.width + letter.gap_x == pytest.approx(8.5 * 72)
    assert 2 * letter.top + 3 * letter.height == pytest.approx(11 * 72)


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_each_label_stands_in_its_own_place_of_the_sheet(sheet: str) -> None:
    found = SHEETS[sheet]
    for place in range(found.count):
        data = labels_pdf(labels=[ADA], sheet=sheet, start=place + 1)
        left, bottom, right, top = box_of(data)
        x, y = found.corner(place)
        assert x < left < right < x + found.width
        assert y - found.height < bottom < top < y


def test_the_next_sheet_begins_when_one_is_full() -> None:
    labels = [replace(ADA, parcel_number=f"2026-12-{n}") for n in range(1, 12)]
    pages = texts(labels_pdf(labels=labels, sheet="a4", start=7))
    # places 7 and 8 of the first sheet, then 8, then 1
    assert [page.count("Ada Lind") for page in pages] == [2, 8, 1]
    assert len(texts(labels_pdf(labels=labels, sheet="4x6"))) == 11


@pytest.mark.parametrize("sheet", list(SHEETS))
@pytest.mark.parametrize(
    "lines",
    [
        ("Wolfeschlegelsteinhausenbergerdorffwelchevoralternwarengewissenhaft Hubert", "X" * 90),
        ("محمد الأحمدي", "شارع الملك فيصل الرياض " * 4, "SAUDI ARABIA"),
        ("山田 花子", "東京都渋谷区神宮前１丁目" * 4, "JAPAN"),
        ("สมชาย ใจดี", "123/45 หมู่บ้านสุขใจ ถนนเพชรเกษม แขวงบางแค", "THAILAND"),
        ("श्रीमती प्रिया शर्मा", "12 महात्मा गांधी मार्ग", "INDIA"),
    ],
)
def test_long_and_foreign_addresses_stay_inside(sheet: str, lines: tuple[str, ...]) -> None:
    data = labels_pdf(labels=[replace(ADA, to=lines, name=lines[0])], sheet=sheet)
    found = SHEETS[sheet]
    left, bottom, right, top = box_of(data)
    x, y = found.corner(0)
    assert left >= x + 3 * MM
    assert right <= x + found.width - 3 * MM
    assert bottom >= y - found.height + 2 * MM
    assert top <= y - 2 * MM
    (read,) = texts(data)
    assert read.count("X") == lines[1].count("X")
    assert "□" not in read


def test_a_short_address_is_large_and_a_long_one_smaller() -> None:
    def tallest(data: bytes) -> float:
        return max(one.top - one.bottom for one in letters(data) if one.character.isupper())

    short = tallest(labels_pdf(labels=[ADA], sheet="a4"))
    long = replace(ADA, to=("Ada Lind", *(f"Line {n} of a long address" for n in range(9)), "PERU"))
    assert tallest(labels_pdf(labels=[long], sheet="a4")) < short


def test_what_cannot_be_read_is_refused_by_its_number() -> None:
    long = replace(ADA, to=("Ada Lind", *(f"Line {n}" for n in range(40))))
    with pytest.raises(TooLong, match="2026-12-1 is too long for this label") as refused:
        labels_pdf(labels=[ADA, long], sheet="a4")
    assert refused.value.parcel_number == "2026-12-1"
    assert labels_pdf(labels=[replace(long, to=long.to[:25])], sheet="4x6")
    assert LEAST_PT >= 8


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"labels": []}, "no parcel to print a label for"),
        ({"sheet": "a5"}, "a sheet is one of a4, letter, 4x6"),
        ({"start": 0}, "the first label is 1 to 8, not 0"),
        ({"start": 9}, "the first label is 1 to 8, not 9"),
    ],
)
def test_what_is_no_sheet_of_labels(more: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        labels_pdf(**({"labels": [ADA], "sheet": "a4"} | more))  # type: ignore[arg-type]


def test_a_label_needs_a_number_and_an_address() -> None:
    with pytest.raises(ValueError, match="needs a parcel number"):
        replace(ADA, parcel_number=" ")
    with pytest.raises(ValueError, match="2026-12-1: the label needs an address"):
        replace(ADA, to=(" ",))


def test_the_same_labels_give_the_same_file() -> None:
    assert labels_pdf(labels=[ADA], sheet="a4") == labels_pdf(labels=[ADA], sheet="a4")
