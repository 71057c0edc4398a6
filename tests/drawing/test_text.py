"""Text of every script is broken, turned and drawn without losing a letter."""

from __future__ import annotations

import io
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paper_reading import letters, picture, texts
from PIL import ImageFont, ImageOps
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from studio.drawing import text
from studio.drawing.fonts import Weight, is_shaped

SCRIPTS = {
    "latin": "Đặng Łukasz Şahin İpek GROẞ Zoë",
    "greek": "Ελένη Παπαδοπούλου Ερμού",
    "cyrillic": "Юрий Щербаков Київ Ґ",
    "hebrew": "דוד כהן רחוב הרצל",
    "arabic": "محمد الأحمدي شارع الملك",
    "chinese": "上海市静安区南京西路",
    "japanese": "東京都渋谷区神宮前ヴィラ",
    "korean": "서울특별시 종로구 세종대로",
    "georgian": "ნინო ბერიძე თბილისი",
    "armenian": "Անահիտ Սարգսյան Երևան",
    "ethiopic": "አበበ ቢቂላ አዲስ አበባ",
    "emoji": "🏺🎁🙂",
}


def page(*lines: str, width_pt: float = 300, size_pt: float = 12) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(width_pt + 40, 800), invariant=1)
    y = 780.0
    for value in lines:
        wrapped = text.wrap(value, width_pt=width_pt, size_pt=size_pt)
        y = text.draw_lines(canvas, wrapped, x_pt=20, y_pt=y, width_pt=width_pt, size_pt=size_pt)
    canvas.save()
    return out.getvalue()


def shown(line: text.Line) -> str:
    return "".join(part for _, part in line.runs)


@pytest.mark.parametrize("script", SCRIPTS)
@pytest.mark.parametrize("weight", ["regular", "bold"])
def test_every_script_has_all_its_glyphs(script: str, weight: str) -> None:
    words = SCRIPTS[script]
    assert text.missing(words) == ()
    (line,) = text.wrap(words, width_pt=500, size_pt=12, weight=weight)  # type: ignore[arg-type]
    for name, part in line.runs:
        glyphs = pdfmetrics.getFont(name).face.charToGlyph
        # Glyph 0 is the box that a font draws for 'I have no such letter'.
        assert all(glyphs.get(ord(ch), 0) != 0 for ch in part), (name, part)


@pytest.mark.parametrize(
    "script",
    [
        "latin",
        "greek",
        "cyrillic",
        "chinese",
        "japanese",
        "korean",
        "georgian",
        "armenian",
        "ethiopic",
    ],
)
def test_text_read_back_is_the_text_written(script: str) -> None:
    (read,) = texts(page(SCRIPTS[script]))
    assert read.replace(" ", "") == SCRIPTS[script].replace(" ", "")


@pytest.mark.parametrize("script", ["hebrew", "arabic"])
def test_right_to_left_text_read_back_has_every_letter(script: str) -> None:
    (read,) = texts(page(SCRIPTS[script]))
    # Arabic is drawn in joined forms; compatibility form brings the plain letters back.
    plain = unicodedata.normalize("NFKC", read)
    assert sorted(plain.replace(" ", "")) == sorted(SCRIPTS[script].replace(" ", ""))


def test_hebrew_runs_from_the_right() -> None:
    # The first letter read, dalet, is the one furthest right; the page says so itself.
    drawn = letters(page("דוד כהן"))
    assert max(drawn, key=lambda letter: letter.right).character == "ד"
    assert min(drawn, key=lambda letter: letter.left).character == "ן"


def test_right_to_left_stands_at_the_right_edge() -> None:
    ink = ImageOps.invert(picture(page("דוד")).convert("L")).getbbox()
    assert ink is not None
    left, _, right, _ = ink
    # The column ends at 20 + 300 pt; the picture has 2 pixels a point.
    assert left > 560
    assert right == pytest.approx(640, abs=4)


def test_mixed_line_keeps_numbers_and_brackets_readable() -> None:
    # As a Hebrew reader sees "(דירה 4)": from the right an opening bracket, the word, the number,
    # a closing bracket; so from the left: "(", "4", ..., ")". Common practice, no source.
    (line,) = text.wrap("הרצל (דירה 12)", width_pt=300, size_pt=12)
    assert line.rtl
    assert shown(line) == "(12 " + "דירה"[::-1] + ") " + "הרצל"[::-1]


def test_worked_examples_of_the_bidirectional_algorithm() -> None:
    # Unicode Standard Annex 9, 'Unicode Bidirectional Algorithm', Unicode Consortium: the examples
    # "car means CAR." and "he said 'car MEANS CAR.'" where capitals stand for Hebrew (from memory).
    hebrew = str.maketrans("CARMENS", "אבגדהוז")
    (left,) = text.wrap("car means CAR.".translate(hebrew).lower(), width_pt=300, size_pt=12)
    assert shown(left) == "car means " + "RAC".translate(hebrew) + "."
    (right,) = text.wrap("MEANS CAR.".translate(hebrew), width_pt=300, size_pt=12)
    assert shown(right) == ".RAC SNAEM".translate(hebrew)


def test_lines_are_broken_before_they_are_turned() -> None:
    words = "אחת שתיים שלוש ארבע חמש שש שבע שמונה תשע עשר"
    lines = text.wrap(words, width_pt=90, size_pt=12)
    assert len(lines) > 2
    assert " ".join(line.logical for line in lines) == words
    assert shown(lines[0]).endswith("אחת"[::-1])
    assert shown(lines[-1]).startswith("עשר"[::-1])


def test_arabic_is_joined() -> None:
    (line,) = text.wrap("سلام", width_pt=300, size_pt=12)
    # seen from the left: isolated mim; lam-alef final ligature; initial sin (Unicode names).
    names = [unicodedata.name(ch) for ch in shown(line)]
    assert names == [
        "ARABIC LETTER MEEM ISOLATED FORM",
        "ARABIC LIGATURE LAM WITH ALEF FINAL FORM",
        "ARABIC LETTER SEEN INITIAL FORM",
    ]


def test_a_word_wider_than_the_column_is_broken_and_kept_whole() -> None:
    word = "Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch"
    lines = text.wrap(word, width_pt=100, size_pt=12)
    assert "".join(line.logical for line in lines) == word
    assert all(line.width_pt <= 100 for line in lines)


def test_japanese_breaks_without_spaces_and_not_before_a_full_stop() -> None:
    words = "東京都渋谷区神宮前。" * 4
    lines = text.wrap(words, width_pt=108, size_pt=12)
    assert "".join(line.logical for line in lines) == words
    assert len(lines) >= 4
    assert not any(line.logical.startswith("。") for line in lines)


def test_an_opening_bracket_never_ends_a_line() -> None:
    lines = text.wrap("東京都渋谷区神「宮前」", width_pt=97, size_pt=12)
    # 8 letters of 12 pt fit on a line, and the bracket would be the eighth.
    assert [line.logical for line in lines] == ["東京都渋谷区神", "「宮前」"]


@pytest.mark.parametrize("script", ["latin", "hebrew", "arabic"])
def test_two_weights_of_a_script_stand_on_one_page(script: str) -> None:
    words = SCRIPTS[script]
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(400, 100), invariant=1)
    for y, weight in ((90, "regular"), (50, "bold")):
        lines = text.wrap(words, width_pt=380, size_pt=14, weight=weight)  # type: ignore[arg-type]
        text.draw_lines(canvas, lines, x_pt=10, y_pt=y, width_pt=380, size_pt=14)
    canvas.save()
    page = picture(out.getvalue(), scale=4).convert("L")
    light, heavy = (
        sum(page.crop((0, top, 1600, top + 160)).histogram()[:128]) for top in (40, 200)
    )
    assert heavy > light * 1.15


def test_postal_ranges_stay_together() -> None:
    lines = text.wrap("Warehouse number 12-14", width_pt=130, size_pt=12)
    assert [line.logical for line in lines] == ["Warehouse number", "12-14"]


def test_a_long_number_parts_at_its_dash() -> None:
    lines = text.wrap("2026-11-003", width_pt=60, size_pt=12)
    assert [line.logical for line in lines] == ["2026-11-", "003"]


def test_markup_is_only_letters() -> None:
    (read,) = texts(page('Tom <img src="/etc/hostname"/> & <b>x</b>'))
    assert read == 'Tom <img src="/etc/hostname"/> & <b>x</b>'


def test_an_unknown_letter_is_shown_as_a_box_and_told() -> None:
    assert text.missing("བ ab བ") == ("བ",)
    (line,) = text.wrap("aབb", width_pt=100, size_pt=12)
    assert shown(line) == "a□b"


def test_control_characters_never_reach_the_page() -> None:
    assert text.clean("a\x00b\x1b\u202ec\td\r\ne") == "abc d\ne"


def test_newlines_begin_lines_and_nothing_gives_nothing() -> None:
    assert [line.logical for line in text.wrap("a\nb", width_pt=100, size_pt=12)] == ["a", "b"]
    assert text.wrap("", width_pt=100, size_pt=12) == []


def test_a_column_of_no_width_is_refused() -> None:
    with pytest.raises(ValueError, match="too narrow"):
        text.wrap("a", width_pt=10, size_pt=12)


def test_what_is_left_after_a_dash_fits_too() -> None:
    # Found by the test below: "/11111" parted after its stroke, and the rest with "b" was too wide.
    lines = text.wrap("/11111b", width_pt=33, size_pt=12)
    assert "".join(line.logical for line in lines) == "/11111b"
    assert all(line.width_pt <= 33 for line in lines)


LETTERS = "abc dé-Łü 12/ ,.()\n" + "דוד " + "محمد لا" + "東京、「」" + "한국 " + "กe\u0301"


@settings(max_examples=150, deadline=None)
@given(words=st.text(alphabet=LETTERS, max_size=60), width=st.integers(30, 200))
def test_wrapping_loses_nothing_and_keeps_inside(words: str, width: int) -> None:
    lines = text.wrap(words, width_pt=width, size_pt=12)
    kept = "".join(line.logical for line in lines)
    assert kept.replace(" ", "") == text.clean(words).replace(" ", "").replace("\n", "")
    assert all(line.width_pt <= width + 0.01 for line in lines)
    for line in lines:
        if not any(is_shaped(name) for name, _ in line.runs):
            again = sum(pdfmetrics.stringWidth(part, name, 12) for name, part in line.runs)
            assert again == pytest.approx(line.width_pt)


SHAPED = [
    ("thai", "สมชาย ใจดี ที่อยู่ น้ำ ผู้ใหญ่"),
    ("devanagari", "श्रीमती प्रिया शर्मा"),
    ("bengali", "শ্রী রবীন্দ্রনাথ ঠাকুর"),
    ("tamil", "தமிழ்நாடு கோயம்புத்தூர்"),
    ("telugu", "శ్రీ వెంకటేశ్వర రావు"),
    ("khmer", "ភ្នំពេញ ស្រី"),
    ("gujarati", "શ્રીમતી પ્રિયા પટેલ"),
    ("gurmukhi", "ਗੁਰਪ੍ਰੀਤ ਸਿੰਘ"),
    ("odia", "ଶ୍ରୀ ପଟ୍ଟନାୟକ"),
    ("kannada", "ಶ್ರೀ ಕೃಷ್ಣಮೂರ್ತಿ"),
    ("malayalam", "ശ്രീ കൃഷ്ണൻ നമ്പൂതിരി"),
    ("sinhala", "ශ්‍රී ලංකා"),
    ("lao", "ວຽງຈັນ ນ້ຳ"),
    ("burmese", "မြန်မာ ရန်ကုန်"),
]


@pytest.mark.parametrize(("family", "words"), SHAPED)
@pytest.mark.parametrize("weight", ["regular", "bold"])
def test_joined_letters_are_shaped_as_another_shaper_shapes_them(
    family: str, words: str, weight: Weight
) -> None:
    """Pillow lays the same font out with its own libraqm; widths of whole words must agree."""
    (line,) = text.wrap(words, width_pt=2000, size_pt=20, weight=weight)
    assert text.missing(words) == ()
    ((name, _),) = line.runs
    assert name == f"studio-{family}-{weight}"
    file = io.BytesIO(pdfmetrics.getFont(name).face._ttf_data)
    other = ImageFont.truetype(file, 1000, layout_engine=ImageFont.Layout.RAQM)
    assert line.width_pt == pytest.approx(other.getlength(words) * 20 / 1000, abs=0.1)
    alone = sum(pdfmetrics.stringWidth(letter, name, 20) for letter in words)
    assert line.width_pt <= alone


def test_a_long_word_of_joined_letters_breaks_between_them_and_loses_none() -> None:
    words = "श्रीक्षत्रियप्रार्थना" * 4
    lines = text.wrap(words, width_pt=90, size_pt=14)
    assert len(lines) > 3
    assert "".join(line.logical for line in lines) == words
    for line in lines:
        assert line.width_pt <= 90
        assert not unicodedata.category(line.logical[0]).startswith("M")
        assert unicodedata.combining(line.logical[-1]) != 9
    thai = text.wrap("เชียงใหม่" * 8, width_pt=60, size_pt=14)
    assert all(line.logical[-1] != "เ" for line in thai)


def test_signs_that_join_letters_are_kept_for_shaping_and_never_drawn() -> None:
    (line,) = text.wrap("क्\u200dष", width_pt=200, size_pt=14)
    assert line.runs[0][1] == "क्\u200dष"
    (plain,) = text.wrap("a\u200db", width_pt=200, size_pt=14)
    assert plain.runs[0][1] == "ab"
    assert text.missing("क्\u200dष a\u200db") == ()


@pytest.mark.parametrize(
    ("words", "whole"),
    [
        ("CN 22 holds up to 2000 g", "2000 g"),
        ("a net weight of 0.360 kg in all", "0.360 kg"),
        ("worth 300 SDR or more", "300 SDR"),
        ("To copy onto the CN 23 form", "CN 23"),
        ("losses of 11 % or so", "11 %"),
    ],
)
def test_a_figure_stays_with_its_unit(words: str, whole: str) -> None:
    for width in range(60, 200, 4):
        lines = [line.logical for line in text.wrap(words, width_pt=width, size_pt=10)]
        assert any(whole in line for line in lines), lines
        assert " ".join(lines) == words
