"""Reading a recorded sound between its samples: a band-limited shift of pitch by exactly so many cents.

A windowed sinc, its taps taken from a table of phases with straight lines between them (J. O. Smith, Digital Audio
Resampling Home Page, section on the implementation; recalled). The place of every output sample is computed by itself,
never added up, so the ratio is exact to the last bits of a double. The filter is fixed when the reader is made: it is
the same for every shift, so that it cannot tell one from another. Imports numpy, errors and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from centwise.errors import UsageError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

STOP_DB = 100.0
TRANSITION = 0.15
"""The filter falls from passing to stopping over this share of the band it stops from."""
PHASES = 2048
"""With so many, straight lines between them err by less than -110 dB (measured)."""
ROWS = 4096


class Reader:
    """Reads a sound at any places.

    Args:
        band: what lies above this, in cycles a sample, is stopped: at most 0.5, the sound's own limit. Reading at steps
            of `r` samples wants 0.5 / r at most, or what is above folds back.

    Raises:
        UsageError: a band outside 0 to 0.5.
    """

    def __init__(self, band: float) -> None:
        if not 0.0 < band <= 0.5:
            raise UsageError(f"a band of {band:g} cycles a sample cannot be read", "choose one above 0, at most 0.5")
        width = TRANSITION * band
        # Kaiser's design formulas (1974; recalled), as in the intake of recordings.
        self.half = math.ceil((STOP_DB - 7.95) / (14.36 * width) / 2.0)
        self._table = _table(band - width / 2.0, self.half)

    def read(self, samples: NDArray[np.floating], places: Array) -> Array:
        """Return the sound at places between its samples.

        Args:
            samples: shape (frames,); outside there is silence.
            places: shape (any,), in samples from the first.

        Returns:
            Shape of `places`, float64.
        """
        first = np.floor(places).astype(np.intp)
        phase = (places - first) * PHASES
        # A place a hair below a whole one lies, as far as doubles tell, a whole sample above the one before.
        row = np.minimum(phase.astype(np.intp), PHASES - 1)
        share = (phase - row)[:, None]
        # Where one looks beyond either end there is silence.
        low = int(min(first.min(initial=0), 0)) - self.half
        high = int(max(first.max(initial=0), len(samples) - 1)) + self.half + 1
        held = np.zeros(high - low)
        held[-low : -low + len(samples)] = samples
        windows = np.lib.stride_tricks.sliding_window_view(held, 2 * self.half)
        start = first - low - self.half + 1
        out = np.empty(len(places))
        for top in range(0, len(places), ROWS):
            part = slice(top, top + ROWS)
            rows = row[part]
            taps = self._table[rows]
            taps += share[part] * (self._table[rows + 1] - taps)
            out[part] = np.einsum("ij,ij->i", windows[start[part]], taps)
        return out


def _table(cutoff: float, half: int) -> Array:
    """Return the taps of every phase, shape (PHASES + 1, 2 half), each row adding up to 1."""
    beta = 0.1102 * (STOP_DB - 8.7)
    phase = np.arange(PHASES + 1)[:, None] / PHASES
    offset = np.arange(1 - half, half + 1)[None, :] - phase
    window = np.i0(beta * np.sqrt(np.maximum(0.0, 1.0 - (offset / half) ** 2)))
    taps = np.sinc(2.0 * cutoff * offset) * window
    return np.asarray(taps / taps.sum(axis=1, keepdims=True))
