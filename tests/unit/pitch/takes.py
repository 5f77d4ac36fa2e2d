"""Takes made by the test itself, from sines with known frequencies: nothing of the program's own synthesis in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import resample_poly

from centwise.pitch.intake import Intake

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.pitch.intake import Recording

    Array = NDArray[np.float64]

RATE_HZ = 48_000
D5_HZ = 587.3295


def note(
    pitch_hz: float,
    *,
    seconds: float = 1.5,
    decay_per_s: float = 2.0,
    partials: int = 6,
    glide_cents: float = 0.0,
    glide_s: float = 0.3,
    rate_hz: int = RATE_HZ,
) -> Array:
    """A pluck: partials that die away, at first `glide_cents` sharp."""
    times_s = np.arange(round(seconds * rate_hz)) / rate_hz
    phase = 2.0 * np.pi * np.cumsum(pitch_hz * 2.0 ** (glide_cents * np.exp(-times_s / glide_s) / 1200.0)) / rate_hz
    sound = np.zeros(times_s.size)
    for number in range(1, partials + 1):
        sound += np.exp(-(decay_per_s + 0.3 * number) * times_s) * np.sin(number * phase + number) / number
    sound[:20] *= np.linspace(0.0, 1.0, 20)
    return 0.2 * sound


def glided(samples: Array, cents: float, glide_s: float, from_s: float, rate_hz: int = RATE_HZ) -> Array:
    """The same sound, but from a time on sharp by `cents` that settle with the time constant `glide_s`."""
    times_s = np.arange(samples.size) / rate_hz - from_s
    sharp = np.where(times_s < 0.0, 0.0, cents * np.exp(-np.maximum(times_s, 0.0) / glide_s))
    places = np.concatenate(([0.0], np.cumsum(2.0 ** (sharp[:-1] / 1200.0))))
    fine = resample_poly(samples, 8, 1)
    return np.interp(np.minimum(8.0 * places, fine.size - 1.0), np.arange(fine.size), fine)


def silence(seconds: float = 0.4, rate_hz: int = RATE_HZ) -> Array:
    return np.zeros(round(seconds * rate_hz))


def take(*notes: Array, rate_hz: int = RATE_HZ, noise: float = 1e-5, seed: int = 1) -> Array:
    """Notes with silence round them and a little noise over all."""
    parts = [silence(rate_hz=rate_hz)]
    for sound in notes:
        parts += [sound, silence(rate_hz=rate_hz)]
    whole = np.concatenate(parts)
    return whole + noise * np.random.default_rng(seed).standard_normal(whole.size)


def recording(samples: Array, rate_hz: int = RATE_HZ, name: str = "take.wav") -> Recording:
    """Hand samples over in blocks of odd lengths, shape (frames,) or (frames, channels)."""
    intake = Intake(rate_hz, 1 if samples.ndim == 1 else samples.shape[1], name)
    for start in range(0, len(samples), 10_007):
        intake.add(samples[start : start + 10_007].astype(np.float32))
    return intake.finish()


def moved(pitch_hz: float, cents: float) -> float:
    return pitch_hz * 2.0 ** (cents / 1200.0)
