"""Is what a record says modest, in the right direction, and right where it can be checked?

Checked against ``scipy.stats.betabinom`` and binom, printed tables and exact fractions. How often a
stated chance comes true is measured by ``python -m tests.bench.losses``; a small piece runs here.
"""

import math
from fractions import Fraction
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom, binom  # type: ignore[import-untyped]

from studio.craft import learnt as made
from studio.craft.learnt import (
    Batch,
    Learnt,
    Record,
    beta_binomial,
    chance_through,
    learn,
    say_so_far,
    start_through,
)
from studio.craft.losses import OutOfReach, binomial_at_least, number_to_start
from tests.bench.losses import JUDGED, TUNING, WAYS, asked


def batches(*counts: tuple[int, int]) -> tuple[Batch, ...]:
    return tuple(Batch(good=good, of=of) for good, of in counts)


def of(*counts: tuple[int, int]) -> Learnt:
    return learn(Record(line=batches(*counts)), guess_percent=88)


@given(st.integers(0, 200), st.data(), st.floats(0.02, 0.98), st.floats(0.5, 500))
def test_beta_binomial_against_scipy(n: int, data: st.DataObject, p: float, tight: float) -> None:
    good = data.draw(st.integers(0, n))
    expected = float(betabinom.pmf(good, n, p * tight, (1 - p) * tight))
    assert beta_binomial(good=good, of=n, p=p, tight=tight) == pytest.approx(expected, rel=1e-6)


def test_beta_binomial_by_hand() -> None:
    # a = b = 1: every count of 4 is as likely as another, 1 in 5.
    assert beta_binomial(good=3, of=4, p=0.5, tight=2) == pytest.approx(1 / 5)
    assert beta_binomial(good=5, of=4, p=0.5, tight=2) == 0
    for wrong in ({"p": 0.0}, {"p": 1.0}, {"tight": 0.0}, {"of": -1}):
        with pytest.raises(ValueError, match="no beta-binomial"):
            beta_binomial(**({"good": 0, "of": 4, "p": 0.5, "tight": 2.0} | wrong))  # type: ignore[arg-type]


def only(*, p: int, k: int, q: int) -> Learnt:
    """A studio that is known to be so: all weight on one share, tightness and wreck rate."""
    weights = np.zeros((48, len(made._TIGHT), len(made._WRECK)))
    weights[p, k, q] = 1.0
    return Learnt(weights=weights, good=0, of=0, like=0, guess_percent=88)


@pytest.mark.parametrize(("p", "k", "q"), [(5, 0, 0), (12, 1, 2), (20, 2, 3), (9, 3, 1)])
def test_the_next_load_against_scipy(p: int, k: int, q: int) -> None:
    n, share, tight = 30, float(made._P[p]), float(made._TIGHT[k])
    wreck = float(made._WRECK[q])
    ruin_good, ruin_lost = made._RUIN
    expected = (1 - wreck) * betabinom.pmf(
        np.arange(n + 1), n, share * tight, (1 - share) * tight
    ) + wreck * betabinom.pmf(np.arange(n + 1), n, ruin_good, ruin_lost)
    known = only(p=p, k=k, q=q)
    assert known.out_of(n) == pytest.approx(expected, abs=1e-6)
    # Two loads of 15 each: the chances of their sum.
    half = (1 - wreck) * betabinom.pmf(
        np.arange(16), 15, share * tight, (1 - share) * tight
    ) + wreck * betabinom.pmf(np.arange(16), 15, ruin_good, ruin_lost)
    assert known.out_of(30, loads=2) == pytest.approx(np.convolve(half, half), abs=1e-6)


def test_where_loads_are_all_alike_it_is_the_binomial() -> None:
    known = only(p=14, k=3, q=0)
    share, wreck = float(made._P[14]), float(made._WRECK[0])
    for started, wanted in ((12, 10), (40, 36), (90, 80)):
        expected = (1 - wreck) * float(binom.sf(wanted - 1, started, share))
        chance = known.chance_of_enough(started=started, wanted=wanted)
        assert chance == pytest.approx(expected, abs=wreck + 1e-4)


# At most so many of n, each with chance p, as printed; read in November 2026.
PRINTED = [
    # Probability Workbook For Dummies (Wiley, ISBN 9781394368167), Appendix A, Table A-1, as its
    # page at oreilly.com shows it: three figures.
    *[(5, 0, p, said, 3) for p, said in
      [("0.01", "0.951"), ("0.05", "0.774"), ("0.10", "0.590"), ("0.20", "0.328"),
       ("0.25", "0.237"), ("0.30", "0.168"), ("0.40", "0.078"), ("0.50", "0.031"),
       ("0.60", "0.010"), ("0.70", "0.002")]],
    *[(5, 1, p, said, 3) for p, said in
      [("0.01", "0.999"), ("0.05", "0.977"), ("0.10", "0.919"), ("0.20", "0.737"),
       ("0.25", "0.633"), ("0.30", "0.528"), ("0.40", "0.337"), ("0.50", "0.187"),
       ("0.60", "0.087"), ("0.70", "0.031"), ("0.75", "0.016"), ("0.80", "0.007")]],
    # "Binomial Tables", Table 7.3, n = 10, p = 0.4, at statskey.com: five figures.
    *[(10, k, "0.4", said, 5) for k, said in
      [(0, "0.00605"), (1, "0.04636"), (2, "0.16729"), (3, "0.38228"), (4, "0.63310")]],
    # From memory, so never the only truth: n = 10, p = 0.1.
    (10, 1, "0.1", "0.7361", 4),
]  # fmt: skip


@pytest.mark.parametrize(("n", "most", "p", "printed", "digits"), PRINTED)
def test_printed_tables_of_the_binomial(
    n: int, most: int, p: str, printed: str, digits: int
) -> None:
    share = Fraction(p)
    exact = sum(
        (comb(n, k) * share**k * (1 - share) ** (n - k) for k in range(most + 1)), Fraction(0)
    )
    # A printed figure is rounded: the exact fraction lies within half of its last place (a table
    # may cut 0.1875 to 0.187, so the half itself is let in).
    assert abs(exact - Fraction(printed)) <= Fraction(1, 2 * 10**digits)
    assert float(binom.cdf(most, n, float(share))) == pytest.approx(float(exact), abs=1e-12)
    said = 1 - binomial_at_least(n=n, p=float(share), wanted=most + 1)
    assert said == pytest.approx(float(exact), abs=1e-9)


def test_no_record_is_the_guess_and_says_so() -> None:
    nothing = learn(Record(), guess_percent=88)
    assert abs(nothing.good_percent - 88) <= 4
    assert say_so_far(nothing) == "no record yet: we reckon with 88 in 100, a guess"
    like = learn(Record(rest=(batches((5, 20), (8, 20)),)), guess_percent=88)
    assert like.good_percent < nothing.good_percent - 8
    assert "no record yet" in say_so_far(like)
    assert "as its like came out" in say_so_far(like)
    assert say_so_far(of((9, 10))) == (
        f"9 of 10 good so far: we reckon with {of((9, 10)).good_percent} in 100"
    )


def test_a_short_record_is_pulled_towards_its_like() -> None:
    assert 0.5 < of((0, 2)).good_share < of((2, 2)).good_share < 1
    assert of((0, 20), (1, 20)).good_share < 0.3
    # With 600 pieces of one line, the guess no longer matters: 93 in 100 were good.
    long = batches(*[(28, 30)] * 20)
    low = learn(Record(line=long), guess_percent=60).good_share
    high = learn(Record(line=long), guess_percent=98).good_share
    assert low == pytest.approx(high, abs=0.02)
    assert high == pytest.approx(28 / 30, abs=0.025)


def test_the_same_counts_for_more_than_its_like() -> None:
    bad = batches(*[(12, 20)] * 4)
    none = learn(Record(), guess_percent=90).good_share
    shares = [
        learn(Record(line=bad), guess_percent=90).good_share,
        learn(Record(form=(bad,)), guess_percent=90).good_share,
        learn(Record(body=(bad,)), guess_percent=90).good_share,
        learn(Record(rest=(bad,)), guess_percent=90).good_share,
        none,
    ]
    assert shares == sorted(shares)
    assert shares[0] == pytest.approx(0.6, abs=0.08)


def test_losses_that_came_together_make_loads_uncertain() -> None:
    # 60 of 80 good both times: 15 of each 20, or three full loads and one lost altogether.
    spread = of(*[(15, 20)] * 4, *[(15, 20)] * 4)
    together = of(*[(20, 20)] * 3, (0, 20), *[(20, 20)] * 3, (0, 20))
    # A load gone wrong altogether leaves fewer than 5 of 20.
    gone = [float(one.out_of(20)[:5].sum()) for one in (together, spread)]
    assert gone[0] > 3 * gone[1]
    # Asked for few, the studio of ruined loads is the less sure one, though the mean is the same.
    sure = spread.chance_of_enough(started=20, wanted=8)
    assert together.chance_of_enough(started=20, wanted=8) < sure - 0.05


@given(st.integers(1, 40), st.integers(50, 90), st.integers(1, 3))
def test_the_number_to_start_is_the_smallest(wanted: int, chance: int, loads: int) -> None:
    known = of((18, 20), (19, 20), (20, 20))
    n = known.number_to_start(wanted=wanted, chance_percent=chance, loads=loads)
    assert known.chance_of_enough(started=n, wanted=wanted, loads=loads) >= chance / 100
    if loads == 1:
        assert known.chance_of_enough(started=n - 1, wanted=wanted) < chance / 100


def test_a_learnt_number_is_no_smaller_than_a_known_one() -> None:
    # 93 of 100 seen; were it known to be 93 in 100 of each piece alone, 24 would do for 20.
    known = number_to_start(wanted=20, good_percent=93, chance_percent=90)
    assert of((47, 50), (46, 50)).number_to_start(wanted=20, chance_percent=90) >= known


def test_through_all_steps() -> None:
    one = of((9, 10), (10, 10))
    assert chance_through([one], started=12, wanted=10) == pytest.approx(
        one.chance_of_enough(started=12, wanted=10)
    )
    # Two steps by hand: the sum over what the first leaves.
    first = one.out_of(8)
    by_hand = math.fsum(
        float(first[n]) * one.chance_of_enough(started=n, wanted=6) for n in (6, 7, 8)
    )
    assert chance_through([one, one], started=8, wanted=6) == pytest.approx(by_hand, abs=1e-7)
    alone = start_through([one], wanted=10, chance_percent=80)
    assert start_through([one, one, one], wanted=10, chance_percent=80) > alone
    assert start_through([one], wanted=0, chance_percent=80) == 0
    assert chance_through([one], started=0, wanted=0) == 1
    assert chance_through([one], started=3, wanted=4) == 0


def test_what_no_number_can_give() -> None:
    ruined = of(*[(20, 20), (0, 20)] * 6)
    with pytest.raises(OutOfReach, match="accept less"):
        ruined.number_to_start(wanted=10, chance_percent=95)


def test_refuses_what_cannot_be() -> None:
    with pytest.raises(ValueError, match="good is 0 to 3"):
        Batch(good=4, of=3)
    for guess in (0, 100):
        with pytest.raises(ValueError, match="a guess is 1 to 99"):
            learn(Record(), guess_percent=guess)
    known = of((9, 10))
    with pytest.raises(ValueError, match="wanted pieces are 0 to 400"):
        known.number_to_start(wanted=401, chance_percent=90)
    with pytest.raises(ValueError, match="chances in 100 are 1 to 99"):
        known.number_to_start(wanted=10, chance_percent=100)
    with pytest.raises(ValueError, match="1 load or more"):
        known.out_of(10, loads=0)
    with pytest.raises(ValueError, match="pieces started are"):
        known.out_of(-1)
    with pytest.raises(ValueError, match="at least one step"):
        chance_through([], started=1, wanted=1)


def test_a_said_ninety_comes_true() -> None:
    # 300 drawn studios whose losses come by the load. 5 standard errors of 90 % in 300 are 8.7.
    rng = np.random.default_rng(7)
    answers = [asked(WAYS[1], rng) for _ in range(300)]
    enough = np.mean([answer.came for answer in answers if answer is not None])
    assert 0.81 < enough < 0.99


def test_the_judged_seeds_are_none_of_those_the_weights_were_chosen_by() -> None:
    assert not set(TUNING) & set(JUDGED)
