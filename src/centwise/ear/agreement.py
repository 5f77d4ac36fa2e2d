"""How well one assessment agrees with the next: limits of agreement on a ratio scale.

J. M. Bland and D. G. Altman 1986, The Lancet 327:307-310: the mean difference and 1.96 standard deviations either side
hold 95 % of the differences. Here the differences are of log2 thresholds, one assessment and the next, so the limits
are ratios. Of few differences neither mean nor deviation is known: the limits are a prediction interval, Student's t
with n - 1 degrees of freedom times sqrt(1 + 1/n) deviations, which comes to 1.96 for many (recalled; the arithmetic is
held against scipy by a test). Imports errors and below.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import TYPE_CHECKING

from centwise.ear.student import t_95_two_sided
from centwise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

FEWEST_ASSESSMENTS = 4
"""Three differences: below that their scatter says nothing (a judgement)."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """The next assessment over the last, as ratios of thresholds.

    Attributes:
        low_ratio: 95 % of them lie above this.
        high_ratio: and below this.
        assessments: how many it rests on.
    """

    low_ratio: float
    high_ratio: float
    assessments: int


def limits_of_agreement(thresholds_cents: Sequence[float]) -> Agreement | None:
    """Return how assessments agree, or None with fewer than four.

    Args:
        thresholds_cents: oldest first, each above 0.

    Raises:
        InputError: a threshold that is not above 0.
    """
    for number, threshold in enumerate(thresholds_cents, start=1):
        if not 0.0 < threshold < math.inf:
            raise InputError(f"assessment {number} has a threshold of {threshold:g} cents", "give one above 0")
    if len(thresholds_cents) < FEWEST_ASSESSMENTS:
        return None
    steps = [math.log2(after / before) for before, after in itertools.pairwise(thresholds_cents)]
    middle, half = fmean(steps), t_95_two_sided(len(steps) - 1) * math.sqrt(1.0 + 1.0 / len(steps)) * stdev(steps)
    return Agreement(2.0 ** (middle - half), 2.0 ** (middle + half), len(thresholds_cents))
