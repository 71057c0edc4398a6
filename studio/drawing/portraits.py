"""What does a pot look like before anybody photographed it?

A drawing, plainly one: paper, ink outline, soft shade, the line where one glaze breaks over
another. Used for invented pots, so that nobody takes them for photographs of real ones.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Literal

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFilter, ImageFont

Silhouette = Literal["mug", "bowl", "plate", "vase", "tumbler", "jar"]
Floats = npt.NDArray[np.float64]

SIDE_PX = 800
_WORK = 1000
_SLICES = 260
_PAPER = (244, 241, 234)
_INK = (26, 32, 48)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Shape:
    """A turned form: radius over height (both as shares of the picture), seen from above a bit."""

    height: float
    radius: Callable[[Floats], Floats]
    tilt: float
    bare_foot: float = 0.07


def _mug(t: Floats) -> Floats:
    return np.asarray(0.205 + 0.018 * t - 0.05 * np.exp(-t * 22) + 0.012 * np.sin(t * 3.1))


def _tumbler(t: Floats) -> Floats:
    return np.asarray(0.15 + 0.045 * t - 0.03 * np.exp(-t * 25))


def _bowl(t: Floats) -> Floats:
    return np.asarray(0.125 + 0.225 * np.clip((t - 0.1) / 0.9, 0, 1) ** 0.62)


def _plate(t: Floats) -> Floats:
    return np.asarray(0.22 + 0.12 * np.clip((t - 0.15) / 0.85, 0, 1) ** 0.8)


def _vase(t: Floats) -> Floats:
    belly = 0.2 * np.exp(-(((t - 0.4) / 0.33) ** 2))
    flare = 0.075 * np.clip((t - 0.82) / 0.18, 0, 1) ** 2
    return np.asarray(0.075 + belly + flare)


def _jar(t: Floats) -> Floats:
    """A body to two thirds, a lid on it, a knob on the lid."""
    body = 0.2 + 0.03 * np.sin(np.clip(t / 0.66, 0, 1) * 3.0) - 0.05 * np.exp(-t * 26)
    lid = 0.21 * np.sqrt(np.clip(1 - ((t - 0.67) / 0.21) ** 2, 0, 1))
    knob = 0.045 * np.sqrt(np.clip(1 - ((t - 0.93) / 0.075) ** 2, 0, 1))
    return np.asarray(np.where(t < 0.67, body, np.maximum(lid, knob)))


_SHAPES: dict[str, _Shape] = {
    "mug": _Shape(height=0.44, radius=_mug, tilt=0.2),
    "tumbler": _Shape(height=0.5, radius=_tumbler, tilt=0.18),
    "bowl": _Shape(height=0.28, radius=_bowl, tilt=0.27, bare_foot=0.12),
    "plate": _Shape(height=0.075, radius=_plate, tilt=0.42, bare_foot=0.2),
    "vase": _Shape(height=0.6, radius=_vase, tilt=0.16),
    "jar": _Shape(height=0.52, radius=_jar, tilt=0.2),
}


@lru_cache(maxsize=64)
def portrait(
    *,
    silhouette: Silhouette,
    body_colour: str,
    glaze_colours: tuple[str, ...],
    seed: int,
) -> bytes:
    """Draw a pot, 800 x 800 pixels, as JPEG; colours are '#rrggbb', glazes in order of dipping.

    The first glaze leaves the foot bare; each further one comes down less far. The same
    arguments give the same picture, and it is drawn once: a demo shows a line's pot many times.

    Raises: ValueError for a silhouette or colour that is not known.
    """
    if silhouette not in _SHAPES:
        raise ValueError(f"silhouette must be one of {', '.join(_SHAPES)}, not {silhouette!r}")
    shape = _SHAPES[silhouette]
    chance = np.random.default_rng(seed)
    body = _colour(body_colour)
    glazes = [_colour(value) for value in glaze_colours]
    height_of, across, inside = _surface(shape, chance)
    painted = _paint(shape, height_of, across, inside, body=body, glazes=glazes, chance=chance)
    covered = np.isfinite(height_of) | inside
    page = _page(shape, chance)
    if silhouette == "mug":
        _handle(page, shape, glazes[0] if glazes else body)
    pot = Image.fromarray(painted.astype(np.uint8))
    mask = Image.fromarray((covered * 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(0.8))
    page.paste(pot, mask=mask)
    _outline(page, mask, inside)
    out = io.BytesIO()
    rim = (_WORK - SIDE_PX) // 2  # empty paper all round, so that the pot fills the picture
    page.crop((rim, rim, rim + SIDE_PX, rim + SIDE_PX)).save(out, "JPEG", quality=88)
    return out.getvalue()


def studio_mark(*, name: str) -> bytes:
    """A maker's mark for a studio's name: a stamped disc, 400 x 400 pixels, PNG, black on white."""
    seed = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big")
    chance = np.random.default_rng(seed)
    side = 1200
    mark = Image.new("L", (side, side), 255)
    pen = ImageDraw.Draw(mark)
    angles = np.linspace(0, 2 * np.pi, 181)
    edge = np.full_like(angles, 560.0)
    for waves in range(2, 7):
        edge += chance.uniform(-7, 7) * np.sin(waves * angles + chance.uniform(0, 6))
    centre = side / 2
    pen.polygon(_ring(centre, edge, angles), fill=0)
    # A turning line, as the finger leaves in the bottom of a bowl.
    turns = np.linspace(0, 2 * np.pi * 1.6, 200)
    spiral = 505 - 42 * turns / turns[-1]
    start = chance.uniform(0, 6)
    pen.line(_ring(centre, spiral, turns + start), fill=255, width=16, joint="curve")
    letters = "".join(word[0] for word in name.split()[:2]).upper()
    file = resources.files("fontpkg_fira_sans") / "files" / "FiraSans-SemiBold.ttf"
    font = ImageFont.truetype(io.BytesIO(file.read_bytes()), 430 if len(letters) < 2 else 360)
    pen.text((centre, centre - 40), letters, fill=255, font=font, anchor="mm")
    for line, half in enumerate((230, 150)):  # two ware boards under the letters
        y = centre + 190 + line * 62
        pen.rounded_rectangle((centre - half, y, centre + half, y + 26), 12, fill=255)
    out = io.BytesIO()
    mark.resize((400, 400), Image.Resampling.LANCZOS).save(out, "PNG", optimize=True)
    return out.getvalue()


def _ring(centre: float, radii: Floats, angles: Floats) -> list[tuple[float, float]]:
    xs = centre + radii * np.cos(angles)
    ys = centre + radii * np.sin(angles)
    return [(float(x), float(y)) for x, y in zip(xs, ys, strict=True)]


def _colour(value: str) -> Floats:
    digits = value.removeprefix("#")
    try:
        if len(digits) != 6:
            raise ValueError
        return np.array([int(digits[i : i + 2], 16) for i in (0, 2, 4)], dtype=np.float64)
    except ValueError:
        raise ValueError(f"a colour is written like #8a5a3c, not {value!r}") from None


def _base_y(shape: _Shape) -> float:
    """Where the middle of the foot stands, so that the pot is in the middle of the picture."""
    rim = float(shape.radius(np.array([1.0]))[0])
    foot = float(shape.radius(np.array([0.0]))[0])
    return 0.52 + (shape.height + shape.tilt * (rim - foot)) / 2


def _surface(
    shape: _Shape, chance: np.random.Generator
) -> tuple[Floats, Floats, npt.NDArray[np.bool_]]:
    """For each pixel: the height on the pot (0 foot, 1 rim), how far across (-1..1), if inside.

    The pot is stacked from discs, foot first; a higher disc hides what is behind it.
    """
    height_of = np.full((_WORK, _WORK), np.nan)
    across = np.zeros((_WORK, _WORK))
    heights = np.linspace(0, 1, _SLICES)
    wobble = 1 + 0.004 * np.sin(heights * chance.uniform(8, 16) + chance.uniform(0, 6))
    radii = shape.radius(heights) * wobble * _WORK
    centre = _WORK / 2
    base = _base_y(shape) * _WORK
    xs = np.arange(_WORK) + 0.5
    inside = np.zeros((_WORK, _WORK), dtype=bool)
    for t, radius in zip(heights, radii, strict=True):
        if radius < 1:
            continue
        y_mid = base - t * shape.height * _WORK
        low, high = _span(y_mid, radius * shape.tilt)
        left, right = _span(centre, radius)
        u = (xs[left:right] - centre) / radius
        v = (xs[low:high] - y_mid) / (radius * shape.tilt)
        disc = u[None, :] ** 2 + v[:, None] ** 2 <= 1
        height_of[low:high, left:right][disc] = t
        across[low:high, left:right][disc] = np.broadcast_to(u, disc.shape)[disc]
        if t == 1.0:
            inside[low:high, left:right] = u[None, :] ** 2 + v[:, None] ** 2 <= 0.95**2
    return height_of, across, inside


def _span(middle: float, half: float) -> tuple[int, int]:
    return max(0, int(middle - half) - 1), min(_WORK, int(middle + half) + 2)


def _paint(
    shape: _Shape,
    height_of: Floats,
    across: Floats,
    inside: npt.NDArray[np.bool_],
    *,
    body: Floats,
    glazes: list[Floats],
    chance: np.random.Generator,
) -> Floats:
    t = np.nan_to_num(height_of)
    colour = np.broadcast_to(body, (*t.shape, 3)).copy()
    around = np.arcsin(np.clip(across, -1, 1))
    for order, glaze in enumerate(glazes):
        # How far down this glaze comes: the first to the foot, the next ones over the rim.
        line = shape.bare_foot if order == 0 else 1 - 0.42 / order + chance.uniform(-0.04, 0.04)
        run = 0.012 if order == 0 else 0.045
        edge = line + run * sum(
            chance.uniform(0.3, 1) * np.sin(around * k + chance.uniform(0, 6)) for k in (3, 5, 8)
        )
        over = np.clip((t - edge) / 0.012, 0, 1)[..., None]
        colour = colour * (1 - over) + glaze * over
        if order:  # where one glaze breaks over another a pale line gathers
            pale = np.exp(-(((t - edge - 0.012) / 0.012) ** 2))[..., None] * 0.5
            colour = colour * (1 - pale) + (0.35 * glaze + 0.65 * np.array([236, 226, 205])) * pale
    if glazes:  # glaze thins at the rim and shows the clay
        thin = np.exp(-(((t - 0.985) / 0.014) ** 2))[..., None] * 0.55
        colour = colour * (1 - thin) + body * thin
    light = 0.58 + 0.46 * np.cos(around + 0.55)
    rings = 1 + 0.025 * np.sin(t * 70 + 1.2 * np.sin(around))
    shade = light * rings
    if inside.any():
        deep = glazes[-1] if glazes else body
        colour[inside] = deep
        rows = np.nonzero(inside.any(axis=1))[0]
        down = (np.arange(_WORK) - rows[0]) / max(1, rows[-1] - rows[0])
        inner = 0.5 + 0.45 * np.clip(down, 0, 1)[:, None] + 0.12 * across
        shade = np.where(inside, inner, shade)
    grain = chance.normal(0, 0.018, t.shape)
    specks = chance.random(t.shape) > 0.9975
    lit = colour * np.clip(shade + grain, 0.25, 1.12)[..., None]
    lit[specks] *= 0.6
    gloss = np.exp(-(((across + 0.5) / 0.07) ** 2)) * (0.2 if glazes else 0.05)
    gloss = np.where(inside, 0, gloss)[..., None]
    return np.asarray(np.clip(lit + (255 - lit) * gloss, 0, 255))


def _page(shape: _Shape, chance: np.random.Generator) -> Image.Image:
    """Paper with the shadow of the pot, hatched by pen."""
    page = Image.new("RGB", (_WORK, _WORK), _PAPER)
    foot = float(shape.radius(np.array([0.0]))[0]) * _WORK
    y = _base_y(shape) * _WORK
    wide, tall = foot * 1.5, max(foot * shape.tilt * 1.3, 26)
    shadow = Image.new("L", (_WORK, _WORK), 0)
    pen = ImageDraw.Draw(shadow)
    middle = _WORK / 2 + foot * 0.35
    pen.ellipse((middle - wide, y - tall * 0.7, middle + wide, y + tall * 1.1), fill=255)
    hatch = Image.new("L", (_WORK, _WORK), 0)
    strokes = ImageDraw.Draw(hatch)
    for x in range(-_WORK, 2 * _WORK, 11):
        bend = chance.uniform(-3, 3)
        strokes.line((x, _WORK, x + _WORK * 0.7 + bend, 0), fill=150, width=3)
    soft = shadow.filter(ImageFilter.GaussianBlur(9))
    tone = Image.new("RGB", page.size, (205, 200, 190))
    page.paste(tone, mask=soft)
    ink = Image.new("RGB", page.size, _INK)
    lines = Image.composite(hatch, Image.new("L", page.size, 0), soft.point(lambda v: v // 2))
    page.paste(ink, mask=lines)
    return page


def _handle(page: Image.Image, shape: _Shape, colour: Floats) -> None:
    """A strap handle behind the wall of a mug."""
    side = float(shape.radius(np.array([0.5]))[0]) * _WORK
    base = _base_y(shape) * _WORK
    x = _WORK / 2 + side * 0.92
    top, low = base - 0.84 * shape.height * _WORK, base - 0.2 * shape.height * _WORK
    outer = (x - 80, top, x + 135, low)
    inner = (x - 45, top + 42, x + 93, low - 42)
    mask = Image.new("L", page.size, 0)
    pen = ImageDraw.Draw(mask)
    pen.ellipse(outer, fill=255)
    pen.ellipse(inner, fill=0)
    shade = tuple(int(value * 0.72) for value in colour)
    page.paste(Image.new("RGB", page.size, shade), mask=mask)
    edge = ImageDraw.Draw(page)
    edge.ellipse(outer, outline=_INK, width=5)
    edge.ellipse(inner, outline=_INK, width=5)


def _outline(page: Image.Image, mask: Image.Image, inside: npt.NDArray[np.bool_]) -> None:
    """Ink round the pot, and a finer line round its mouth."""
    ink = Image.new("RGB", page.size, _INK)
    page.paste(ink, mask=_edge(mask, 7))
    if inside.any():
        mouth = Image.fromarray((inside * 255).astype(np.uint8))
        page.paste(ink, mask=_edge(mouth, 3))


def _edge(mask: Image.Image, width: int) -> Image.Image:
    wide = np.asarray(mask.filter(ImageFilter.MaxFilter(width)), dtype=np.int16)
    narrow = np.asarray(mask.filter(ImageFilter.MinFilter(3)), dtype=np.int16)
    line = Image.fromarray(np.clip(wide - narrow, 0, 255).astype(np.uint8))
    return line.filter(ImageFilter.GaussianBlur(0.6))
