"""The drawn pots and the maker's mark."""

from __future__ import annotations

import io
from typing import get_args

import pytest
from PIL import Image

from studio.drawing.portraits import Silhouette, portrait, studio_mark


def opened(data: bytes) -> Image.Image:
    picture = Image.open(io.BytesIO(data))
    picture.load()
    return picture


@pytest.mark.parametrize("silhouette", get_args(Silhouette))
def test_every_silhouette_is_drawn_in_the_middle(silhouette: Silhouette) -> None:
    data = portrait(
        silhouette=silhouette, body_colour="#a8826a", glaze_colours=("#2050c0",), seed=1
    )
    picture = opened(data)
    assert picture.size == (800, 800)
    assert picture.format == "JPEG"
    blue = [
        (x, y)
        for x in range(0, 800, 8)
        for y in range(0, 800, 8)
        if (p := picture.getpixel((x, y)))[2] > p[0] + 60  # type: ignore[index]
    ]
    assert len(blue) > 500
    middle = (max(x for x, _ in blue) + min(x for x, _ in blue)) / 2
    # The handle of a mug stands out to the right.
    assert abs(middle - 400) < (70 if silhouette == "mug" else 12)
    assert all(40 < x < 760 and 40 < y < 760 for x, y in blue)


def test_the_second_glaze_is_above_the_first_and_the_foot_is_bare() -> None:
    picture = opened(
        portrait(
            silhouette="tumbler",
            body_colour="#c0c0c0",
            glaze_colours=("#d02020", "#20a020"),
            seed=3,
        )
    )
    column = [picture.getpixel((400, y)) for y in range(800)]
    red = [y for y, (r, g, b) in enumerate(column) if r > g + 50]  # type: ignore[misc]
    green = [y for y, (r, g, b) in enumerate(column) if g > r + 50]  # type: ignore[misc]
    assert max(green) < min(red)
    foot = column[max(red) + 12]
    assert isinstance(foot, tuple)
    assert max(foot) - min(foot) < 30


def test_the_same_seed_draws_the_same_pot() -> None:
    def draw(seed: int) -> bytes:
        return portrait.__wrapped__(  # past what is kept
            silhouette="bowl", body_colour="#a8826a", glaze_colours=("#2050c0",), seed=seed
        )

    assert draw(1) == draw(1)
    assert draw(1) != draw(2)


@pytest.mark.parametrize("colour", ["blue", "#12345", "#gggggg", ""])
def test_a_colour_that_is_none_is_refused(colour: str) -> None:
    with pytest.raises(ValueError, match="a colour is written like"):
        portrait(silhouette="mug", body_colour=colour, glaze_colours=(), seed=1)


def test_an_unknown_silhouette_is_refused() -> None:
    with pytest.raises(ValueError, match="silhouette must be one of"):
        portrait(silhouette="teapot", body_colour="#ffffff", glaze_colours=(), seed=1)  # type: ignore[arg-type]


def test_a_mark_is_black_on_white_and_its_own() -> None:
    picture = opened(studio_mark(name="Lantern Yard Pots"))
    assert picture.size == (400, 400)
    assert picture.getpixel((2, 2)) == 255
    dark = picture.histogram()[0]
    assert 400 * 400 * 0.4 < dark < 400 * 400 * 0.75
    assert studio_mark(name="Lantern Yard Pots") != studio_mark(name="Чаша")
    assert opened(studio_mark(name="")).size == (400, 400)
