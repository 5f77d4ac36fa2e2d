"""One value from several that scatter: partials of a pair, then plucks of a take.

Values count by the inverse of their own variance. Where they scatter more than that explains (chi-square at 99.9 %),
the excess is a variance of its own, common to all, found where the weighted squares come to their expectation (R. C.
Paule and J. Mandel, J. Res. NBS 87, 1982; recalled), and values far out count less (P. J. Huber, Ann. Math. Stat. 35,
1964; recalled). Imports numpy and nothing outside its package.
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


def pool(values: Array, variances: Array, loudness: Array | None = None) -> Pooled:
    """Combine values, each with a variance of its own.

    Args:
        values: shape (values,), one or more.
        variances: shape (values,), of each, above 0.
        loudness: shape (values,), above 0. Where the values scatter more than their own errors explain, those are not
            believed below that of the loud ones, and a value half as loud as another counts half as much beside it.
            None where all are alike.
    """
    weights = _shares(1.0 / variances)
    mean = float(weights @ values)
    own = float(np.sqrt(weights**2 @ variances))
    count = len(values)
    if count < 2 or float(((values - mean) ** 2 / variances).sum()) <= chi_square_999(count - 1):
        return Pooled(mean, own, 0.0, weights)
    if loudness is None:
        loudness = np.ones(count)
    else:
        loudness = loudness / loudness.max()
        variances = np.maximum(variances, _middle(variances, loudness))
    excess = _excess(values, variances, loudness)
    for _ in range(ROUNDS):
        total = (variances + excess) / loudness
        far = np.abs(values - mean) / np.sqrt(total)
        weights = _shares(np.minimum(1.0, FAR_OUT / np.maximum(far, 1e-12)) / total)
        mean = float(weights @ values)
    widened = student_95(count - 1) / NORMAL_95
    spread = float(np.sqrt(weights**2 @ ((variances + widened**2 * excess) / loudness)))
    return Pooled(mean, max(spread, own), float(np.sqrt(excess)), weights)


def _shares(weights: Array) -> Array:
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _excess(values: Array, variances: Array, loudness: Array) -> float:
    """Return the common variance at which the weighted squares about their mean come to values - 1.

    Where there are enough values, one that is far out cannot make it large.
    """
    low, high = 0.0, float(np.ptp(values)) ** 2
    for _ in range(60):
        middle = 0.5 * (low + high)
        weights = loudness / (variances + middle)
        mean = float(weights @ values / weights.sum())
        if float(weights @ (values - mean) ** 2) > len(values) - 1:
            low = middle
        else:
            high = middle
    if len(values) < ENOUGH_TO_TELL:
        return high
    off = np.abs(values - _middle(values, loudness))
    spread = NORMAL_PER_MAD * _middle(off, loudness)
    return min(high, (MOST_SPREADS * spread) ** 2)


def _middle(values: Array, weights: Array) -> float:
    """Return the weighted median, the plain one for equal weights."""
    order = np.argsort(values)
    below = np.cumsum(weights[order]) / weights.sum()
    first, last = (int(np.searchsorted(below, half)) for half in (0.5 - 1e-9, 0.5 + 1e-9))
    return 0.5 * float(values[order][first] + values[order][last])
