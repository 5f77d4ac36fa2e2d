"""Simulated listeners through the drill's own logic: true and estimated thresholds side by side.

Imports numpy, draws and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.draws import Draws, Purpose
from centwise.ear.estimate import estimate_tally
from centwise.ear.grid import standard_grid
from centwise.ear.normal import Z_75
from centwise.ear.population import Population, simulate_blocks
from centwise.ear.trials import FEWEST_TRIALS, tallied
from centwise.errors import UsageError
from centwise.model import JUDGEMENTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.ear.population import Blocks
    from centwise.model import Rule

    Array = NDArray[np.float64]

MOST_LISTENERS = 100_000
MOST_TRIALS = 1000
LEAST_SIGMA_CENTS, MOST_SIGMA_CENTS = 1.0, 40.0
LEAST_COVERAGE = 0.87
"""Share of 90 % intervals that must hold the truth, from listeners as different as these (the study's own bar)."""


@dataclass(frozen=True, slots=True)
class Traits:
    """What the simulated listeners are like; sigma is log-uniform from 1 to 40 cents.

    Attributes:
        window_low: least unison window over sigma, 0 or more.
        window_high: largest; caution is a large one.
        bias_sd: standard deviation of bias over sigma, 0 or more.
        lapse_high: lapse rates are even from 0 to this, 0 to 0.5.
        drift_octaves: change of log2 sigma over the whole block: -1 ends with half the sigma.
    """

    window_low: float = 0.2
    window_high: float = 1.5
    bias_sd: float = 0.3
    lapse_high: float = 0.05
    drift_octaves: float = 0.0

    def __post_init__(self) -> None:
        """Refuse listeners that cannot be.

        Raises:
            UsageError: a trait out of range.
        """
        for name, value, possible, wanted in (
            (
                "window",
                self.window_high,
                0.0 <= self.window_low <= self.window_high <= 5.0,
                "0 to 5, the low end first",
            ),
            ("bias", self.bias_sd, 0.0 <= self.bias_sd <= 5.0, "0 to 5"),
            ("lapse rate", self.lapse_high, 0.0 <= self.lapse_high <= 0.5, "0 to 0.5"),
            ("drift", self.drift_octaves, abs(self.drift_octaves) <= 4.0, "-4 to 4 octaves"),
        ):
            if not possible:
                raise UsageError(f"simulated listeners cannot have a {name} of {value:g}", f"give {wanted}")


@dataclass(frozen=True)
class TrialRun:
    """What came of it; arrays have one place a listener, cents throughout.

    Attributes:
        true_cents: the true threshold, where sigma drifts the one half way through.
        estimated_cents: the estimate.
        low_cents: low end of its 90 % interval.
        high_cents: high end.
        right_share: share of right answers.
    """

    true_cents: Array
    estimated_cents: Array
    low_cents: Array
    high_cents: Array
    right_share: Array

    @property
    def sd_octaves(self) -> float:
        """Standard deviation of log2(estimate/true)."""
        return float(np.std(np.log2(self.estimated_cents / self.true_cents)))

    @property
    def median_ratio(self) -> float:
        """Median of estimate/true."""
        return float(np.median(self.estimated_cents / self.true_cents))

    @property
    def coverage(self) -> float:
        """Share of intervals that hold the truth."""
        return float(np.mean((self.low_cents <= self.true_cents) & (self.true_cents <= self.high_cents)))


def run_listeners(
    listeners: int, trials: int, *, seed: int, rule: Rule = "balanced", traits: Traits | None = None
) -> TrialRun:
    """Drill simulated listeners from a stranger's start.

    Args:
        listeners: how many, 1 to 100 000.
        trials: pairs each, 5 to 1000.
        seed: everything is drawn from it.
        rule: how offsets are chosen.
        traits: what they are like; None for the usual mixture.

    Raises:
        UsageError: numbers out of range.
    """
    if not 1 <= listeners <= MOST_LISTENERS:
        raise UsageError(f"{listeners} listeners cannot be simulated", f"ask for 1 to {MOST_LISTENERS}")
    if not FEWEST_TRIALS <= trials <= MOST_TRIALS:
        raise UsageError(
            f"{trials} pairs are too few or too many for a simulated block", f"ask for {FEWEST_TRIALS} to {MOST_TRIALS}"
        )
    people = _people(listeners, trials, Draws(seed).stream(Purpose.POPULATION), traits or Traits())
    blocks = simulate_blocks(people, trials, rule, seed=seed)
    low, middle, high = _estimates(blocks)
    half_way = people.sigma_cents * 2.0 ** (people.drift_octaves * (trials - 1) / 2.0)
    return TrialRun(Z_75 * half_way, middle, low, high, blocks.right.mean(axis=0))


def _estimates(blocks: Blocks) -> tuple[Array, Array, Array]:
    """Return low end, threshold and high end in cents, each of shape (n,), as a block's result gives them."""
    words = np.array(JUDGEMENTS)[blocks.answers]
    found = [
        estimate_tally(standard_grid(), tallied(offsets, answers))
        for offsets, answers in zip(blocks.offsets_cents.T, words.T, strict=True)
    ]
    each = np.array([(one.low_cents, one.threshold_cents, one.high_cents) for one in found])
    return each[:, 0], each[:, 1], each[:, 2]


def _people(count: int, trials: int, rng: np.random.Generator, traits: Traits) -> Population:
    sigma = np.exp(rng.uniform(np.log(LEAST_SIGMA_CENTS), np.log(MOST_SIGMA_CENTS), count))
    return Population(
        sigma_cents=sigma,
        window_cents=sigma * rng.uniform(traits.window_low, traits.window_high, count),
        bias_cents=sigma * rng.normal(0.0, 1.0, count) * traits.bias_sd,
        lapse_rate=rng.uniform(0.0, 1.0, count) * traits.lapse_high,
        drift_octaves=traits.drift_octaves / (trials - 1),
    )
