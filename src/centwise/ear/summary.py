"""What a posterior says: one figure and a 90 % interval for sigma and bias, and one for the unison window.

Imports numpy and nothing outside its package.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.grid import cell_edges
from centwise.ear.normal import Z_75

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.ear.grid import Grid

    Array = NDArray[np.float64]

LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95
"""A 90 % interval leaves 5 % on each side."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """An ear, as the answers of a block tell it. Cents throughout; intervals hold 90 % of the posterior.

    Attributes:
        sigma_cents: standard deviation of one judgement, the posterior's figure (see `sigma_interval`).
        threshold_cents: 0.6745 sigma, with `low_cents` and `high_cents`.
        bias_cents: constant error, + hears the fretted note sharp, posterior median, with `bias_low_cents` and
            `bias_high_cents`. When both orders were heard it is the share that follows the timbre.
        window_cents: half-width of what is called unison, posterior median.
        trials: how many answers it rests on.
        order_error_cents: the share of the constant error that follows the position: + hears the second tone sharp.
            None, as its interval, unless both orders were heard.
    """

    sigma_cents: float
    threshold_cents: float
    low_cents: float
    high_cents: float
    bias_cents: float
    bias_low_cents: float
    bias_high_cents: float
    window_cents: float
    trials: int
    order_error_cents: float | None = None
    order_error_low_cents: float | None = None
    order_error_high_cents: float | None = None

    @property
    def interval_octaves(self) -> float:
        """Width of the threshold's interval in octaves."""
        return float(np.log2(self.high_cents / self.low_cents))


def sigma_interval(grid: Grid, weights: Array) -> Array:
    """Return low end, figure and high end of log2 sigma, shape (..., 3), of a 90 % interval.

    The figure is the square of the mean root of sigma. The mean of log sigma reads a usual listener 3 to 4 % low after
    60 trials, the mean of sigma reads a cautious one more than 10 % high; this lies between them, and is as steady
    (benchmark).

    Args:
        grid: where the weights live.
        weights: posterior over sigma alone, shape (..., S), summing to 1; each node's cell is filled evenly.
    """
    width = grid.octaves[1] - grid.octaves[0]
    below = np.cumsum(weights, axis=-1)
    ends = []
    for share in (LOW, HIGH):
        cell = np.minimum((below < share).sum(axis=-1, keepdims=True), grid.octaves.size - 1)
        inside = np.take_along_axis(weights, cell, -1)
        before = np.take_along_axis(below, cell, -1) - inside
        part = np.clip((share - before) / np.maximum(inside, 1e-300), 0.0, 1.0)
        ends.append((grid.octaves[cell] + width * (part - 0.5))[..., 0])
    return np.stack((ends[0], 2.0 * np.log2(weights @ np.exp2(0.5 * grid.octaves)), ends[1]), axis=-1)


def summarised(grid: Grid, weights: Array, trials: int, order_error: tuple[Array, Array] | None = None) -> Estimate:
    """Return the estimate a posterior holds.

    Args:
        grid: where the weights live.
        weights: shape (S, K, B, L), summing to 1.
        trials: how many answers went into it.
        order_error: nodes of the order's error over sigma, shape (E,), and its posterior with sigma, shape (S, E).
    """
    low, middle, high = np.exp2(sigma_interval(grid, weights.sum(axis=(1, 2, 3))))
    bias = _scaled_quantiles(grid.sigma_cents, weights.sum(axis=(1, 3)), cell_edges(grid.biases))
    # A window cannot be negative.
    edges = cell_edges(grid.windows)
    edges[0] = max(edges[0], 0.0)
    window = _scaled_quantiles(grid.sigma_cents, weights.sum(axis=(2, 3)), edges)
    order = None
    if order_error is not None:
        order = _scaled_quantiles(grid.sigma_cents, order_error[1], cell_edges(order_error[0]))
    return Estimate(
        sigma_cents=float(middle),
        threshold_cents=float(Z_75 * middle),
        low_cents=float(Z_75 * low),
        high_cents=float(Z_75 * high),
        bias_cents=float(bias[1]),
        bias_low_cents=float(bias[0]),
        bias_high_cents=float(bias[2]),
        window_cents=float(window[1]),
        trials=trials,
        order_error_cents=None if order is None else float(order[1]),
        order_error_low_cents=None if order is None else float(order[0]),
        order_error_high_cents=None if order is None else float(order[2]),
    )


def _scaled_quantiles(sigma_cents: Array, weights: Array, edges: Array) -> Array:
    """Return low, middle and high quantile of a quantity counted in sigmas, in cents, by bisection.

    Each node of the quantity, shape (M,), is spread evenly over its cell of the M + 1 edges; weights have shape (S, M).
    """
    shares = np.array([LOW, MIDDLE, HIGH])
    ends = np.outer(sigma_cents[[0, -1]], edges[[0, -1]])
    lower, upper = np.full(3, ends.min()), np.full(3, ends.max())
    widths = np.diff(edges)
    for _ in range(48):
        middle = 0.5 * (lower + upper)
        filled = middle[:, None, None] / sigma_cents[:, None] - edges[:-1]
        filled /= widths
        np.minimum(np.maximum(filled, 0.0, out=filled), 1.0, out=filled)
        filled *= weights
        enough = filled.sum(axis=(1, 2)) >= shares
        upper, lower = np.where(enough, middle, upper), np.where(enough, lower, middle)
    return np.asarray(0.5 * (lower + upper))
