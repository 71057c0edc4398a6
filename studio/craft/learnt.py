"""What does the record of a line, and of its like, say about the next load?

Model, for one step (drying, bisque, glaze fire): a line has a share of good pieces p of its own.
Shares of a studio's lines lie about a common mean; pieces of one load do better or worse together
(beta-binomial); now and then a whole load goes wrong. How far lines and loads differ, and how often
a load goes wrong, is learnt from all of the studio's loads at once; body and form add what lines
like this one showed, at less than full worth.

Laws (a rejected example each):

1. A short record is pulled towards its like: 0 of 2 is not "never comes out".
2. Like counts for less than the same: 500 bowls say less of a new bowl than 30 of that bowl itself.
3. Losses that came together count together: one load of 20 lost is one mishap, not 20.
4. A chance given is a chance kept: of all answers that say 90 in 100, about 90 in 100 come true
   (``tests/bench/losses.py``); the mean of the loads would promise 90 and keep 50.

Source: beta-binomial, J. G. Skellam, Journal of the Royal Statistical Society B 10 (1948); evidence
at less than full worth, J. G. Ibrahim and M.-H. Chen, "Power prior distributions for regression
models", Statistical Science 15 (2000). The grids and the worths are our own measure, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from studio.craft.losses import MOST_WANTED, OutOfReach

Array = NDArray[np.float64]

FORM_WORTH: Final = 20
BODY_WORTH: Final = 8
"""At most so many pieces' worth is learnt from the same form, and from the same body."""

MOST_STARTED: Final = 2 * MOST_WANTED

_ROOTS = (np.arange(48) + 0.5) / 48
_P: Final[Array] = 1 - _ROOTS**2  # finer towards 1, where potters live
_DP: Final[Array] = 2 * _ROOTS / 48
_MEAN: Final[Array] = np.array([0.4, 0.6, 0.72, 0.8, 0.85, 0.89, 0.92, 0.95, 0.97, 0.985, 0.995])
_WORTH: Final[Array] = np.array([6.0, 15.0, 35.0, 90.0])
_TIGHT: Final[Array] = np.array([6.0, 14.0, 40.0, 1e6])
# The last is for a studio that ruins a load in five: hardly believed before its record says so.
_WRECK: Final[Array] = np.array([1e-5, 0.02, 0.05, 0.08, 0.2])
_WRECK_WEIGHT: Final[Array] = np.array([0.74, 0.1, 0.1, 0.045, 0.015])
_TIGHT_WEIGHT: Final[Array] = np.array([0.12, 0.17, 0.17, 0.54])
_RUIN: Final = (0.3, 3.0)  # good and lost of a load gone wrong: nearly all is lost
_DUD: Final = 0.03
_STUDIO_WORTH: Final = 12.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Batch:
    """What became of the pieces of one line in one load: ``good`` of ``of``."""

    good: int
    of: int

    def __post_init__(self) -> None:
        if not 0 <= self.good <= self.of:
            raise ValueError(f"good is 0 to {self.of}, not {self.good}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Record:
    """What is known: of the line itself, and of other lines, each a tuple of its batches.

    ``form``: other lines of this form; ``body``: lines of other forms on this body; ``rest``: what
    is neither. No line stands in two of them.
    """

    line: tuple[Batch, ...] = ()
    form: tuple[tuple[Batch, ...], ...] = ()
    body: tuple[tuple[Batch, ...], ...] = ()
    rest: tuple[tuple[Batch, ...], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Learnt:
    """What a record says about the next load of a line. Made by ``learn``."""

    weights: Array = field(repr=False)  # shape (48 shares, 4 tightnesses, 5 wreck rates), sums to 1
    good: int
    of: int
    like: int
    guess_percent: int

    @property
    def good_share(self) -> float:
        """The share, 0 to 1, that is expected to come out good, bad loads counted in."""
        fine = 1 - _WRECK
        ruin = _WRECK * _RUIN[0] / sum(_RUIN)
        return float(np.einsum("pkq,pq->", self.weights, _P[:, None] * fine + ruin))

    @property
    def good_percent(self) -> int:
        """``good_share`` in 100, 1 to 100, to the nearest."""
        return min(max(math.floor(100 * self.good_share + 0.5), 1), 100)

    def out_of(self, started: int, *, loads: int = 1) -> Array:
        """The chances of 0 to ``started`` good ones, shape (started + 1,), summing to 1.

        ``loads``: over how many loads they are spread evenly. Raises ``ValueError``.
        """
        if not 0 <= started <= MOST_STARTED:
            raise ValueError(f"pieces started are 0 to {MOST_STARTED}, not {started}")
        if loads < 1:
            raise ValueError(f"pieces go into 1 load or more, not {loads}")
        sizes = [started // loads + (i < started % loads) for i in range(loads)]
        sizes = [size for size in sizes if size]
        if len(sizes) < 2:
            return _weighed(self.weights, started)
        each = {size: _load(size) for size in set(sizes)}
        width = started + 1
        alone = np.ones((width // 2 + 1, 1, 1, 1), dtype=complex)
        together: NDArray[np.complex128] = alone
        for size in sizes:
            together = together * np.fft.rfft(each[size], n=width, axis=0)
        spread = np.fft.irfft(together, n=width, axis=0)
        chances: Array = np.clip(np.einsum("gpkq,pkq->g", spread, self.weights), 0, 1)
        return chances

    def chance_of_enough(self, *, started: int, wanted: int, loads: int = 1) -> float:
        """The chance, 0 to 1, that ``started`` pieces give ``wanted`` good ones."""
        if wanted <= 0:
            return 1.0
        if wanted > started:
            return 0.0
        return float(min(self.out_of(started, loads=loads)[wanted:].sum(), 1.0))

    def number_to_start(self, *, wanted: int, chance_percent: int, loads: int = 1) -> int:
        """The smallest number started that gives ``wanted`` good with the wanted chance.

        ``wanted`` 0 to 400; ``chance_percent`` 1 to 99. Raises ``ValueError`` outside;
        ``OutOfReach`` when bad loads alone forbid it.
        """
        return start_through([self], wanted=wanted, chance_percent=chance_percent, loads=loads)


def learn(record: Record, *, guess_percent: int) -> Learnt:
    """What the record says of the next load.

    ``guess_percent`` 1 to 99: the good of 100 that is reckoned with where there is no record; it
    is worth about 12 pieces of a studio's mean. Raises ``ValueError`` outside. Source: see module.
    """
    if not 1 <= guess_percent <= 99:
        raise ValueError(f"a guess is 1 to 99 good of 100, not {guess_percent}")
    prior = _shares()  # (11 means, 4 worths, 48 shares)
    hyper = np.log(_mean_weights(guess_percent))[:, None, None, None] + np.log(
        _TIGHT_WEIGHT[:, None] * _WRECK_WEIGHT
    )
    hyper = np.broadcast_to(hyper, (len(_MEAN), len(_WORTH), len(_TIGHT), len(_WRECK))).copy()
    others = [line for line in (*record.form, *record.body, *record.rest) if _of(line)]
    for line in others:
        hyper += _told(line)
    weight = np.exp(hyper - hyper.max())
    found = np.log(np.einsum("mwp,mwkq->pkq", prior, weight) + 1e-300)
    found = _lean(found, record.form, FORM_WORTH)
    found = _lean(found, record.body, BODY_WORTH)
    if _of(record.line):
        found = found + _likely(record.line)
    weights = np.exp(found - found.max())
    return Learnt(
        weights=weights / weights.sum(),
        good=sum(batch.good for batch in record.line),
        of=_of(record.line),
        like=sum(_of(line) for line in others),
        guess_percent=guess_percent,
    )


def start_through(
    steps: Sequence[Learnt], *, wanted: int, chance_percent: int, loads: int = 1
) -> int:
    """The smallest number to start so that ``wanted`` come good through all steps, in order.

    ``loads`` holds for the last step. Ranges and errors as ``Learnt.number_to_start``.
    """
    if not 0 <= wanted <= 400:
        raise ValueError(f"wanted pieces are 0 to 400, not {wanted}")
    if not 1 <= chance_percent <= 99:
        raise ValueError(f"chances in 100 are 1 to 99, not {chance_percent}")
    if not wanted:
        return 0
    low, high = wanted - 1, wanted
    while chance_through(steps, started=high, wanted=wanted, loads=loads) < chance_percent / 100:
        low, high = high, high + max(high // 4, 1)
        if high > 4 * wanted + 40:
            bad = 100 - math.floor(
                100 * chance_through(steps, started=high, wanted=wanted, loads=loads)
            )
            raise OutOfReach(chance_percent=chance_percent, bad_load_percent=bad)
    while high - low > 1:
        middle = (low + high) // 2
        enough = chance_through(steps, started=middle, wanted=wanted, loads=loads)
        low, high = (low, middle) if enough >= chance_percent / 100 else (middle, high)
    return high


def chance_through(steps: Sequence[Learnt], *, started: int, wanted: int, loads: int = 1) -> float:
    """The chance, 0 to 1, that ``started`` pieces give ``wanted`` good ones through all steps."""
    if not steps:
        raise ValueError("a way has at least one step")
    if wanted <= 0:
        return 1.0
    if wanted > started:
        return 0.0
    there = np.zeros(started + 1)
    there[started] = 1.0
    for at, step in enumerate(steps):
        onward = np.zeros(started + 1)
        over = loads if at == len(steps) - 1 else 1
        for n in range(wanted, started + 1):  # fewer than wanted can no longer be enough
            if there[n] > 1e-9:
                onward[: n + 1] += there[n] * step.out_of(n, loads=over)
        there = onward
    return float(min(there[wanted:].sum(), 1.0))


def say_so_far(learnt: Learnt) -> str:
    """'9 of 10 good so far: we reckon with 88 in 100', 'no record yet: we reckon with 88 in 100, a
    guess', or, where other lines have a record, '... as its like came out'.
    """
    if learnt.of:
        seen = f"{learnt.good} of {learnt.of} good so far"
        return f"{seen}: we reckon with {learnt.good_percent} in 100"
    if learnt.like:
        return f"no record yet: we reckon with {learnt.good_percent} in 100, as its like came out"
    return f"no record yet: we reckon with {learnt.guess_percent} in 100, a guess"


def beta_binomial(*, good: int, of: int, p: float, tight: float) -> float:
    """The chance of ``good`` of ``of``, shares of loads lying about ``p`` as a beta of a + b =
    ``tight``. Source: the beta-binomial distribution with a = p x tight, b = (1 - p) x tight.

    ``p`` above 0, below 1; ``tight`` above 0. Raises ``ValueError`` outside.
    """
    if not 0 < p < 1 or tight <= 0 or of < 0:
        raise ValueError(f"no beta-binomial has p {p}, a + b {tight} and {of} pieces")
    if not 0 <= good <= of:
        return 0.0
    a, b = p * tight, (1 - p) * tight
    ways = math.lgamma(of + 1) - math.lgamma(good + 1) - math.lgamma(of - good + 1)
    rise = math.fsum(
        [math.log(a + i) for i in range(good)]
        + [math.log(b + i) for i in range(of - good)]
        + [-math.log(tight + i) for i in range(of)]
    )
    return math.exp(ways + rise)


def _of(line: Sequence[Batch]) -> int:
    return sum(batch.of for batch in line)


def _lean(found: Array, lines: Sequence[tuple[Batch, ...]], worth: int) -> Array:
    """Lean towards lines of a kind, at less than their full worth, for each kind of studio."""
    pieces = sum(_of(line) for line in lines)
    if not pieces:
        return found
    told = np.sum([_likely(line) for line in lines if _of(line)], axis=0)
    leant: Array = found + told * min(0.5, worth / pieces)
    # How loads differ was learnt from these lines already: only the share may lean.
    leant += _ln_sum(found) - _ln_sum(leant)
    return leant


def _ln_sum(found: Array) -> Array:
    top = found.max(axis=0, keepdims=True)
    total: Array = top + np.log(np.exp(found - top).sum(axis=0, keepdims=True))
    return total


@lru_cache(maxsize=4096)
def _told(line: tuple[Batch, ...]) -> Array:
    """ln of how likely a line is for each mean, worth, tightness and wreck rate."""
    likely = _likely(line)
    told = np.einsum("mwp,pkq->mwkq", _shares(), np.exp(likely - likely.max()))
    total: Array = np.log(told + 1e-300)
    return total


@lru_cache(maxsize=4096)
def _likely(line: tuple[Batch, ...]) -> Array:
    """ln of how likely the batches of a line are, for each share, tightness and wreck rate."""
    counts = [(batch.good, batch.of) for batch in line if batch.of]
    good, of = np.array(counts).T
    rise_good, rise_lost, rise_all, ln_ways = _rises(int(of.max()))
    fine = rise_good[:, :, good] + rise_lost[:, :, of - good] - rise_all[:, of]
    fine = np.exp(fine + ln_ways[of] - ln_ways[good] - ln_ways[of - good])  # (48, 4, batches)
    ruin = np.array([_ruin(g, n) for g, n in counts])
    mixed = fine[:, :, None, :] * (1 - _WRECK)[:, None] + _WRECK[:, None] * ruin
    total: Array = np.log(mixed + 1e-300).sum(axis=-1)
    return total


def _load(size: int) -> Array:
    """The chances of 0 to ``size`` good in one load, (size + 1, 48, 4, 5)."""
    rise_good, rise_lost, rise_all, ln_ways = _rises(size)
    good = np.arange(size + 1)
    fine = rise_good[:, :, : size + 1] + rise_lost[:, :, size - good] - rise_all[:, size, None]
    fine = np.exp(fine + ln_ways[size] - ln_ways[good] - ln_ways[size - good])
    ruin = np.array([_ruin(g, size) for g in range(size + 1)])
    mixed: Array = fine.transpose(2, 0, 1)[..., None] * (1 - _WRECK) + (
        ruin[:, None, None, None] * _WRECK
    )
    return mixed


def _weighed(weights: Array, size: int) -> Array:
    """``_load`` weighed, without the large array between."""
    rise_good, rise_lost, rise_all, ln_ways = _rises(size)
    good = np.arange(size + 1)
    fine = rise_good[:, :, : size + 1] + rise_lost[:, :, size - good] - rise_all[:, size, None]
    fine = np.exp(fine + ln_ways[size] - ln_ways[good] - ln_ways[size - good])
    ruin = np.array([_ruin(g, size) for g in range(size + 1)])
    spread: Array = np.einsum("pkg,pk->g", fine, weights @ (1 - _WRECK)) + ruin * float(
        (weights @ _WRECK).sum()
    )
    return spread


@cache
def _rises(most: int) -> tuple[Array, Array, Array, Array]:
    """Sums of ln(a + i), of ln(b + i), of ln(a + b + i) and of ln(i) up to a rounded-up size."""
    if most & (most - 1):
        return _rises(1 << most.bit_length())
    i = np.arange(max(most, 64))

    def rise(start: Array) -> Array:
        sums: Array = np.cumsum(np.log(start[..., None] + i), axis=-1)
        return np.concatenate([np.zeros((*start.shape, 1)), sums], axis=-1)

    return (
        rise(_P[:, None] * _TIGHT),
        rise((1 - _P)[:, None] * _TIGHT),
        rise(_TIGHT),
        rise(np.array(1.0)),
    )


@cache
def _ruin(good: int, of: int) -> float:
    return beta_binomial(good=good, of=of, p=_RUIN[0] / sum(_RUIN), tight=sum(_RUIN))


@cache
def _shares() -> Array:
    """How shares of lines lie for each mean and worth, (11, 4, 48), each summing to 1."""
    mean = _MEAN[:, None, None]
    worth = _WORTH[None, :, None]
    ln = (mean * worth - 1) * np.log(_P) + ((1 - mean) * worth - 1) * np.log(1 - _P) + np.log(_DP)
    shares = np.exp(ln - ln.max(axis=-1, keepdims=True))
    total: Array = shares / shares.sum(axis=-1, keepdims=True)
    # Any line may turn out a dud, whatever the others do.
    mixed: Array = (1 - _DUD) * total + _DUD * _DP
    return mixed


def _mean_weights(guess_percent: int) -> Array:
    """How far each mean of a studio is believed before any record.

    The guess counts all losses; the mean is that of loads that do not go wrong.
    """
    wrecked = float(_WRECK @ _WRECK_WEIGHT)
    ruin = _RUIN[0] / sum(_RUIN)
    guess = min((guess_percent / 100 - wrecked * ruin) / (1 - wrecked), 0.99)
    edges = np.concatenate([[0.25], (_MEAN[1:] + _MEAN[:-1]) / 2, [1.0]])
    ln = (guess * _STUDIO_WORTH - 1) * np.log(_MEAN) + ((1 - guess) * _STUDIO_WORTH - 1) * np.log(
        1 - _MEAN
    )
    weights = np.exp(ln - ln.max()) * np.diff(edges)
    total: Array = weights / weights.sum() + 1e-12
    return total
