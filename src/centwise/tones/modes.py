"""A table of decaying modes: what a voice, the body and the other strings hand to the kernel.

Imports numpy and nothing outside its package.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.tones.kernel import damped_bank
from centwise.tones.loudness import k_weighting_power

if TYPE_CHECKING:
    from numpy.typing import NDArray

_INAUDIBLE = 1e-7
"""A decay is left off once it is this small beside the whole table: -140 dB, below what float32 resolves."""
_SEGMENTS_S = (0.06, 0.12, 0.25, 0.5, 1.0)


@dataclass(frozen=True, slots=True)
class Modes:
    """Modes that each decay in two stages: (w0 exp(-d0 t) + w1 exp(-d1 t)) cos(2 pi f t + p).

    Both stages of a mode share frequency and phase, so its pitch stays put while one hands over to the other.

    Attributes:
        frequency_hz: shape (modes,).
        weight: shape (modes, 2), linear amplitude.
        decay_per_s: shape (modes, 2), 0 or more.
        phase_rad: shape (modes,).
    """

    frequency_hz: NDArray[np.float64]
    weight: NDArray[np.float64]
    decay_per_s: NDArray[np.float64]
    phase_rad: NDArray[np.float64]

    def bound(self) -> float:
        """Return a level that the sum of the modes never exceeds, whatever their phases."""
        alike = self.weight[:, 0] * self.weight[:, 1] >= 0.0
        size = np.abs(self.weight)
        return float(np.where(alike, size.sum(axis=1), size.max(axis=1)).sum())

    def k_weighted_energy(self, duration_s: float, rate_hz: float) -> float:
        """Return the K-weighted energy from the attack to `duration_s`, amplitude squared times seconds.

        In closed form, mode by mode: two modes of different frequency share next to no energy (below 0.05 dB here).
        """
        pairs = self.decay_per_s[:, :, None] + self.decay_per_s[:, None, :]
        shares = self.weight[:, :, None] * self.weight[:, None, :]
        energy = (shares * -np.expm1(-pairs * duration_s) / pairs).sum(axis=(1, 2)) / 2.0
        return float(energy @ k_weighting_power(self.frequency_hz, rate_hz))

    def render(self, frames: int, rate_hz: int, pitch_ratio: float = 1.0) -> NDArray[np.float64]:
        """Return the sum of the modes, shape (frames,), every frequency multiplied by `pitch_ratio`."""
        frequency, phase = (np.repeat(values, 2) for values in (self.frequency_hz * pitch_ratio, self.phase_rad))
        weight, decay = self.weight.ravel(), self.decay_per_s.ravel()
        floor = _INAUDIBLE * max(self.bound(), np.finfo(np.float64).tiny)
        audible = np.abs(weight) > floor
        frequency, phase, weight, decay = (values[audible] for values in (frequency, phase, weight, decay))
        lasting_s = np.log(np.abs(weight) / floor) / np.maximum(decay, 1e-9)
        samples = np.zeros(frames)
        shortest_s = 0.0
        for longest_s in (*_SEGMENTS_S, np.inf):
            group = (lasting_s > shortest_s) & (lasting_s <= longest_s)
            shortest_s = longest_s
            if group.any():
                span = frames if longest_s == np.inf else min(frames, round(longest_s * rate_hz))
                samples[:span] += damped_bank(
                    frequency[group], decay[group], weight[group], phase[group], frames=span, rate_hz=rate_hz
                )
        return samples
