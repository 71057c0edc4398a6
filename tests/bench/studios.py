"""What would a studio's question look like? Made-up studios of several sizes, from a seed.

Everything is invented, within what small studios do: one to three dates, kilns of three sizes
(a big wide one, a tall one, a small one for trials), two or three glaze schedules, wares from
cups to vases. Each size comes in three variants: easy (hands half busy), tight (three quarters)
and impossible (far more work than hands, or only the small kilns: much stays short).
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import product

from studio.craft.problem import (
    BISQUE,
    Circuit,
    HandsDay,
    Load,
    Need,
    OnHand,
    PlanKiln,
    PlanLine,
    Problem,
    Run,
    Stage,
    Ware,
    Yields,
)

TODAY_DATE = date(2026, 3, 2)
"""A Monday."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Size:
    """How big a made-up studio is."""

    sales: int
    shipments: int
    first_sale_day: int
    span: int
    lines: int
    pieces: int
    schedules: int
    unproven: int
    a_shipment: int = 0
    days_off: tuple[int, ...] = (6,)
    kiln_sets: int = 1
    """How many of each of the three kilns; each set hangs on a supply of its own."""
    room_percent: int = 100
    """How big the kilns are, and what they cost to fire, beside those of a small studio."""


SIZES = {
    "small": Size(
        sales=1, shipments=0, first_sale_day=31, span=35, lines=4, pieces=120, schedules=2,
        unproven=1, days_off=(5, 6),
    ),
    "demo": Size(
        sales=1, shipments=1, first_sale_day=40, span=45, lines=9, pieces=110, schedules=3,
        unproven=1, a_shipment=12,
    ),
    "typical": Size(
        sales=2, shipments=3, first_sale_day=38, span=75, lines=10, pieces=400, schedules=3,
        unproven=2, a_shipment=5,
    ),
    "large": Size(
        sales=3, shipments=4, first_sale_day=50, span=120, lines=25, pieces=2000, schedules=4,
        unproven=4, a_shipment=15, kiln_sets=2,
    ),
    "huge": Size(
        sales=5, shipments=6, first_sale_day=50, span=180, lines=60, pieces=10000, schedules=5,
        unproven=8, a_shipment=40, kiln_sets=4, room_percent=180,
    ),
}  # fmt: skip

VARIANTS = {"easy": 0.5, "tight": 0.75, "impossible": 1.8}
"""How busy the hands would be."""

SCHEDULES = {
    "cone 6": (100, 0),
    "cone 7": (108, 0),
    "cone 7 slow": (108, 1),
    "cone 5": (94, 0),
    "cone 8": (117, 0),
}
"""Energy in per cent of a cone 6 firing, and days more for a slow cooling."""

WARES = {
    "mug": (10, 100, 18, 5, 6, 5),
    "cup": (6, 70, 9, 4, 5, 4),
    "bowl": (32, 110, 25, 8, 7, 7),
    "plate": (24, 30, 20, 6, 6, 8),
    "vase": (28, 260, 35, 9, 9, 7),
    "jar": (22, 180, 40, 9, 9, 7),
}
"""Room in tenths of a mug place, height in mm, minutes to throw, glaze, finish, drying days."""

KILNS = {
    "wide": (1100, 400, 200, 38, 44, 2),
    "tall": (850, 560, 400, 42, 52, 2),
    "small": (200, 120, 300, 12, 15, 1),
}
"""Bisque and glaze room in tenths, clear height in mm, kWh of a bisque and a glaze, busy days."""

A_KWH_PENCE = 30
A_FIRING_PENCE = 1200
"""Wear of a big kiln a firing; a small one costs half."""


def make_problem(*, size: str, seed: int, variant: str = "tight") -> Problem:
    """A made-up studio of a size; the same seed gives the same studio.

    Impossible ones of odd seeds have too few hands; in those of even seeds the big kilns are away.
    """
    what = SIZES[size]
    away = variant == "impossible" and seed % 2 == 0
    busy_share = VARIANTS["tight" if away else variant]
    dice = random.Random(f"{size}-{seed}")
    wares, lines = _things(what, dice)
    needs = _needs(what, dice, lines)
    on_hand = _on_hand(what, dice, wares, lines, needs)
    kilns = _kilns(list(SCHEDULES)[: what.schedules], what)
    days = _days(what, wares, lines, needs, busy_share)
    return Problem(
        today_date=TODAY_DATE,
        last_date=TODAY_DATE + timedelta(days=what.span - 1),
        days=days,
        kilns=kilns,
        circuits=tuple(
            Circuit(key=key, at_once=2) for key in sorted({kiln.circuit_key for kiln in kilns})
        ),
        wares=tuple(wares),
        lines=tuple(lines),
        needs=needs,
        on_hand=on_hand,
        pinned=_away(kilns, what) if away else _pinned(kilns, wares, lines, needs),
        yields=Yields(drying_percent=95, bisque_percent=97, glaze_percent=92),
    )


def _things(what: Size, dice: random.Random) -> tuple[list[Ware], list[PlanLine]]:
    count = max(3, what.lines // 2)
    wares: list[Ware] = []
    made = dict.fromkeys(WARES, 0)
    while len(wares) < count:
        form = dice.choices(list(WARES), (9, 4, 3, 3, 2, 2))[0] if wares else "mug"
        if made[form] < max(1, count // 3 + 1):
            made[form] += 1
            name = f"{form} {made[form]}"
            room, height, throwing, glazing, finishing, drying = WARES[form]
            wares.append(
                Ware(
                    key=name.replace(" ", "-"),
                    name=name,
                    room_tenths=room,
                    height_mm=height,
                    throwing_min=throwing,
                    glazing_min=glazing,
                    finishing_min=finishing,
                    drying_days=drying,
                )
            )
    schedules = list(SCHEDULES)[: what.schedules]
    unproven = set(dice.sample(range(what.lines), what.unproven))
    lines = []
    for i in range(what.lines):
        ware = wares[i] if i < count else dice.choice(wares)
        schedule = schedules[i] if i < len(schedules) else dice.choice(schedules)
        lines.append(
            PlanLine(
                key=f"line-{i}",
                name=f"{ware.name} in glaze {i}",
                ware_key=ware.key,
                schedule_key=schedule,
                proven=i not in unproven,
            )
        )
    return wares, lines


def _needs(what: Size, dice: random.Random, lines: list[PlanLine]) -> tuple[Need, ...]:
    last = what.span - 3
    step = (last - what.first_sale_day) / max(1, what.sales - 1)
    needs = []
    a_sale = (what.pieces - what.a_shipment * what.shipments) // what.sales
    for i in range(what.sales):
        due = round(what.first_sale_day + step * i)
        most = len(lines) if what.sales == 1 else max(4, int(len(lines) * 0.7))
        chosen = dice.sample(lines, most)
        shares = [dice.random() + 0.3 for _ in chosen]
        counts = [max(1, round(a_sale * share / sum(shares))) for share in shares]
        needs.append(_need(f"sale {i + 1}", due, 10, dict(zip(chosen, counts, strict=True))))
    for i in range(what.shipments):
        parcels: dict[PlanLine, int] = {}
        for _ in range(what.a_shipment):
            line = dice.choice(lines)
            parcels[line] = parcels.get(line, 0) + 1
        needs.append(_need(f"shipment {i + 1}", min(what.span - 2, 17 + 30 * i), 30, parcels))
    return tuple(sorted(needs, key=lambda need: need.due_date))


def _need(name: str, due: int, importance: int, counts: dict[PlanLine, int]) -> Need:
    return Need(
        key=name.replace(" ", "-"),
        name=name,
        due_date=TODAY_DATE + timedelta(days=due),
        buffer_days=4,
        importance=importance,
        counts=tuple((line.key, n) for line, n in counts.items()),
    )


def _asked(needs: tuple[Need, ...], line: PlanLine) -> int:
    return sum(dict(need.counts).get(line.key, 0) for need in needs)


def _on_hand(
    what: Size,
    dice: random.Random,
    wares: list[Ware],
    lines: list[PlanLine],
    needs: tuple[Need, ...],
) -> tuple[OnHand, ...]:
    def hand(stage: Stage, key: str, count: float, days: int = 0) -> OnHand:
        ready = TODAY_DATE + timedelta(days=days)
        return OnHand(stage=stage, key=key, count=int(count), ready_date=ready)

    there = []
    for ware in wares:
        asked = sum(_asked(needs, line) for line in lines if line.ware_key == ware.key)
        thrown = asked * dice.uniform(0.02, 0.10)
        there.append(hand(Stage.THROWN, ware.key, thrown, dice.randint(0, 4)))
        there.append(hand(Stage.BISQUED, ware.key, asked * dice.uniform(0.02, 0.15)))
    for line in lines:
        if line.proven:
            asked = _asked(needs, line)
            there.append(hand(Stage.GLAZED, line.key, asked * dice.uniform(0, 0.05)))
            there.append(hand(Stage.FIRED, line.key, asked * dice.uniform(0, 0.06)))
            there.append(hand(Stage.LISTED, line.key, asked * dice.uniform(0, 0.08)))
    for need in needs:  # what is due before anything can be made mostly stands there
        if need.due_date < TODAY_DATE + timedelta(days=25):
            for key, count in need.counts:
                share = 1 if dice.random() < 0.6 else 0.5
                there.append(hand(Stage.LISTED, key, count * share))
    return tuple(one for one in there if one.count)


def _kilns(schedules: list[str], what: Size) -> tuple[PlanKiln, ...]:
    kilns = []
    for i, (name, (bisque, glaze, clear, kwh_bisque, kwh_glaze, busy)) in product(
        range(what.kiln_sets), KILNS.items()
    ):
        more = f" {i + 1}" if i else ""
        bisque, glaze, kwh_bisque, kwh_glaze = (
            n * what.room_percent // 100 for n in (bisque, glaze, kwh_bisque, kwh_glaze)
        )
        fixed = A_FIRING_PENCE // (2 if name == "small" else 1)
        runs = [
            Run(
                schedule_key=BISQUE,
                busy_days=busy,
                cost_pence=kwh_bisque * A_KWH_PENCE + fixed,
            )
        ]
        for schedule in schedules:
            percent, more_days = SCHEDULES[schedule]
            kwh = kwh_glaze * percent // 100 + 4 * more_days
            runs.append(
                Run(
                    schedule_key=schedule,
                    busy_days=busy + more_days,
                    cost_pence=kwh * A_KWH_PENCE + fixed,
                )
            )
        kilns.append(
            PlanKiln(
                key=name + more,
                name=f"the {name} kiln{more}",
                glaze_room_tenths=glaze,
                bisque_room_tenths=bisque,
                clear_height_mm=clear,
                circuit_key="house" + more,
                takes_trials=name == "small",
                runs=tuple(runs),
            )
        )
    return tuple(kilns)


def _days(
    what: Size,
    wares: list[Ware],
    lines: list[PlanLine],
    needs: tuple[Need, ...],
    busy_share: float,
) -> tuple[HandsDay, ...]:
    ware_of = {line.key: next(w for w in wares if w.key == line.ware_key) for line in lines}
    works = [i % 7 not in what.days_off for i in range(what.span)]
    last = max((need.due_date - TODAY_DATE).days for need in needs)
    early, late = sum(works[: last - 14]), sum(works[8:last])

    def minutes(of: str, days: int) -> int:
        total = sum(
            _asked(needs, line) / 0.85 * int(getattr(ware_of[line.key], of)) for line in lines
        )
        return int(total / days / busy_share) + 20

    day = HandsDay(
        date=TODAY_DATE,
        throwing_min=minutes("throwing_min", early),
        glazing_min=minutes("glazing_min", late),
        finishing_min=minutes("finishing_min", late),
    )
    off = HandsDay(date=TODAY_DATE, throwing_min=0, glazing_min=0, finishing_min=0, may_start=False)
    return tuple(
        replace(day if works[i] else off, date=TODAY_DATE + timedelta(days=i))
        for i in range(what.span)
    )


def _away(kilns: tuple[PlanKiln, ...], what: Size) -> tuple[Load, ...]:
    """All but the small kilns are away from yesterday to the end."""
    return tuple(
        Load(
            kiln_key=kiln.key,
            schedule_key=BISQUE,
            start_date=TODAY_DATE - timedelta(days=1),
            busy_days=what.span + 1,
            contents=(),
        )
        for kiln in kilns
        if not kiln.takes_trials
    )


def _pinned(
    kilns: tuple[PlanKiln, ...],
    wares: list[Ware],
    lines: list[PlanLine],
    needs: tuple[Need, ...],
) -> tuple[Load, ...]:
    """A glaze firing that began yesterday and a bisque that begins today."""
    line = next(line for line in lines if line.proven)
    tall = next(kiln for kiln in kilns if kiln.key == "tall")
    run = tall.run(line.schedule_key)
    assert run is not None
    glazed = max(1, min(_asked(needs, line) // 6, 30))
    mugs = sum(_asked(needs, line) for line in lines if line.ware_key == wares[0].key)
    return (
        Load(
            kiln_key="tall",
            schedule_key=line.schedule_key,
            start_date=TODAY_DATE - timedelta(days=1),
            busy_days=run.busy_days,
            contents=((line.key, glazed),),
        ),
        Load(
            kiln_key="wide",
            schedule_key=BISQUE,
            start_date=TODAY_DATE,
            busy_days=2,
            contents=((wares[0].key, min(30, mugs // 6 + 2)),),
        ),
    )
