"""The number: the posterior of a whole block's answers, order of the two tones and all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.grid import Grid, normalised, standard_grid
from centwise.ear.normal import normal_cdf
from centwise.ear.summary import Estimate, summarised
from centwise.ear.trials import Tally, tallied

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from centwise.ear.prior import Prior
    from centwise.model import Judgement, Tone

    Array = NDArray[np.float64]

ORDER_SD = 0.4
"""A stranger's prior for the time-order error over sigma, one standard deviation (a judgement)."""


def estimate_trials(
    offsets_cents: ArrayLike,
    answers: Sequence[Judgement],
    firsts: Sequence[Tone],
    *,
    prior: Prior | None = None,
) -> Estimate:
    """Return what a block's answers say of the ear.

    When both orders occur, the constant error is split into the timbre shift (`bias_cents`, its sign follows the
    tones) and the time-order error (`order_error_cents`, its sign follows the positions), so that the latter does not
    pass for a coarser ear.

    Args:
        offsets_cents: signed cents of the fretted note over the harmonic, shape (n,), n at least 5.
        answers: "flat", "unison" or "sharp", n of them.
        firsts: the tone heard first, "harmonic" or "fretted", n of them.
        prior: what earlier sessions say of the threshold, None for a stranger.

    Raises:
        InputError: wrong shapes, unknown words, NaN or fewer than 5 trials.
    """
    tally = tallied(offsets_cents, answers, firsts)
    grid = standard_grid()
    sigma_weights = None if prior is None else prior.weights(grid.sigma_cents)
    return estimate_tally(grid, grid.prior(sigma_weights), tally)


def estimate_tally(grid: Grid, prior: Array, tally: Tally) -> Estimate:
    """Return the estimate from counted answers.

    Args:
        grid: the lattice.
        prior: weights on it, shape (S, K, B, L).
        tally: the answers.
    """
    if not tally.both_orders:
        weights = normalised(prior * _likelihood(grid, tally, np.zeros(1))[..., 0])
        return summarised(grid, weights, tally.trials)
    order_weights = normalised(np.exp(-0.5 * (grid.biases / ORDER_SD) ** 2))
    # Axes S, K, B, L and the order's error.
    joint = normalised(prior[..., None] * order_weights * _likelihood(grid, tally, grid.biases))
    return summarised(grid, joint.sum(axis=-1), tally.trials, joint.sum(axis=(1, 2, 3)))


def _likelihood(grid: Grid, tally: Tally, order_errors: Array) -> Array:
    """Return the likelihood of all answers over its maximum on the lattice, shape (S, K, B, L, E)."""
    window = grid.windows[None, :, None, None]
    bias = grid.biases[None, None, :, None]
    order = order_errors[None, None, None, :]
    total = np.zeros((*grid.shape, order_errors.size))
    for offset, sign, counts in zip(tally.offsets_cents, tally.order_signs, tally.counts, strict=True):
        heard = (offset / grid.sigma_cents)[:, None, None, None] + bias + sign * order
        flat, sharp = normal_cdf(np.stack((-heard - window, heard - window)))
        unison = np.maximum(1.0 - flat - sharp, 0.0)
        for chance, count in zip((flat, unison, sharp), counts, strict=True):
            if count:
                total += count * _log_with_lapses(chance, grid.lapses)
    return np.asarray(np.exp(total - total.max()))


def _log_with_lapses(chance: Array, lapses: Array) -> Array:
    lapse = lapses[:, None]
    # The floor stands for an answer that no observer without lapses gives.
    return np.asarray(np.log(np.maximum(chance[:, :, :, None, :] * (1.0 - lapse) + lapse / 3.0, 1e-300)))
