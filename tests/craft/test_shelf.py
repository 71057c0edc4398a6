"""Is a shelf what it says, and do outlines hold what they stand for?"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from studio.craft.kiln_load import Level, LoadRules, Probe
from studio.craft.shelf import (
    Region,
    area_bound,
    disc,
    footprint,
    handled,
    level_region,
    oblong,
    post_places,
    probe_reaches,
    shelf_region,
)
from studio.craft.shelf_overlap import Overlap
from tests.craft.load_cases import BOX, DISH, MUG, RUNNY, TEN
from tests.craft.packing_records import CIRCLE, SQUARE


def test_areas_are_those_of_plane_geometry() -> None:
    # A regular octagon across its flats d: 2 (sqrt 2 - 1) d², rim 8 (sqrt 2 - 1) d.
    area, rim = Region.regular(sides=8, across=400.0).area_and_rim(0.0)
    assert area == pytest.approx(2 * (math.sqrt(2) - 1) * 400**2)
    assert rim == pytest.approx(8 * (math.sqrt(2) - 1) * 400)
    assert Region.box(width=300.0, depth=200.0).area_and_rim(10.0) == pytest.approx(
        (280 * 180, 2 * (280 + 180))
    )
    area, _ = Region.round(radius=100.0).area_and_rim(0.0)
    assert math.pi * 100**2 < area < 1.001 * math.pi * 100**2
    half, _ = Region.round(radius=100.0).cut(normal=(1.0, 0.0), reach=0.0).area_and_rim(0.0)
    assert half == pytest.approx(math.pi * 100**2 / 2, rel=1e-3)


def test_nothing_is_left_of_a_region_drawn_in_too_far() -> None:
    assert Region.box(width=300.0, depth=200.0).area_and_rim(101.0) == (0.0, 0.0)
    assert Region.round(radius=50.0).area_and_rim(51.0) == (0.0, 0.0)
    assert area_bound(Region.box(width=90.0, depth=90.0), 50.0) == 0


def test_no_record_beats_the_area_bound() -> None:
    """The bound of Groemer and Oler against E. Specht's records: it must lie on or over each."""
    for n, (radius, side) in enumerate(zip(CIRCLE, SQUARE, strict=True), 1):
        assert area_bound(Region.round(radius=radius), 1.0) >= n
        assert area_bound(Region.box(width=side, depth=side), 1.0) >= n


def test_the_bound_is_met_by_a_row() -> None:
    """Where equality holds: a box as deep as one disc takes one row (own sum: 2 x 5 = 10)."""
    assert area_bound(Region.box(width=10.001, depth=2.001), 1.0) == 5


def test_a_handle_is_held_by_its_discs() -> None:
    """Points along the edge of the strap, 23 wide with a round end, lie within some disc."""
    shape = handled(body=86.0, stands_out=35.0, strap=23.0, air=0.0)
    middle, tip = -17.5, 60.5 - 11.5
    edge = [(x, side * 11.5) for x in np.linspace(middle, tip, 200) for side in (1, -1)]
    edge += [(tip + 11.5 * math.cos(a), 11.5 * math.sin(a)) for a in np.linspace(-1.57, 1.57, 60)]
    for x, y in edge:
        assert min(math.hypot(x - a, y - b) - r for a, b, r in shape.discs) <= 1e-9
    assert shape.radius == 60.5
    assert max(a + r for a, _, r in shape.discs) <= 60.5 + 1e-9
    assert min(a - r for a, _, r in shape.discs) == pytest.approx(-60.5)


def test_the_area_of_an_oblong() -> None:
    # 190 x 110 with corners of 15: less the four corners' (4 - pi) 15².
    shape = oblong(length=190.0, width=110.0, corner=15.0, air=0.0)
    assert shape.area == pytest.approx(190 * 110 - (4 - math.pi) * 15**2)


def test_footprints_keep_the_air_of_their_rules() -> None:
    assert footprint(MUG, LoadRules()).discs == ((0.0, 0.0, 60.5 + 3),)
    assert footprint(RUNNY, LoadRules()).radius == 45 + 6
    tiled = LoadRules(runny="catch_tile")
    assert footprint(RUNNY, tiled).radius == 45 + 12 + 6
    assert len(footprint(MUG, LoadRules(handles="interlock")).discs) > 2
    assert footprint(DISH, LoadRules()).core == (80.0, 40.0, 15 + 3)


@pytest.mark.parametrize("part", ["whole", "left", "right"])
def test_posts_stand_on_their_part(part: str) -> None:
    for room in (TEN, BOX, replace(TEN, sides=0)):
        for turned in (0, 1):
            posts = post_places(room, part, turned)  # type: ignore[arg-type]
            region = shelf_region(room, part, 0.0)  # type: ignore[arg-type]
            assert len(set(posts)) == 3
            assert (region.slack(np.array(posts), room.post_across_mm / 2) >= 0).all()


def test_halves_stop_at_the_seam() -> None:
    room = replace(TEN, seam_mm=10)
    left = shelf_region(room, "left", 0.0)
    assert float(left.slack(np.array([-45.0, 0.0]), 40.0)) == pytest.approx(0.0)
    right = shelf_region(room, "right", 0.0)
    assert float(right.slack(np.array([-45.0, 0.0]), 40.0)) < -80


def test_the_thermocouple_keeps_its_air_where_it_reaches_in() -> None:
    room = replace(TEN, probe=Probe(x_mm=-250, y_mm=0, height_mm=200, clear_mm=50))
    near = Level(number=1, part="whole", shelf="whole", base_mm=150, thickness_mm=16, clear_mm=120)
    far = replace(near, base_mm=320)
    assert probe_reaches(room, near)
    assert not probe_reaches(room, far)
    # A mug of radius 60.5 with its 3 of air: 110.5 away from the tip's middle is near enough.
    region = level_region(room, near, 6)
    assert float(region.slack(np.array([-250 + 110.5, 0.0]), 63.5)) == pytest.approx(0.0)
    assert len(level_region(room, far, 6).stones) == 0


def test_the_slope_of_overlap_is_its_derivative() -> None:
    """Against finite differences by scipy.optimize.approx_fprime, at crowded random states."""
    rules = LoadRules(handles="interlock")
    shapes = [footprint(MUG, rules), footprint(DISH, rules), disc(60.0), footprint(DISH, rules)]
    region = Region.regular(sides=8, across=330.0).with_stones([(60.0, 80.0, 19.0)])
    rng = np.random.default_rng(5)
    for held in (0, 2):
        overlap = Overlap(region, shapes, held=held)
        for _ in range(5):
            poses = np.concatenate(
                [rng.uniform(-120, 120, (4, 2)), rng.uniform(0, 6.2, (4, 1))], axis=1
            )
            state = overlap.state(poses)
            push = overlap.push(state)
            slope = approx_fprime(state, lambda at, own=overlap: own.push(at).energy, 1e-6)
            still = np.tile(np.arange(4) < held, 3)
            np.testing.assert_allclose(push.slope[~still], slope[~still], rtol=2e-4, atol=2e-2)
            assert (push.slope[still] == 0).all()
            assert push.energy > 0
            np.testing.assert_allclose(overlap.poses(state), poses)
