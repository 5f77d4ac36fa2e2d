"""Where to ask next, by what the answers so far make of the listener. Works on many blocks at once.

The balanced rule asks where an answer tells most about log sigma, among offsets that keep the listener comfortable.
Imports numpy and nothing outside its package.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.truths import CATCH_SHARE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.ear.grid import Grid

    Array = NDArray[np.float64]
    Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Comfort:
    """What keeps a learner at ease. All are judgements, chosen in a study of simulated listeners (the benchmark).

    Attributes:
        goal: share of right answers aimed at over the whole block, catch trials included.
        horizon: trials over which a lead or a lag in right answers is made good.
        band: how far the chance of being right may lie below and above the aim, so that there is something to choose
            from, both as shares of the best chance there is.
        hardest: the aim is never below this share.
        easiest: nor above this.
    """

    goal: float = 0.785
    horizon: float = 20.0
    band: tuple[float, float] = (-0.26, 0.10)
    hardest: float = 0.65
    easiest: float = 0.93


COMFORT = Comfort()
DIGITS = 9
"""Scores are rounded before they are compared: the last bits differ between machines."""


def predictions(grid: Grid, weights: Array, sides: Places) -> tuple[Array, Array]:
    """Return what each size would tell and how likely it would be answered right.

    Args:
        grid: the lattice.
        weights: posteriors, shape (n, S, K, B, L).
        sides: -1 or 1 for each, shape (n,); a zero is taken as sharp, which makes no difference to size 0.

    Returns:
        The expected loss of variance of log2 sigma in octaves squared, whatever window, bias and lapse rate may be,
        shape (n, C); and the predicted chance of the right answer, shape (n, C): at size 0 that of unison, else that
        of the side.
    """
    count, nodes = weights.shape[:2]
    # As one matrix: a stack of small ones takes three times as long.
    split = weights.reshape(-1, grid.lapses.size) @ np.stack((1.0 - grid.lapses, grid.lapses), axis=-1)
    split = split.reshape(*weights.shape[:-1], 2)
    attentive, lapsing = split[..., 0], split[..., 1].sum(axis=(2, 3)).T
    sigma = attentive.sum(axis=(2, 3)).T + lapsing
    lapsed = lapsing[:, None, :] / 3.0
    # A pair asked flat is the mirror image of one asked sharp: turn the bias round instead of the table.
    attentive = np.where((sides < 0)[:, None, None, None], attentive[..., ::-1], attentive)
    columns = np.moveaxis(attentive.reshape(count, nodes, -1), 0, 2)
    joint = np.matmul(grid.flat_sharp_rows, columns).reshape(nodes, 2, grid.sizes_cents.size, count)
    wrong, right = joint[:, 0] + lapsed, joint[:, 1] + lapsed
    unison = sigma[:, None, :] - wrong - right
    octaves = grid.octaves - grid.octaves.mean()
    # Variance before, less the mean variance after: what the answers' own means of log2 sigma spread.
    gain = -((octaves @ sigma) ** 2)
    chances = []
    for answer in (wrong, unison, right):
        chance = answer.sum(axis=0)
        gain = gain + np.tensordot(octaves, answer, 1) ** 2 / np.maximum(chance, 1e-300)
        chances.append(chance)
    likely = chances[2].copy()
    likely[0] = chances[1][0]
    return gain.T, likely.T


def balanced_places(
    grid: Grid, weights: Array, sides: Places, *, trial: int, right: Places, last: Places, comfort: Comfort = COMFORT
) -> Places:
    """Return the size to ask in each block, shape (n,), as indices into the grid's sizes, never 0.

    Args:
        grid: the lattice.
        weights: posteriors, shape (n, S, K, B, L).
        sides: -1 or 1, shape (n,).
        trial: how many trials each block has behind it.
        right: how many of them were answered right, shape (n,).
        last: place of the last trial if it was on the same side, else 0: not asked again, shape (n,).
        comfort: what keeps the learner at ease.
    """
    gain, likely = predictions(grid, weights, sides)
    comfortable, distance = _at_ease(likely, trial, right, last, comfort)
    return _best_of(np.round(gain, DIGITS), comfortable, distance)


def held_places(
    grid: Grid,
    weights: Array,
    sides: Places,
    *,
    wish: Places | None,
    trial: int,
    right: Places,
    last: Places,
    comfort: Comfort = COMFORT,
) -> Places:
    """Return another rule's size brought within the balanced rule's comfort, shape (n,), never 0.

    For comparison only: no block is drilled by it.

    Args:
        grid: the lattice.
        weights: posteriors, shape (n, S, K, B, L).
        sides: -1 or 1, shape (n,).
        wish: the size a staircase stands at, shape (n,): the nearest comfortable one is asked. None for the
            comfortable one of minimum expected entropy.
        trial: as for `balanced_places`.
        right: as for `balanced_places`.
        last: as for `balanced_places`.
        comfort: as for `balanced_places`.
    """
    comfortable, distance = _at_ease(predictions(grid, weights, sides)[1], trial, right, last, comfort)
    if wish is None:
        return _best_of(_told(grid, weights, sides), comfortable, distance)
    sizes = np.arange(grid.sizes_cents.size)
    return _best_of(float(sizes.size) - np.abs(sizes - wish[:, None]), comfortable, distance)


def _at_ease(
    likely: Array, trial: int, right: Places, last: Places, comfort: Comfort
) -> tuple[NDArray[np.bool_], Array]:
    """Return which sizes keep the listener at ease, and how far each lies from the aim, infinite where it may not be.

    Both of shape (n, C); never size 0, nor the last one again.
    """
    unison, likely = np.round(likely[:, 0], DIGITS), np.round(likely[:, 1:], DIGITS)
    fresh = np.arange(1, likely.shape[1] + 1) != last[:, None]
    best = likely.max(axis=1)
    wanted = comfort.goal + (comfort.goal * trial - right) / comfort.horizon
    # Catch trials bring their own share of right answers; the others must bring the rest.
    aim = np.clip((wanted - CATCH_SHARE * unison) / (1.0 - CATCH_SHARE) / best, comfort.hardest, comfort.easiest)
    distance = np.round(likely / best[:, None] - aim[:, None], DIGITS)
    comfortable = fresh & (distance >= comfort.band[0]) & (distance <= comfort.band[1])
    beside = ((0, 0), (1, 0))
    return (
        np.pad(comfortable, beside),
        np.pad(np.where(fresh, np.abs(distance), np.inf), beside, constant_values=np.inf),
    )


def _best_of(score: Array, comfortable: NDArray[np.bool_], distance: Array) -> Places:
    """Return the comfortable size of the highest score, 0 or more; where there is none, the one nearest the aim."""
    best = np.where(comfortable, score, -1.0).argmax(axis=1)
    return np.asarray(np.where(comfortable.any(axis=1), best, distance.argmin(axis=1)))


def entropy_places(grid: Grid, weights: Array, sides: Places, *, last: Places) -> Places:
    """Return the size whose answer is expected to tell most about all parameters at once, shape (n,), never 0.

    Minimum expected entropy (A. B. Watson 2017, QUEST+, Journal of Vision 17(3):10) over the sizes of a given side,
    not repeating the last. For comparison only: no block is drilled by it.

    Args:
        grid: the lattice.
        weights: posteriors, shape (n, S, K, B, L).
        sides: -1 or 1, shape (n,).
        last: place of the last trial if it was on the same side, else 0.
    """
    told = _told(grid, weights, sides)
    told[:, 0] = -1.0
    told[np.arange(last.size), last] = -1.0
    return np.asarray(told.argmax(axis=1))


def _told(grid: Grid, weights: Array, sides: Places) -> Array:
    """Return by how much the entropy of the whole posterior is expected to fall at each size, in nats, shape (n, C)."""
    turned = np.where((sides < 0)[:, None, None, None, None], weights[:, :, :, ::-1], weights)
    flat = turned.reshape(weights.shape[0], -1)
    chance = np.tensordot(flat, grid.rows_with_lapses, (1, 2))
    noise = flat @ grid.answer_entropies.T
    return np.asarray(np.round(-_x_log_x(chance).sum(axis=2) - noise, DIGITS))


def _x_log_x(x: Array) -> Array:
    return np.asarray(x * np.log(np.maximum(x, 1e-300)))
