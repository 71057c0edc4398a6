"""The customs sheet, read back from the finished PDF."""

from __future__ import annotations

from dataclasses import replace

import pytest
from paper_reading import letters, picture, size_pt, texts

from studio.drawing.customs_sheets import CustomsLine, CustomsSheet, customs_pdf

MUG = CustomsLine(
    description="handmade glazed stoneware mug, for drinks",
    count="1",
    weight="0.360 kg",
    value="32.00 GBP",
    heading="6912.00",
    origin="GB",
)
SHEET = CustomsSheet(
    parcel_number="2026-12-2",
    form="CN 22",
    why="Worth 29.91 SDR and 890 g, within 300 SDR and 2000 g.",
    sender=("Lantern Yard Pots", "4 Lantern Yard", "Whitby YO22 4DE", "UNITED KINGDOM"),
    contact="01947 000000",
    to=("Réka Tóth", "PÉCS", "Fő utca 1.", "7621", "HUNGARY"),
    kinds=(("sale of goods", True), ("gift", False), ("documents", False), ("other", False)),
    lines=(MUG,),
    total_count="1 piece",
    total_net="0.360 kg",
    total_gross="0.890 kg",
    total_value="32.00 GBP",
    sources=("Limits: Universal Postal Union, looked up on 25 November 2026.",),
)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_sheet_says_all_that_the_form_asks(paper: str) -> None:
    data = customs_pdf(sheets=[SHEET], paper=paper)  # type: ignore[arg-type]
    (read,) = texts(data)
    for words in (
        "Customs data for CN 22",
        "Lantern Yard Pots 4 Lantern Yard Whitby YO22 4DE UNITED KINGDOM 01947 000000",
        "Réka Tóth PÉCS Fő utca 1. 7621 HUNGARY",
        "Worth 29.91 SDR and 890 g",
        "0.360 kg", "0.890 kg", "32.00 GBP", "6912.00", "GB",
        "sale of goods", "gift", "documents", "other",
        "Together: 1 piece",
        "Date", "Signature",
        "looked up on 25 November 2026",
        "page 1 of 1",
    ):  # fmt: skip
        assert words in read, words
    assert "1 handmade glazed stoneware" in read
    assert "for drinks" in read
    width, height = size_pt(data)
    for letter in letters(data):
        assert 40 < letter.left < letter.right < width - 40
        assert 40 < letter.bottom < letter.top < height - 40


def test_the_chosen_kind_alone_is_crossed() -> None:
    """Beside each kind stands a box; only the chosen one has ink inside."""
    data = customs_pdf(sheets=[SHEET], paper="A4")
    page = picture(data, scale=4).convert("L")
    found = letters(data)
    words = "".join(letter.character for letter in found)
    inside = {}
    for kind, _ in SHEET.kinds:
        first = found[words.index(kind.replace(" ", ""))]
        left, top = first.left - 18, first.bottom + 10
        spots = [
            page.getpixel((round((left + dx) * 4), round(page.height - (top - dy) * 4)))
            for dx, dy in ((6, 6), (4.5, 4.5), (7.5, 7.5))
        ]
        inside[kind] = sum(spot < 128 for spot in spots)  # type: ignore[operator]
    assert inside["sale of goods"] >= 2
    assert inside["gift"] == inside["documents"] == inside["other"] == 0


def test_many_lines_and_long_words_lose_nothing() -> None:
    many = replace(SHEET, lines=tuple(replace(MUG, description="mug " * 60) for _ in range(12)))
    pages = texts(customs_pdf(sheets=[many, SHEET], paper="A4"))
    assert sum(page.count("mug") for page in pages[:-1]) == 12 * 60
    assert "page 1 of 1" in pages[-1]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"parcel_number": ""}, "needs a parcel number"),
        ({"lines": ()}, "there is nothing to declare"),
        ({"kinds": (("gift", False),)}, "one kind of item is chosen"),
        ({"kinds": (("gift", True), ("other", True))}, "one kind of item is chosen"),
    ],
)
def test_what_is_no_declaration(change: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        replace(SHEET, **change)  # type: ignore[arg-type]


def test_nothing_to_declare_is_refused() -> None:
    with pytest.raises(ValueError, match="no parcel to declare"):
        customs_pdf(sheets=[], paper="A4")
