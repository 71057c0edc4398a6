"""Do the drawings of a load tell the truth: outlines, hatches, numbers, black and white?"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest
from django.template.loader import render_to_string
from paper_reading import texts

from studio.craft.kiln_load import KilnRoom, Level, Probe, Ware
from studio.drawing import paper as sheet
from studio.drawing.load_levels import Standing, kiln_corners, level_picture, ranges
from studio.drawing.load_pages import LevelOnPaper, load_blocks
from studio.drawing.load_stack import stack_picture
from studio.drawing.place_rings import Ring, ring_picture

ROOM = KilnRoom(sides=8, width_mm=400, height_mm=450, probe=Probe(x_mm=0, y_mm=150, height_mm=100))
LEVEL = Level(number=1, part="whole", shelf="whole", base_mm=29, thickness_mm=16, clear_mm=120,
              post_mm=(127,), posts=((0.0, 160.0), (-140.0, -80.0), (140.0, -80.0)))  # fmt: skip
MUG = Ware(key="mug", shape="handled", width_mm=90, height_mm=100, handle_mm=40,
           handle_width_mm=20)  # fmt: skip
TRAY = Ware(key="tray", shape="oblong", width_mm=60, length_mm=120, height_mm=40)
BOWL = Ware(key="bowl", width_mm=100, height_mm=60, stacks="nested", stack_most=3, nest_step_mm=20)
STANDING = (
    Standing(number=1, ware=MUG, x_mm=-60, y_mm=-60, turn_deg=90, hatch=1, words="Mug",
             href="/p/1"),
    Standing(number=2, ware=TRAY, x_mm=80, y_mm=0, turn_deg=90, hatch=5, words="Tray", href="/p/2"),
    Standing(number=3, ware=BOWL, x_mm=0, y_mm=80, words="Bowl"),
    Standing(number=4, ware=BOWL, x_mm=0, y_mm=80, tier=1, words="Bowl"),
    Standing(number=5, ware=BOWL, x_mm=-80, y_mm=60, words="free", is_free=True),
    Standing(number=6, ware=BOWL, x_mm=60, y_mm=-90, words="kept", is_kept=True, tile_over_mm=12),
)  # fmt: skip
PICTURE = level_picture(
    room=ROOM, level=LEVEL, standing=STANDING, title="Level 1 <seen>", desc="It & them"
)


def svg(name: str, **values: object) -> ET.Element:
    return ET.fromstring(render_to_string(f"drawing/{name}.svg", values))


@pytest.mark.parametrize("sides", [5, 6, 8, 10, 12, 16])
def test_a_kiln_is_as_wide_across_the_flats_as_it_is(sides: int) -> None:
    corners = kiln_corners(KilnRoom(sides=sides, width_mm=400, height_mm=400), 0)
    middles = [
        ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)
    ]
    assert all(math.hypot(*middle) == pytest.approx(200) for middle in middles)
    # A flat looks along x, as the packer's shelf does.
    assert any(middle == pytest.approx((200, 0), abs=1e-6) for middle in middles)


def test_the_front_is_at_the_bottom() -> None:
    marks = {mark.label: mark for mark in PICTURE.marks}
    assert marks["1"].y > marks["3-4"].y  # y -60 is nearer the front than y 80
    assert marks["1"].x < marks["2"].x


def test_a_handle_points_where_it_was_turned() -> None:
    mug = next(mark for mark in PICTURE.marks if mark.label == "1")
    handle, body = mug.shapes
    # Turned by 90 degrees from x, against the clock: to the back, which is up on the drawing.
    assert min(y for _, y in handle.corners) == pytest.approx(body.y - 45 - 40, abs=0.2)
    assert max(x for x, _ in handle.corners) == pytest.approx(body.x + 10, abs=0.2)


def test_an_oblong_lies_along_its_turn() -> None:
    (tray,) = next(mark for mark in PICTURE.marks if mark.label == "2").shapes
    xs, ys = [x for x, _ in tray.corners], [y for _, y in tray.corners]
    assert max(xs) - min(xs) == pytest.approx(60, abs=0.2)
    assert max(ys) - min(ys) == pytest.approx(120, abs=0.2)


def test_hatches_stay_inside_and_a_free_place_has_none() -> None:
    for mark in PICTURE.marks:
        body = mark.shapes[-1]
        for x1, y1, x2, y2 in mark.hatch:
            for x, y in ((x1, y1), (x2, y2)):
                if body.radius:
                    assert math.dist((x, y), (body.x, body.y)) <= body.radius + 0.2
                else:
                    assert min(c[0] for c in body.corners) - 0.2 <= x
                    assert x <= max(c[0] for c in body.corners) + 0.2
    by_label = {mark.label: mark for mark in PICTURE.marks}
    assert by_label["1"].hatch
    assert by_label["2"].hatch
    assert by_label["5"].hatch == ()
    assert by_label["5"].is_free
    assert by_label["6"].tile is not None


def test_the_svg_has_title_and_description_and_leads_to_its_places() -> None:
    drawn = svg("load_level", level=PICTURE, uid="one", linked=True)
    names = [child.tag.rsplit("}")[-1] for child in drawn]
    assert names[:2] == ["title", "desc"]
    assert (drawn[0].text, drawn[1].text) == ("Level 1 <seen>", "It & them")
    links = [one.get("href") for one in drawn.iter("{http://www.w3.org/2000/svg}a")]
    assert links == ["/p/1", "/p/2"]
    numbers = [one.text for one in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert [text for text in numbers if text != "×"] == ["1", "2", "3-4", "5", "6"]


def test_it_reads_in_black_and_white() -> None:
    words = Path(__file__).parents[2] / "templates/drawing"
    for name in ("load_level", "load_stack", "place_rings"):
        source = (words / f"{name}.svg").read_text(encoding="utf-8")
        colours = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]+)"', source))
        greys = {colour for colour in colours if len(set(colour[1:])) == 1}
        assert colours == greys


@pytest.mark.parametrize("part", ["left", "right"])
@pytest.mark.parametrize("sides", [0, 4, 8])
def test_half_a_shelf_ends_at_the_seam(part: str, sides: int) -> None:
    room = KilnRoom(sides=sides, width_mm=400, height_mm=450, depth_mm=500 if sides == 4 else 0)
    level = Level(number=2, part=part, shelf="half", base_mm=200, thickness_mm=16,  # type: ignore[arg-type]
                  clear_mm=200)  # fmt: skip
    picture = level_picture(room=room, level=level, standing=(), title="t", desc="d")
    middle = picture.width / 2
    xs = [x for x, _ in picture.shelf.corners]
    edge = max(xs) if part == "left" else min(xs)
    assert edge == pytest.approx(middle + (-3 if part == "left" else 3), abs=0.2)
    assert picture.seam is not None


def test_the_stack_stands_on_its_shelves() -> None:
    stack = stack_picture(
        room=ROOM, levels=[LEVEL], standing=[(1, one) for one in STANDING],
        labels=[(1, "Level 1")], title="t", desc="d",
    )  # fmt: skip
    floor = stack.inside.y + 450
    (shelf,) = stack.shelves
    assert shelf.y == pytest.approx(floor - 29)
    assert len(stack.posts) == 3
    assert all(post.height == 127 for post in stack.posts)
    assert len(stack.wares) == 5  # the free place is not there
    feet = sorted({round(box.y + box.height, 1) for box in stack.wares})
    assert feet == [round(shelf.y - 20, 1), shelf.y]  # one bowl nests 20 higher
    drawn = svg("load_stack", stack=stack, uid="side")
    assert [child.tag.rsplit("}")[-1] for child in drawn][:2] == ["title", "desc"]


def test_what_stands_in_another_form_is_drawn_on_its_rim() -> None:
    cup = Ware(key="cup", width_mm=50, height_mm=40, stacks="rim_to_rim", stack_most=2)
    at = {"x_mm": 0, "y_mm": 80}
    pile = [
        Standing(number=1, ware=BOWL, **at),
        Standing(number=2, ware=BOWL, tier=1, **at),
        Standing(number=3, ware=cup, tier=2, **at),
    ]

    def tops(*standing: Standing) -> list[float]:
        stack = stack_picture(
            room=ROOM, levels=[LEVEL], standing=[(1, one) for one in standing],
            labels=[], title="t", desc="d",
        )  # fmt: skip
        return [stack.shelves[0].y - box.y for box in stack.wares]

    # Bowls of 60, the second 20 higher; the cup of 40 on the rim of the second: 60 + 20 + 40.
    assert tops(*pile) == [60, 80, 120]
    # A bowl that was left out is not under it any more: 60 + 40.
    assert tops(pile[0], replace(pile[1], is_free=True), pile[2]) == [60, 100]


def test_paper_shows_every_number_and_word() -> None:
    level = LevelOnPaper(
        words="Level 1: 3 posts of 127 mm", picture=PICTURE, rows=(("1", "Mug in Tide", "1"),)
    )
    blocks = load_blocks([level], None, width_pt=500)
    data = sheet.write([sheet.Section(blocks=tuple(blocks), foot="f")], title="t", paper="A4")
    (read,) = texts(data)
    for words in ("Level 1: 3 posts of 127 mm", "Mug in Tide", "3-4", "5", "6"):
        assert words in read


def test_ranges_as_a_person_writes_them() -> None:
    assert ranges([]) == ""
    assert ranges([7]) == "7"
    assert ranges([4, 1, 2, 3, 9, 10, 7]) == "1-4, 7, 9-10"


def test_more_lines_where_more_is_lost() -> None:
    assert ring_picture([], kiln="Heron") is None
    picture = ring_picture(
        [
            Ring(level=1, ring="inner", bad_percent=0, words="0 of 9"),
            Ring(level=1, ring="outer", bad_percent=20, words="2 of 10"),
        ],
        kiln="Heron",
    )
    assert picture is not None
    left, inner, right = picture.cells
    assert (len(left.lines), len(inner.lines), len(right.lines)) == (10, 0, 10)  # 20 / 2
    assert "level 1 outer: 2 of 10" in picture.desc
