"""Student's t for whole degrees of freedom, where its distribution is a finite sum.

M. Abramowitz and I. A. Stegun 1972, Handbook of Mathematical Functions, 26.7.3 and 26.7.4 (recalled; held against scipy
by a test). Imports nothing of centwise.
"""

from __future__ import annotations

import math


def t_95_two_sided(degrees: int) -> float:
    """Return Student's t that leaves 2.5 % on either side, by bisection.

    Args:
        degrees: 1 or more.
    """
    low, high = 0.0, 13.0
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _within(middle, degrees) < 0.95 else (low, middle)
    return 0.5 * (low + high)


def _within(t: float, degrees: int) -> float:
    """Return the chance that Student's t lies between -t and t."""
    angle = math.atan2(t, math.sqrt(degrees))
    term, total = (math.cos(angle), math.cos(angle)) if degrees % 2 else (1.0, 1.0)
    if degrees == 1:
        return 2.0 * angle / math.pi
    for k in range(2 + degrees % 2, degrees, 2):
        term *= (k - 1) / k * math.cos(angle) ** 2
        total += term
    return 2.0 / math.pi * (angle + math.sin(angle) * total) if degrees % 2 else math.sin(angle) * total
