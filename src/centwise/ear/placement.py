"""Where to ask next, by what the answers so far make of the listener. Works on many blocks at once.

The balanced rule asks where an answer tells most about log sigma, among offsets that keep the listener comfortable.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.truths import CATCH_SHARE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.ear.grid import Grid

    Array = NDArray[np.float64]
    Places = NDArray[np.int64]

CLEAR_TRIALS = 3
"""So many trials at the start are clearly audible by what is known, that the listener may find their feet."""
CLEAR_CHANCE = 0.9
GOAL = 0.78
"""Share of right answers aimed at over the whole block, catch trials included."""
BAND = (-0.10, 0.06)
"""How far the chance of being right may lie from the aim, so that there is something to choose from."""
EASIEST, HARDEST = 0.87, 0.70
DIGITS = 9
"""Scores are rounded before they are compared: the last bits differ between machines."""


def predictions(grid: Grid, weights: Array, sides: Places) -> tuple[Array, Array]:
    """Return what each size would tell and how likely it would be answered right.

    Args:
        grid: the lattice.
        weights: posteriors, shape (n, S, K, B, L).
        sides: -1 or 1 for each, shape (n,); a zero is taken as sharp, which makes no difference to size 0.

    Returns:
        Mutual information between the answer and log sigma in nats, the nuisances summed out, shape (n, C); and the
        predicted chance of the right answer, shape (n, C): at size 0 that of unison, else that of the side.
    """
    count, nodes = weights.shape[:2]
    attentive = weights @ (1.0 - grid.lapses)
    lapsed = (weights @ grid.lapses).sum(axis=(2, 3)).T[:, None, :] / 3.0
    sigma = weights.sum(axis=(2, 3, 4)).T[:, None, :]
    # A pair asked flat is the mirror image of one asked sharp: turn the bias round instead of the table.
    attentive = np.where((sides < 0)[:, None, None, None], attentive[..., ::-1], attentive)
    columns = np.moveaxis(attentive.reshape(count, nodes, -1), 0, 2)
    joint = np.matmul(grid.flat_sharp_rows, columns).reshape(nodes, 2, grid.sizes_cents.size, count)
    wrong, right = joint[:, 0] + lapsed, joint[:, 1] + lapsed
    unison = np.maximum(sigma - wrong - right, 0.0)
    told = -_x_log_x(sigma).sum(axis=0)
    chances = []
    for answer in (wrong, unison, right):
        chance = answer.sum(axis=0)
        told = told + _x_log_x(answer).sum(axis=0) - _x_log_x(chance)
        chances.append(chance)
    likely = chances[2].copy()
    likely[0] = chances[1][0]
    return told.T, likely.T


def balanced_places(grid: Grid, weights: Array, sides: Places, *, trial: int, start: Places, last: Places) -> Places:
    """Return the size to ask in each block, shape (n,), as indices into the grid's sizes, never 0.

    Args:
        grid: the lattice.
        weights: posteriors, shape (n, S, K, B, L).
        sides: -1 or 1, shape (n,).
        trial: how many trials each block has behind it.
        start: place of the first trial, shape (n,).
        last: place of the last trial if it was on the same side, else 0: not asked again, shape (n,).
    """
    if trial == 0:
        return start
    told, likely = predictions(grid, weights, sides)
    unison, told, likely = likely[:, 0], told[:, 1:], np.round(likely[:, 1:], DIGITS)
    fresh = np.arange(1, grid.sizes_cents.size) != last[:, None]
    if trial < CLEAR_TRIALS:
        clear = fresh & (likely >= CLEAR_CHANCE)
        largest = np.where(fresh[:, -1], fresh.shape[1], fresh.shape[1] - 1)
        return np.asarray(np.where(clear.any(axis=1), 1 + clear.argmax(axis=1), largest))
    best = likely.max(axis=1)
    aim = np.clip((GOAL - CATCH_SHARE * unison) / (1.0 - CATCH_SHARE) / best, HARDEST, EASIEST)
    distance = likely / best[:, None] - aim[:, None]
    comfortable = fresh & (distance >= BAND[0]) & (distance <= BAND[1])
    score = np.where(comfortable, np.round(told, DIGITS), -1.0)
    nearest = np.where(fresh, np.round(np.abs(distance), DIGITS), np.inf)
    return np.asarray(1 + np.where(comfortable.any(axis=1), score.argmax(axis=1), nearest.argmin(axis=1)))


def _x_log_x(x: Array) -> Array:
    return np.asarray(x * np.log(np.maximum(x, 1e-300)))
