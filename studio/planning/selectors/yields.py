"""Which yields does a plan reckon with: as stated, or as the studio's own records say?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from studio.craft.learnt import learn
from studio.craft.problem import PastKind, PastStep, Yields
from studio.planning.models import PlanRule
from studio.planning.selectors import stock
from studio.wares import selectors as wares
from studio.wares.models import Line

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


def yield_rows(rule: PlanRule, found: wares.Losses | None = None) -> tuple[YieldRow, ...]:
    """The steps of a plan in order: drying, bisque, glazing and glaze fire together."""
    found = found or wares.losses()

    def row(what: str, stated: int, *steps: wares.Step) -> YieldRow:
        share = 1.0
        for step in steps:
            guess = wares.GUESSES[step] if step == "glazing" else stated
            share *= _share(found, step, guess_percent=min(max(guess, 1), 99))
        seen, good = found.seen(steps[-1]), found.good(steps[-1])
        learnt = min(max(int(100 * share + 0.5), 1), 100)
        enough = seen >= ENOUGH
        if not seen:
            said = f"no record yet: {stated} in 100 is a guess"
        elif not enough:
            said = f"{good} of {seen} good so far; from {ENOUGH} on the record counts"
        else:
            said = f"{good} of {seen} good so far: the next loads are reckoned with {learnt} in 100"
        use = learnt if rule.is_learnt and enough else stated
        return YieldRow(what=what, stated_percent=stated, percent=use, said=said)

    return (
        row("Drying", rule.drying_percent, "drying"),
        row("Bisque", rule.bisque_percent, "bisque"),
        row("Glaze", rule.glaze_percent, "glazing", "glaze"),
    )


def _share(found: wares.Losses, step: wares.Step, *, guess_percent: int) -> float:
    """The share that the next loads are reckoned with: each ware's own, by how much is made of it.

    1 where nothing went through the step, which its caller then does not use.
    """
    seen = {made: sum(one.of for one in batches) for made, batches in found.by_step[step].items()}
    if not any(seen.values()):
        return 1.0
    shares = {
        made: learn(found.record(step, made), guess_percent=guess_percent).good_share
        for made, of in seen.items()
        if of
    }
    return sum(share * seen[made] for made, share in shares.items()) / sum(seen.values())


def yields_of(rule: PlanRule, found: wares.Losses | None = None) -> Yields:
    """What the planner is told."""
    drying, bisque, glaze = yield_rows(rule, found)
    return Yields(
        drying_percent=drying.percent, bisque_percent=bisque.percent, glaze_percent=glaze.percent
    )


def past_of(
    rule: PlanRule, *, lines: Mapping[str, Line], found: wares.Losses
) -> tuple[PastStep, ...]:
    """The record that chances go by, from glazing on; ``lines`` are the planner's by key.

    Empty while the record does not go before what is stated, as with the yields.
    """
    if not rule.is_learnt or found.seen("glaze") < ENOUGH:
        return ()
    wanted = {
        wares.Made(line.form_id, line.clay_lot_id, line.coats_id, line.schedule_id): key
        for key, line in lines.items()
    }
    bare = {wares.Made(made.form_id, made.clay_lot_id): "" for made in wanted}
    return (
        _past(found, "glazing", bare, guess_percent=wares.GUESSES["glazing"]),
        _past(found, "glaze", wanted, guess_percent=min(rule.glaze_percent, 99)),
    )


def _past(
    found: wares.Losses, step: wares.Step, asked: Mapping[wares.Made, str], *, guess_percent: int
) -> PastStep:
    """Every ware of a step's record, and those asked for that have none yet."""
    record = found.by_step[step]
    return PastStep(
        guess_percent=guess_percent,
        kinds=tuple(
            PastKind(
                key=asked.get(made) or _named(made),
                form_key=str(made.form_id),
                body_key=found.bodies.get(made.clay_lot_id, ""),
                batches=tuple((batch.good, batch.of) for batch in record.get(made, ())),
            )
            for made in sorted({*record, *asked})
        ),
    )


def _named(made: wares.Made) -> str:
    if not made.coats_id:
        return stock.ware_key(made.form_id, made.clay_lot_id)
    return "-".join(str(part) for part in made)
