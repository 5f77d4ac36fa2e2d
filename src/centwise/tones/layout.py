"""Where tones lie in a sound: silence before, the tones with silence between, silence after.

Imports numpy, model and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from centwise.model import PairSound, Sound, ToneSpan

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from centwise.model import PairSpec, Samples, Tone

PRE_ROLL_S = 0.12
"""Silence first, so that no device swallows the attack while it wakes."""
GAP_S = 0.5
"""Between two tones they must not overlap: one cent at D4 would beat at 0.17 Hz and give the answer."""
TAIL_S = 0.05


def lay_out(tones: Sequence[NDArray[np.float64]], rate_hz: int) -> Samples:
    """Return the tones one after the other in silence, float32, shape (frames,)."""
    gap = np.zeros(round(GAP_S * rate_hz))
    parts = [np.zeros(round(PRE_ROLL_S * rate_hz))]
    for number, tone in enumerate(tones):
        parts += [gap, tone] if number else [tone]
    parts.append(np.zeros(round(TAIL_S * rate_hz)))
    return np.concatenate(parts).astype(np.float32)


def span_of(number: int, tone_frames: int, rate_hz: int, frequency_hz: float) -> ToneSpan:
    """Return where tone `number` (from 0) of equally long tones lies."""
    start = round(PRE_ROLL_S * rate_hz) + number * (tone_frames + round(GAP_S * rate_hz))
    return ToneSpan(start / rate_hz, (start + tone_frames) / rate_hz, frequency_hz)


def heard_order(first: Tone) -> tuple[Tone, Tone]:
    """Return the two tones of a pair as they are heard, one after the other."""
    return ("harmonic", "fretted") if first == "harmonic" else ("fretted", "harmonic")


def lay_out_pair(
    spec: PairSpec, tones: Mapping[Tone, NDArray[np.float64]], frequencies_hz: Mapping[Tone, float], rate_hz: int
) -> PairSound:
    """Return a pair's two tones as one sound.

    Args:
        spec: which pair it is.
        tones: both of them, each of shape (frames,).
        frequencies_hz: their first partials.
        rate_hz: frames per second.
    """
    order = heard_order(spec.first)
    samples = lay_out([tones[tone] for tone in order], rate_hz)
    spans = {tone: span_of(place, len(tones[tone]), rate_hz, frequencies_hz[tone]) for place, tone in enumerate(order)}
    return PairSound(
        sound=Sound(samples, rate_hz, f"pair-{spec.n:04d}"),
        harmonic=spans["harmonic"],
        fretted=spans["fretted"],
        first=spec.first,
        peak_dbfs=peak_dbfs(samples),
    )


def rise(frames: int) -> NDArray[np.float64]:
    """Return a raised cosine from exactly zero toward one, shape (frames,)."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.arange(frames) / frames), dtype=np.float64)


def peak_dbfs(samples: Samples) -> float:
    """Return the largest sample's size in decibels of full scale; minus infinity for silence."""
    peak = float(np.max(np.abs(samples), initial=0.0))
    return 20.0 * math.log10(peak) if peak > 0.0 else -math.inf
