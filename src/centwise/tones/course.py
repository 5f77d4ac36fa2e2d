"""A course of two strings, tuned exactly alike and met by one stroke: the second a little later and a little weaker.

Two sinusoids of one frequency make one, so the pair is told by its sum: some partials come out stronger and some weaker
than one string's, as the delay will have it. A course out of tune with itself, which beats, is not modelled.
Imports numpy and nothing outside its package.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from centwise.tones.modes import Modes
    from centwise.tones.touch import Touch

SECOND_DELAY_S = (0.0003, 0.001)
"""A stroke crosses the 2 to 3 mm between the strings at some metres a second (judgement)."""
SECOND_SHARE = 0.5
"""What the second string gets (judgement). With a larger share or a delay of half a low string's period its
odd partials are so weak that the note is taken for its octave (measured)."""


def both_strings(modes: Modes, touch: Touch) -> Modes:
    """Return the modes of one string as those of a course of two, their frequencies and decays as they were.

    Args:
        modes: of one string, decided at an offset of zero, so that nothing here depends on the offset.
        touch: its stroke; the last of the quenched modes' phases, which no string needs, sets the delay.
    """
    turn = touch.quenched_phases_rad[-1] / (2.0 * np.pi)
    delay_s = SECOND_DELAY_S[0] + turn * (SECOND_DELAY_S[1] - SECOND_DELAY_S[0])
    both = 1.0 + SECOND_SHARE * np.exp(-2j * np.pi * modes.frequency_hz * delay_s)
    return replace(modes, weight=modes.weight * np.abs(both)[:, None], phase_rad=modes.phase_rad + np.angle(both))
