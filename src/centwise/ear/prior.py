"""What is believed of a listener's threshold before a block: nothing for a stranger, the last estimate afterwards.

Imports numpy, errors and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.normal import Z_75
from centwise.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

NARROWEST_SD_OCTAVES = 1.0
"""Ears have good and bad days: the last estimate is never trusted further than this (a judgement)."""

FLAT_SHARE = 0.25
"""Chance that the last estimate says nothing: without it a prior 8 times off still misleads after 60 trials
(simulation; a judgement between 0.2 and 0.3)."""

OCTAVES_PER_ROOT_DAY = 0.1
"""How far a threshold wanders in a day, one standard deviation in octaves (a judgement: one octave in 100 days)."""


@dataclass(frozen=True, slots=True)
class Prior:
    """A normal distribution of log2 sigma about an earlier threshold, mixed with a flat one.

    Attributes:
        threshold_cents: the earlier threshold, 0.6745 sigma, above 0.
        sd_octaves: standard deviation of log2 sigma, above 0.
        flat_share: weight of the flat part, 0 to 1.
    """

    threshold_cents: float
    sd_octaves: float = NARROWEST_SD_OCTAVES
    flat_share: float = FLAT_SHARE

    def __post_init__(self) -> None:
        """Refuse what cannot be a prior."""
        for name, value, possible in (
            ("threshold", self.threshold_cents, 0.0 < self.threshold_cents < math.inf),
            ("spread", self.sd_octaves, 0.0 < self.sd_octaves < math.inf),
            ("flat share", self.flat_share, 0.0 <= self.flat_share <= 1.0),
        ):
            if not possible:
                wanted = "from 0 to 1" if name == "flat share" else "above 0"
                raise InputError(f"a {name} of {value:g} makes no prior", f"give one {wanted}")

    def weights(self, sigma_cents: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the weights of sigmas evenly spaced in their logarithm, shape (n,), summing to 1."""
        octaves = np.log2(sigma_cents * Z_75 / self.threshold_cents) / self.sd_octaves
        # Shifted so that an estimate far outside the grid still leaves a finite normal part.
        normal = np.exp(-0.5 * (octaves**2 - np.min(octaves**2)))
        flat = np.full_like(normal, 1.0 / normal.size)
        return np.asarray((1.0 - self.flat_share) * normal / normal.sum() + self.flat_share * flat)


def prior_from(threshold_cents: float, sd_octaves: float, days: float = 0.0) -> Prior:
    """Return the prior of a session `days` after an estimate.

    Args:
        threshold_cents: the estimate, above 0.
        sd_octaves: its standard error in octaves, above 0; widened by the days and never narrower than one octave.
        days: time gone by, 0 or more.

    Raises:
        InputError: a value outside its range.
    """
    if not 0.0 <= days < math.inf:
        raise InputError(f"{days:g} days cannot have gone by", "give 0 or more")
    if not 0.0 < sd_octaves < math.inf:
        raise InputError(f"a spread of {sd_octaves:g} octaves makes no prior", "give one above 0")
    spread = math.hypot(sd_octaves, OCTAVES_PER_ROOT_DAY * math.sqrt(days))
    return Prior(threshold_cents, max(spread, NARROWEST_SD_OCTAVES))
