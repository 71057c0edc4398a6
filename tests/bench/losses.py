"""When the record says 90 in 100, do 90 in 100 come true?

2,000 studios are drawn whose lines, forms, bodies and loads differ in ways that are not those of
the model (normal in the logit, no beta anywhere), each with a record of some length. Each asks how
many to start of one line for a wanted count with 90 chances in 100; the load is then drawn.

    python -m tests.bench.losses [studios]
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from studio.craft.learnt import Batch, Record, learn
from studio.craft.losses import OutOfReach

GUESS = 88
CHANCE = 90


@dataclass(frozen=True, kw_only=True, slots=True)
class Way:
    """How losses come: each studio draws its own between 0 and these. ``load_sd`` in logits."""

    name: str
    load_sd: float
    wrecked: float

    def drawn(self, rng: np.random.Generator) -> Way:
        """One studio's own."""
        return Way(
            name=self.name,
            load_sd=self.load_sd * rng.random(),
            wrecked=self.wrecked * rng.random(),
        )


WAYS = (
    Way(name="piece by piece", load_sd=0.0, wrecked=0.0),
    Way(name="by the load", load_sd=1.0, wrecked=0.0),
    Way(name="by the load, and some ruined", load_sd=0.8, wrecked=0.08),
)


def logistic(x: float) -> float:
    """The share of a logit."""
    return float(1 / (1 + np.exp(-x)))


def drawn_batch(logit: float, size: int, way: Way, rng: np.random.Generator) -> Batch:
    """One load of one line."""
    if rng.random() < way.wrecked:
        return Batch(good=int(rng.binomial(size, 0.05)), of=size)
    share = logistic(logit + way.load_sd * rng.normal())
    return Batch(good=int(rng.binomial(size, share)), of=size)


def asked(way: Way, rng: np.random.Generator) -> tuple[int, bool, float, bool] | None:
    """The record's length in loads, whether enough came, the chance said, and the same for the
    plain way: start wanted / share seen so far. None when it says that no number gives 90."""
    way = way.drawn(rng)
    mean = 2.2 + 0.5 * rng.normal()  # about 90 in 100
    forms, bodies = 0.3 * rng.normal(size=4), 0.25 * rng.normal(size=2)
    lines: list[tuple[int, int, float, tuple[Batch, ...]]] = []
    for _ in range(int(rng.integers(1, 12))):
        form, body = int(rng.integers(4)), int(rng.integers(2))
        logit = mean + forms[form] + bodies[body] + 0.5 * rng.normal()
        loads = int(rng.integers(0, 8))
        sizes = rng.integers(4, 31, size=loads)
        batches = tuple(drawn_batch(logit, int(size), way, rng) for size in sizes)
        lines.append((form, body, logit, batches))
    form, body, logit, own = lines[0]
    others = lines[1:]
    learnt = learn(
        Record(
            line=own,
            form=tuple(one[3] for one in others if one[0] == form),
            body=tuple(one[3] for one in others if one[0] != form and one[1] == body),
            rest=tuple(one[3] for one in others if one[0] != form and one[1] != body),
        ),
        guess_percent=GUESS,
    )
    wanted = int(rng.integers(8, 41))
    try:
        started = learnt.number_to_start(wanted=wanted, chance_percent=CHANCE)
    except OutOfReach:
        return None
    said = learnt.chance_of_enough(started=started, wanted=wanted)
    came = drawn_batch(logit, started, way, rng).good
    seen = sum(one.good for one in own) / max(sum(one.of for one in own), 1) or GUESS / 100
    plain = int(np.ceil(wanted / seen))
    plain_came = drawn_batch(logit, plain, way, rng).good
    return len(own), came >= wanted, said, plain_came >= wanted


def main() -> None:
    """Print how often a said 90 in 100 came true."""
    studios = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    rng = np.random.default_rng(20261125)
    began = time.perf_counter()
    print("losses come                    loads seen   asked   said %   came true %   mean alone %")
    for way in WAYS:
        rows: dict[str, list[tuple[bool, float, bool]]] = defaultdict(list)
        refused = 0
        for _ in range(studios):
            answer = asked(way, rng)
            if answer is None:
                refused += 1
                continue
            loads, enough, said, plain = answer
            seen = "none" if not loads else "1 or 2" if loads < 3 else "3 or more"
            for key in (seen, "all"):
                rows[key].append((enough, said, plain))
        for key in ("none", "1 or 2", "3 or more", "all"):
            enough_, said_, plain_ = (np.array(column) for column in zip(*rows[key], strict=True))
            print(
                f"{way.name:30} {key:10} {len(enough_):7d} {100 * said_.mean():8.1f}"
                f" {100 * enough_.mean():13.1f} {100 * plain_.mean():14.1f}"
            )
        print(f"{way.name:30} no number gives 90: {refused}")
    print(f"{3 * studios} questions in {time.perf_counter() - began:.1f} s")


if __name__ == "__main__":
    main()
