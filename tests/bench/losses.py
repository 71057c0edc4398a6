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
DRAWS = 20
TUNING = (7, 11, 12)
JUDGED = (31, 32, 33)


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


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What one studio was told, and the shares of its next loads in which it came true."""

    loads_seen: int
    said: float
    came: float
    exactly: float
    alone: float

    @property
    def seen(self) -> str:
        """How long the line's own record was."""
        return "none" if not self.loads_seen else "1 or 2" if self.loads_seen < 3 else "3 or more"


def asked(way: Way, rng: np.random.Generator, *, draws: int = 1) -> Answer | None:
    """Ask one studio; None when it is told that no number gives 90.

    ``came``: with the number told. ``exactly``: with that number or one fewer, mixed so that the
    chance said is 90 and no more, because whole pots give a little over. ``alone``: the plain way,
    wanted / share seen so far.
    """
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
    fewer = learnt.chance_of_enough(started=started - 1, wanted=wanted)
    seen = sum(one.good for one in own) / max(sum(one.of for one in own), 1) or GUESS / 100

    def share(pots: int) -> float:
        enough = sum(drawn_batch(logit, pots, way, rng).good >= wanted for _ in range(draws))
        return enough / draws

    came, less = share(started), share(started - 1)
    over = (CHANCE / 100 - fewer) / (said - fewer)
    return Answer(
        loads_seen=len(own),
        said=said,
        came=came,
        exactly=over * came + (1 - over) * less,
        alone=share(int(np.ceil(wanted / seen))),
    )


def main() -> None:
    """Print how often a said 90 in 100 came true."""
    words = [word for word in sys.argv[1:] if word != "tuning"]
    studios = int(words[0]) if words else 2000
    seeds = TUNING if "tuning" in sys.argv else JUDGED
    began = time.perf_counter()
    print(f"{studios} studios, seeds {', '.join(map(str, seeds))}, {DRAWS} next loads of each")
    print(f"{'losses come':30} loads seen   asked   said %   came true %   of 90 %   alone %")
    for number, way in enumerate(WAYS):
        rows: dict[str, list[Answer]] = defaultdict(list)
        refused = 0
        for seed in seeds:
            rng = np.random.default_rng([seed, number])
            for _ in range(studios // len(seeds)):
                answer = asked(way, rng, draws=DRAWS)
                if answer is None:
                    refused += 1
                    continue
                rows[answer.seen].append(answer)
                rows["all"].append(answer)
        for key in ("none", "1 or 2", "3 or more", "all"):
            row = rows[key]
            said, came, exactly, alone = (
                100 * float(np.mean([getattr(one, name) for one in row]))
                for name in ("said", "came", "exactly", "alone")
            )
            print(
                f"{way.name:30} {key:10} {len(row):7d} {said:8.1f} {came:13.1f} {exactly:9.1f}"
                f" {alone:9.1f}"
            )
        print(f"{way.name:30} no number gives 90: {refused}")
    print(f"{3 * studios} questions in {time.perf_counter() - began:.1f} s")


if __name__ == "__main__":
    main()
