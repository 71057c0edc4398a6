"""Does a load plan keep every rule of its kiln?

Written apart from the packer, with nothing but ``math``: it shares the values and no geometry. An
outline here is one or two convex cores (a point, a line, a rectangle) and a radius round each.
Each law has its own function, which says what is broken in sentences.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from studio.craft.kiln_load import (
    CONE_PACK,
    POSTS_A_SHELF,
    PROBE_TOUCH_MM,
    TEST_TILE,
    KilnRoom,
    Level,
    LoadPlan,
    LoadRules,
    Lot,
    Part,
    Pin,
    Spot,
    Ware,
    with_cones,
)
from studio.craft.load_stack_law import is_on_tile, stacks

SLIP_MM: Final = 0.05
"""Places are rounded; less than this is no matter."""

Point = tuple[float, float]
Core = tuple[tuple[Point, ...], float]
"""The corners of a convex core (1, 2 or 4) and the radius round it."""


def broken_rules(
    *, room: KilnRoom, lots: Sequence[Lot], rules: LoadRules, plan: LoadPlan
) -> tuple[str, ...]:
    """Every broken rule in a sentence; () when the load can be built as it is told.

    ``lots`` as they were asked for; the cones and tiles of the rules are added here.
    """
    asked = with_cones(tuple(lots), rules)
    wares = {lot.ware.key: lot.ware for lot in asked}
    known = tuple(spot for spot in plan.spots if spot.ware_key in wares)
    levels = {level.number: level for level in plan.levels}
    if lost := {spot.level for spot in known} - set(levels):
        return (f"Ware stands on levels {sorted(lost)}, which there are not.",)
    broken = [
        *_counts(asked, plan),
        *_stock(room, plan),
        *_columns(room, rules, plan),
        *_posts(room, plan),
        *_probe(room, plan),
        *_pins(asked, plan),
        *_runny(asked, rules, levels, known),
    ]
    for level in plan.levels:
        spots = [spot for spot in known if spot.level == level.number]
        broken += stacks(rules, wares, level, spots)
        broken += _places(room, rules, wares, level, [s for s in spots if s.tier == 0])
    return tuple(broken)


def _counts(asked: Sequence[Lot], plan: LoadPlan) -> Iterator[str]:
    """Each piece stands once or is told as left out."""
    standing, left = plan.standing(), Counter(dict(plan.left_out))
    if len(left) != len(plan.left_out):
        yield "A kind is left out twice."
    counts = {lot.ware.key: lot.count for lot in asked}
    for key in sorted({*standing, *left, *counts}):
        if standing[key] + left[key] != counts.get(key, 0):
            yield (
                f"Of {counts.get(key, 0)} {key}, {standing[key]} stand and {left[key]} are left"
                " out."
            )


def _stock(room: KilnRoom, plan: LoadPlan) -> Iterator[str]:
    """No more shelves and posts than the kiln has."""
    whole = {(lv.base_mm, lv.thickness_mm) for lv in plan.levels if lv.shelf == "whole"}
    used = Counter(("whole", thick) for _, thick in whole)
    used.update(("half", lv.thickness_mm) for lv in plan.levels if lv.shelf == "half")
    owned: Counter[tuple[str, int]] = Counter()
    for stock in room.shelves:
        owned[stock.kind, stock.thickness_mm] += stock.count
    for (kind, thick), count in sorted(used.items()):
        if count > owned[kind, thick]:
            yield f"{count} {kind} shelves of {thick} mm are used; there are {owned[kind, thick]}."
    posts = Counter(mm for level in plan.levels for mm in level.post_mm)
    sets: Counter[int] = Counter()
    for post in room.posts:
        sets[post.height_mm] += post.sets
    for mm, count in sorted(posts.items()):
        if count > sets[mm]:
            yield f"{count} sets of posts of {mm} mm are used; there are {sets[mm]}."


def _columns(room: KilnRoom, rules: LoadRules, plan: LoadPlan) -> Iterator[str]:
    """Shelves lie on the posts below them, and every clear height is there."""
    bases = [level.base_mm for level in plan.levels]
    if [lv.number for lv in plan.levels] != list(range(1, len(bases) + 1)) or bases != sorted(
        bases
    ):
        yield "Levels are numbered from the bottom up."
    parts = {level.part for level in plan.levels}
    if ("left" in parts) != ("right" in parts):
        yield "A split kiln has a left and a right part."
    for part in ("left", "right") if "left" in parts else ("whole",):
        column = [level for level in plan.levels if level.part in ("whole", part)]
        top = room.floor_post_mm
        was_half = False
        for at, level in enumerate(column):
            name = f"Level {level.number}"
            if level.base_mm != top + level.thickness_mm:
                yield f"{name} does not lie on what is below it."
            if level.part == "whole" and (was_half or level.shelf == "half"):
                yield f"{name}: whole levels lie below the halves, on whole shelves."
            if level.shelf == "whole" and was_half:
                yield f"{name}: a whole shelf lies over a half one."
            was_half = was_half or level.part != "whole"
            top = level.base_mm + sum(level.post_mm)
            if at == len(column) - 1:
                if level.post_mm or level.posts:
                    yield f"{name} has posts and nothing on them."
                room_mm = room.height_mm - room.lid_mm - level.base_mm
            else:
                room_mm = sum(level.post_mm) - rules.over_mm
                if len(level.posts) != POSTS_A_SHELF or not 1 <= len(level.post_mm) <= 2:
                    yield f"{name} has no three posts of one or two heights for the shelf over it."
                if level.part == "whole" and column[at + 1].shelf == "half":
                    yield f"{name} carries half shelves and is not split."
            if not 0 <= level.clear_mm <= room_mm:
                yield f"{name} is told {level.clear_mm} mm clear; it has {room_mm} mm."


def _posts(room: KilnRoom, plan: LoadPlan) -> Iterator[str]:
    """Posts stand on their shelf, apart, over those below, with the shelf's middle between."""
    across = float(room.post_across_mm)
    for level in plan.levels:
        if not level.posts:
            continue
        for k, post in enumerate(level.posts):
            if _to_edge(room, level.part, post, 0.0) < across / 2 - SLIP_MM:
                yield f"A post on level {level.number} is not under the shelf over it."
            if any(math.dist(post, other) < across for other in level.posts[:k]):
                yield f"Two posts on level {level.number} stand in one another."
        if not _holds(level.posts, _middle_of_shelf(room, level.part)):
            yield f"The shelf over level {level.number} would tip off its posts."
        below = [lv for lv in plan.levels if lv.part == level.part and lv.base_mm < level.base_mm]
        if below and set(below[-1].posts) != set(level.posts):
            yield f"The posts on level {level.number} are not over those below."


def _probe(room: KilnRoom, plan: LoadPlan) -> Iterator[str]:
    """The thermocouple touches no shelf and no post."""
    probe = room.probe
    if probe is None:
        return
    tip = (float(probe.x_mm), float(probe.y_mm))
    for level in plan.levels:
        part: Part = level.part if level.shelf == "half" else "whole"
        low = level.base_mm - level.thickness_mm - PROBE_TOUCH_MM
        spare = room.edge_mm - room.shelf_gap_mm + PROBE_TOUCH_MM
        if (
            low <= probe.height_mm <= level.base_mm + PROBE_TOUCH_MM
            and _to_edge(room, part, tip, 0.0) > SLIP_MM - spare
        ):
            yield f"The thermocouple meets the shelf of level {level.number}."
        if level.base_mm <= probe.height_mm <= level.base_mm + sum(level.post_mm):
            for post in level.posts:
                if math.dist(post, tip) < room.post_across_mm / 2 + PROBE_TOUCH_MM - SLIP_MM:
                    yield f"The thermocouple meets a post on level {level.number}."


def _pins(asked: Sequence[Lot], plan: LoadPlan) -> Iterator[str]:
    """Pinned pieces stand where they are pinned."""
    for lot in asked:
        for pin in lot.pinned:
            if not any(spot.ware_key == lot.ware.key and _is_at(spot, pin) for spot in plan.spots):
                yield f"{lot.ware.key} is not where it was pinned on level {pin.level}."


def _is_at(spot: Spot, pin: Pin) -> bool:
    turned = abs((spot.turn_deg - pin.turn_deg + 180) % 360 - 180)
    away = math.dist((spot.x_mm, spot.y_mm), (pin.x_mm, pin.y_mm))
    return spot.level == pin.level and away <= SLIP_MM and turned <= 0.05


def _runny(
    asked: Sequence[Lot], rules: LoadRules, levels: dict[int, Level], spots: Sequence[Spot]
) -> Iterator[str]:
    """No runny piece stands over one that is not; pins, cones and tiles aside."""
    if rules.runny != "low" or rules.kind == "bisque":
        return
    wares = {lot.ware.key: lot.ware for lot in asked}
    pins = [(lot.ware.key, pin) for lot in asked for pin in lot.pinned]
    free = [s for s in spots if not any(s.ware_key == k and _is_at(s, pin) for k, pin in pins)]
    runny = [s for s in free if wares[s.ware_key].is_runny]
    ordinary = set(wares) - {CONE_PACK.key, TEST_TILE.key} - {s.ware_key for s in runny}
    other = [s for s in free if s.ware_key in ordinary]
    if runny and other:
        highest = max(runny, key=lambda s: levels[s.level].base_mm)
        lowest = min(other, key=lambda s: levels[s.level].base_mm)
        if levels[highest.level].base_mm > levels[lowest.level].base_mm:
            yield f"{highest.ware_key} is runny and stands over {lowest.ware_key}."


def _places(
    room: KilnRoom, rules: LoadRules, wares: dict[str, Ware], level: Level, spots: Sequence[Spot]
) -> Iterator[str]:
    """Ware stands on its shelf, apart from other ware, posts and the thermocouple."""
    outlines = [_outline(rules, wares[spot.ware_key], spot) for spot in spots]
    airs = [_air(rules, wares[spot.ware_key]) for spot in spots]
    probe = room.probe
    for k, (spot, outline, air) in enumerate(zip(spots, outlines, airs, strict=True)):
        name = f"{spot.ware_key} at ({spot.x_mm:.0f}, {spot.y_mm:.0f}) on level {level.number}"
        for corners, radius in outline:
            spare = min(_to_edge(room, level.part, c, rules.gap_mm) for c in corners) - radius
            if spare < -SLIP_MM:
                yield f"{name} is {-spare:.1f} mm over the edge of its shelf."
        for post in level.posts:
            gap = _apart(outline, (((post,), room.post_across_mm / 2),))
            if gap < air + rules.gap_mm / 2 - SLIP_MM:
                yield f"{name} is {gap:.1f} mm from a post."
        if (
            probe
            and abs(
                max(level.base_mm, min(probe.height_mm, level.base_mm + level.clear_mm))
                - probe.height_mm
            )
            <= probe.clear_mm
        ):
            gap = _apart(outline, ((((float(probe.x_mm), float(probe.y_mm)),), 0.0),))
            if gap < probe.clear_mm - SLIP_MM:
                yield f"{name} is {gap:.1f} mm from the thermocouple."
        for other, theirs, their_air in zip(spots[:k], outlines, airs, strict=False):
            gap = _apart(outline, theirs)
            if gap < air + their_air - SLIP_MM:
                yield f"{name} is {gap:.1f} mm from {other.ware_key}."


def _air(rules: LoadRules, ware: Ware) -> float:
    runs = ware.is_runny and rules.kind == "glaze"
    return (rules.runny_gap_mm if runs else rules.gap_mm) / 2


def _outline(rules: LoadRules, ware: Ware, spot: Spot) -> tuple[Core, ...]:
    """Where a piece is, with the catch tile under it."""
    c, s = math.cos(math.radians(spot.turn_deg)), math.sin(math.radians(spot.turn_deg))

    def at(along: float, over: float) -> Point:
        return spot.x_mm + c * along - s * over, spot.y_mm + s * along + c * over

    tile = rules.tile_over_mm if is_on_tile(rules, ware) else 0
    if ware.shape == "oblong":
        a, b = ware.length_mm / 2 - ware.corner_mm, ware.width_mm / 2 - ware.corner_mm
        corners = (at(a, b), at(-a, b), at(-a, -b), at(a, -b))
        return ((corners, float(ware.corner_mm + tile)),)
    if ware.shape == "handled" and rules.handles == "clear":
        return (((at(ware.handle_mm / 2, 0.0),), (ware.width_mm + ware.handle_mm) / 2 + tile),)
    body: Core = ((at(0.0, 0.0),), ware.width_mm / 2 + tile)
    if ware.shape == "round":
        return (body,)
    half = ware.handle_width_mm / 2
    tip = ware.width_mm / 2 + ware.handle_mm - half
    return (body, ((at(0.0, 0.0), at(tip, 0.0)), half))


def _apart(first: Sequence[Core], second: Sequence[Core]) -> float:
    """The least distance between two outlines; less than 0 where they overlap."""
    return min(_core_distance(a, b) - ra - rb for a, ra in first for b, rb in second)


def _core_distance(a: tuple[Point, ...], b: tuple[Point, ...]) -> float:
    if _is_within(a[0], b) or _is_within(b[0], a):
        return -1e9
    return min(_sides_distance(p, q) for p in _sides(a) for q in _sides(b))


def _sides(core: tuple[Point, ...]) -> list[tuple[Point, Point]]:
    if len(core) < 3:
        return [(core[0], core[-1])]
    return list(zip(core, (*core[1:], core[0]), strict=True))


def _sides_distance(p: tuple[Point, Point], q: tuple[Point, Point]) -> float:
    if _cross(p, q):
        return -1e9
    near = [_point_distance(end, q) for end in p] + [_point_distance(end, p) for end in q]
    return min(near)


def _point_distance(point: Point, side: tuple[Point, Point]) -> float:
    (ax, ay), (bx, by) = side
    length2 = (bx - ax) ** 2 + (by - ay) ** 2
    if length2 == 0:
        return math.dist(point, side[0])
    share = ((point[0] - ax) * (bx - ax) + (point[1] - ay) * (by - ay)) / length2
    share = max(0.0, min(1.0, share))
    return math.dist(point, (ax + share * (bx - ax), ay + share * (by - ay)))


def _side_of(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _cross(p: tuple[Point, Point], q: tuple[Point, Point]) -> bool:
    return (
        _side_of(*p, q[0]) * _side_of(*p, q[1]) < 0 and _side_of(*q, p[0]) * _side_of(*q, p[1]) < 0
    )


def _is_within(point: Point, core: tuple[Point, ...]) -> bool:
    if len(core) < 3:
        return False
    turns = [_side_of(a, b, point) for a, b in _sides(core)]
    return all(t > 0 for t in turns) or all(t < 0 for t in turns)


def _to_edge(room: KilnRoom, part: Part, point: Point, gap_mm: float) -> float:
    """How far a point lies within the room for ware on a part; less than 0 outside."""
    x, y = point
    half = room.width_mm / 2 - room.edge_mm
    if room.sides == 0:
        spare = half - math.hypot(x, y)
    elif room.sides == 4:
        spare = min(half - abs(x), room.depth_mm / 2 - room.edge_mm - abs(y))
    else:
        angles = [2 * math.pi * k / room.sides for k in range(room.sides)]
        spare = min(half - x * math.cos(a) - y * math.sin(a) for a in angles)
    if part == "whole":
        return spare
    from_seam = -x if part == "left" else x
    return min(spare, from_seam - max(room.seam_mm, gap_mm) / 2)


def _middle_of_shelf(room: KilnRoom, part: Part) -> Point:
    """A shelf's centre of mass, of a half by summing strips."""
    if part == "whole":
        return 0.0, 0.0
    places = [(k + 0.5) * room.width_mm / 400 for k in range(200)]
    depths = [_depth_at(room, x) for x in places]
    mass = sum(depths)
    moment = sum(x * depth for x, depth in zip(places, depths, strict=True))
    return (-moment / mass if part == "left" else moment / mass), 0.0


def _depth_at(room: KilnRoom, x: float) -> float:
    """How deep the kiln is at a distance to the side of its middle."""
    low, high = 0.0, float(max(room.width_mm, room.across_y_mm))
    if _to_edge(room, "whole", (x, 0.0), 0.0) < 0:
        return 0.0
    for _ in range(30):
        middle = (low + high) / 2
        inside = _to_edge(room, "whole", (x, middle), 0.0) >= 0
        low, high = (middle, high) if inside else (low, middle)
    return 2 * low


def _holds(posts: Sequence[Point], middle: Point) -> bool:
    """Whether the middle lies well between three posts: none carries less than a tenth."""
    if len(posts) != POSTS_A_SHELF:
        return False
    a, b, c = posts
    whole = _side_of(a, b, c)
    if abs(whole) < 1.0:
        return False
    loads = (_side_of(b, c, middle), _side_of(c, a, middle), _side_of(a, b, middle))
    return all(part / whole >= 0.1 for part in loads)
