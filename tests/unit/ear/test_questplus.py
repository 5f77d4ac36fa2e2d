"""Against the package questplus (Watson 2017, QUEST+, Journal of Vision 17(3):10) on two parameters."""

from __future__ import annotations

import numpy as np
import pytest
import questplus

from centwise.ear.grid import Grid, normalised, updated
from centwise.ear.placement import entropy_places

OCTAVES = np.linspace(0.0, 5.0, 8)
BIASES = np.array([-0.8, -0.4, 0.0, 0.4, 0.8])
SIZES = np.round(40.0 * np.exp2(np.arange(-20, 5) / 4), 2)


def two_parameters() -> Grid:
    """Sigma and bias alone: no window, no lapses, so that there are two answers."""
    one = np.ones(1)
    return Grid(
        OCTAVES,
        normalised(np.ones(8)),
        np.zeros(1),
        one,
        BIASES,
        normalised(np.exp(-0.5 * (BIASES / 0.5) ** 2)),
        np.zeros(1),
        one,
        np.concatenate(([0.0], SIZES)),
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_same_posterior_and_same_places(seed: int) -> None:
    grid = two_parameters()
    # Our bias is counted in sigmas, questplus' mean in cents: every pair of ours gets a mean of its own.
    means = -np.exp2(OCTAVES)[:, None] * BIASES
    domain = np.unique(means)
    theirs = np.zeros((domain.size, OCTAVES.size))
    at = np.searchsorted(domain, means)
    # Pairs without a bias share the mean of zero, each with its own sigma.
    np.add.at(theirs, (at, np.arange(8)[:, None]), grid.prior()[:, 0, :, 0])
    qp = questplus.QuestPlus(
        stim_domain={"intensity": SIZES},
        func="norm_cdf",
        stim_scale="linear",
        param_domain={
            "mean": domain,
            "sd": np.exp2(OCTAVES),
            "lower_asymptote": np.zeros(1),
            "lapse_rate": np.zeros(1),
        },
        outcome_domain={"response": ["Yes", "No"]},
        stim_selection_method="min_entropy",
    )
    qp.prior.values = theirs[..., None, None]
    qp.posterior.values = qp.prior.values.copy()
    rng = np.random.default_rng(seed)
    weights = grid.prior()
    for _ in range(60):
        place = int(entropy_places(grid, weights[None], np.array([1]), last=np.array([0]))[0])
        assert qp.next_stim["intensity"] == grid.sizes_cents[place]
        size = float(grid.sizes_cents[place])
        sharp = (size + rng.normal(1.0, 6.0)) > 0
        weights = updated(weights, grid.attentive_chances(size)[2 if sharp else 0], grid.lapses)
        qp.update(stim={"intensity": size}, outcome={"response": "Yes" if sharp else "No"})
        found = qp.posterior.values[:, :, 0, 0][at, np.arange(8)[:, None]]
        assert found == pytest.approx(weights[:, 0, :, 0], abs=1e-13)
