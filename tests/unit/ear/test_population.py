from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from centwise.draws import Draws, Purpose
from centwise.ear.observer import response_probabilities
from centwise.ear.placement import COMFORT
from centwise.ear.population import Population, simulate_blocks
from centwise.ear.prior import Prior
from centwise.ear.simulated import SimulatedListener
from centwise.ear.track import begin_track
from centwise.errors import InputError
from centwise.model import JUDGEMENTS, RULES, Rule


def people(count: int, seed: int) -> Population:
    rng = np.random.default_rng(seed)
    sigma = np.exp2(rng.uniform(0.0, np.log2(40.0), count))
    return Population(
        sigma,
        rng.uniform(0.2, 1.5, count) * sigma,
        rng.normal(0.0, 0.3, count) * sigma,
        rng.choice([0, 0.02, 0.05], count),
    )


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("prior", [None, Prior(5.0)])
def test_a_listener_among_many_is_drilled_as_one_alone(rule: Rule, prior: Prior | None) -> None:
    several = people(6, 3)
    together = simulate_blocks(several, 40, rule, seed=100, marks=(40,), prior=prior, start_cents=30.0)
    for i in range(several.size):
        listener = SimulatedListener(
            float(several.sigma_cents[i]),
            float(several.window_cents[i]),
            float(several.bias_cents[i]),
            float(several.lapse_rate[i]),
        )
        track, draws = begin_track(rule, prior=prior, start_cents=30.0), Draws(100 + i)
        for n in range(1, 41):
            offset = track.next_offset(draws.stream(Purpose.PLACEMENT, n))
            track = track.answered(offset, listener.judge(offset, draws.stream(Purpose.LISTENER, n), n=n))
        assert track.offsets_cents == tuple(together.offsets_cents[:, i])
        assert track.answers == tuple(JUDGEMENTS[a] for a in together.answers[:, i])
        found = track.estimate()
        assert found is not None
        assert np.log2(found.sigma_cents) == pytest.approx(together.octaves[0, i, 1], abs=1e-9)
        assert track.interval_octaves == pytest.approx(np.ptp(together.octaves[0, i]), abs=1e-9)


def test_any_split_draws_the_same() -> None:
    several = people(5, 4)
    whole = simulate_blocks(several, 15, seed=9)
    rest = simulate_blocks(several.part(slice(2, 5)), 15, seed=11)
    assert np.array_equal(whole.offsets_cents[:, 2:], rest.offsets_cents)
    assert np.array_equal(whole.answers[:, 2:], rest.answers)


@pytest.mark.parametrize("rule", ["entropy", "unheld", "plain", "held weighted", "held entropy"])
def test_the_rules_for_comparison_ask_nothing_twice_running(rule: str) -> None:
    result = simulate_blocks(people(8, 5), 40, rule)  # type: ignore[arg-type]
    assert not np.any(result.offsets_cents[1:] == result.offsets_cents[:-1])
    assert 0.1 < (result.offsets_cents == 0).mean() < 0.3


@pytest.mark.parametrize("rule", ["weighted", "entropy"])
def test_comfort_brings_another_rule_to_the_share_aimed_at(rule: str) -> None:
    near = replace(COMFORT, band=(-0.12, 0.10))
    free, held = (
        simulate_blocks(people(40, 6), 60, f"{how}{rule}", comfort=near).right.mean()  # type: ignore[arg-type]
        for how in ("", "held ")
    )
    assert free < 0.65
    assert 0.70 < held < 0.80


def test_drift_and_order_reach_the_simulated_answers() -> None:
    one = np.ones(1)
    drifting = Population(8 * one, 4 * one, 1 * one, 0.02 * one, order_error_cents=3.0, drift_octaves=0.1)
    assert drifting.chances(6 * one, 11, "fretted")[0] == pytest.approx(response_probabilities(6, 16, -2, 4, 0.02))
    heavy = Population(8 * one, 4 * one, 1 * one, 0 * one, noise="t4").chances(6 * one, 1, "harmonic")[0]
    scale = stats.norm.ppf(0.75) / stats.t.ppf(0.75, 4) * 8
    assert heavy[2] == pytest.approx(stats.t.sf(4, 4, loc=7, scale=scale), abs=1e-12)
    assert heavy[0] == pytest.approx(stats.t.cdf(-4, 4, loc=7, scale=scale), abs=1e-12)


def test_a_simulated_listener_answers_by_the_observers_chances() -> None:
    listener = SimulatedListener(8.0, 5.0, 1.0, 0.04, drift_octaves=0.05, order_error_cents=2.0)
    assert listener.threshold_cents == pytest.approx(0.67449 * 8.0, rel=1e-5)
    for n, first, offset in ((1, "harmonic", 4.0), (21, "fretted", -6.0)):
        rng = np.random.default_rng(n)
        words = [listener.judge(offset, rng, n=n, first=first) for _ in range(4000)]  # type: ignore[arg-type]
        bias = 1.0 + (2.0 if first == "harmonic" else -2.0)
        expected = 4000 * response_probabilities(offset, 8.0 * 2 ** (0.05 * (n - 1)), bias, 5.0, 0.04)
        assert stats.chisquare([words.count(word) for word in JUDGEMENTS], expected).pvalue > 1e-4


def test_impossible_listeners_are_named() -> None:
    with pytest.raises(InputError, match="a sigma of -1"):
        SimulatedListener(-1.0, 1.0)
    with pytest.raises(InputError, match="a window of -1"):
        SimulatedListener(1.0, -1.0)
    with pytest.raises(InputError, match="a drift of inf"):
        SimulatedListener(1.0, 1.0, drift_octaves=float("inf"))
