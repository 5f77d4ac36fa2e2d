"""How well anybody could do: the Cramér-Rao bound on log2 sigma for offsets that were asked.

Source: H. Cramér 1946, Mathematical Methods of Statistics, chapter 32 (recalled): no unbiased estimate varies less
than the inverse of the Fisher information. Window, bias and lapse rate count as unknown with sigma.
Imports numpy and nothing outside its package.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.normal import normal_cdf, normal_density

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_LEAST_CHANCE = 1e-12
SIZES_IN_SIGMAS = (0.5, 0.8, 1.1, 1.4, 1.7, 2.0, 2.3, 2.6, 3.0, 3.6, 5.0)
"""Sizes that the best placement is looked for among."""
_RIDGE = 1e-9
"""Keeps the inverse finite where some parameter was not asked about at all; far below one answer's information."""


def fisher_information(
    offsets_cents: Array, sigma_cents: Array, bias_cents: Array, window_cents: Array, lapse_rate: Array
) -> Array:
    """Return the information of single trials on ln sigma, bias/sigma, window/sigma and lapse rate.

    Args:
        offsets_cents: what was asked, any shape that broadcasts with the others.
        sigma_cents: above 0.
        bias_cents: the constant error.
        window_cents: half-width of what is called unison, 0 or more.
        lapse_rate: 0 up to below 1.

    Returns:
        Shape (..., 4, 4).
    """
    below = (-offsets_cents - bias_cents - window_cents) / sigma_cents
    above = (offsets_cents + bias_cents - window_cents) / sigma_cents
    flat, sharp = normal_cdf(below), normal_cdf(above)
    attentive = np.stack((flat, np.maximum(1.0 - flat - sharp, 0.0), sharp), axis=-1)
    lapse = np.asarray(lapse_rate)[..., None]
    chances = np.maximum((1.0 - lapse) * attentive + lapse / 3.0, _LEAST_CHANCE)
    one = np.ones_like(below)
    of_flat = normal_density(below)[..., None] * np.stack((-below, -one, -one), axis=-1)
    of_sharp = normal_density(above)[..., None] * np.stack((-above, one, -one), axis=-1)
    slopes = (1.0 - lapse)[..., None] * np.stack((of_flat, -of_flat - of_sharp, of_sharp), axis=-2)
    slopes = np.concatenate((slopes, (1.0 / 3.0 - attentive)[..., None]), axis=-1)
    return np.asarray(np.einsum("...a,...ap,...aq->...pq", 1.0 / chances, slopes, slopes))


def least_variance(information: Array, known: Array | None = None) -> Array:
    """Return the least variance of log2 sigma in octaves squared.

    Args:
        information: summed over trials, shape (..., 4, 4).
        known: information there is beside the trials on each of the four parameters, shape (4,): with it the bound is
            van Trees' (H. L. van Trees 1968, Detection, Estimation and Modulation Theory I, section 2.4; recalled).
    """
    beside = np.zeros(4) if known is None else known
    inverse = np.linalg.inv(information + np.diag(beside + _RIDGE))
    return np.asarray(inverse[..., 0, 0] / math.log(2.0) ** 2)


def best_placement_variance(
    trials: int,
    sigma_cents: Array,
    bias_cents: Array,
    window_cents: Array,
    lapse_rate: Array,
    known: Array | None = None,
) -> Array:
    """Return the least variance of log2 sigma over placements, shape (n,): each listener's own best.

    Looked for among catch trials in a tenth to four tenths of the trials, and two sizes on either side. Nobody knows it
    before the block.

    Args:
        trials: how many there are.
        sigma_cents: shape (n,), as all that follow.
        bias_cents: the constant error.
        window_cents: half-width of what is called unison.
        lapse_rate: 0 up to below 1.
        known: as for `least_variance`.
    """
    people = (sigma_cents, bias_cents, window_cents, lapse_rate)
    catch = fisher_information(np.zeros_like(sigma_cents), *people)
    pairs = [
        0.5 * (fisher_information(-size * sigma_cents, *people) + fisher_information(size * sigma_cents, *people))
        for size in SIZES_IN_SIGMAS
    ]
    best = np.full(sigma_cents.shape, np.inf)
    for small, large in itertools.combinations(pairs, 2):
        for share in (0.0, 0.15, 0.3, 0.5):
            sides = (1.0 - share) * small + share * large
            for caught in (0.1, 0.2, 0.3, 0.4):
                total = trials * (caught * catch + (1.0 - caught) * sides)
                best = np.minimum(best, least_variance(total, known))
    return best
