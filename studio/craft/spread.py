"""How far may the next reading be from the mean of few?

Source: Student's t distribution; NIST/SEMATECH, e-Handbook of Statistical Methods (2012), section
1.3.6.7.2, critical values for a two-sided 95 %. The tests hold the table to scipy.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, stdev
from typing import Final

T_975: Final = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
    2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086,
    2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)  # fmt: skip


def t_975(freedom: int) -> float:
    """The factor of a two-sided 95 % for 1 or more degrees of freedom; from 31 on that of 30.

    Raises ``ValueError`` below 1.
    """
    if freedom < 1:
        raise ValueError("a spread needs two readings or more")
    return T_975[min(freedom, len(T_975)) - 1]


def of_next(values: Sequence[float]) -> tuple[float, float]:
    """The mean of two or more readings and how far the next one may be from it, two-sided 95 %."""
    n = len(values)
    return fmean(values), t_975(n - 1) * stdev(values) * math.sqrt(1 + 1 / n)
