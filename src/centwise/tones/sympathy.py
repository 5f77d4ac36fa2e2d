"""The other strings, left unmuted, ringing along with a plucked one.

Each open partial of another string is driven through the bridge by every partial of the plucked tone, the more the
closer they lie, and a little by the knock of the pluck itself. It swells while it is driven, then rings at its own
pitch: the 3rd string's third partial, 587.99 Hz, lies 1.955 cents over D5 and beats with it 0.66 times a second.
Imports numpy, strings and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.tones.modes import Modes
from centwise.tones.voice import NYQUIST_SHARE, slow_decay_per_s

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument, StringSpec
    from centwise.tones.touch import Touch

# Chosen by judgement: a seventh of a partial reaches a string tuned to it, half of that one 6 Hz away, and the beating
# of an unmuted 3rd string is plain in the tail of D5.
COUPLING = 0.15
HALF_WIDTH_HZ = 6.0
KNOCK = 0.01
SWELL_PER_S = 16.0
HIGHEST_HZ = 2500.0
_PARTIALS_EACH = 24


def sympathetic_modes(instrument: Instrument, plucked: StringSpec, tone: Modes, touch: Touch, rate_hz: int) -> Modes:
    """Return the modes of all strings but the plucked one.

    The open strings count as flexible here, so their partials are true multiples: at the third partial stiffness would
    add less than half a cent, and no string is tuned closer than that.

    Args:
        instrument: whose strings ring along.
        plucked: the string that sounds.
        tone: its lasting modes at an offset of zero, so that the ringing does not depend on the offset.
        touch: gives their phases, drawn afresh for each tone.
        rate_hz: frames per second.
    """
    numbers = np.arange(1.0, _PARTIALS_EACH + 1.0)
    others = [string for string in instrument.strings if string.number != plucked.number]
    knock = np.concatenate([1.0 / numbers for _ in others]) if others else np.zeros(0)
    frequency_hz = np.concatenate([string.open_hz * numbers for string in others]) if others else np.zeros(0)
    # Both strings of a course are driven alike, so they ring as one of twice the size.
    size = np.repeat([float(string.course) for string in others], numbers.size)
    # The draws run out before the strings of any real instrument do; a harp would lose its highest partials.
    phase_rad = np.resize(touch.sympathetic_phases_rad, frequency_hz.size)
    low = frequency_hz < min(HIGHEST_HZ, NYQUIST_SHARE * rate_hz)
    frequency_hz, knock, phase_rad, size = frequency_hz[low], knock[low], phase_rad[low], size[low]
    driving = tone.weight.sum(axis=1)
    # How far an oscillator is driven near its own frequency: 1 / (1 - i (f_own - f_drive) / half width). Its phase is
    # drawn: with the quarter turn it has in theory the sum of both would always begin to rise on one side of the other
    # string's pitch and to fall on the other, and the level alone would tell flat from sharp.
    driven = 1.0 / (1.0 - 1j * (frequency_hz[:, None] - tone.frequency_hz[None, :]) / HALF_WIDTH_HZ)
    reached = COUPLING * np.abs(driven @ (driving * np.exp(1j * tone.phase_rad)))
    knocked = KNOCK * float(driving.max()) * knock
    amplitude = size * (reached + knocked)
    decay = slow_decay_per_s(frequency_hz)
    return Modes(
        frequency_hz=frequency_hz,
        weight=np.stack((amplitude, -amplitude), axis=1),
        decay_per_s=np.stack((decay, decay + SWELL_PER_S), axis=1),
        phase_rad=phase_rad,
    )
