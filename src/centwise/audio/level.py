"""The level of a player, in decibels below what was rendered.

Without numpy, which a choice of player does not need. Imports units and below.
"""

from __future__ import annotations

import math

from centwise.errors import UsageError
from centwise.units import number_text

START_DB = -12.0
"""The level a new listener begins at, and a new output: quiet (our judgement)."""


def gain_from_db(level_db: float) -> float:
    """Return the factor of a level: 10^(level_db/20), for -inf to 0 dB.

    Raises:
        UsageError: above 0 dB or not a number; a player never makes a sound louder than it was rendered.
    """
    if math.isnan(level_db) or level_db > 0.0:
        raise UsageError(f"the level {number_text(level_db)} dB is above 0 dB", "ask for 0 dB or less, such as -12")
    return math.exp(level_db * math.log(10.0) / 20.0)
