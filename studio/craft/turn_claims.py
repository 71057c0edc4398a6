"""Whose claim to one of this month's parcels is the most pressing?

Everybody is a key with what is due after this month without a parcel, and with what a month adds
[parcels]. Sources: see ``craft.turns``.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache

MOST_CROSSINGS = 400
"""How far two claims are compared before they count as equal."""

Claim = tuple[int, tuple[tuple[int, bool], ...], Fraction]


def deviation_bound(n: int) -> Fraction:
    """The most by which share and parcels sent differ among ``n`` steady members [parcels].

    For one parcel a month; with more a month the difference is less than 1.

    ``n`` 1 or more. Raises ``ValueError``. Source: Tijdeman 1980; 0 for one alone.
    """
    if n < 1:
        raise ValueError(f"turns are among 1 or more, not {n}")
    return Fraction(0) if n == 1 else 1 - Fraction(1, 2 * n - 2)


def soonest(
    *, due: Mapping[str, Fraction], growth: Mapping[str, Fraction], bound: Fraction
) -> frozenset[str]:
    """For a month of one parcel: those whose claim runs out first.

    Joins and skips can leave nobody due; then all are asked. Source: Tijdeman 1980.
    """
    ready = [key for key in due if due[key] >= 1 - bound] or list(due)
    runs_out = {key: (bound - due[key]) / growth[key] for key in ready}
    first = min(runs_out.values())
    return frozenset(key for key in ready if runs_out[key] == first)


def most_pressing(*, due: Mapping[str, Fraction], growth: Mapping[str, Fraction]) -> frozenset[str]:
    """For a month of several parcels: those whose claim is the most pressing.

    Source: Baruah and others 1996, algorithm PF.
    """
    claims = {key: _claim(due[key], growth[key]) for key in due}
    most = max(claims.values())
    return frozenset(key for key in due if claims[key] == most)


def _claim(due: Fraction, growth: Fraction) -> Claim:
    """How pressing a claim is; the greatest goes first.

    2 who would be a whole parcel behind without one this month; 0 who would be a whole one ahead
    with it; 1 all others, by when their share next reaches whole numbers. Then what is due.
    """
    if due >= 1:
        return 2, (), due
    if due <= 0:
        return 0, (), due
    return 1, _crossings(due, growth), due


@lru_cache(maxsize=4096)
def _crossings(due: Fraction, growth: Fraction) -> tuple[tuple[int, bool], ...]:
    """When a claim reaches whole parcels: (months until then, negative; does it go beyond?).

    ``due`` is between 0 and 1. A later month is less pressing; in the same month one that goes
    beyond is more so, because the next claim begins in it already; one that stops there ends the
    comparison. In whole numbers, because fractions are slow.
    """
    one = due.denominator * growth.denominator
    at, step = due.numerator * growth.denominator, growth.numerator * due.denominator
    found = []
    for whole in range(one, (MOST_CROSSINGS + 1) * one, one):
        months = -((at - whole) // step)
        beyond = at + months * step > whole
        found.append((-months, beyond))
        if not beyond:
            break
    return tuple(found)
