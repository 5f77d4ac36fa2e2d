"""A bank of damped sinusoids, summed as one matrix product.

With time t = b K + j (block b of K frames, place j in it), exp(s t) = exp(s b K) exp(s j): two small tables and one
product instead of a sine for every partial and frame. The frequencies are exact, unlike those of a delay line.
Imports numpy and nothing of centwise.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_ONE_THREAD_PRODUCTS = 2**18
"""Multiplications in one matrix product below which OpenBLAS stays in the calling thread (its own threshold, recalled).

Waking more threads costs a tone this short several times what they save, and other work its processor (measured).
"""


def damped_bank(
    frequencies_hz: ArrayLike,
    decay_per_s: ArrayLike,
    amplitudes: ArrayLike,
    phases_rad: ArrayLike,
    *,
    frames: int,
    rate_hz: float,
) -> NDArray[np.float64]:
    """Sum a_i exp(-d_i t) cos(2 pi f_i t + p_i) over all i, at t = 0, 1/rate, 2/rate and so on.

    Args:
        frequencies_hz: f, shape (modes,), 0 to half the rate.
        decay_per_s: d, shape (modes,), 0 or more; the amplitude falls by 8.686 d decibels a second.
        amplitudes: a, shape (modes,), any sign.
        phases_rad: p, shape (modes,).
        frames: length of the result, 0 or more.
        rate_hz: frames per second, above 0.

    Returns:
        Shape (frames,), float64.
    """
    angular = 2.0 * np.pi * np.asarray(frequencies_hz, dtype=np.float64)
    damping = np.asarray(decay_per_s, dtype=np.float64)
    exponent = np.asarray((1j * angular - damping) / rate_hz, dtype=np.complex128)
    start = np.asarray(amplitudes, dtype=np.float64) * np.exp(1j * np.asarray(phases_rad, dtype=np.float64))
    if frames == 0 or exponent.size == 0:
        return np.zeros(frames)
    block = max(16, 2 ** round(math.log2(frames) / 2.0))
    blocks = -(-frames // block)
    within = _powers(exponent, block)
    across = _powers(exponent * block, blocks) * start
    # Re(x y) = Re x Re y - Im x Im y, so one real product does the complex one's useful half.
    left = np.concatenate((across.real, -across.imag), axis=1)
    right = np.concatenate((within.real, within.imag), axis=1)
    samples = np.empty((blocks, block))
    rows = max(1, _ONE_THREAD_PRODUCTS // (block * left.shape[1]))
    for top in range(0, blocks, rows):
        np.matmul(left[top : top + rows], right.T, out=samples[top : top + rows])
    return samples.reshape(-1)[:frames]


def _powers(exponent: NDArray[np.complex128], count: int) -> NDArray[np.complex128]:
    """Return exp(k exponent) for k = 0 .. count - 1, shape (count, modes), from two tables of about sqrt(count)."""
    fine = math.isqrt(count)
    coarse = -(-count // fine)
    small = np.exp(np.arange(fine)[:, None] * exponent)
    large = np.exp((fine * np.arange(coarse))[:, None] * exponent)
    return (large[:, None, :] * small[None, :, :]).reshape(coarse * fine, exponent.size)[:count]
