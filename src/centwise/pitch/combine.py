"""One value from several that scatter: partials of a pair, then plucks of a take.

Values count by the inverse of their own variance. Where they scatter more than that explains (chi-square at 99.9 %),
the excess is a variance of its own, common to all, found where the weighted squares come to their expectation (R. C.
Paule and J. Mandel, J. Res. NBS 87, 1982; recalled), and values far out count less (P. J. Huber, Ann. Math. Stat. 35,
1964; recalled).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.pitch.quantiles import NORMAL_95, chi_square_999, student_95

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

FAR_OUT = 1.5
"""Values beyond so many standard deviations count as if they stood there (Huber's usual choice)."""
ROUNDS = 20
ENOUGH_TO_TELL = 5
MOST_SPREADS = 2.0
"""From five values on, the excess is at most twice the spread of their middle half (judgement)."""
NORMAL_PER_MAD = 1.4826


@dataclass(frozen=True, slots=True)
class Pooled:
    """A weighted mean.

    Attributes:
        mean: in the values' own unit.
        std_error: of the mean, widened for few values where it comes from their scatter: +-1.645 of it hold 90 %.
        excess_sd: standard deviation that the values' own errors do not explain, 0 where they do.
        weights: shape (values,), adding up to 1.
    """

    mean: float
    std_error: float
    excess_sd: float
    weights: Array


def pool(values: Array, variances: Array) -> Pooled:
    """Combine values, shape (values,), one or more, each with its own variance above 0."""
    weights = _shares(1.0 / variances)
    mean = float(weights @ values)
    own = float(np.sqrt(weights**2 @ variances))
    count = len(values)
    if count < 2 or float(((values - mean) ** 2 / variances).sum()) <= chi_square_999(count - 1):
        return Pooled(mean, own, 0.0, weights)
    excess = _excess(values, variances)
    for _ in range(ROUNDS):
        total = variances + excess
        far = np.abs(values - mean) / np.sqrt(total)
        weights = _shares(np.minimum(1.0, FAR_OUT / np.maximum(far, 1e-12)) / total)
        mean = float(weights @ values)
    widened = student_95(count - 1) / NORMAL_95
    spread = float(np.sqrt(weights**2 @ (variances + widened**2 * excess)))
    return Pooled(mean, max(spread, own), float(np.sqrt(excess)), weights)


def _shares(weights: Array) -> Array:
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _excess(values: Array, variances: Array) -> float:
    """Return the common variance at which the weighted squares about their mean come to values - 1.

    Where there are enough values, one that is far out cannot make it large.
    """
    low, high = 0.0, float(np.ptp(values)) ** 2
    for _ in range(60):
        middle = 0.5 * (low + high)
        weights = 1.0 / (variances + middle)
        mean = float(weights @ values / weights.sum())
        if float(weights @ (values - mean) ** 2) > len(values) - 1:
            low = middle
        else:
            high = middle
    if len(values) < ENOUGH_TO_TELL:
        return high
    spread = NORMAL_PER_MAD * float(np.median(np.abs(values - np.median(values))))
    return min(high, (MOST_SPREADS * spread) ** 2)
