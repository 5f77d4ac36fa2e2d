"""Takes made by the tests themselves: sines with known frequencies, unequal in level, voice and decay."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.tones.recorded import RecordedNote

if TYPE_CHECKING:
    from numpy.typing import NDArray

OCTAVE_HZ = 587.33


def plucked(
    cents: float,
    *,
    rate_hz: int = 48_000,
    level: float = 0.2,
    decay_per_s: float = 2.5,
    partials: int = 6,
    seconds: float = 2.2,
    attack_s: float = 0.15,
    noise: float = 1e-5,
    seed: int = 1,
) -> RecordedNote:
    """A pluck so many cents over 587.33 Hz, every partial exactly on its multiple."""
    first_hz = OCTAVE_HZ * 2.0 ** (cents / 1200.0)
    times_s = np.arange(round(seconds * rate_hz)) / rate_hz
    sound = sum(
        np.exp(-(decay_per_s + 0.4 * m) * times_s) * np.sin(2 * np.pi * m * first_hz * times_s + m) / m
        for m in range(1, partials + 1)
    )
    sound[: round(0.001 * rate_hz)] *= np.linspace(0.0, 1.0, round(0.001 * rate_hz))
    whole = np.concatenate([np.zeros(round(attack_s * rate_hz)), level * sound])
    whole += noise * np.random.default_rng(seed).standard_normal(whole.size)
    return RecordedNote(whole.astype(np.float32), rate_hz, attack_s, cents, first_hz)


def three_pairs(rate_hz: int = 48_000, noise: float = 1e-5) -> list[tuple[RecordedNote, RecordedNote]]:
    """Harmonic and fretted note three times, the fretted one 6 cents sharp or so, louder, brighter and shorter."""
    return [
        (
            plucked(h, rate_hz=rate_hz, level=0.1 + 0.02 * n, partials=4, noise=noise, seed=2 * n),
            plucked(f, rate_hz=rate_hz, level=0.3, decay_per_s=4.0, partials=8, noise=noise, seed=2 * n + 1),
        )
        for n, (h, f) in enumerate(((0.4, 6.1), (-0.7, 5.2), (0.3, 7.9)))
    ]


def as_array(samples: NDArray[np.floating]) -> NDArray[np.float64]:
    return samples.astype(np.float64)
