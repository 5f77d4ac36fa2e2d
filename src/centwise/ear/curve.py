"""The psychometric curve with its band: how often each answer comes at each offset, by all that the answers say.

Imports numpy, model and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.estimate import estimate_of, posterior_of
from centwise.ear.grid import standard_grid
from centwise.ear.normal import normal_cdf
from centwise.ear.summary import HIGH, LOW
from centwise.ear.trials import tallied

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from centwise.ear.summary import Estimate
    from centwise.model import Judgement, Tone

    Array = NDArray[np.float64]

NODES = 2_000
"""So many nodes, taken at even steps of the posterior's own sum, stand for it: an end of a band moves by less than 0.02
against all of them (test)."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Chances of the answers flat, unison and sharp over offsets, averaged over the posterior, with 90 % bands.

    Attributes:
        offsets_cents: shape (n,).
        chances: shape (3, n), each column summing to 1.
        low: lower ends of the bands, shape (3, n).
        high: upper ends.
    """

    offsets_cents: Array
    chances: Array
    low: Array
    high: Array


def psychometric_curve(
    offsets_cents: ArrayLike, answers: Sequence[Judgement], firsts: Sequence[Tone], at_cents: ArrayLike
) -> tuple[Estimate, Curve]:
    """Return what answers tell of an ear, as figures and as the curve.

    Args:
        offsets_cents: signed cents, shape (n,), n at least 5.
        answers: "flat", "unison" or "sharp", n of them.
        firsts: the tone heard first, n of them; where both orders occur, the curve is for their mixture.
        at_cents: the offsets to tell the chances at, shape (m,).

    Raises:
        InputError: wrong shapes, unknown words, NaN or fewer than 5 trials.
    """
    tally = tallied(offsets_cents, answers, firsts)
    at = np.asarray(at_cents, dtype=np.float64)
    grid, errors, joint = posterior_of(standard_grid(), tally)
    nodes = _at_even_steps(joint)
    sigma, window, bias, lapse = (
        values[places]
        for values, places in zip((grid.sigma_cents, grid.windows, grid.biases, grid.lapses), nodes[:4], strict=True)
    )
    asked = tally.counts.sum(axis=1)
    # The nodes last, side by side in memory: quantiles are over them.
    chances = np.zeros((3, at.size, sigma.size))
    for sign in np.unique(tally.order_signs):
        share = asked[tally.order_signs == sign].sum() / asked.sum()
        heard = at[:, None] / sigma + (bias + sign * errors[nodes[4]])
        flat, sharp = normal_cdf(-heard - window), normal_cdf(heard - window)
        attentive, lapsed = share * (1.0 - lapse), share * lapse / 3.0
        for which, chance in enumerate((flat, np.maximum(1.0 - flat - sharp, 0.0), sharp)):
            chances[which] += attentive * chance + lapsed
    mean = chances.mean(axis=-1)
    low, high = np.quantile(chances, (LOW, HIGH), axis=-1, overwrite_input=True)
    return (
        estimate_of(grid, errors, joint, tally),
        Curve(at, mean, np.minimum(low, mean), np.maximum(high, mean)),
    )


def _at_even_steps(joint: Array) -> tuple[NDArray[np.intp], ...]:
    """Return the places of NODES nodes on each axis, each as often as its share of the posterior asks for."""
    steps = (np.arange(NODES) + 0.5) / NODES
    flat = np.searchsorted(np.cumsum(joint.ravel()), steps)
    return np.unravel_index(flat, joint.shape)
