"""Are the chances right, and does a short record stay modest?

Checked against ``scipy.stats`` (binom, beta) and against published figures named beside the test.
"""

from fractions import Fraction
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, binom  # type: ignore[import-untyped]

from studio.craft.losses import (
    OutOfReach,
    binomial_at_least,
    chance_of_enough,
    number_to_start,
    say_record,
    upper_bound_of_loss,
)


@given(st.integers(0, 3000), st.floats(0, 1), st.integers(-2, 3002))
def test_binomial_against_scipy(n: int, p: float, wanted: int) -> None:
    expected = float(binom.sf(wanted - 1, n, p))
    assert binomial_at_least(n=n, p=p, wanted=wanted) == pytest.approx(expected, abs=1e-10)


@pytest.mark.parametrize("wanted", [89_500, 89_900, 90_000, 90_100, 90_500])
def test_binomial_of_many(wanted: int) -> None:
    expected = float(binom.sf(wanted - 1, 100_000, 0.9))
    assert binomial_at_least(n=100_000, p=0.9, wanted=wanted) == pytest.approx(expected, abs=1e-9)


def test_binomial_by_hand() -> None:
    # Two coins: both 1/4, at least one 3/4.
    assert binomial_at_least(n=2, p=0.5, wanted=2) == pytest.approx(1 / 4)
    assert binomial_at_least(n=2, p=0.5, wanted=1) == pytest.approx(3 / 4)
    # 10 started at 9 in 10: 0.9^10 + 10 x 0.9^9 x 0.1 = 0.3487 + 0.3874.
    assert binomial_at_least(n=10, p=0.9, wanted=9) == pytest.approx(0.9**10 + 0.9**9)


def test_binomial_edges() -> None:
    assert binomial_at_least(n=0, p=0.5, wanted=0) == 1
    assert binomial_at_least(n=0, p=0.5, wanted=1) == 0
    assert binomial_at_least(n=5, p=0, wanted=1) == 0
    assert binomial_at_least(n=5, p=1, wanted=5) == 1


@pytest.mark.parametrize(("n", "p"), [(-1, 0.5), (5, -0.1), (5, 1.1), (5, float("nan"))])
def test_binomial_refuses(n: int, p: float) -> None:
    with pytest.raises(ValueError, match=r"a (number of pieces|chance) is"):
        binomial_at_least(n=n, p=p, wanted=1)


def test_number_to_start_by_hand() -> None:
    # At 1 in 2: one piece gives 1/2, two give 3/4, which is reached exactly.
    assert number_to_start(wanted=1, good_percent=50, chance_percent=75) == 2
    assert number_to_start(wanted=1, good_percent=50, chance_percent=76) == 3
    # One at 9 in 10 gives 0.90; two give 0.99, three 0.999.
    assert number_to_start(wanted=1, good_percent=90, chance_percent=90) == 1
    assert number_to_start(wanted=1, good_percent=90, chance_percent=99) == 2
    assert number_to_start(wanted=0, good_percent=90, chance_percent=99) == 0
    assert number_to_start(wanted=20, good_percent=100, chance_percent=100) == 20
    # With 10 in 100 loads bad, one piece at 100 in 100 gives exactly 0.90.
    assert number_to_start(wanted=1, good_percent=100, chance_percent=90, bad_load_percent=10) == 1


@given(st.integers(1, 60), st.integers(5, 99), st.integers(1, 99), st.integers(0, 30))
def test_number_to_start_is_the_smallest(wanted: int, good: int, chance: int, bad: int) -> None:
    if chance >= 100 - bad:
        with pytest.raises(OutOfReach):
            number_to_start(
                wanted=wanted, good_percent=good, chance_percent=chance, bad_load_percent=bad
            )
        return
    n = number_to_start(
        wanted=wanted, good_percent=good, chance_percent=chance, bad_load_percent=bad
    )

    def exact(started: int) -> Fraction:
        p = Fraction(good, 100)
        fine = sum(
            comb(started, k) * p**k * (1 - p) ** (started - k) for k in range(wanted, started + 1)
        )
        return fine * (1 - Fraction(bad, 100))

    assert exact(n) >= Fraction(chance, 100)
    assert exact(n - 1) < Fraction(chance, 100)


@given(st.integers(1, 400), st.integers(20, 99), st.integers(50, 99))
def test_number_to_start_against_scipy(wanted: int, good: int, chance: int) -> None:
    n = number_to_start(wanted=wanted, good_percent=good, chance_percent=chance)
    assert binom.sf(wanted - 1, n, good / 100) >= chance / 100 - 1e-9
    assert binom.sf(wanted - 1, n - 1, good / 100) < chance / 100 + 1e-9


@pytest.mark.parametrize(("wanted", "potters_start"), [(25, 26), (1, 2), (4, 5), (9, 12)])
def test_what_potters_add_is_in_the_same_size(wanted: int, potters_start: int) -> None:
    # Potters' own extras on orders (forum posts): 26 for 25, 2 for 1, 5 or 6 for 4, 12 for 9.
    # Common practice, no chance stated: it lies between what 95 and 80 in 100 good would ask.
    few = number_to_start(wanted=wanted, good_percent=98, chance_percent=60)
    many = number_to_start(wanted=wanted, good_percent=80, chance_percent=95)
    assert few <= potters_start <= many


def test_a_bad_load_takes_all() -> None:
    assert chance_of_enough(started=5, wanted=5, good_percent=100, bad_load_percent=3) == 0.97
    assert chance_of_enough(started=5, wanted=0, good_percent=50, bad_load_percent=3) == 1
    # Both of two loads fine: 0.97 x 0.97 = 0.9409.
    assert chance_of_enough(
        started=5, wanted=5, good_percent=100, bad_load_percent=3
    ) ** 2 == pytest.approx(0.9409)


def test_what_no_number_can_give() -> None:
    with pytest.raises(OutOfReach, match="Fire over two loads") as caught:
        number_to_start(wanted=5, good_percent=90, chance_percent=98, bad_load_percent=3)
    assert caught.value.best_percent == 97
    with pytest.raises(OutOfReach):
        number_to_start(wanted=5, good_percent=99, chance_percent=100)


@pytest.mark.parametrize(
    ("wanted", "good", "chance", "bad"),
    [(-1, 90, 90, 0), (10_001, 90, 90, 0), (5, 0, 90, 0), (5, 101, 90, 0), (5, 90, 0, 0),
     (5, 90, 101, 0), (5, 90, 90, 100), (5, 90, 90, -1)],
)  # fmt: skip
def test_number_to_start_refuses(wanted: int, good: int, chance: int, bad: int) -> None:
    with pytest.raises(ValueError, match=r" (are|in) "):
        number_to_start(
            wanted=wanted, good_percent=good, chance_percent=chance, bad_load_percent=bad
        )


@pytest.mark.parametrize(("of", "percent"), [(50, 6.0), (1000, 0.3)])
def test_the_rule_of_three_as_published(of: int, percent: float) -> None:
    # "If almost nothing goes wrong, is almost everything all right?", letter, JAMA 274 (1995)
    # 1013: no deaths among 50, upper 95 % limit about 3/50 or 6 %; among 1000, 0.3 %.
    assert 100 * upper_bound_of_loss(lost=0, of=of) == pytest.approx(percent, rel=0.04)


@given(st.integers(1, 2000), st.data(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_upper_bound_against_scipy(of: int, data: st.DataObject, confidence: float) -> None:
    lost = data.draw(st.integers(0, of - 1))
    expected = float(beta.ppf(confidence, lost + 1, of - lost))
    bound = upper_bound_of_loss(lost=lost, of=of, confidence=confidence)
    assert bound == pytest.approx(expected, abs=1e-9)


def test_upper_bound_edges() -> None:
    assert upper_bound_of_loss(lost=0, of=0) == 1
    assert upper_bound_of_loss(lost=3, of=3) == 1
    # 0 of n: (1 - p)^n = 0.05, so p = 1 - 0.05^(1/n); 0 of 50 is "up to about 6 %", no less.
    assert upper_bound_of_loss(lost=0, of=50) == pytest.approx(1 - 0.05 ** (1 / 50))
    assert upper_bound_of_loss(lost=0, of=7) == pytest.approx(1 - 0.05 ** (1 / 7))


@pytest.mark.parametrize(
    ("lost", "of", "confidence"), [(-1, 5, 0.95), (6, 5, 0.95), (1, 5, 0.0), (1, 5, 1.0)]
)
def test_upper_bound_refuses(lost: int, of: int, confidence: float) -> None:
    with pytest.raises(ValueError, match=r"(lost|confidence) is"):
        upper_bound_of_loss(lost=lost, of=of, confidence=confidence)


@pytest.mark.parametrize(
    ("lost", "of", "says"),
    [
        (0, 0, "no record yet"),
        (0, 50, "0 of 50 lost: up to about 6 % may be"),
        (0, 1, "0 of 1 lost: up to about 95 % may be"),
        (3, 50, "3 of 50 lost (6 %): up to about 15 % may be"),
        (2, 2, "2 of 2 lost (100 %): all may be"),
        (1, 1000, "1 of 1000 lost (under 1 %): up to about 1 % may be"),
        (0, 100_000, "0 of 100000 lost: up to about 1 % may be"),
    ],
)
def test_say_record(lost: int, of: int, says: str) -> None:
    assert say_record(lost=lost, of=of) == says


def test_a_record_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="lost is 0 to 3"):
        say_record(lost=4, of=3)
