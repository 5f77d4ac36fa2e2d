"""The lattice on which the posterior lives: sigma, unison window, bias and lapse rate, and the offsets to choose from.

Window and bias are counted in sigmas, so one table of chances serves every size of ear. Built when first asked for,
never at import. Imports numpy, model and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.normal import normal_cdf
from centwise.model import MAX_OFFSET_CENTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

SIZES_PER_OCTAVE = 4
"""Finer than what sixty answers tell of a threshold, which is about a quarter of an octave (benchmark)."""
SMALLEST_CENTS = 0.35
EVEN_FLOOR = 0.003
"""Weight of the even share of the stranger's prior, against 1 in the middle of it (a judgement)."""


@dataclass(frozen=True)
class Grid:
    """Nodes and prior weights of the four parameters, and the sizes of offset that may be asked.

    Attributes:
        octaves: log2 of sigma in cents, evenly spaced, shape (S,).
        sigma_weights: a stranger's prior over them, shape (S,), summing to 1.
        windows: unison half-width over sigma, shape (K,), with `window_weights`.
        biases: bias over sigma, shape (B,), symmetrical about 0, with `bias_weights`.
        lapses: lapse rates, shape (L,), with `lapse_weights`.
        sizes_cents: offsets to choose from without their sign, shape (C,), rising; the first is 0.
    """

    octaves: Array
    sigma_weights: Array
    windows: Array
    window_weights: Array
    biases: Array
    bias_weights: Array
    lapses: Array
    lapse_weights: Array
    sizes_cents: Array

    @cached_property
    def sigma_cents(self) -> Array:
        """Sigma at the nodes, shape (S,)."""
        return np.asarray(np.exp2(self.octaves))

    @property
    def shape(self) -> tuple[int, int, int, int]:
        """Lengths S, K, B, L of the four axes."""
        return self.octaves.size, self.windows.size, self.biases.size, self.lapses.size

    @cached_property
    def nuisance_weights(self) -> Array:
        """Prior over window, bias and lapse rate, shape (K, B, L), summing to 1."""
        return np.asarray(
            self.window_weights[:, None, None] * self.bias_weights[None, :, None] * self.lapse_weights[None, None, :]
        )

    def prior(self, sigma_weights: Array | None = None) -> Array:
        """Return the posterior before the first answer, shape (S, K, B, L), summing to 1."""
        over_sigma = self.sigma_weights if sigma_weights is None else sigma_weights
        return np.asarray(over_sigma[:, None, None, None] * self.nuisance_weights[None])

    def attentive_chances(self, offset_cents: float) -> Array:
        """Return the chances of flat, unison, sharp without a lapse at every node, shape (3, S, K, B)."""
        ratio = (offset_cents / self.sigma_cents)[:, None, None]
        bias, window = self.biases[None, None, :], self.windows[None, :, None]
        flat, sharp = normal_cdf(np.stack((-ratio - bias - window, ratio + bias - window)))
        return np.stack((flat, np.maximum(1.0 - flat - sharp, 0.0), sharp))

    @cached_property
    def table(self) -> Array:
        """Attentive chances of all sizes asked sharp, shape (C, 3, S, K, B); asked flat is its mirror image."""
        return np.stack([self.attentive_chances(size) for size in self.sizes_cents])

    @cached_property
    def flat_sharp_rows(self) -> Array:
        """The same as one matrix for each sigma, shape (S, 2C, K B): rows answered flat, then rows answered sharp."""
        both = self.table[:, (0, 2)]
        return np.ascontiguousarray(
            np.moveaxis(both, (2, 1, 0), (0, 1, 2)).reshape(self.octaves.size, 2 * self.sizes_cents.size, -1)
        )

    @cached_property
    def rows_with_lapses(self) -> Array:
        """Chances of the answers to all sizes asked sharp at every node, lapses included, shape (C, 3, S K B L)."""
        lapsing = self.table[..., None] * (1.0 - self.lapses) + self.lapses / 3.0
        return np.asarray(lapsing.reshape(*lapsing.shape[:2], -1))

    @cached_property
    def answer_entropies(self) -> Array:
        """Entropy of the answer in nats at every node, shape (C, S K B L)."""
        chances = self.rows_with_lapses
        return np.asarray(-(chances * np.log(np.maximum(chances, 1e-300))).sum(axis=1))


def updated(weights: Array, chances: Array, lapses: Array) -> Array:
    """Return the posterior after an answer.

    Args:
        weights: shape (..., S, K, B, L).
        chances: attentive chance of the answer given, shape (..., S, K, B).
        lapses: shape (L,).
    """
    product = np.empty_like(weights)
    # One lapse rate at a time: an innermost axis of three would take numpy three times as long.
    for place, lapse in enumerate(lapses):
        with_lapse = chances * (1.0 - lapse)
        with_lapse += lapse / 3.0
        np.multiply(weights[..., place], with_lapse, out=product[..., place])
    product /= product.sum(axis=(-4, -3, -2, -1), keepdims=True)
    return np.asarray(product)


def closer(grid: Grid, weights: Array) -> Grid:
    """Return a grid of the same shape drawn in around a posterior, its prior the same density.

    Sigma, window and bias span the posterior's mean and four standard deviations either side, within the old bounds;
    the lapse rates stay. So a long block's answers are not read off a lattice that is coarser than they are.

    Args:
        grid: where the posterior lives.
        weights: the posterior, shape (S, K, B, L).
    """
    octaves, over_octaves = drawn_in(grid.octaves, grid.sigma_weights, weights.sum(axis=(1, 2, 3)))
    windows, over_windows = drawn_in(grid.windows, grid.window_weights, weights.sum(axis=(0, 2, 3)))
    biases, over_biases = drawn_in(grid.biases, grid.bias_weights, weights.sum(axis=(0, 1, 3)))
    return replace(
        grid,
        octaves=octaves,
        sigma_weights=over_octaves,
        windows=windows,
        window_weights=over_windows,
        biases=biases,
        bias_weights=over_biases,
    )


def cell_edges(nodes: Array) -> Array:
    """Return the borders of the cells around rising nodes, one more than there are nodes."""
    middles = 0.5 * (nodes[1:] + nodes[:-1])
    return np.concatenate(([2.0 * nodes[0] - middles[0]], middles, [2.0 * nodes[-1] - middles[-1]]))


def drawn_in(nodes: Array, prior: Array, posterior: Array) -> tuple[Array, Array]:
    """Return new nodes of one axis about its posterior, evenly spaced, and the prior's weights on them.

    Args:
        nodes: the old nodes, rising, shape (m,).
        prior: weights on them, shape (m,).
        posterior: the same after the answers, summing to 1.
    """
    widths = np.diff(cell_edges(nodes))
    mean = float(posterior @ nodes)
    # What one node holds is as wide as its cell.
    spread = float(np.sqrt(posterior @ ((nodes - mean) ** 2 + widths**2 / 12.0)))
    close = np.linspace(max(nodes[0], mean - 4.0 * spread), min(nodes[-1], mean + 4.0 * spread), nodes.size)
    return close, normalised(np.interp(close, nodes, prior / widths))


def normalised(values: Array) -> Array:
    """Return the values over their sum."""
    return np.asarray(values / values.sum())


@lru_cache(maxsize=1)
def standard_grid() -> Grid:
    """Return the grid every block uses.

    Its prior is a stranger's. Sigma: even between 1.4 and 40 c in octaves, for published thresholds run from 1.7 c (the
    best) to 40 c (untrained: Arndt, Schlemmer and van der Meer 2020), with tails beyond both; a small even share leaves
    no size impossible. Window, bias and lapse rate: judgements, wide enough that the interval holds for listeners with
    no window, a window of three sigmas, a bias of three sigmas or a lapse in ten (benchmark).
    """
    octaves = np.arange(-3, 43) / 6.0
    beyond = np.maximum(np.maximum((0.5 - octaves) / 0.4, (octaves - 5.3) / 0.5), 0.0)
    windows = np.array([0.1, 0.3, 0.5, 0.7, 0.9, 1.1, 1.4, 1.9, 2.6, 3.6])
    biases = mirrored((0.25, 0.5, 0.8, 1.2, 1.8, 2.7, 4.0))
    return Grid(
        octaves=octaves,
        sigma_weights=normalised(np.exp(-0.5 * beyond**2) + EVEN_FLOOR),
        windows=windows,
        window_weights=normalised(np.array([0.4, 0.9, 1.0, 1.0, 1.0, 1.1, 1.3, 0.85, 0.5, 0.1])),
        biases=biases,
        bias_weights=mixture_weights(biases, CONSTANT_ERRORS),
        lapses=np.array([0.005, 0.03, 0.10]),
        lapse_weights=np.array([0.42, 0.36, 0.22]),
        sizes_cents=offset_sizes(SIZES_PER_OCTAVE),
    )


CONSTANT_ERRORS = ((0.75, 0.25), (0.20, 0.7), (0.05, 2.0))
"""A stranger's constant error over sigma: shares of normals and their standard deviations. Most ears are hardly off,
and an unbiased listener's errors should be left to sigma; a fine ear is off by several sigmas where the timbres differ,
which shifts the pitch by 10 to 20 cents between instruments (a judgement, held to by the benchmark)."""


def mixture_weights(nodes: Array, normals: tuple[tuple[float, float], ...]) -> Array:
    """Return the weights of a mixture of normals about 0 on rising nodes, summing to 1.

    Args:
        nodes: shape (m,); each stands for its cell.
        normals: share and standard deviation of each.
    """
    density = sum(share / sd * np.exp(-0.5 * (nodes / sd) ** 2) for share, sd in normals)
    return normalised(density * np.diff(cell_edges(nodes)))


def mirrored(side: Sequence[float]) -> Array:
    """Return nodes about 0: the given ones above it, rising, and their mirror image."""
    return np.concatenate((-np.array(side)[::-1], [0.0], side))


def offset_sizes(per_octave: int) -> Array:
    """Return 0 and the sizes 40 c times whole powers of 2^(1/per_octave), up to 100 c, in hundredths."""
    steps = np.arange(-7 * per_octave, 2 * per_octave)
    sizes = np.round(40.0 * np.exp2(steps / per_octave), 2)
    return np.concatenate(([0.0], sizes[(sizes >= SMALLEST_CENTS) & (sizes <= MAX_OFFSET_CENTS)]))
