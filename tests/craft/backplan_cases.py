"""Small studios that the tests of planning back share."""

from __future__ import annotations

from datetime import date, timedelta

from studio.craft.problem import (
    BISQUE,
    Circuit,
    HandsDay,
    Need,
    PlanKiln,
    PlanLine,
    Problem,
    Run,
    Ware,
    Yields,
)

MONDAY = date(2026, 3, 2)


def day(index: int) -> date:
    """The date of day ``index``, counted from today."""
    return MONDAY + timedelta(days=index)


def hands(
    index: int, throwing: int = 120, glazing: int = 60, finishing: int = 60, start: bool = True
) -> HandsDay:
    """One day's minutes."""
    return HandsDay(
        date=day(index),
        throwing_min=throwing,
        glazing_min=glazing,
        finishing_min=finishing,
        may_start=start,
    )


MUG = Ware(
    key="mug",
    name="mug",
    room_tenths=10,
    height_mm=100,
    throwing_min=20,
    glazing_min=5,
    finishing_min=6,
    drying_days=5,
)
VASE = Ware(
    key="vase",
    name="vase",
    room_tenths=30,
    height_mm=260,
    throwing_min=40,
    glazing_min=10,
    finishing_min=10,
    drying_days=7,
)
BLUE = PlanLine(key="blue", name="blue mug", ware_key="mug", schedule_key="cone 6")
ASH = PlanLine(key="ash", name="ash mug", ware_key="mug", schedule_key="cone 6", proven=False)
TALL = PlanLine(key="tall", name="blue vase", ware_key="vase", schedule_key="cone 6")
HOT = PlanLine(key="hot", name="tenmoku mug", ware_key="mug", schedule_key="cone 10")

BIG = PlanKiln(
    key="big",
    name="the big kiln",
    glaze_room_tenths=100,
    bisque_room_tenths=200,
    clear_height_mm=200,
    circuit_key="house",
    takes_trials=False,
    runs=(
        Run(schedule_key=BISQUE, busy_days=2, cost_pence=1000),
        Run(schedule_key="cone 6", busy_days=2, cost_pence=1500),
        Run(schedule_key="cone 10", busy_days=3, cost_pence=2000),
    ),
)
SMALL = PlanKiln(
    key="small",
    name="the small kiln",
    glaze_room_tenths=60,
    bisque_room_tenths=80,
    clear_height_mm=150,
    circuit_key="house",
    takes_trials=True,
    runs=(
        Run(schedule_key=BISQUE, busy_days=1, cost_pence=600),
        Run(schedule_key="cone 6", busy_days=1, cost_pence=700),
    ),
)

SURE = Yields(drying_percent=100, bisque_percent=100, glaze_percent=100)
"""Nothing is ever lost."""

SALE = Need(
    key="sale",
    name="spring sale",
    due_date=day(15),
    buffer_days=4,
    importance=3,
    counts=(("blue", 5),),
)


def studio(**changes: object) -> Problem:
    """Two kilns, three wares' lines, hands every day for three weeks, five blue mugs wanted."""
    what: dict[str, object] = {
        "today_date": MONDAY,
        "last_date": day(20),
        "days": tuple(hands(i) for i in range(21)),
        "kilns": (BIG, SMALL),
        "circuits": (Circuit(key="house", at_once=1),),
        "wares": (MUG, VASE),
        "lines": (BLUE, ASH, TALL, HOT),
        "needs": (SALE,),
        "yields": SURE,
    }
    return Problem(**(what | changes))  # type: ignore[arg-type]
