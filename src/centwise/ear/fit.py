"""Maximum likelihood by Fisher scoring, for many sets of counts at once. The lapse rate is given, not fitted.

Imports numpy and nothing outside its package.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.normal import normal_cdf, normal_density

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

SMALLEST_SIGMA_CENTS, LARGEST_SIGMA_CENTS = 0.01, 10_000.0
"""Where the search ends when the answers set no bound to sigma: all right, or unrelated to what was asked."""
_ROUNDS = 60
_LEAST_CHANCE = 1e-12
_AS_LIKELY = 1e-3


@dataclass(frozen=True, slots=True)
class Best:
    """The parameters under which the answers are most likely, in cents.

    Attributes:
        sigma_cents: standard deviation of one judgement.
        bias_cents: constant error.
        window_cents: half-width of what is called unison.
        unbounded: whether the answers set no bound to sigma: every answer as a perfect ear gives it (an ear whose
            borders between two words may lie at offsets that were asked, and be answered either way there), or none
            that has to do with what was asked. Then a sigma as far down or up as the search goes is just as likely, and
            only the posterior is worth quoting.
    """

    sigma_cents: float
    bias_cents: float
    window_cents: float
    unbounded: bool = False


def best_of(offsets_cents: Array, counts: NDArray[np.int64], lapse_rate: float, parameters_cents: Array) -> Best:
    """Return the record of one set's best parameters.

    Args:
        offsets_cents: shape (u,).
        counts: shape (u, 3).
        lapse_rate: 0 to 1.
        parameters_cents: sigma, bias, window as `most_likely` found them, shape (3,).
    """
    sigma, bias, window = (float(parameter) for parameter in parameters_cents)
    finest = (SMALLEST_SIGMA_CENTS, bias, window)
    closest = (SMALLEST_SIGMA_CENTS, *_drawn_to_offsets(offsets_cents, bias, window, SMALLEST_SIGMA_CENTS / sigma))
    coarsest = (LARGEST_SIGMA_CENTS, bias * LARGEST_SIGMA_CENTS / sigma, window * LARGEST_SIGMA_CENTS / sigma)
    tried = np.array([(sigma, bias, window), finest, closest, coarsest])
    value, *ends = log_likelihood(offsets_cents, np.broadcast_to(counts, (4, *counts.shape)), lapse_rate, tried)
    return Best(sigma, bias, window, unbounded=bool(max(ends) >= value - _AS_LIKELY))


def _drawn_to_offsets(offsets_cents: Array, bias: float, window: float, share: float) -> tuple[float, float]:
    """Return bias and window when both borders keep only this share of their way to the nearest offset asked.

    With a sigma that shrinks as much, answers at that offset stay as likely, and all others are told apart better.
    """
    borders = []
    for border in (-window - bias, window - bias):
        nearest = float(offsets_cents[np.abs(offsets_cents - border).argmin()])
        borders.append(nearest + share * (border - nearest))
    flat, sharp = borders
    return -0.5 * (flat + sharp), 0.5 * (sharp - flat)


def most_likely(offsets_cents: Array, counts: Array, lapse_rate: float, start: Array) -> tuple[Array, Array]:
    """Return the best parameters and their log-likelihoods.

    Args:
        offsets_cents: what was asked, shape (u,).
        counts: answers flat, unison, sharp, shape (m, u, 3), one set a row.
        lapse_rate: 0 to 1, known.
        start: sigma, bias, window in cents to start from, shape (3,) or (m, 3).

    Returns:
        Sigma, bias and window in cents, shape (m, 3); log-likelihoods without the constant of the counts, shape (m,).
    """
    parameters = np.array(np.broadcast_to(start, (counts.shape[0], 3)), dtype=np.float64)
    parameters[:, 0] = np.log(parameters[:, 0])
    value = log_likelihood(offsets_cents, counts, lapse_rate, _in_cents(parameters))
    damping = np.full(counts.shape[0], 1e-4)
    for _ in range(_ROUNDS):
        gradient, information = _score(offsets_cents, counts, lapse_rate, parameters)
        scale = np.einsum("mii->mi", information)
        damped = information + damping[:, None, None] * (scale[:, :, None] + 1e-9) * np.eye(3)
        step = np.linalg.solve(damped, gradient[..., None])[..., 0]
        tried = _within(parameters + np.clip(step, -1.0, 1.0) * _step_units(parameters))
        tried_value = log_likelihood(offsets_cents, counts, lapse_rate, _in_cents(tried))
        better = tried_value >= value
        moved = np.where(better, tried_value - value, 0.0)
        parameters = np.where(better[:, None], tried, parameters)
        value = np.where(better, tried_value, value)
        damping = np.clip(np.where(better, damping * 0.2, damping * 8.0), 1e-9, 1e6)
        if np.all(better & (moved < 1e-13)):
            break
    return _in_cents(parameters), value


def log_likelihood(offsets_cents: Array, counts: Array, lapse_rate: float, parameters_cents: Array) -> Array:
    """Return the log-likelihoods of counts, shape (m,), without the counts' own constant.

    Args:
        offsets_cents: shape (u,).
        counts: shape (m, u, 3).
        lapse_rate: 0 to 1.
        parameters_cents: sigma, bias, window, shape (m, 3).
    """
    chances = _chances(offsets_cents, lapse_rate, parameters_cents)[0]
    return np.asarray((counts * np.log(np.maximum(chances, _LEAST_CHANCE))).sum(axis=(1, 2)))


def chances_of(offsets_cents: Array, lapse_rate: float, parameters_cents: Array) -> Array:
    """Return the chances of flat, unison and sharp, shape (m, u, 3), for offsets (u,) and parameters (m, 3)."""
    return _chances(offsets_cents, lapse_rate, parameters_cents)[0]


def _chances(offsets_cents: Array, lapse_rate: float, parameters_cents: Array) -> tuple[Array, Array, Array]:
    sigma, bias, window = (parameters_cents[:, i, None] for i in range(3))
    below, above = (-offsets_cents - bias - window) / sigma, (offsets_cents + bias - window) / sigma
    flat, sharp = normal_cdf(np.stack((below, above)))
    attentive = np.stack((flat, np.maximum(1.0 - flat - sharp, 0.0), sharp), axis=-1)
    return (1.0 - lapse_rate) * attentive + lapse_rate / 3.0, below, above


def _score(offsets_cents: Array, counts: Array, lapse_rate: float, parameters: Array) -> tuple[Array, Array]:
    """Return gradient (m, 3) and expected information (m, 3, 3) in log sigma, bias / sigma and window / sigma."""
    chances, below, above = _chances(offsets_cents, lapse_rate, _in_cents(parameters))
    slope = (1.0 - lapse_rate) * normal_density(np.stack((below, above)))
    one = np.ones_like(below)
    flat = slope[0][..., None] * np.stack((-below, -one, -one), axis=-1)
    sharp = slope[1][..., None] * np.stack((-above, one, -one), axis=-1)
    slopes = np.stack((flat, -flat - sharp, sharp), axis=-2)
    chances = np.maximum(chances, _LEAST_CHANCE)
    gradient = np.einsum("mua,muap->mp", counts / chances, slopes)
    expected = counts.sum(axis=2)[..., None] / chances
    return gradient, np.einsum("mua,muap,muaq->mpq", expected, slopes, slopes)


def _step_units(parameters: Array) -> Array:
    sigma = np.exp(parameters[:, 0])
    return np.stack((np.ones_like(sigma), sigma, sigma), axis=-1)


def _within(parameters: Array) -> Array:
    inside = parameters.copy()
    inside[:, 0] = np.clip(inside[:, 0], np.log(SMALLEST_SIGMA_CENTS), np.log(LARGEST_SIGMA_CENTS))
    inside[:, 1] = np.clip(inside[:, 1], -LARGEST_SIGMA_CENTS, LARGEST_SIGMA_CENTS)
    inside[:, 2] = np.clip(inside[:, 2], 0.0, LARGEST_SIGMA_CENTS)
    return inside


def _in_cents(parameters: Array) -> Array:
    return np.concatenate((np.exp(parameters[:, :1]), parameters[:, 1:]), axis=1)
