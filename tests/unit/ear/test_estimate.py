from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from centwise.draws import Draws, Purpose
from centwise.ear.estimate import estimate_tally, estimate_trials
from centwise.ear.grid import standard_grid
from centwise.ear.prior import Prior, prior_from
from centwise.ear.simulated import SimulatedListener
from centwise.ear.track import begin_track
from centwise.ear.trials import tallied
from centwise.errors import InputError
from centwise.model import Judgement, Tone

Trials = tuple[list[float], list[Judgement], list[Tone]]


def trials_of(listener: SimulatedListener, count: int, seed: int, *, both: bool = False) -> Trials:
    track, draws = begin_track("balanced"), Draws(seed)
    firsts: list[Tone] = ["fretted" if both and n % 2 else "harmonic" for n in range(count)]
    for n, first in enumerate(firsts, start=1):
        offset = track.next_offset(draws.stream(Purpose.PLACEMENT, n))
        track = track.answered(offset, listener.judge(offset, draws.stream(Purpose.LISTENER, n), first=first))
    return list(track.offsets_cents), list(track.answers), firsts


def test_a_block_says_what_its_track_says() -> None:
    offsets, answers, firsts = trials_of(SimulatedListener(8.0, 5.0), 50, 1)
    track = begin_track("balanced")
    for offset, answer in zip(offsets, answers, strict=True):
        track = track.answered(offset, answer)
    whole, running = estimate_trials(offsets, answers, firsts), track.estimate()
    assert running is not None
    for name in ("sigma_cents", "low_cents", "high_cents", "bias_cents", "bias_low_cents", "window_cents"):
        # The whole is read off a lattice drawn in: a sixth of the running one's interval is what they may differ by.
        slack = (running.high_cents - running.low_cents) / 6
        assert getattr(whole, name) == pytest.approx(getattr(running, name), abs=slack)
    assert (whole.trials, whole.order_error_cents) == (50, None)


def test_the_order_of_trials_does_not_matter() -> None:
    offsets, answers, firsts = trials_of(SimulatedListener(8.0, 5.0), 40, 2, both=True)
    back = estimate_trials(offsets[::-1], answers[::-1], firsts[::-1])
    assert back == estimate_trials(offsets, answers, firsts)


def test_flat_and_sharp_are_mirror_images() -> None:
    offsets, answers, firsts = trials_of(SimulatedListener(8.0, 5.0, 2.0), 60, 3, both=True)
    swap: dict[Judgement, Judgement] = {"flat": "sharp", "sharp": "flat", "unison": "unison"}
    here = estimate_trials(offsets, answers, firsts)
    there = estimate_trials([-o for o in offsets], [swap[a] for a in answers], firsts)
    assert there.sigma_cents == pytest.approx(here.sigma_cents, rel=1e-9)
    assert there.bias_cents == pytest.approx(-here.bias_cents, abs=1e-6)
    assert there.bias_low_cents == pytest.approx(-here.bias_high_cents, abs=1e-6)
    assert there.order_error_cents == pytest.approx(-here.order_error_cents, abs=1e-6)


@pytest.mark.parametrize("size", [2.0, 9.0, 25.0])
def test_planted_parameters_are_recovered(size: float) -> None:
    found = estimate_trials(*trials_of(SimulatedListener(size, 0.7 * size, 0.4 * size, 0.02), 600, 4))
    assert found.sigma_cents == pytest.approx(size, rel=0.25)
    assert found.threshold_cents == pytest.approx(0.67449 * found.sigma_cents, rel=1e-5)
    assert found.low_cents < 0.67449 * size < found.high_cents
    assert found.bias_cents == pytest.approx(0.4 * size, abs=0.25 * size)
    assert found.window_cents == pytest.approx(0.7 * size, rel=0.3)


def test_a_time_order_error_is_told_from_a_timbre_shift() -> None:
    ratios = {True: [], False: []}
    shifts, errors = [], []
    for seed in range(12):
        listener = SimulatedListener(8.0, 6.0, bias_cents=3.0, order_error_cents=7.0)
        offsets, answers, firsts = trials_of(listener, 160, seed, both=True)
        split = estimate_trials(offsets, answers, firsts)
        pooled = estimate_trials(offsets, answers, ["harmonic"] * 160)
        ratios[True].append(split.sigma_cents / 8.0)
        ratios[False].append(pooled.sigma_cents / 8.0)
        shifts.append(split.bias_cents)
        errors.append(split.order_error_cents)
        assert split.order_error_low_cents < split.order_error_cents < split.order_error_high_cents
    # Standard errors of these means over 12 blocks: about .05, .35 c and .35 c; the prior pulls both errors in.
    assert np.mean(ratios[True]) == pytest.approx(1.0, abs=0.15)
    assert np.mean(ratios[False]) > 1.2
    assert np.mean(shifts) == pytest.approx(2.7, abs=1.05)
    assert np.mean(errors) == pytest.approx(7.0, abs=1.2)


def test_a_prior_pulls_a_short_block_and_hardly_a_long_one() -> None:
    listener, grid = SimulatedListener(8.0, 6.0), standard_grid()
    for count, most, least in ((10, 4.0, 1.1), (300, 1.15, 0.99)):
        tally = tallied(*trials_of(listener, count, 6))
        fine, coarse = (
            estimate_tally(replace(grid, sigma_weights=Prior(cents).weights(grid.sigma_cents)), tally)
            for cents in (2.0, 20.0)
        )
        assert least <= coarse.threshold_cents / fine.threshold_cents < most


def test_priors() -> None:
    sigma = standard_grid().sigma_cents
    weights = Prior(5.4, 1.0, 0.25).weights(sigma)
    assert weights.sum() == pytest.approx(1.0)
    assert sigma[weights.argmax()] == pytest.approx(8.0, rel=0.06)
    assert weights.min() == pytest.approx(0.25 / sigma.size, rel=0.05)
    assert np.isfinite(Prior(1e-6, 0.2).weights(sigma)).all()
    assert prior_from(6.0, 0.3) == Prior(6.0, 1.0)
    assert prior_from(6.0, 1.0, days=100.0).sd_octaves == pytest.approx(2**0.5)
    for bad, message in (
        (lambda: Prior(0.0), "a threshold of 0 makes no prior: give one above 0"),
        (lambda: Prior(5.0, -1.0), "a spread of -1"),
        (lambda: Prior(5.0, 1.0, 1.5), "a flat share of 1.5 .* from 0 to 1"),
        (lambda: prior_from(5.0, float("nan")), "a spread of nan"),
        (lambda: prior_from(5.0, 1.0, -1.0), "-1 days cannot have gone by"),
    ):
        with pytest.raises(InputError, match=message):
            bad()


def test_bad_blocks_are_named() -> None:
    offsets, answers, firsts = trials_of(SimulatedListener(8.0, 5.0), 6, 1)
    with pytest.raises(InputError, match="the first tone of trial 2 is 'open': use harmonic or fretted"):
        estimate_trials(offsets, answers, [firsts[0], "open", *firsts[2:]])  # type: ignore[list-item]
    with pytest.raises(InputError, match="6 offsets but first tones of shape"):
        estimate_trials(offsets, answers, firsts[:5])
    with pytest.raises(InputError, match="4 trials"):
        estimate_trials(offsets[:4], answers[:4], firsts[:4])
