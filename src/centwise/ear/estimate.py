"""The number: the posterior of a whole block's answers, order of the two tones and all.

Imports numpy, model and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.grid import Grid, closer, drawn_in, mirrored, mixture_weights, normalised, standard_grid
from centwise.ear.normal import normal_cdf
from centwise.ear.summary import Estimate, summarised
from centwise.ear.trials import Tally, tallied

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from centwise.model import Judgement, Tone

    Array = NDArray[np.float64]

ORDER_ERRORS = ((0.8, 0.35), (0.2, 1.3))
"""A stranger's time-order error over sigma: shares of normals and their standard deviations (a judgement)."""
ORDER_NODES = (0.35, 0.8, 1.6, 3.0)
"""Time-order errors over sigma that are looked at first, above 0."""


def estimate_trials(
    offsets_cents: ArrayLike,
    answers: Sequence[Judgement],
    firsts: Sequence[Tone],
) -> Estimate:
    """Return what a block's answers say of the ear, by a stranger's prior.

    When both orders occur, the constant error is split into the timbre shift (`bias_cents`, its sign follows the
    tones) and the time-order error (`order_error_cents`, its sign follows the positions), so that the latter does not
    pass for a coarser ear.

    Args:
        offsets_cents: signed cents of the fretted note over the harmonic, shape (n,), n at least 5.
        answers: "flat", "unison" or "sharp", n of them.
        firsts: the tone heard first, "harmonic" or "fretted", n of them.

    Raises:
        InputError: wrong shapes, unknown words, NaN or fewer than 5 trials.
    """
    return estimate_tally(standard_grid(), tallied(offsets_cents, answers, firsts))


def estimate_tally(grid: Grid, tally: Tally) -> Estimate:
    """Return the estimate from counted answers: one look at the whole lattice, one at a lattice drawn in.

    Args:
        grid: the lattice with its prior.
        tally: the answers.
    """
    return estimate_of(*posterior_of(grid, tally), tally)


def estimate_of(close: Grid, errors: Array, joint: Array, tally: Tally) -> Estimate:
    """Return the estimate that a posterior of `posterior_of` holds."""
    order = (errors, joint.sum(axis=(1, 2, 3))) if tally.both_orders else None
    return summarised(close, joint.sum(axis=-1), tally.trials, order)


def posterior_of(grid: Grid, tally: Tally) -> tuple[Grid, Array, Array]:
    """Return the posterior on a lattice drawn in around it.

    Args:
        grid: the lattice with its prior.
        tally: the answers.

    Returns:
        The lattice drawn in; the order's errors over sigma, shape (E,), one zero unless both orders were heard; the
        posterior, shape (S, K, B, L, E), summing to 1.
    """
    errors = mirrored(ORDER_NODES) if tally.both_orders else np.zeros(1)
    density = mixture_weights(errors, ORDER_ERRORS) if tally.both_orders else np.ones(1)
    joint = normalised(grid.prior()[..., None] * density * _likelihood(grid, tally, errors))
    close = closer(grid, joint.sum(axis=-1))
    if tally.both_orders:
        errors, density = drawn_in(errors, density, joint.sum(axis=(0, 1, 2, 3)))
    return close, errors, normalised(close.prior()[..., None] * density * _likelihood(close, tally, errors))


def _likelihood(grid: Grid, tally: Tally, order_errors: Array) -> Array:
    """Return the likelihood of all answers over its maximum on the lattice, shape (S, K, B, L, E)."""
    window = grid.windows[:, None, None]
    bias = grid.biases[:, None]
    # Lapse rates outermost: an innermost axis of three would take numpy three times as long.
    total = np.zeros((grid.lapses.size, *grid.shape[:3], order_errors.size))
    beyond = np.empty((2, *total.shape[1:]))
    for offset, sign, counts in zip(tally.offsets_cents, tally.order_signs, tally.counts, strict=True):
        heard = (offset / grid.sigma_cents)[:, None, None, None] + bias + sign * order_errors
        np.subtract(-heard, window, out=beyond[0])
        np.subtract(heard, window, out=beyond[1])
        flat, sharp = normal_cdf(beyond)
        unison = np.maximum(1.0 - flat - sharp, 0.0)
        for chance, count in zip((flat, unison, sharp), counts, strict=True):
            if count:
                for place, lapse in enumerate(grid.lapses):
                    total[place] += _log_with_lapses(chance, lapse, count)
    return np.ascontiguousarray(np.moveaxis(np.exp(total - total.max()), 0, -2))


def _log_with_lapses(chance: Array, lapse: float, count: int) -> Array:
    """Return what an answer given so often adds to the logarithm of the likelihood."""
    # The floor stands for an answer that no observer without lapses gives.
    mixed = chance * (1.0 - lapse)
    mixed += lapse / 3.0
    np.log(np.maximum(mixed, 1e-300, out=mixed), out=mixed)
    mixed *= count
    return mixed
