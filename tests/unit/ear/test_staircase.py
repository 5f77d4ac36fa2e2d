from __future__ import annotations

import numpy as np
import pytest

from centwise.ear.grid import standard_grid
from centwise.ear.observer import response_probabilities
from centwise.ear.simulated import SimulatedListener
from centwise.ear.staircase import (
    RIGHT_STEP,
    UNSURE_STEP,
    WRONG_STEP,
    level_steps,
    place_on_ladder,
    reversal_threshold_cents,
    settling_level,
    up_down_target,
    weighted_steps,
)
from centwise.ear.track import start_place


def test_targets_of_equal_steps() -> None:
    # Levitt 1971, JASA 49:467, table I.
    assert [up_down_target(n, 1.0) for n in (2, 3, 4)] == pytest.approx([0.707107, 0.793701, 0.840896], abs=1e-6)


def test_targets_of_unequal_steps() -> None:
    # Garcia-Perez 1998, Vision Research 38:1861: ratios down/up for 1 to 4 down, and the shares they reach.
    found = [up_down_target(n, ratio) for n, ratio in zip((1, 2, 3, 4), (0.2845, 0.5488, 0.7393, 0.8415), strict=True)]
    assert found == pytest.approx([0.7785, 0.8035, 0.8315, 0.8584], abs=1e-4)


def test_weighted_steps_reach_their_target() -> None:
    # Kaernbach 1991: up/down = p / (1 - p); Kaernbach 2001: -1, +3, +1 for p = .75 and two directions.
    assert weighted_steps(0.75, 2) == pytest.approx((-1.0, 3.0, 1.0))
    assert (RIGHT_STEP, WRONG_STEP, UNSURE_STEP) == (-1, 3, 1)
    assert up_down_target(1, -RIGHT_STEP / WRONG_STEP) == pytest.approx(0.75)
    right, wrong, unsure = weighted_steps(0.8, 4)
    assert 0.8 * right + 0.2 * wrong == pytest.approx(0.0)
    # Guessing among n when unsure must move the track as the unsure answer does, on average.
    assert right / 4 + wrong * 3 / 4 == pytest.approx(unsure)


@pytest.mark.parametrize(("window", "level"), [(0.0, 0.67449), (0.5, 0.7622), (1.0, 1.0505), (2.0, 2.0001)])
def test_the_unsure_track_settles_above_the_threshold_for_the_cautious(window: float, level: float) -> None:
    # Solved independently: Phi(x - w) - Phi(-x - w) = .5.
    assert settling_level(window) == pytest.approx(level, abs=1e-4)
    flat, unison, sharp = response_probabilities(settling_level(window), 1.0, 0.0, window, 0.0)
    drift = RIGHT_STEP * sharp + WRONG_STEP * flat + UNSURE_STEP * unison
    assert drift == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("window", [0.0, 1.0, 2.0])
def test_a_long_track_settles_where_it_should(window: float) -> None:
    sizes = standard_grid().sizes_cents
    listener = SimulatedListener(8.0, 8.0 * window)
    rng = np.random.default_rng(3)
    place, levels = start_place(standard_grid(), 40.0), []
    for n in range(2500):
        offset = float(sizes[place] * (1 if n % 2 else -1))
        step = level_steps(offset, listener.judge(offset, rng), hurried=False)
        place = min(max(place + step, 1), sizes.size - 1)
        if n > 50:
            levels.append(sizes[place])
    # Steps of a quarter octave on a curved psychometric function settle within a tenth of the ideal.
    assert np.exp(np.mean(np.log(levels))) / 8.0 == pytest.approx(settling_level(window), rel=0.1)


def test_the_track_step_by_step() -> None:
    place = start_place(standard_grid(), 40.0)
    offsets, answers = [40.0, 0.0, -28.28, 20.0, -23.78], ["sharp", "flat", "flat", "unison", "sharp"]
    size = standard_grid().sizes_cents.size
    places = [place_on_ladder(place, size, offsets[:n], answers[:n]) - place for n in range(6)]
    # Twice two down while all is right, nothing after a catch trial, one up when unsure, three after a wrong answer.
    assert places == [0, -2, -2, -4, -3, 0]


def test_reversals_are_scored_from_where_the_track_turned() -> None:
    offsets = [40.0, -20.0, 0.0, 10.0, 20.0, -10.0, 5.0, 10.0]
    answers = ["sharp", "flat", "unison", "unison", "sharp", "flat", "flat", "sharp"]
    # Turns at 10 (unsure), 20 (right), 5 (wrong), 10 (right).
    assert reversal_threshold_cents(offsets, answers, skipped=2) == pytest.approx(50**0.5)
    assert reversal_threshold_cents(offsets, answers) == pytest.approx(50**0.5)
    assert reversal_threshold_cents(offsets, answers, skipped=3) == pytest.approx(10.0)
    assert reversal_threshold_cents(offsets, answers, skipped=4) is None
    # A catch trial is no turn, however it is answered; a pair of one cent is a pair.
    assert reversal_threshold_cents([8.0, 0.0, 4.0, 1.0], ["sharp", "flat", "sharp", "flat"], skipped=0) == 1.0
