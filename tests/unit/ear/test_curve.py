"""The psychometric curve with its band, held against scipy and against all nodes of the posterior."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from centwise.ear import curve as curve_module
from centwise.ear.curve import psychometric_curve
from centwise.ear.estimate import estimate_trials
from centwise.ear.observer import response_probabilities
from centwise.errors import InputError
from centwise.model import JUDGEMENTS

AT = np.linspace(-40.0, 40.0, 41)
SIGMA, BIAS, WINDOW = 9.0, 2.0, 6.0


def judged(trials: int, seed: int, order_error: float = 0.0) -> tuple[np.ndarray, list[str], list[str]]:
    rng = np.random.default_rng(seed)
    offsets = rng.choice([-32.0, -16.0, -8.0, -4.0, 0.0, 4.0, 8.0, 16.0, 32.0], trials)
    firsts = rng.choice(["harmonic", "fretted"], trials).tolist() if order_error else ["harmonic"] * trials
    signs = np.where(np.array(firsts) == "harmonic", 1.0, -1.0)
    chances = response_probabilities(offsets, SIGMA, BIAS + signs * order_error, WINDOW, 0.01)
    return offsets, [JUDGEMENTS[rng.choice(3, p=row)] for row in chances], firsts


def test_with_many_answers_it_is_the_true_curve_by_scipy() -> None:
    _, found = psychometric_curve(*judged(5000, 1), AT)  # type: ignore[arg-type]
    # The observer's own definition, by scipy's normal distribution.
    flat, sharp = norm.cdf((-AT - BIAS - WINDOW) / SIGMA), norm.cdf((AT + BIAS - WINDOW) / SIGMA)
    assert np.abs(found.chances[0] - flat).max() < 0.03
    assert np.abs(found.chances[2] - sharp).max() < 0.03
    assert (found.high - found.low).max() < 0.07


def test_the_band_holds_the_truth_nine_times_in_ten() -> None:
    truth = response_probabilities(AT, SIGMA, BIAS, WINDOW, 0.01).T
    inside = []
    for seed in range(60):
        _, found = psychometric_curve(*judged(60, seed), AT)  # type: ignore[arg-type]
        inside.append((found.low <= truth) & (truth <= found.high))
    share = np.mean(inside, axis=0)[(0, 2), :]
    # The middle of the scale, where the curve is neither nought nor one; sd of a share of 60 is 0.04.
    assert 0.82 < share[:, 10:31].mean() < 0.97


@pytest.mark.parametrize("order_error", [0.0, 5.0])
@pytest.mark.parametrize("trials", [20, 200])
def test_some_nodes_stand_for_all(monkeypatch: pytest.MonkeyPatch, trials: int, order_error: float) -> None:
    answers = judged(trials, 3, order_error)
    _, few = psychometric_curve(*answers, AT)  # type: ignore[arg-type]
    monkeypatch.setattr(curve_module, "NODES", 20_000)
    _, many = psychometric_curve(*answers, AT)  # type: ignore[arg-type]
    for name in ("chances", "low", "high"):
        assert np.abs(getattr(few, name) - getattr(many, name)).max() < 0.02


def test_chances_are_chances() -> None:
    estimate, found = psychometric_curve(*judged(40, 5, 4.0), AT)
    assert estimate == estimate_trials(*judged(40, 5, 4.0))  # type: ignore[arg-type]
    assert found.chances.sum(axis=0) == pytest.approx(np.ones(AT.size))
    assert np.all((found.low >= 0.0) & (found.low <= found.chances))
    assert np.all((found.high <= 1.0) & (found.high >= found.chances))
    assert np.all(np.diff(found.chances[2]) > 0.0)
    assert np.all(np.diff(found.chances[0]) < 0.0)


def test_too_few_answers_are_refused() -> None:
    with pytest.raises(InputError, match="4 trials say nothing of an ear"):
        psychometric_curve([1.0] * 4, ["sharp"] * 4, ["harmonic"] * 4, AT)
