"""Does the sheet for the kiln's side say what the firing says?"""

from __future__ import annotations

from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from studio.firings import papers, rules, services
from studio.firings.models import Firing, PlannedWare, Segment
from studio.wares import services as wares
from studio.wares.models import Line
from studio.web.models import Studio
from tests.firings.conftest import NOW, World


def words(pdf: bytes) -> str:
    """The text of a PDF with single spaces."""
    pages = [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]
    return " ".join(" ".join(pages).split())


def test_a_loaded_kiln(world: World, signed_in: Client) -> None:
    firing = world.planned(world.big, world.bisque)
    board = world.thrown(12)
    world.load(firing, board)
    world.load(firing, world.thrown(4, form=world.bowl))
    answer = signed_in.get(reverse("firings:sheet", args=[firing.pk]))
    assert answer.headers["Content-Type"] == "application/pdf"
    text = words(answer.content)
    for said in (
        "Heron", "Slow bisque", "Wed 25 Nov 2026 to Thu 26 Nov 2026", "16 pieces, 22 mug places",
        "Cone 04, about 1063 °C at 60 °C an hour: check the controller says the same.",
        "Grey stoneware, lot 7", "150 °C/h",
    ):  # fmt: skip
        assert said in text
    sheet = papers.sheet_of(firing)
    assert [(row.count, row.from_board, row.places_tenths) for row in sheet.rows] == [
        (12, board.label, 120),
        (4, sheet.rows[1].from_board, 4 * 25),
    ]
    assert sheet.fill_percent == 220 * 100 // 900
    assert sheet.cautions[:-1] == rules.ON_PAPER[:-1]
    assert sheet.cautions[-1].startswith("Lit about 08:00, at its top about 19:33, Wed 25 Nov")
    assert len(sheet.cautions) <= 6


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_usual_load_is_one_page(world: World, paper: str) -> None:
    """Eight boards in coats with long names, a programme of seven rows, and six cautions."""
    Studio.objects.update_or_create(id=1, defaults={"paper": paper})
    world.tenmoku.name, world.tenmoku.is_runny = "Tideline over oatstraw", True
    world.tenmoku.save()
    world.mug.name = "Serving bowl"
    world.mug.save()
    Segment.objects.bulk_create(
        Segment(schedule=world.six, seq=seq, target_c=1222 - 20 * seq) for seq in range(4, 8)
    )
    board = world.glazed(32)
    firing = world.planned(world.big)
    for _ in range(8):
        world.load(firing, board, 4 if board.pieces.count() > 4 else None)
    pdf = PdfReader(BytesIO(papers.load_sheet(firing)))
    assert len(papers.sheet_of(firing).rows) == 8
    assert len(pdf.pages) == 1
    lines = pdf.pages[0].extract_text().splitlines()
    for caution in papers.sheet_of(firing).cautions:
        assert caution in lines  # one line each
    line = "Serving bowl, Tideline over oatstraw, lot 7, runny"
    assert sum(line in one for one in lines) == 8


def test_pots_of_a_board_stay_one_row_and_clays_are_told_apart(world: World) -> None:
    """A second clay with the same lot name makes each row say its clay in full."""
    board = world.glazed(6)
    firing = world.planned()
    world.load(firing, board)
    world.fired(firing)
    wares.grade(board=board, firsts=2, seconds=0, refires=0, by=world.by, at=NOW)
    (row,) = papers.sheet_of(firing).rows
    assert (row.what, row.count, row.places_tenths) == ("Mug, Tenmoku, lot 7", 6, 60)
    (bisque,) = papers.sheet_of(Firing.objects.get(schedule=world.bisque)).rows
    assert (bisque.what, bisque.count) == ("Mug, Grey stoneware, lot 7", 6)
    world.low.lot = "7"
    world.low.save()
    both = world.planned()
    world.load(both, world.glazed(2))
    other = world.glazed(2, clay=world.low)
    Line.objects.update(standing="proven")
    world.load(both, other)
    assert {row.what for row in papers.sheet_of(both).rows} == {
        "Mug, Tenmoku, Grey stoneware, lot 7", "Mug, Tenmoku, Red earthenware, lot 7",
    }  # fmt: skip


def test_a_planned_kiln_shows_what_it_is_for(world: World) -> None:
    firing = world.planned()
    PlannedWare.objects.create(
        firing=firing, form=world.mug, clay_lot=world.grey, coats=world.tenmoku, count=24
    )
    (row,) = papers.sheet_of(firing).rows
    assert (row.what, row.count, row.from_board) == (
        "Mug, Tenmoku, Grey stoneware, lot 7", 24, "planned",
    )  # fmt: skip


def test_runny_coats_are_marked(world: World) -> None:
    world.tenmoku.is_runny = True
    world.tenmoku.save()
    firing = world.planned()
    world.load(firing, world.glazed(3))
    (row,) = papers.sheet_of(firing).rows
    assert row.what.endswith(", runny")
    assert papers.sheet_of(firing).cautions[-1] == papers.RUNNY


@pytest.mark.parametrize(("paper", "width"), [("A4", 595), ("Letter", 612)])
def test_paper_and_units_are_the_studios(world: World, paper: str, width: int) -> None:
    values = {"temperature_unit": "F", "length_unit": "in", "paper": paper}
    Studio.objects.update_or_create(id=1, defaults=values)
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown(2))
    pdf = papers.load_sheet(firing)
    assert round(float(PdfReader(BytesIO(pdf)).pages[0].mediabox.width)) == width
    text = words(pdf)
    assert "about 1945 °F at 108 °F an hour" in text
    assert "4.0 in" in text  # 95 mm fired goes in 95 x 0.94 / 0.88 = 102 mm tall


def test_a_note_is_printed_as_it_was_typed(world: World) -> None:
    firing = world.planned()
    services.note(firing=firing, text='<img src="/etc/passwd"> & <b>', by=world.by, at=NOW)
    firing.refresh_from_db()
    assert '<img src="/etc/passwd"> & <b>' in words(papers.load_sheet(firing))


def test_a_full_kiln_is_told(world: World) -> None:
    firing = world.planned(world.small, world.bisque)
    world.load(firing, world.thrown(31))
    assert papers.sheet_of(firing).cautions[-1].startswith("Wren looks fuller than its usual room")
