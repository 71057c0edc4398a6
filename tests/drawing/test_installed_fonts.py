"""Is a letter that ours have not drawn from a font of this computer, and a bad file left out?"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from paper_reading import texts
from reportlab.pdfgen.canvas import Canvas

from studio.drawing import installed_fonts, text

DEJAVU = Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")
TIBETAN = "བདག"


def made_up(path: Path, letters: str, *, fs_type: int = 0) -> None:
    """A font in which each of these letters is a square of its own size."""
    builder = FontBuilder(1000, isTTF=True)
    names = {ord(letter): f"g{n}" for n, letter in enumerate(letters)}
    builder.setupGlyphOrder([".notdef", *names.values()])
    builder.setupCharacterMap(names)
    drawn = {}
    for n, name in enumerate([".notdef", *names.values()]):
        pen = TTGlyphPen(None)
        pen.moveTo((0, 0))
        for point in ((0, 500 + n), (500, 500 + n), (500, 0)):
            pen.lineTo(point)
        pen.closePath()
        drawn[name] = pen.glyph()
    builder.setupGlyf(drawn)
    builder.setupHorizontalMetrics(dict.fromkeys(drawn, (600, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    plain = path.stem.replace(" ", "")
    builder.setupNameTable({"familyName": plain, "styleName": "Regular", "psName": plain})
    builder.setupOS2(sTypoAscender=800, sTypoDescender=-200, fsType=fs_type)
    builder.setupPost()
    builder.save(path)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The one font folder of this computer, empty."""
    monkeypatch.setattr(installed_fonts, "FOLDERS", (tmp_path, tmp_path / "not there"))
    _look_anew()
    yield tmp_path
    monkeypatch.undo()
    _look_anew()


def _look_anew() -> None:
    installed_fonts.forget()
    text._cached_name.cache_clear()
    text._wrapped.cache_clear()


def page(words: str) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(300, 100), invariant=1)
    lines = text.wrap(words, width_pt=250, size_pt=12)
    text.draw_lines(canvas, lines, x_pt=20, y_pt=80, width_pt=250, size_pt=12)
    canvas.save()
    return out.getvalue()


def test_a_letter_is_found_in_a_font_of_this_computer(folder: Path) -> None:
    assert text.missing(TIBETAN) == tuple(TIBETAN)
    (folder / "inner").mkdir()
    made_up(folder / "inner" / "Made Up.ttf", TIBETAN)
    _look_anew()
    assert text.missing(f"Ada {TIBETAN}") == ()
    (line,) = text.wrap(f"Ada {TIBETAN}", width_pt=250, size_pt=10)
    assert [name for name, _ in line.runs] == ["studio-latin-regular", "installed-Made Up"]
    # 3 letters of 600/1000 em at 10 pt stand 18 pt wide.
    (own,) = text.wrap(TIBETAN, width_pt=250, size_pt=10)
    assert own.width_pt == pytest.approx(18)
    (read,) = texts(page(f"Ada {TIBETAN}"))
    assert read == f"Ada {TIBETAN}"
    assert page(TIBETAN) == page(TIBETAN)


def test_ours_go_first_and_the_first_file_by_name_after_them(folder: Path) -> None:
    made_up(folder / "b.ttf", TIBETAN + "Aა")
    made_up(folder / "a.ttf", TIBETAN[:1])
    (line,) = text.wrap("Aა", width_pt=250, size_pt=10)
    assert not any(name.startswith("installed-") for name, _ in line.runs)
    (line,) = text.wrap(TIBETAN, width_pt=250, size_pt=10)
    assert [name for name, _ in line.runs] == ["installed-a", "installed-b"]


def test_a_bad_file_is_left_out_with_the_reason(folder: Path) -> None:
    (folder / "a garbage.ttf").write_bytes(b"this is no font at all")
    (folder / "b empty.ttf").write_bytes(b"")
    made_up(folder / "c closed.ttf", TIBETAN, fs_type=0x0002)
    whole = folder / "d cut.ttf"
    made_up(whole, TIBETAN)
    whole.write_bytes(whole.read_bytes()[:300])
    assert text.missing(TIBETAN) == tuple(TIBETAN)
    reasons = {path.name: why for path, why in installed_fonts.left_out().items()}
    assert set(reasons) == {"a garbage.ttf", "b empty.ttf", "c closed.ttf", "d cut.ttf"}
    assert reasons["a garbage.ttf"].startswith("it cannot be read (")
    assert reasons["c closed.ttf"] == "its licence bit forbids to put it into a document"
    assert texts(page(TIBETAN)) == ["□□□"]
    made_up(folder / "e good.ttf", TIBETAN)
    _look_anew()
    assert text.missing(TIBETAN) == ()  # those before it do not stand in its way


def test_letters_from_right_to_left_and_of_nobody_are_not_asked_for(folder: Path) -> None:
    thaana, private = "\u0780", "\ue000"
    made_up(folder / "a.ttf", thaana + private)
    assert text.missing(thaana + private) == (thaana, private)


@pytest.mark.skipif(not DEJAVU.exists(), reason="no DejaVu fonts on this computer")
def test_a_font_as_it_is_installed_draws_a_script_of_its_own(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    tifinagh = "ⵜⴰⵎⴰⵣⵉⵖⵜ"
    assert text.missing(tifinagh) == tuple(dict.fromkeys(tifinagh))
    monkeypatch.setattr(installed_fonts, "FOLDERS", (DEJAVU.parent,))
    _look_anew()
    assert text.missing(tifinagh) == ()
    (read,) = texts(page(tifinagh))
    assert read == tifinagh
