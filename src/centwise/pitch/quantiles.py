"""Two quantiles without a statistics package, in closed form; held against scipy by a test.

Imports nothing of centwise.
"""

from __future__ import annotations

import math

NORMAL_95 = 1.6448536269514722
NORMAL_999 = 3.090232306167813


def student_95(freedom: int) -> float:
    """Return the 95 % point of Student's t, 1 degree of freedom or more; within 0.1 %.

    The first two exactly, the rest by R. A. Fisher and E. A. Cornish's expansion (Technometrics 2, 1960; recalled).
    """
    if freedom == 1:
        return math.tan(0.45 * math.pi)
    if freedom == 2:
        return 0.9 / math.sqrt(2.0 * 0.05 * 0.95)
    z, n = NORMAL_95, float(freedom)
    terms = (
        (z**3 + z) / 4.0,
        (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0,
        (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0,
        (79.0 * z**9 + 776.0 * z**7 + 1482.0 * z**5 - 1920.0 * z**3 - 945.0 * z) / 92160.0,
    )
    return z + sum(term / n ** (place + 1) for place, term in enumerate(terms))


def chi_square_999(freedom: int) -> float:
    """Return the 99.9 % point of chi-square, within 4 % (E. B. Wilson and M. M. Hilferty, PNAS 17, 1931; recalled)."""
    spread = 2.0 / (9.0 * freedom)
    return float(freedom * (1.0 - spread + NORMAL_999 * math.sqrt(spread)) ** 3)
