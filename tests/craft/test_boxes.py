"""Boxes against the packing table of the trade, and against a packer who tries everything."""

from __future__ import annotations

from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.boxes import (
    Box,
    Ware,
    best_box,
    billable_weight_g,
    block_sizes,
    fits,
    parcel_weight_g,
    volume_weight_g,
)

# Fired sizes of a 12 oz mug, a cereal bowl, a dinner plate and a vase: common sizes, from memory.
MUG = Ware(length_mm=130, width_mm=88, height_mm=95, weight_g=360)
BOWL = Ware(length_mm=150, width_mm=150, height_mm=65, weight_g=500)
PLATE = Ware(length_mm=257, width_mm=257, height_mm=28, weight_g=1100)
VASE = Ware(length_mm=110, width_mm=110, height_mm=200, weight_g=1000)


def box(key: str, length: int, width: int, height: int, weight: int = 300, **more: int) -> Box:
    return Box(key=key, length_mm=length, width_mm=width, height_mm=height, weight_g=weight, **more)


@pytest.mark.parametrize(
    ("ware", "inner"),
    [  # inner boxes that potters' packing guides name for one piece, 50 mm on each side
        (MUG, (250, 200, 200)),  # 130 + 100 = 230, 95 + 100 = 195, 88 + 100 = 188
        (BOWL, (250, 250, 170)),  # 150 + 100 = 250, 65 + 100 = 165
        (PLATE, (400, 400, 150)),  # 257 + 100 = 357, 28 + 100 = 128
        (VASE, (300, 300, 400)),  # 110 + 100 = 210, 200 + 100 = 300
    ],
)
def test_the_boxes_of_the_packing_guides_hold_their_piece(
    ware: Ware, inner: tuple[int, int, int]
) -> None:
    assert fits([ware], box("named", *inner), padding_mm=50)


def test_one_millimetre_decides() -> None:
    assert block_sizes([MUG], padding_mm=50) == ((230, 195, 188),)
    assert fits([MUG], box("just", 188, 230, 195), padding_mm=50)
    for short in ((187, 230, 195), (188, 229, 195), (188, 230, 194)):
        assert not fits([MUG], box("short", *short), padding_mm=50)


def test_two_mugs_stand_beside_each_other_with_one_padding_between() -> None:
    # 50 + 88 + 50 + 88 + 50 = 326, 130 + 100 = 230, 95 + 100 = 195
    assert (326, 230, 195) in block_sizes([MUG, MUG], padding_mm=50)
    assert fits([MUG, MUG], box("two", 330, 230, 200), padding_mm=50)
    assert not fits([MUG, MUG], box("two", 325, 230, 200), padding_mm=50)


def test_four_mugs_make_two_rows_of_two() -> None:
    # 326 x (50 + 95 + 50 + 95 + 50 = 340) x 230
    assert fits([MUG] * 4, box("four", 326, 340, 230), padding_mm=50)


def test_a_box_takes_no_more_than_the_studio_says() -> None:
    large = box("large", 900, 900, 900, takes=2)
    assert fits([MUG, MUG], large, padding_mm=50)
    assert not fits([MUG] * 3, large, padding_mm=50)
    assert not fits([MUG] * 7, box("huge", 5000, 5000, 5000), padding_mm=50)
    assert not fits([], large, padding_mm=50)


def test_the_smallest_box_is_the_best_and_of_equal_ones_the_lighter() -> None:
    boxes = [
        box("heavy cube", 250, 250, 250, 400),
        box("cube", 250, 250, 250, 350),
        box("mug box", 250, 200, 200, 250),
        box("tray", 300, 300, 100),
    ]
    for ware, key in ((MUG, "mug box"), (BOWL, "cube")):
        best = best_box([ware], boxes, padding_mm=50)
        assert best is not None
        assert best.key == key
    assert best_box([PLATE], boxes, padding_mm=50) is None


def everything_tried(wares: list[Ware], room: Box, padding: int) -> bool:
    """Two pieces in one row along any side, in every turn: written apart from the module."""
    turns = [set(permutations((w.length_mm, w.width_mm, w.height_mm))) for w in wares]
    sides = (room.length_mm, room.width_mm, room.height_mm)
    for one, other in product(*turns):
        for axis in range(3):
            need = [max(a, b) + 2 * padding for a, b in zip(one, other, strict=True)]
            need[axis] = one[axis] + other[axis] + 3 * padding
            if all(n <= s for n, s in zip(need, sides, strict=True)):
                return True
    return False


WARES = st.builds(
    Ware,
    length_mm=st.integers(60, 300),
    width_mm=st.integers(60, 300),
    height_mm=st.integers(20, 300),
    weight_g=st.just(400),
)
SIDES = st.integers(150, 700)


@given(WARES, WARES, SIDES, SIDES, SIDES, st.integers(0, 60))
@settings(max_examples=150)
def test_two_pieces_fit_exactly_when_a_packer_who_tries_everything_says_so(
    one: Ware, other: Ware, a: int, b: int, c: int, padding: int
) -> None:
    room = box("any", a, b, c)
    assert fits([one, other], room, padding_mm=padding) == everything_tried(
        [one, other], room, padding
    )


@given(st.lists(WARES, min_size=1, max_size=5))
@settings(max_examples=30)
def test_no_block_is_smaller_than_what_stands_in_it(wares: list[Ware]) -> None:
    least = sum(w.length_mm * w.width_mm * w.height_mm for w in wares)
    for a, b, c in block_sizes(wares, padding_mm=10):
        assert a >= b >= c
        assert a * b * c > least


def test_weights() -> None:
    # 360 + 360 + 480 = 1200
    assert parcel_weight_g(ware_weights_g=[360, 360], box_weight_g=480) == 1200
    mug_box = box("mug box", 250, 200, 200, wall_mm=5)
    # (260 x 210 x 210) mm = 11 466 cm³; / 5000 = 2.2932 kg
    assert volume_weight_g(mug_box, divisor_cm3_per_kg=5000) == 2294
    assert billable_weight_g(scale_g=1200, volume_g=2294) == 2294
    assert billable_weight_g(scale_g=2600, volume_g=2294) == 2600


def test_the_old_divisor_of_a_postal_page() -> None:
    # A US postal page: in³ / 194 gives pounds; a 12 in cube is 1728 / 194 = 8.907 lb = 4.040 kg.
    # The same divisor in cm³/kg: 194 in³/lb x 16.387064 cm³/in³ / 0.45359237 kg/lb = 7008.8
    cube = box("12 in cube", 305, 305, 305, wall_mm=0)
    assert volume_weight_g(cube, divisor_cm3_per_kg=7009) == pytest.approx(4040, rel=0.005)


@pytest.mark.parametrize(
    ("act", "sentence"),
    [
        (lambda: Ware(length_mm=0, width_mm=1, height_mm=1, weight_g=1), "three sizes"),
        (lambda: Ware(length_mm=1, width_mm=1, height_mm=1, weight_g=0), "weighs 1 g"),
        (lambda: box("b", 0, 1, 1), "three inside sizes"),
        (lambda: box("b", 1, 1, 1, 0), "weighs 1 g"),
        (lambda: box("b", 1, 1, 1, takes=0), "takes 1 or more"),
        (lambda: block_sizes([MUG] * 7, padding_mm=50), "1 to 6 pieces"),
        (lambda: block_sizes([MUG], padding_mm=-1), "padding is 0 mm or more"),
        (lambda: parcel_weight_g(ware_weights_g=[360, 0], box_weight_g=300), "1 g or more"),
        (lambda: volume_weight_g(box("b", 1, 1, 1), divisor_cm3_per_kg=0), "a divisor is"),
    ],
)
def test_what_is_refused(act: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        act()  # type: ignore[operator]
