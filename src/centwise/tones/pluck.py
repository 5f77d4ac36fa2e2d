"""One tone, from attack to the end of its fade: the string, its onset, the body, the pick, the other strings.

Imports numpy, strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.model import CEILING_DBFS
from centwise.tones.course import both_strings
from centwise.tones.layout import rise
from centwise.tones.loudness import OFFSET_LKFS
from centwise.tones.sympathy import sympathetic_modes
from centwise.tones.touch import PICK_S, Touch
from centwise.tones.voice import body_modes, quenched_modes, string_modes, voice_of
from centwise.units import ratio_from_cents

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import ToneKind
    from centwise.strings.instrument import Instrument, StringSpec
    from centwise.tones.modes import Modes

TONE_S = 1.4
"""Length of a tone in a pair, and the window its loudness is matched over. Thresholds fall with the root of the
duration (Micheyl, Xiao and Oxenham 2012), and after this a banjo's tone has all but died away."""
LOUDNESS_LKFS = -31.0
"""K-weighted loudness of every tone before its rove, unless its pair must be softer to stay below the peak (judgement:
at -31 the softest pair of the five strings comes out 3 dB below it)."""
FADE_IN_S = 0.0008
FADE_OUT_S = 0.030
PICK_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Plucked:
    """A tone decided but for its pitch: everything in it is the same at every offset.

    Attributes:
        lasting: the string's modes, first partial first.
        onset: what dies away at its own pitch: quenched open modes and body.
        ringing: the other strings, empty when they are muted.
        pick: shape (frames of 4 ms,), the noise of the pick.
        gain: linear, brings the tone to its loudness.
        peak: linear, a level the tone cannot exceed at that gain.
    """

    lasting: Modes
    onset: tuple[Modes, ...]
    ringing: tuple[Modes, ...]
    pick: NDArray[np.float64]
    gain: float
    peak: float


def pluck(
    kind: ToneKind,
    instrument: Instrument,
    string: StringSpec,
    touch: Touch,
    *,
    likeness: float,
    muted: bool,
    rate_hz: int,
    touched: int = 2,
) -> Plucked:
    """Decide a tone: its modes, and the gain that brings it to the common loudness and the touch's rove.

    A harmonic is the string's mode `touched`: the 2nd over the octave fret.

    The loudness is computed in closed form over the window of a pair's tone, from the modes at an offset of zero.
    """
    voice = voice_of(kind, likeness)
    course = string.course > 1
    lasting = string_modes(kind, string, voice, touch, rate_hz, touched)
    lasting = both_strings(lasting, touch) if course else lasting
    largest = float(lasting.weight.sum(axis=1).max())
    onset: tuple[Modes, ...] = (body_modes(largest, touch),)
    if kind == "harmonic":
        quenched = quenched_modes(string, voice, touch, rate_hz, touched)
        onset = (*onset, both_strings(quenched, touch) if course else quenched)
    ringing = () if muted else (sympathetic_modes(instrument, string, lasting, touch, rate_hz),)
    sounding = (lasting, *onset, *ringing)
    bound = sum(modes.bound() for modes in sounding)
    energy = sum(modes.k_weighted_energy(TONE_S, rate_hz) for modes in sounding)
    wanted = 10.0 ** ((LOUDNESS_LKFS - OFFSET_LKFS + touch.level_db) / 10.0)
    gain = float(np.sqrt(wanted * TONE_S / energy))
    return Plucked(
        lasting=lasting,
        onset=onset,
        ringing=ringing,
        pick=PICK_SHARE * bound * _pick_noise(touch, rate_hz),
        gain=gain,
        peak=gain * bound * (1.0 + PICK_SHARE),
    )


def headroom_gain(*tones: Plucked) -> float:
    """Return the common gain that keeps every one of some tones below the peak: 1 unless one would exceed it.

    It follows from a bound on the sum of the modes, not from the samples, which would depend on the offset.
    """
    ceiling = float(10.0 ** (CEILING_DBFS / 20.0))
    return min(1.0, ceiling / max(tone.peak for tone in tones))


def first_partial_hz(plucked: Plucked, offset_cents: float) -> float:
    """Return the frequency of the first partial as rendered, stiffness included."""
    return float(plucked.lasting.frequency_hz[0]) * ratio_from_cents(offset_cents)


def render(plucked: Plucked, *, offset_cents: float, gain: float, frames: int, rate_hz: int) -> NDArray[np.float64]:
    """Return the samples of a tone, its string `offset_cents` higher and the whole of it times `gain`.

    Returns:
        Shape (frames,), float64; the first and the last are exactly zero.
    """
    samples = plucked.lasting.render(frames, rate_hz, ratio_from_cents(offset_cents))
    for modes in (*plucked.onset, *plucked.ringing):
        samples += modes.render(frames, rate_hz)
    samples[: plucked.pick.size] += plucked.pick
    samples *= plucked.gain * gain
    fade_in, fade_out = round(FADE_IN_S * rate_hz), round(FADE_OUT_S * rate_hz)
    samples[:fade_in] *= rise(fade_in)
    samples[-fade_out:] *= rise(fade_out)[::-1]
    return samples


def _pick_noise(touch: Touch, rate_hz: int) -> NDArray[np.float64]:
    """Return the noise of the pick letting go, falling to nothing in 4 ms, without a mean."""
    frames = round(PICK_S * rate_hz)
    envelope = rise(frames)[::-1]
    noise = touch.pick[:frames]
    return np.asarray(envelope * (noise - envelope @ noise / envelope.sum()) / 2.0, dtype=np.float64)
