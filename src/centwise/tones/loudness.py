"""K weighting, the loudness measure of ITU-R BS.1770, at any sampling rate.

BS.1770 prints its two filters for 48 kHz only. Here they are designed afresh for each rate from the analogue corner
frequencies, gains and Q that give the printed coefficients at 48 kHz (values in common use, recalled; the tests hold
the design against the printed table). Imports numpy and nothing of centwise.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

OFFSET_LKFS = -0.691
"""Brings a 0 dBFS sine of 997 Hz in one channel to -3.01 LKFS (BS.1770, annex 1)."""

_SHELF_HZ = 1681.974450955533
_SHELF_GAIN_DB = 3.999843853973347
_SHELF_Q = 0.7071752369554196
_SHELF_MIDDLE_EXPONENT = 0.4996667741545416
_HIGH_PASS_HZ = 38.13547087602444
_HIGH_PASS_Q = 0.5003270373238773

Biquad = tuple[tuple[float, float, float], tuple[float, float, float]]


def k_weighting_biquads(rate_hz: float) -> tuple[Biquad, Biquad]:
    """Return the shelf and the high pass, each as (b0, b1, b2), (1, a1, a2), by the bilinear transform.

    Args:
        rate_hz: frames per second, above 4 kHz so that the shelf lies below half the rate.
    """
    warped = math.tan(math.pi * _SHELF_HZ / rate_hz)
    high = 10.0 ** (_SHELF_GAIN_DB / 20.0)
    middle = high**_SHELF_MIDDLE_EXPONENT
    scale = 1.0 + warped / _SHELF_Q + warped**2
    shelf_b = (
        (high + middle * warped / _SHELF_Q + warped**2) / scale,
        2.0 * (warped**2 - high) / scale,
        (high - middle * warped / _SHELF_Q + warped**2) / scale,
    )
    shelf_a = (1.0, 2.0 * (warped**2 - 1.0) / scale, (1.0 - warped / _SHELF_Q + warped**2) / scale)
    warped = math.tan(math.pi * _HIGH_PASS_HZ / rate_hz)
    scale = 1.0 + warped / _HIGH_PASS_Q + warped**2
    pass_a = (1.0, 2.0 * (warped**2 - 1.0) / scale, (1.0 - warped / _HIGH_PASS_Q + warped**2) / scale)
    return (shelf_b, shelf_a), ((1.0, -2.0, 1.0), pass_a)


def k_weighting_power(frequencies_hz: ArrayLike, rate_hz: float) -> NDArray[np.float64]:
    """Return the power gain of K weighting at frequencies from 0 to half the rate, in the shape they came in."""
    delay = np.exp(-2j * np.pi * np.asarray(frequencies_hz, dtype=np.float64) / rate_hz)
    gain = np.ones_like(delay)
    for (b0, b1, b2), (a0, a1, a2) in k_weighting_biquads(rate_hz):
        gain = gain * (b0 + b1 * delay + b2 * delay**2) / (a0 + a1 * delay + a2 * delay**2)
    return np.asarray(np.abs(gain) ** 2, dtype=np.float64)


def loudness_lkfs(mean_square: float) -> float:
    """Return the loudness of a K-weighted mean square in one channel; minus infinity for silence."""
    return OFFSET_LKFS + 10.0 * math.log10(mean_square) if mean_square > 0.0 else -math.inf


def k_weighted_loudness(samples: NDArray[np.floating], rate_hz: float) -> float:
    """Return the ungated K-weighted loudness of a mono sound over its whole length, in LKFS.

    Filters by multiplying the spectrum, so what the filters would ring on for after the end counts as well.

    Args:
        samples: shape (frames,).
        rate_hz: frames per second.
    """
    if samples.size == 0:
        return -math.inf
    # A tenth of a second of room keeps the ringing of the 38 Hz high pass from wrapping round to the start.
    frames = samples.size + round(rate_hz / 10.0)
    spectrum = np.abs(np.fft.rfft(samples, frames)) ** 2
    return loudness_lkfs(float(spectrum @ _bin_weights(frames, rate_hz)) / frames / samples.size)


@lru_cache(maxsize=4)
def _bin_weights(frames: int, rate_hz: float) -> NDArray[np.float64]:
    """Return the power gain of each bin of a spectrum; notes of a take are of one length, so it is wanted again."""
    weight = k_weighting_power(np.fft.rfftfreq(frames, 1.0 / rate_hz), rate_hz)
    weight[1 : (frames + 1) // 2] *= 2.0  # every bin but zero and half the rate stands for two
    weight.flags.writeable = False
    return weight
