"""How many pieces must be started so that enough good ones come out, and how bad may losses be?

Laws (a rejected example each):

1. A chance is a chance: "90 in 100 come out, so start 10 for 9" is refused; 10 give 9 or more
   in only 74 of 100 such loads.
2. Losses come in loads too: where 3 in 100 loads go wrong altogether, no number in one load gives
   98 chances in 100 (``OutOfReach``).
3. No loss seen is not no loss: 0 of 50 lost is "up to about 6 %".
4. No record is not a good record: 0 of 0 says "no record yet".

Model: each piece comes out good or not, all alike and one not telling of another, but for one bad
load in so many that takes all. Source: binomial distribution; C. J. Clopper and E. S. Pearson, "The
use of confidence or fiducial limits illustrated in the case of the binomial", Biometrika 26 (1934).
"""

from __future__ import annotations

import math
from typing import Final

MOST_WANTED: Final = 10_000
_TOO_CLOSE: Final = 1e-9


class OutOfReach(ValueError):
    """No number of pieces in one load gives this chance; ``best_percent`` is what one could."""

    def __init__(self, *, chance_percent: int, bad_load_percent: int) -> None:
        self.best_percent = 100 - bad_load_percent
        super().__init__(
            f"With {bad_load_percent} in 100 loads going wrong altogether, one load cannot give"
            f" {chance_percent} chances in 100, however many pieces are started:"
            f" {self.best_percent} is never quite reached. Fire over two loads, or accept less."
        )


def binomial_at_least(*, n: int, p: float, wanted: int) -> float:
    """The chance that at least ``wanted`` of ``n`` come out, each with chance ``p``.

    ``n`` 0 or more; ``p`` 0 to 1; ``wanted`` any whole number. Within 1e-9 for n up to 100,000.

    Raises ``ValueError`` outside. Source: the binomial distribution, P(X >= k).
    """
    if n < 0:
        raise ValueError(f"a number of pieces is 0 or more, not {n}")
    if not 0 <= p <= 1:
        raise ValueError(f"a chance is 0 to 1, not {p}")
    if wanted <= 0:
        return 1.0
    if wanted > n:
        return 0.0
    if p in (0, 1):
        return float(p)
    # Sum the side away from the mean, so that a chance near 1 is 1 less a small sum.
    if wanted > n * p:
        return min(_sum_of_terms(n, p, wanted, n), 1.0)
    return max(1.0 - _sum_of_terms(n, p, 0, wanted - 1), 0.0)


def chance_of_enough(
    *, started: int, wanted: int, good_percent: int, bad_load_percent: int = 0
) -> float:
    """The chance, 0 to 1, that ``started`` pieces in one load give ``wanted`` good ones.

    ``good_percent`` 0 to 100: how many of 100 come out good when the load does not go wrong;
    ``bad_load_percent`` 0 to 100: how many of 100 loads are lost altogether.

    Raises ``ValueError`` outside. Source: see the module.
    """
    _check_percent("good pieces", good_percent)
    _check_percent("bad loads", bad_load_percent)
    enough = binomial_at_least(n=started, p=good_percent / 100, wanted=wanted)
    return enough if wanted <= 0 else enough * (100 - bad_load_percent) / 100


def number_to_start(
    *, wanted: int, good_percent: int, chance_percent: int, bad_load_percent: int = 0
) -> int:
    """The smallest number started that gives ``wanted`` good with the wanted chance.

    ``wanted`` 0 to 10,000; ``good_percent`` 1 to 100; ``chance_percent`` 1 to 99 (100 only when
    nothing can be lost); ``bad_load_percent`` 0 to 99. A chance that lands on the wanted one
    exactly counts as reached (decided in whole numbers, not in floating point).

    Raises ``ValueError`` outside; ``OutOfReach`` when bad loads alone forbid it.
    Source: see the module.
    """
    _check_percent("good pieces", good_percent, least=1)
    _check_percent("chances", chance_percent, least=1)
    _check_percent("bad loads", bad_load_percent, most=99)
    if not 0 <= wanted <= MOST_WANTED:
        raise ValueError(f"wanted pieces are 0 to {MOST_WANTED}, not {wanted}")
    if wanted == 0:
        return 0
    certain = good_percent == 100
    best = 100 - bad_load_percent
    if chance_percent > best or (chance_percent == best and not certain):
        raise OutOfReach(chance_percent=chance_percent, bad_load_percent=bad_load_percent)
    if certain:
        return wanted

    def enough(started: int) -> bool:
        return _reaches(started, wanted, good_percent, bad_load_percent, chance_percent)

    low, high = wanted - 1, wanted  # too few; enough once the loop ends
    while not enough(high):
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        if enough(middle):
            high = middle
        else:
            low = middle
    return high


def upper_bound_of_loss(*, lost: int, of: int, confidence: float = 0.95) -> float:
    """The largest loss rate, 0 to 1, that the record still allows (one-sided, exact).

    The rate at which so few losses would be seen in only 1 - ``confidence`` of such records.
    0 of 50 gives 0.058, 0 of 0 gives 1. ``lost`` 0 to ``of``; ``confidence`` above 0, below 1.

    Raises ``ValueError`` outside. Source: Clopper and Pearson 1934; for 0 lost it is close to
    3 / of, the rule of three (J. A. Hanley and A. Lippman-Hand, "If nothing goes wrong, is
    everything all right?", JAMA 249 (1983)).
    """
    if not 0 <= lost <= of:
        raise ValueError(f"lost is 0 to {of}, not {lost}")
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence is above 0 and below 1, not {confidence}")
    if lost == of:
        return 1.0
    low, high = lost / of, 1.0
    for _ in range(60):  # the interval halves each time: 60 halvings leave nothing of a float
        middle = (low + high) / 2
        at_most_lost = 1 - binomial_at_least(n=of, p=middle, wanted=lost + 1)
        if at_most_lost > 1 - confidence:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def say_record(*, lost: int, of: int) -> str:
    """A record in a plain sentence that does not promise more than was seen.

    'no record yet', '0 of 50 lost: up to about 6 % may be',
    '3 of 50 lost (6 %): up to about 15 % may be' (one-sided 95 %).

    Raises ``ValueError`` when not 0 <= ``lost`` <= ``of``.
    """
    bound = math.floor(100 * upper_bound_of_loss(lost=lost, of=of) + 0.5)
    if of == 0:
        return "no record yet"
    seen = f"{lost} of {of} lost"
    if lost:
        seen += f" ({_say_percent(lost / of)})"
    if lost == of:
        return f"{seen}: all may be"
    return f"{seen}: up to about {max(bound, 1)} % may be"


def _reaches(
    started: int, wanted: int, good_percent: int, bad_load_percent: int, chance_percent: int
) -> bool:
    """Whether the chance is reached; whole numbers decide where floats come too close."""
    chance = chance_of_enough(
        started=started,
        wanted=wanted,
        good_percent=good_percent,
        bad_load_percent=bad_load_percent,
    )
    if abs(chance - chance_percent / 100) > _TOO_CLOSE:
        return chance > chance_percent / 100
    good, bad = good_percent, 100 - good_percent
    ways = sum(
        math.comb(started, k) * good**k * bad ** (started - k) for k in range(wanted, started + 1)
    )
    return bool(ways * (100 - bad_load_percent) >= chance_percent * 100**started)


def _sum_of_terms(n: int, p: float, first: int, last: int) -> float:
    """The sum of P(X = k) for k from ``first`` to ``last``."""
    ln_p, ln_q, ln_all = math.log(p), math.log1p(-p), math.lgamma(n + 1)
    return math.fsum(
        math.exp(ln_all - math.lgamma(k + 1) - math.lgamma(n - k + 1) + k * ln_p + (n - k) * ln_q)
        for k in range(first, last + 1)
    )


def _say_percent(share: float) -> str:
    percent = math.floor(100 * share + 0.5)
    return f"{percent} %" if percent else "under 1 %"


def _check_percent(what: str, percent: int, *, least: int = 0, most: int = 100) -> None:
    if not least <= percent <= most:
        raise ValueError(f"{what} in 100 are {least} to {most}, not {percent}")
