"""How many of everything does each date want by its day, what stands in the studio netted?"""

from __future__ import annotations

from studio.craft.backplan_frame import NEVER, Frame, share_up

Target = list[tuple[int, int]]
"""(due day, pieces needed by then in all), earlier days first."""

Targets = dict[tuple[str, str], Target]


def targets_of(made: Frame) -> Targets:
    """How much of every step each date (less its buffer) wants, stock netted."""
    yields = made.problem.yields
    dues = sorted({want.early for want in made.wants})
    targets: Targets = {}
    for key in made.lines:
        fires, target = [], []
        for due in dues:
            asked = sum(w.asked for w in made.wants if w.line_key == key and w.early <= due)
            there = made.arrives["finished", key][due] + (
                made.arrives["fired", key][due - 1] if due else 0
            )
            fire = share_up(hundredths=100 * asked - there, percent=yields.glaze_percent)
            fires.append((due, fire))
            target.append((due, max(0, fire - made.arrives["glazed", key][0] // 100)))
        targets["glaze", key], targets["fire", key] = target, fires
    for key in made.wares:
        bisques, target = [], []
        for i, due in enumerate(dues):
            glazed = 100 * sum(targets["glaze", line][i][1] for line in made.lines_of(key))
            bisque = share_up(
                hundredths=glazed - made.arrives["bisqued", key][0], percent=yields.bisque_percent
            )
            bisques.append((due, bisque))
            dry = 100 * bisque - made.arrives["dry", key][0]
            target.append((due, share_up(hundredths=dry, percent=yields.drying_percent)))
        targets["throw", key], targets["bisque", key] = target, bisques
    return targets


def steps_of(target: Target) -> Target:
    """Only the days on which more is wanted than before."""
    steps: Target = []
    for due, total in target:
        if total > (steps[-1][1] if steps else 0):
            steps.append((due, total))
    return steps


def next_due(target: Target, most: int) -> list[tuple[int, int]]:
    """For every count done so far: the next day that wants more, and how many more by then."""
    after: list[tuple[int, int]] = []
    for done in range(most + 1):
        due, total = next(((d, t) for d, t in target if t > done), (NEVER, done + NEVER))
        after.append((due, total - done))
    return after
