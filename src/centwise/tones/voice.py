"""The voice of a banjo string: which modes sound, how strongly, and how they die away.

The numbers are those that gave a prototype the envelope and the centroid of recorded banjo tones (measured on it), or
were tuned here until every string met them (marked so). Everything is decided at the pitch of the octave itself; an
offset only moves the finished modes, so amplitudes, decays and their number never depend on it.
Imports numpy, strings and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.tones.modes import Modes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import ToneKind
    from centwise.strings.instrument import StringSpec
    from centwise.tones.touch import Touch

HIGHEST_PARTIAL_HZ = 16_000.0
NYQUIST_SHARE = 0.45
"""Partials stay below this share of the rate, so that a semitone up (the largest offset) none comes near half of it."""

FAST_SHARE = 0.82
"""Share of the polarisation across the head, which drives the bridge and dies first; the other has the rest (tuned)."""

BODY_HZ = (230.0, 340.0, 520.0, 690.0, 830.0, 1010.0, 1330.0, 1720.0, 2250.0, 2900.0, 3600.0)
BODY_SHARE = 0.07
"""Of the largest partial, for a body mode that the head sounds in full."""
BODY_T60_S = (0.25, 0.04)
"""Of the lowest and the highest body mode; those between lie on a power law of frequency."""

OPEN_ONSET_T60_S = 0.050
LN_1000 = math.log(1000.0)


@dataclass(frozen=True, slots=True)
class Voice:
    """What sets one way of sounding a string apart from another.

    Attributes:
        open_onset: level of the odd open modes that a touch at the node quenches at once, 0 for none.
        fast_excess: factor on how much faster the fast polarisation dies.
        rolloff_db_per_khz: how fast the partials fall, on top of the law of the plucked string.
    """

    open_onset: float
    fast_excess: float
    rolloff_db_per_khz: float


# The roll-offs are tuned together with the formants below; a fingertip at the node rounds the harmonic off.
FRETTED_VOICE = Voice(open_onset=0.0, fast_excess=1.0, rolloff_db_per_khz=5.1)
HARMONIC_VOICE = Voice(open_onset=0.5, fast_excess=0.8, rolloff_db_per_khz=6.4)


def voice_of(kind: ToneKind, likeness: float) -> Voice:
    """Return the voice of a kind of tone; at likeness 1 the harmonic has that of the fretted note, at 0 its own.

    Args:
        kind: harmonic, fretted or open (which has the fretted note's voice: a full stop at either end).
        likeness: 0 to 1.
    """
    if kind != "harmonic":
        return FRETTED_VOICE

    def blend(own: float, other: float) -> float:
        return own + likeness * (other - own)

    return Voice(
        open_onset=blend(HARMONIC_VOICE.open_onset, FRETTED_VOICE.open_onset),
        fast_excess=blend(HARMONIC_VOICE.fast_excess, FRETTED_VOICE.fast_excess),
        rolloff_db_per_khz=blend(HARMONIC_VOICE.rolloff_db_per_khz, FRETTED_VOICE.rolloff_db_per_khz),
    )


def radiation(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how well so small a head sounds a frequency, 0 to 1: poorly below half a kilohertz (tuned)."""
    return np.asarray(1.0 / (1.0 + (530.0 / frequency_hz) ** 2), dtype=np.float64)


def formants(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the gain of head and bridge: hills near 0.65 and 2.9 kHz, falling off toward the bass.

    The places of the hills were measured on recorded banjos; heights, widths and centres were tuned here, so that the
    sound has its hills there (roll-off and radiation shift them) and the centroid comes out at 0.67 to 1.1 kHz for the
    low strings and the high ones alike.
    """
    low = 8.2 * np.exp(-0.5 * (np.log(frequency_hz / 680.0) / np.log(1.55)) ** 2)
    high = 3.0 * np.exp(-0.5 * (np.log(frequency_hz / 3100.0) / np.log(1.2)) ** 2)
    return np.asarray((1.0 + low + high) * radiation(frequency_hz), dtype=np.float64)


def slow_decay_per_s(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the decay of the polarisation along the head."""
    return 0.8 + 7e-4 * frequency_hz


def fast_decay_per_s(frequency_hz: NDArray[np.float64], fast_excess: float) -> NDArray[np.float64]:
    """Return the decay of the polarisation across the head, which loses more through the bridge (tuned)."""
    return slow_decay_per_s(frequency_hz) + fast_excess * (4.5 + 1.2e-3 * frequency_hz)


def open_mode_hz(string: StringSpec, number: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return frequencies of modes of the stiff open string, n f0 sqrt(1 + B n^2).

    The harmonic at mid length keeps the even ones, 2m f0 sqrt(1 + 4B m^2). So does the note fretted there: half the
    length has four times the B, and partial m of either lies at the same place.
    """
    return np.asarray(number * string.open_hz * np.sqrt(1.0 + string.inharmonicity * number**2), dtype=np.float64)


def sounding_numbers(kind: ToneKind, string: StringSpec, rate_hz: int, most: int, touched: int) -> NDArray[np.float64]:
    """Return the open string's mode numbers that go on sounding: all of them, or every second (touched: every nth)."""
    ceiling_hz = min(HIGHEST_PARTIAL_HZ, NYQUIST_SHARE * rate_hz)
    step = {"open": 1, "fretted": 2, "harmonic": touched}[kind]
    numbers = np.arange(step, step * most + 1, step, dtype=np.float64)
    return numbers[open_mode_hz(string, numbers) < ceiling_hz]


def _amplitudes(
    string: StringSpec, numbers: NDArray[np.float64], per: float, rolloff_db_per_khz: float, touch: Touch
) -> NDArray[np.float64]:
    """Return what a pluck at one point gives each mode, with the roll-off, the touch's tilt and the formants."""
    frequency_hz = open_mode_hz(string, numbers)
    shape = np.abs(np.sin(np.pi * numbers * touch.point_mm / string.length_mm)) / (numbers / per)
    tilt_db = touch.tilt_db_per_octave * np.log2(numbers / per)
    rolloff = 10.0 ** ((tilt_db - rolloff_db_per_khz * frequency_hz / 1000.0) / 20.0)
    return np.asarray(shape * rolloff * formants(frequency_hz), dtype=np.float64)


def string_modes(
    kind: ToneKind, string: StringSpec, voice: Voice, touch: Touch, rate_hz: int, touched: int = 2
) -> Modes:
    """Return the modes that last: the tone proper, its first partial first."""
    numbers = sounding_numbers(kind, string, rate_hz, touch.phases_rad.size, touched)
    frequency_hz = open_mode_hz(string, numbers)
    amplitude = _amplitudes(string, numbers, numbers[0], voice.rolloff_db_per_khz, touch)
    fast, slow = fast_decay_per_s(frequency_hz, voice.fast_excess), slow_decay_per_s(frequency_hz)
    return Modes(
        frequency_hz=frequency_hz,
        weight=amplitude[:, None] * np.array([FAST_SHARE, 1.0 - FAST_SHARE]),
        decay_per_s=np.stack((fast, slow), axis=1),
        phase_rad=touch.phases_rad[: numbers.size],
    )


def quenched_modes(string: StringSpec, voice: Voice, touch: Touch, rate_hz: int, touched: int = 2) -> Modes:
    """Return the open modes without a node where the finger touches, which it quenches at once: the odd ones at 2."""
    lasting = sounding_numbers("harmonic", string, rate_hz, touch.phases_rad.size, touched)
    numbers = (lasting[:, None] - np.arange(touched - 1.0, 0.0, -1.0)).ravel()[: touch.phases_rad.size]
    amplitude = voice.open_onset * _amplitudes(string, numbers, 2.0, voice.rolloff_db_per_khz, touch)
    return _single_stage(
        open_mode_hz(string, numbers),
        amplitude,
        np.full(numbers.size, LN_1000 / OPEN_ONSET_T60_S),
        touch.quenched_phases_rad[: numbers.size],
    )


def body_modes(level: float, touch: Touch) -> Modes:
    """Return the knock of head and bridge; `level` is the largest amplitude among the string's partials."""
    frequency_hz = np.array(BODY_HZ)
    place = np.log(frequency_hz / BODY_HZ[0]) / np.log(BODY_HZ[-1] / BODY_HZ[0])
    t60_s = BODY_T60_S[0] * (BODY_T60_S[1] / BODY_T60_S[0]) ** place
    return _single_stage(
        frequency_hz, BODY_SHARE * level * radiation(frequency_hz), LN_1000 / t60_s, touch.body_phases_rad
    )


def _single_stage(
    frequency_hz: NDArray[np.float64],
    amplitude: NDArray[np.float64],
    decay_per_s: NDArray[np.float64],
    phase_rad: NDArray[np.float64],
) -> Modes:
    return Modes(
        frequency_hz=frequency_hz,
        weight=np.stack((amplitude, np.zeros_like(amplitude)), axis=1),
        decay_per_s=np.stack((decay_per_s, decay_per_s), axis=1),
        phase_rad=phase_rad,
    )
