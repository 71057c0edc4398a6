"""Which yields does a plan reckon with: as stated, or as the studio's own records say?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from studio.craft.learnt import learn
from studio.craft.problem import Yields
from studio.planning.models import PlanRule
from studio.wares import selectors as wares

ENOUGH: Final = 40
"""Pieces that must have gone through a step before its record goes before the stated number.

Our own measure, no source.
"""


@dataclass(frozen=True, kw_only=True, slots=True)
class YieldRow:
    """One step: what was stated, what the record says in words, and what is reckoned with."""

    what: str
    stated_percent: int
    percent: int
    said: str


def yield_rows(rule: PlanRule) -> tuple[YieldRow, ...]:
    """The steps of a plan in order: drying, bisque, glazing and glaze fire together."""
    found = wares.losses()

    def row(what: str, stated: int, *steps: wares.Step) -> YieldRow:
        share, seen, good = 1.0, 0, 0
        for step in steps:
            if step == "glazing" and not found.seen(step):
                continue
            guess = wares.GUESSES[step] if step == "glazing" else stated
            share *= learn(found.studio(step), guess_percent=min(max(guess, 1), 99)).good_share
        seen, good = found.seen(steps[-1]), found.good(steps[-1])
        learnt = min(max(int(100 * share + 0.5), 1), 100)
        enough = seen >= ENOUGH
        if not seen:
            said = f"no record yet: {stated} in 100 is a guess"
        elif not enough:
            said = f"{good} of {seen} good so far; from {ENOUGH} on the record counts"
        else:
            said = f"{good} of {seen} good so far: the next load is reckoned with {learnt} in 100"
        use = learnt if rule.is_learnt and enough else stated
        return YieldRow(what=what, stated_percent=stated, percent=use, said=said)

    return (
        row("Drying", rule.drying_percent, "drying"),
        row("Bisque", rule.bisque_percent, "bisque"),
        row("Glaze", rule.glaze_percent, "glazing", "glaze"),
    )


def yields_of(rule: PlanRule) -> Yields:
    """What the planner is told."""
    drying, bisque, glaze = yield_rows(rule)
    return Yields(
        drying_percent=drying.percent, bisque_percent=bisque.percent, glaze_percent=glaze.percent
    )
