"""The peaks of a note's spectrum, the pitch they belong to, and what in them belongs to no partial of it.

Imports numpy, units and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.units import cents_between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 65.0, 1500.0
"""Where the pitch of a plucked string is looked for."""
MOST_PEAKS = 24
DEEPEST_DB = 45.0
ABOVE_NOISE_DB = 14.0
"""A peak of the spectrum stands so far over the median round it (judgement; noise alone reaches 10 dB)."""
AROUND_HZ = 200.0
NEAR_CENTS = 45.0
"""A partial lies so near its multiple: real strings stray by -15 to 13 cents, stiffness adds 13 at the eighth."""
DIVISORS = 8
EXPLAINED = 0.65
BESIDE_BEST = 0.8
"""A pitch explains so much of the peaks' amplitude, and so much of what the best explains: the octave below explains
all that the pitch does, and a little of what other strings add (judgement; an open string's even partials hold about
half)."""


@dataclass(frozen=True, slots=True)
class Peaks:
    """Peaks of a spectrum, largest first. `amplitude` is linear and only compares with one another."""

    frequency_hz: Array
    amplitude: Array


def find_peaks(samples: NDArray[np.float32], rate_hz: float) -> Peaks:
    """Return the peaks of a stretch of sound, shape (frames,), that stand over its noise."""
    size = 1 << int(np.ceil(np.log2(max(len(samples), 2)))) + 1
    size_power = np.abs(np.fft.rfft((samples - samples.mean()) * np.hanning(len(samples)), size)) ** 2
    power_db = 10.0 * np.log10(np.maximum(size_power, 1e-24))
    step_hz = rate_hz / size
    inner = power_db[1:-1]
    places = np.flatnonzero((inner > power_db[:-2]) & (inner >= power_db[2:])) + 1
    band = (places * step_hz >= LOWEST_HZ) & (places * step_hz < 0.4 * rate_hz)
    places = places[band]
    if places.size == 0:
        return Peaks(np.zeros(0), np.zeros(0))
    places = places[power_db[places] > power_db[places].max() - DEEPEST_DB]
    around = round(AROUND_HZ / step_hz)
    noise_db = np.array([np.median(power_db[max(0, p - around) : p + around : 2]) for p in places])
    places = places[power_db[places] - noise_db > ABOVE_NOISE_DB]
    places = places[np.argsort(-power_db[places])][:MOST_PEAKS]
    # The vertex of the parabola through three points of the level.
    left, top, right = power_db[places - 1], power_db[places], power_db[places + 1]
    offset = 0.5 * (left - right) / np.minimum(left - 2.0 * top + right, -1e-9)
    return Peaks((places + offset) * step_hz, 10.0 ** (top / 20.0))


def find_pitch(peaks: Peaks) -> float | None:
    """Return the highest pitch in hertz whose multiples explain the peaks, or None where no pitch does."""
    if peaks.amplitude.size == 0:
        return None
    strongest = peaks.frequency_hz[:DIVISORS]
    tried = (strongest[:, None] / np.arange(1.0, DIVISORS + 1.0)).ravel()
    tried = tried[(tried >= LOWEST_HZ) & (tried <= HIGHEST_HZ)]
    if tried.size == 0:
        return None
    shares = np.array([explained_share(peaks, float(f)) for f in tried])
    good = shares >= max(EXPLAINED, BESIDE_BEST * float(shares.max()))
    if not good.any():
        return None
    chosen = float(tried[good].max())
    # Of several readings of one pitch take the best.
    close = good & (tried > chosen * 0.97)
    best = int(np.argmax(np.where(close, shares, 0.0)))
    return _refined(peaks, float(tried[best]))


def explained_share(peaks: Peaks, pitch_hz: float) -> float:
    """Return the share of the peaks' amplitude that lies on multiples of a pitch."""
    on = on_multiple(peaks.frequency_hz, pitch_hz)
    return float(peaks.amplitude[on].sum() / peaks.amplitude.sum())


def on_multiple(frequency_hz: Array, pitch_hz: float) -> NDArray[np.bool_]:
    """Return which frequencies lie near a multiple of a pitch."""
    number = np.maximum(np.round(frequency_hz / pitch_hz), 1.0)
    return np.asarray(np.abs(1200.0 * np.log2(frequency_hz / (number * pitch_hz))) < NEAR_CENTS)


def nearest_peak_hz(peaks: Peaks, near_hz: float) -> float | None:
    """Return the largest peak near a frequency, or None."""
    near = np.abs(1200.0 * np.log2(peaks.frequency_hz / near_hz)) < NEAR_CENTS
    return float(peaks.frequency_hz[near][np.argmax(peaks.amplitude[near])]) if near.any() else None


def _refined(peaks: Peaks, pitch_hz: float) -> float:
    """Return the pitch from its strongest low partials, weighted by amplitude."""
    number = np.round(peaks.frequency_hz / pitch_hz)
    low = on_multiple(peaks.frequency_hz, pitch_hz) & (number >= 1) & (number <= 4)
    if not low.any():
        return pitch_hz
    cents = np.array(
        [cents_between(f / n, pitch_hz) for f, n in zip(peaks.frequency_hz[low], number[low], strict=True)]
    )
    return pitch_hz * float(2.0 ** (np.average(cents, weights=peaks.amplitude[low]) / 1200.0))
