from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize
from statsmodels.miscmodels.ordinal_model import OrderedModel

from centwise.ear import estimate_threshold
from centwise.ear.bound import best_placement_variance, fisher_information, least_variance
from centwise.ear.fit import log_likelihood, most_likely
from centwise.ear.observer import response_probabilities
from centwise.ear.population import Population, simulate_blocks
from centwise.ear.trials import Tally, tallied
from centwise.errors import InputError
from centwise.model import JUDGEMENTS

LADDER = np.array([-24.0, -12.0, -6.0, -3.0, 0.0, 3.0, 6.0, 12.0, 24.0])


def answers_of(sigma: float, bias: float, window: float, lapse: float, offsets: np.ndarray, seed: int) -> np.ndarray:
    chances = response_probabilities(offsets, sigma, bias, window, lapse)
    drawn = np.random.default_rng(seed).random(offsets.size)[:, None]
    return np.array(JUDGEMENTS)[(drawn > chances.cumsum(axis=1)[:, :2]).sum(axis=1)]


def test_the_2ac_example() -> None:
    # Worked example of the sensR vignette on the 2-AC protocol (Christensen, Lee and Brockhoff 2012): 2, 2, 6.
    best, _ = most_likely(np.zeros(1), np.array([[[2.0, 2.0, 6.0]]]), 0.0, np.array([1.0, 0.1, 0.5]))
    sigma, bias, window = best[0]
    assert np.sqrt(2) * window / sigma == pytest.approx(0.4159726, abs=1e-4)
    assert np.sqrt(2) * bias / sigma == pytest.approx(0.7742595, abs=1e-4)
    information = 10 * fisher_information(np.zeros(()), *best[0], np.zeros(()))
    errors = np.sqrt(2 * np.diag(np.linalg.inv(information[1:3, 1:3])))
    assert errors == pytest.approx([0.5417, 0.2674], abs=1e-4)


@pytest.mark.parametrize(
    ("sigma", "bias", "window", "seed"), [(6, 1, 4, 1), (10, -4, 3, 2), (4, 0, 7, 3), (20, 5, 15, 4)]
)
def test_the_maximum_is_the_ordered_probits(sigma: float, bias: float, window: float, seed: int) -> None:
    # statsmodels' OrderedModel, probit link, on the same trials: slope 1/sigma, cuts (-b - c)/sigma and (c - b)/sigma.
    offsets = np.repeat(LADDER, 40)
    answers = answers_of(sigma, bias, window, 0.0, offsets, seed)
    codes = np.array([JUDGEMENTS.index(word) for word in answers])
    model = OrderedModel(codes, offsets[:, None], distr="probit")
    fitted = model.fit(method="bfgs", disp=False, maxiter=500, gtol=1e-7)
    slope = fitted.params[0]
    low, high = model.transform_threshold_params(fitted.params)[1:3]
    found = estimate_threshold(offsets, answers, lapse_rate=0.0, prior="flat")
    assert found.log_likelihood_at_best == pytest.approx(fitted.llf, abs=1e-6)
    assert found.best.sigma_cents == pytest.approx(1 / slope, rel=1e-4)
    assert found.best.bias_cents == pytest.approx(-(low + high) / 2 / slope, abs=2e-3)
    assert found.best.window_cents == pytest.approx((high - low) / 2 / slope, abs=2e-3)


@pytest.mark.parametrize("lapse", [0.0, 0.05])
def test_planted_parameters_are_recovered(lapse: float) -> None:
    sigma, bias, window = 7.0, 2.0, 5.0
    offsets = np.tile(LADDER, 400)
    found = estimate_threshold(offsets, answers_of(sigma, bias, window, lapse, offsets, 5), lapse_rate=lapse)
    information = fisher_information(offsets, sigma, bias, window, np.full(offsets.shape, lapse)).sum(axis=0)[:3, :3]
    errors = np.sqrt(np.diag(np.linalg.inv(information)))
    assert abs(np.log(found.best.sigma_cents / sigma)) < 3.5 * errors[0]
    assert abs(found.best.bias_cents - bias) < 3.5 * errors[1] * sigma
    assert abs(found.best.window_cents - window) < 3.5 * errors[2] * sigma
    # The posterior of 3,600 trials is narrower than the lattice: it stays within a cell of the maximum.
    assert found.sigma_cents == pytest.approx(found.best.sigma_cents, rel=0.1)
    assert found.threshold_cents == pytest.approx(0.67449 * found.sigma_cents, rel=1e-4)
    assert found.low_cents < found.threshold_cents < found.high_cents
    assert found.bias_low_cents < found.bias_cents < found.bias_high_cents
    assert found.fit_p_value > 0.01
    assert not found.best.unbounded


def test_the_goodness_of_fit_tells_strangers_to_the_model() -> None:
    offsets = np.tile(LADDER, 12)
    good = answers_of(6, 0, 4, 0.0, offsets, 8)
    shares = [estimate_threshold(offsets, answers_of(6, 0, 4, 0.02, offsets, s)).fit_p_value for s in range(20, 30)]
    assert 0.2 < np.mean(shares) < 0.8
    # Takes the largest offsets the wrong way round half the time: no observer of this kind does.
    confused = good.copy()
    confused[(offsets == 24.0) & (np.arange(offsets.size) % 2 == 0)] = "flat"
    found = estimate_threshold(offsets, confused)
    assert found.fit_p_value < 0.01
    assert found.deviance > 40
    assert estimate_threshold(offsets, confused) == found
    other = estimate_threshold(offsets, confused, rng=np.random.default_rng(1))
    assert other.best == found.best


def test_answers_that_set_no_bound_to_sigma_still_end() -> None:
    offsets = np.array([-20.0, 20.0, -20.0, 20.0, 0.0, 0.0])
    found = estimate_threshold(offsets, ["flat", "sharp", "flat", "sharp", "unison", "unison"], lapse_rate=0.0)
    assert 0.0 < found.best.sigma_cents < 10
    assert found.best.unbounded
    assert found.log_likelihood_at_best == pytest.approx(0.0, abs=1e-3)
    assert np.isfinite(found.high_cents)


@pytest.mark.parametrize(
    ("offsets", "letters", "unbounded"),
    [
        ([-10, -5, 0, 0, 0, 5, 5, 10], "fffussss", True),  # parted cleanly but at 0, where all three were said
        ([-10, -5, 0, 0, 5, 5, 5, 10, 10], "ffuuussss", True),  # parted cleanly but at 5
        ([-10, -5, 0, 0, 5, 5, 5, 8, 8, 10], "ffuuusssus", False),  # mixed at two offsets: these set a scale
        ([-10, -5, 0, 0, 5, 5, 10, 10], "ffusuuss", False),
    ],
)
@pytest.mark.parametrize("lapse", [0.0, 0.02])
def test_no_bound_to_sigma_is_told_where_another_search_finds_none(
    offsets: list[float], letters: str, lapse: float, unbounded: bool
) -> None:
    # Quasi-complete separation (A. Albert and J. A. Anderson 1984, Biometrika 71, 1-10; recalled): no maximum inside.
    # scipy looks for the best borders with sigma held at 0.02 c: just as likely as the best, or not.
    answers = [{"f": "flat", "u": "unison", "s": "sharp"}[letter] for letter in letters]
    tally = tallied(offsets, answers)

    def lost(borders: np.ndarray) -> float:
        flat, sharp = np.sort(borders)
        at = np.array([[0.02, -0.5 * (flat + sharp), 0.5 * (sharp - flat)]])
        return -float(log_likelihood(tally.offsets_cents, tally.counts[None].astype(float), lapse, at)[0])

    near = [x + step for x in (*offsets, *np.add(offsets[:-1], offsets[1:]) / 2) for step in (-0.012, 0.0, 0.012)]
    starts = [(low, high) for low in near for high in near if low <= high]
    start = min(starts, key=lambda borders: lost(np.array(borders)))
    fine = minimize(lost, start, method="Nelder-Mead", options={"initial_simplex": _around(start)})
    found = estimate_threshold(offsets, answers, lapse_rate=lapse)
    assert bool(-fine.fun > found.log_likelihood_at_best - 1e-3) is unbounded
    assert found.best.unbounded is unbounded


def _around(start: tuple[float, float]) -> np.ndarray:
    low, high = start
    return np.array([(low, high), (low + 0.01, high), (low, high + 0.01)])


def test_the_flat_prior_and_a_given_one_pull_apart() -> None:
    from centwise.ear.prior import Prior

    offsets = np.tile(LADDER, 2)
    answers = answers_of(6, 0, 4, 0.0, offsets, 9)
    by_itself = estimate_threshold(offsets, answers, prior="flat")
    pulled = estimate_threshold(offsets, answers, prior=Prior(30.0, 0.5, flat_share=0.0))
    assert pulled.threshold_cents > by_itself.threshold_cents
    assert pulled.best == by_itself.best or pulled.log_likelihood_at_best == pytest.approx(
        by_itself.log_likelihood_at_best, abs=1e-8
    )


def test_information_is_the_curvature_of_the_chances() -> None:
    sigma, bias, window, lapse = 5.0, 1.0, 3.0, 0.04
    found = fisher_information(np.array(4.0), sigma, bias, window, np.array(lapse))

    def chances(theta: np.ndarray) -> np.ndarray:
        scale = np.exp(theta[0])
        return response_probabilities(4.0, scale, theta[1] * sigma, theta[2] * sigma, theta[3])

    at, step = np.array([np.log(sigma), bias / sigma, window / sigma, lapse]), 1e-5
    slopes = np.array([(chances(at + step * e) - chances(at - step * e)) / (2 * step) for e in np.eye(4)])
    assert found == pytest.approx(slopes / chances(at) @ slopes.T, rel=1e-6)


def test_information_on_sigma_of_forced_choices() -> None:
    # Derived independently (Green's 1990 sweet point): .170, .245, .439, .608 at 70.7, 75, 84.1 and 94.2 % right.
    from scipy import stats

    offsets = stats.norm.ppf([0.70711, 0.75, 0.84134, 0.942])
    found = fisher_information(offsets, 1.0, 0.0, 0.0, np.zeros(4))[:, 0, 0]
    assert found == pytest.approx([0.170, 0.245, 0.439, 0.608], abs=2e-3)


def test_nobody_does_better_than_the_best_placement() -> None:
    one = (np.array([8.0]), np.array([0.0]), np.array([6.0]), np.array([0.02]))
    best = best_placement_variance(60, *one)
    anyhow = least_variance(fisher_information(np.tile([0.0, 6.0, -6.0], 20), *one).sum(axis=0))
    assert 0 < best[0] < anyhow
    assert best_placement_variance(120, *one)[0] == pytest.approx(best[0] / 2, rel=1e-3)


GOOD = [-5.0, 5.0, 0.0, 10.0, -10.0]
WORDS = ["flat", "sharp", "unison", "sharp", "flat"]


@pytest.mark.parametrize(
    ("offsets", "answers", "message"),
    [
        (GOOD[:4], WORDS[:4], "4 trials say nothing of an ear: give at least 5"),
        ([*GOOD[:2], float("nan"), *GOOD[3:]], WORDS, "the offset of trial 3 is nan"),
        (
            GOOD,
            ["flat", "sharp", "even", "sharp", "flat"],
            "the answer of trial 3 is 'even': use flat, unison or sharp",
        ),
        (GOOD, WORDS[:4], r"there are 5 offsets but answers of shape \(4,\)"),
        ([GOOD], WORDS, r"the offsets have the shape \(1, 5\)"),
        (["a", *GOOD[1:]], WORDS, "the offset of trial 1 is 'a': give a number of cents"),
        (["-5", "5", "0", "10", "-10"], WORDS, "the offset of trial 1 is '-5'"),
        ([-5.0, True, 0.0, 10.0, -10.0], WORDS, "the offset of trial 2 is True"),
        ([-5.0, None, 0.0, 10.0, -10.0], WORDS, "the offset of trial 2 is None"),
        ([-5.0, 5j, 0.0, 10.0, -10.0], WORDS, "the offset of trial 2 is 5j"),
        ([*GOOD[:4], 1e300], WORDS, r"the offset of trial 5 is 1e\+300: give finite cents, from -1200 to 1200"),
        ([[1.0], [2.0, 3.0]], WORDS, "the offsets are not one row of numbers"),
        ([], [], "0 trials"),
    ],
)
def test_bad_trials_are_named(offsets: list[float], answers: list[str], message: str) -> None:
    with pytest.raises(InputError, match=message):
        estimate_threshold(offsets, answers)


@pytest.mark.parametrize("lapse", [-0.1, 1.0, float("nan")])
def test_bad_lapse_rates_are_named(lapse: float) -> None:
    with pytest.raises(InputError, match="a lapse rate of"):
        estimate_threshold(GOOD, WORDS, lapse_rate=lapse)


@pytest.mark.parametrize("lapse", [0.02, 0.1])
def test_no_search_from_elsewhere_finds_a_higher_top(lapse: float) -> None:
    # scipy's Nelder-Mead from random places, on blocks as the drill places them: with lapses there are several hills.
    sigma = np.array([2.0, 5.0, 9.0, 16.0, 30.0, 4.0])
    people = Population(sigma, sigma * [0.1, 0.7, 1.5, 2.0, 0.3, 1.0], sigma * 0.3, np.full(6, 0.05))
    blocks = simulate_blocks(people, 40, seed=900)
    rng = np.random.default_rng(3)
    for offsets, codes in zip(blocks.offsets_cents.T, blocks.answers.T, strict=True):
        words = np.array(JUDGEMENTS)[codes]
        found = estimate_threshold(offsets, words, lapse_rate=lapse)
        tally = tallied(offsets, words)
        counts = tally.counts[None].astype(float)

        def lost(x: np.ndarray, tally: Tally = tally, counts: np.ndarray = counts) -> float:
            parameters = np.array([[np.exp(np.clip(x[0], -4.6, 9.2)), x[1], abs(x[2])]])
            return -float(log_likelihood(tally.offsets_cents, counts, lapse, parameters)[0])

        for _ in range(4):
            start = [rng.normal(1.5, 1.5), rng.normal(0.0, 3.0), abs(rng.normal(5.0, 8.0))]
            other = minimize(lost, start, method="Nelder-Mead", options={"maxiter": 800, "xatol": 1e-5, "fatol": 1e-8})
            assert found.log_likelihood_at_best >= -other.fun - 1e-3
