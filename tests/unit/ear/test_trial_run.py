"""Simulated listeners as a tool: through the real drill logic, their traits as asked."""

from __future__ import annotations

import numpy as np
import pytest

from centwise.draws import Draws, Purpose
from centwise.ear.estimate import estimate_trials
from centwise.ear.simulated import SimulatedListener
from centwise.ear.track import begin_track
from centwise.ear.trial_run import Traits, _people, run_listeners
from centwise.errors import UsageError


def test_a_simulated_listener_is_drilled_as_a_real_one() -> None:
    run = run_listeners(3, 25, seed=11)
    people = _people(3, 25, Draws(11).stream(Purpose.POPULATION), Traits())
    for who in range(3):
        listener = SimulatedListener(
            people.sigma_cents[who], people.window_cents[who], people.bias_cents[who], people.lapse_rate[who]
        )
        track = begin_track("balanced")
        draws = Draws(11 + who)
        for n in range(1, 26):
            offset = track.next_offset(draws.stream(Purpose.PLACEMENT, n))
            track = track.answered(offset, listener.judge(offset, draws.stream(Purpose.LISTENER, n), n=n))
        estimate = estimate_trials(track.offsets_cents, track.answers, ["harmonic"] * 25)
        assert run.true_cents[who] == pytest.approx(listener.threshold_cents)
        assert run.estimated_cents[who] == pytest.approx(estimate.threshold_cents)
        assert (run.low_cents[who], run.high_cents[who]) == pytest.approx((estimate.low_cents, estimate.high_cents))


def test_the_same_seed_gives_the_same_run_and_another_another() -> None:
    one, same, other = (run_listeners(4, 10, seed=seed) for seed in (5, 5, 6))
    assert np.array_equal(one.estimated_cents, same.estimated_cents)
    assert not np.array_equal(one.true_cents, other.true_cents)


def test_traits_are_as_asked() -> None:
    people = _people(
        2000, 41, Draws(1).stream(Purpose.POPULATION), Traits(2.0, 2.0, bias_sd=0.5, lapse_high=0.1, drift_octaves=-1.0)
    )
    assert people.window_cents / people.sigma_cents == pytest.approx(2.0)
    assert np.std(people.bias_cents / people.sigma_cents) == pytest.approx(0.5, rel=0.06)
    assert 0.0 <= people.lapse_rate.min() <= people.lapse_rate.max() <= 0.1
    assert people.drift_octaves * 40 == pytest.approx(-1.0)
    assert np.log(people.sigma_cents).mean() == pytest.approx(np.log(40.0) / 2, rel=0.03)


def test_a_cautious_listener_is_not_taken_for_a_coarse_one() -> None:
    run = run_listeners(150, 60, seed=2, traits=Traits(2.0, 2.0))
    # The bar of the study: a window of 2 sigma over-estimated by no more than 10 %; three standard errors of slack.
    assert run.median_ratio < 1.10 + 3 * 0.19 * np.log(2) * 1.25 / np.sqrt(150)
    assert run.coverage >= 0.87


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: run_listeners(0, 40, seed=1), "0 listeners cannot be simulated: ask for 1 to 100000"),
        (lambda: run_listeners(5, 4, seed=1), "4 pairs are too few or too many"),
        (lambda: Traits(window_low=1.0, window_high=0.5), "cannot have a window of 0.5"),
        (lambda: Traits(bias_sd=float("nan")), "cannot have a bias of nan"),
        (lambda: Traits(lapse_high=0.6), "cannot have a lapse rate of 0.6"),
        (lambda: Traits(drift_octaves=5.0), "cannot have a drift of 5"),
    ],
)
def test_what_cannot_be_is_refused(call: object, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        call()  # type: ignore[operator]
