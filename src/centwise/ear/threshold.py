"""The public fit: a threshold from offsets and answers, wherever they come from. Imports numpy, draws and below."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from numbers import Real
from typing import TYPE_CHECKING, Literal

import numpy as np

from centwise.draws import Draws, Purpose
from centwise.ear.estimate import estimate_tally
from centwise.ear.fit import Best, best_of, chances_of, log_likelihood, most_likely
from centwise.ear.grid import cell_edges, normalised, standard_grid
from centwise.ear.observer import response_probabilities
from centwise.ear.prior import Prior
from centwise.ear.summary import Estimate
from centwise.ear.trials import Tally, tallied
from centwise.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


GROUP_TRIALS = 5
"""Offsets beside each other are taken together until there are so many trials: fewer show no share to be held to."""
SIMULATIONS = 400
"""Simulated blocks behind the goodness of fit: its standard error is at most 0.025."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThresholdFit(Estimate):
    """What offsets and answers say of an ear: an estimate, and how well the observer fits.

    The order of the tones is not told, so the fields of a time-order error are None.

    Attributes:
        log_likelihood_at_best: natural logarithm of the chance of these answers, in their order, under `best`.
        best: the parameters of maximum likelihood at the lapse rate given.
        deviance: twice the log-likelihood that is lost against observed shares, 0 or more; offsets beside each other
            are taken together until each group has 5 trials.
        fit_p_value: share of simulated listeners of the parameters `best` whose answers fit as badly or worse: below
            0.05 the answers do not look like this observer's.
        lapse_rate: as it was given.
    """

    log_likelihood_at_best: float
    best: Best
    deviance: float
    fit_p_value: float
    lapse_rate: float


def estimate_threshold(
    offsets_cents: ArrayLike,
    answers: ArrayLike,
    *,
    lapse_rate: float = 0.02,
    prior: Prior | Literal["flat"] | None = None,
    rng: np.random.Generator | None = None,
) -> ThresholdFit:
    """Fit the three-answer observer to trials.

    Args:
        offsets_cents: signed cents, numbers from -1200 to 1200, shape (n,), n at least 5.
        answers: "flat", "unison" or "sharp", shape (n,).
        lapse_rate: chance of an answer that has nothing to do with the sound, 0 up to below 1; taken as known.
        prior: earlier knowledge of the threshold; None, a stranger's; "flat", an even density over all of the
            lattice. `best` and the goodness of fit rest on the likelihood alone and do not change with it.
        rng: for the simulated goodness of fit; None stands for the stream of seed 0 and purpose LISTENER.

    Raises:
        InputError: wrong shapes, unknown words, NaN, what is no number, cents beyond an octave, fewer than 5 trials, a
            lapse rate outside its range, no prior, no generator.
    """
    if not isinstance(lapse_rate, Real) or isinstance(lapse_rate, bool):
        raise InputError(f"a lapse rate of {lapse_rate!r} is no number", "give one from 0 up to below 1")
    if not 0.0 <= lapse_rate < 1.0:
        raise InputError(f"a lapse rate of {lapse_rate:g} is not possible", "give one from 0 up to below 1")
    lapse_rate = float(lapse_rate)
    if not (prior is None or isinstance(prior, Prior) or (isinstance(prior, str) and prior == "flat")):
        raise InputError(f"{prior!r} is no prior", 'give None, "flat" or a Prior')
    if not (rng is None or isinstance(rng, np.random.Generator)):
        raise InputError(f"{rng!r} draws nothing", "give None or a numpy Generator")
    tally = tallied(offsets_cents, answers)
    grid = replace(standard_grid(), lapses=np.array([lapse_rate]), lapse_weights=np.ones(1))
    if prior == "flat":
        grid = replace(
            grid,
            sigma_weights=normalised(np.ones_like(grid.octaves)),
            window_weights=normalised(np.diff(cell_edges(grid.windows))),
            bias_weights=normalised(np.diff(cell_edges(grid.biases))),
        )
    elif isinstance(prior, Prior):
        grid = replace(grid, sigma_weights=prior.weights(grid.sigma_cents))
    estimate = estimate_tally(grid, tally)
    nearby = np.array([[estimate.sigma_cents, estimate.bias_cents, estimate.window_cents]])
    starts = np.concatenate((nearby, _starts(tally, lapse_rate)))
    counts = np.broadcast_to(tally.counts, (len(starts), *tally.counts.shape)).astype(np.float64)
    tops, values = most_likely(tally.offsets_cents, counts, lapse_rate, starts)
    best, value = tops[[values.argmax()]], values[[values.argmax()]]
    stream = rng if rng is not None else Draws(0).stream(Purpose.LISTENER)
    deviance, p_value = _goodness(tally, lapse_rate, best[0], stream)
    return ThresholdFit(
        **{each.name: getattr(estimate, each.name) for each in fields(estimate)},
        log_likelihood_at_best=float(value[0]),
        best=best_of(tally.offsets_cents, tally.counts, lapse_rate, best[0]),
        deviance=deviance,
        fit_p_value=p_value,
        lapse_rate=lapse_rate,
    )


def _goodness(
    tally: Tally, lapse_rate: float, best: NDArray[np.float64], rng: np.random.Generator
) -> tuple[float, float]:
    """Return the deviance and its place among those of simulated blocks, each fitted afresh."""
    asked = tally.counts.sum(axis=1)
    chances = response_probabilities(tally.offsets_cents, best[0], best[1], best[2], lapse_rate)
    simulated = rng.multinomial(asked, chances / chances.sum(axis=1, keepdims=True), size=(SIMULATIONS, asked.size))
    counts = np.concatenate((tally.counts[None], simulated)).astype(np.float64)
    fitted, values = most_likely(tally.offsets_cents, counts, lapse_rate, best)
    again, others = most_likely(tally.offsets_cents, counts, lapse_rate, best * np.array([0.5, 1.0, 1.0]))
    fitted = np.where((others > values)[:, None], again, fitted)
    expected = asked[None, :, None] * chances_of(tally.offsets_cents, lapse_rate, fitted)
    firsts = _groups(asked)
    seen, expected = (np.add.reduceat(each, firsts, axis=1) for each in (counts, expected))
    lost = seen * np.log(np.where(seen > 0, seen, 1.0) / np.maximum(expected, 1e-12))
    deviances = np.round(2.0 * np.where(seen > 0, lost, 0.0).sum(axis=(1, 2)), 9)
    as_bad = int(np.count_nonzero(deviances[1:] >= deviances[0]))
    return float(max(deviances[0], 0.0)), (1 + as_bad) / (1 + SIMULATIONS)


def _starts(tally: Tally, lapse_rate: float) -> NDArray[np.float64]:
    """Return where to climb from, shape (12, 3): for each of twelve sigmas its best bias and window.

    With lapses the likelihood has several hills, and which is the highest is not known before; where answers part
    nearly cleanly it is a narrow one, of a small sigma and a window of any size.
    """
    sigmas, windows = np.geomspace(0.02, 100.0, 12), np.concatenate(([0.0], np.geomspace(0.35, 90.0, 17)))
    side = np.concatenate((np.geomspace(0.35, 48.0, 11), -np.geomspace(0.35, 48.0, 11), [0.0]))
    sigma, window, bias = (axis.ravel() for axis in np.meshgrid(sigmas, windows, side, indexing="ij"))
    parameters = np.stack((sigma, bias, window), axis=1)
    counts = np.broadcast_to(tally.counts.astype(np.float64), (sigma.size, *tally.counts.shape))
    values = log_likelihood(tally.offsets_cents, counts, lapse_rate, parameters).reshape(sigmas.size, -1)
    return np.take_along_axis(parameters.reshape(sigmas.size, -1, 3), values.argmax(axis=1)[:, None, None], 1)[:, 0]


def _groups(asked: NDArray[np.int64]) -> list[int]:
    """Return where groups of neighbouring offsets begin, each with trials enough; the last takes what is left over."""
    firsts, held = [0], 0
    for place, trials in enumerate(asked):
        if held >= GROUP_TRIALS and asked[place:].sum() >= GROUP_TRIALS:
            firsts.append(place)
            held = 0
        held += int(trials)
    return firsts
