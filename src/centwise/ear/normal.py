"""The standard normal distribution function on arrays: numpy has none, and the core does without scipy.

Source: J. F. Hart et al., Computer Approximations (1968), algorithm 5666, as given by G. West, "Better approximations
to cumulative normal functions", Wilmott Magazine, May 2005, 70-76. Coefficients recalled; tests hold the function
against scipy.stats.norm. Imports numpy and nothing of centwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

Z_75 = 0.6744897501960817
"""The upper quartile: what turns sigma into the 75 % threshold."""
Z_90_TWO_SIDED = 1.6448536269514722
"""Half-width of a 90 % interval in standard deviations."""

_TOP = (
    3.52624965998911e-02,
    0.700383064443688,
    6.37396220353165,
    33.912866078383,
    112.079291497871,
    221.213596169931,
    220.206867912376,
)
_BOTTOM = (
    8.83883476483184e-02,
    1.75566716318264,
    16.064177579207,
    86.7807322029461,
    296.564248779674,
    637.333633378831,
    793.826512519948,
    440.413735824752,
)
_FAR = 7.07106781186547
_FARTHEST = 37.0
"""Beyond this the tail is below the smallest float64."""
_ROOT_2_PI = 2.5066282746310002


def normal_cdf(x: ArrayLike) -> NDArray[np.float64]:
    """Return Phi(x), same shape, accurate to 1e-14 absolute.

    Args:
        x: any finite or infinite reals.
    """
    values = np.asarray(x, dtype=np.float64)
    size = np.minimum(np.abs(values), _FARTHEST)
    near = np.minimum(size, _FAR)
    top = np.full_like(near, _TOP[0])
    for coefficient in _TOP[1:]:
        top *= near
        top += coefficient
    bottom = np.full_like(near, _BOTTOM[0])
    for coefficient in _BOTTOM[1:]:
        bottom *= near
        bottom += coefficient
    top /= bottom
    far = size >= _FAR
    if np.any(far):
        top[far] = _far_factor(size[far])
    tail = np.exp(-0.5 * size * size)
    tail *= top
    return np.where(values > 0.0, 1.0 - tail, tail)


def normal_density(x: ArrayLike) -> NDArray[np.float64]:
    """Return phi(x), same shape."""
    values = np.asarray(x, dtype=np.float64)
    return np.asarray(np.exp(-0.5 * values * values) / _ROOT_2_PI)


def _far_factor(size: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the tail over exp(-x^2/2) from a continued fraction, good where `size` is large."""
    fraction = size + 0.65
    for numerator in (4.0, 3.0, 2.0, 1.0):
        fraction = size + numerator / fraction
    return np.asarray(1.0 / (fraction * _ROOT_2_PI))
