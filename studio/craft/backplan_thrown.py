"""What do hands throw on each day, if they always take what is most urgent?

Throwing waits for nothing: it depends on hands and on how dates look, not on the firings. So it
is worked out once and holds for every calendar that is tried with it.
"""

from __future__ import annotations

from collections.abc import Sequence

from studio.craft.backplan_frame import NEVER, Frame
from studio.craft.backplan_state import Lean
from studio.craft.backplan_targets import Target

Thrown = list[list[tuple[int, int]]]
"""For every day (ware number, pieces thrown)."""

MOST_LEANS = 32
"""So many ways to throw are remembered."""


class Throwing:
    """The throwing of one question, by how hands lean; what was worked out is remembered."""

    def __init__(self, made: Frame, targets: Sequence[Target]) -> None:
        self.minutes = [day.throwing_min for day in made.problem.days]
        self.each = [ware.throwing_min for ware in made.wares.values()]
        self.drying = [ware.drying_days for ware in made.wares.values()]
        self.last = [made.last["throw", key] for key in made.wares]
        self.percent = made.problem.yields.drying_percent
        self.targets = targets
        self.known: dict[tuple[int, ...], tuple[Thrown, Thrown]] = {}

    def with_lean(self, lean: Lean) -> tuple[Thrown, Thrown]:
        """What is thrown on each day with a lean, and what is dry by each [hundredths]."""
        key = (*lean.ware, *lean.throw)
        if key not in self.known:
            if len(self.known) >= MOST_LEANS:
                self.known.clear()
            thrown = thrown_of(
                minutes=self.minutes,
                each=self.each,
                last=self.last,
                most=lean.throw,
                urgent=[
                    [(due - self.drying[i] + lean.ware[i], total) for due, total in target]
                    for i, target in enumerate(self.targets)
                ],
            )
            dried = dried_of(thrown=thrown, drying_days=self.drying, percent=self.percent)
            self.known[key] = thrown, dried
        return self.known[key]


def thrown_of(
    *,
    minutes: Sequence[int],
    each: Sequence[int],
    last: Sequence[int],
    most: Sequence[int],
    urgent: Sequence[Sequence[tuple[int, int]]],
) -> Thrown:
    """What is thrown on each day.

    By day ``minutes`` [min]; by ware ``each`` [min a piece], the ``last`` day on which throwing
    helps, the ``most`` that may be thrown [pieces], and how ``urgent``: (the day that presses,
    pieces by then in all), nearest first. What no date presses comes last.
    """
    parts: list[tuple[int, int, int]] = []
    for i, presses in enumerate(urgent):
        before = 0
        for by, total in presses:
            upto = min(total, most[i])
            if upto > before:
                parts.append((by, i, upto - before))
                before = upto
        if most[i] > before:
            parts.append((NEVER, i, most[i] - before))
    parts.sort()
    order = [i for _, i, _ in parts]
    left = [count for _, _, count in parts]
    least = min(each, default=0)
    thrown: Thrown = []
    first = 0
    for day, there in enumerate(minutes):
        on_day: list[tuple[int, int]] = []
        thrown.append(on_day)
        if there <= 0:
            continue
        while first < len(left) and not left[first]:
            first += 1
        for n in range(first, len(left)):
            i = order[n]
            if not left[n] or day > last[i] or each[i] > there:
                continue
            count = min(left[n], there // each[i]) if each[i] else left[n]
            there -= count * each[i]
            left[n] -= count
            on_day.append((i, count))
            if there < least:
                break
    return thrown


def dried_of(*, thrown: Thrown, drying_days: Sequence[int], percent: int) -> Thrown:
    """What of it is dry by the morning of each day, ``percent`` of it come through [hundredths]."""
    dried: Thrown = [[] for _ in thrown]
    for day, on_day in enumerate(thrown):
        for i, count in on_day:
            if day + drying_days[i] < len(dried):
                dried[day + drying_days[i]].append((i, count * percent))
    return dried
