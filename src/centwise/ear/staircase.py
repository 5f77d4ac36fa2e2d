"""The weighted up-down staircase with an unsure answer, in log-cents.

Source: C. Kaernbach 2001, "Adaptive threshold estimation with unforced-choice tasks", Perception & Psychophysics 63,
1377-1388: right -1, wrong p/(1-p), unsure (p - 1/n)/(1-p) steps, for the target p among n alternatives; with p = .75
and two directions -1, +3, +1. A step is one place on the ladder of sizes, a quarter octave. Catch
trials have no direction to be right about and leave the level alone. Imports numpy, model and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.normal import normal_cdf
from centwise.model import judgement_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from centwise.model import Judgement

TARGET = 0.75
DIRECTIONS = 2
FIRST_STEP_FACTOR = 2
"""Steps are doubled until the first answer that is not right, to come down fast (common practice)."""


def weighted_steps(target: float, alternatives: int) -> tuple[float, float, float]:
    """Return the steps after a right, a wrong and an unsure answer, in units of the right answer's step.

    Args:
        target: the share of right answers aimed at, above 1/alternatives and below 1.
        alternatives: how many answers there are besides unsure, 2 or more.
    """
    return -1.0, target / (1.0 - target), (target - 1.0 / alternatives) / (1.0 - target)


def up_down_target(downs: int, down_over_up: float) -> float:
    """Return the share of right answers at which an n-down 1-up staircase settles.

    Equal steps: 2^(-1/n) (H. Levitt 1971, JASA 49, 467-477). One down, steps (1 - p)/p: p (Kaernbach 1991, Perception
    & Psychophysics 49, 227-229). In general (1/(1 + r))^(1/n) (M. A. Garcia-Perez 1998, Vision Research 38, 1861-1881).

    Args:
        downs: right answers running that make the track go down, 1 or more.
        down_over_up: ratio of the step down to the step up, above 0.
    """
    return float((1.0 / (1.0 + down_over_up)) ** (1.0 / downs))


RIGHT_STEP, WRONG_STEP, UNSURE_STEP = (round(step) for step in weighted_steps(TARGET, DIRECTIONS))


def level_steps(offset_cents: float, answer: Judgement, *, hurried: bool) -> int:
    """Return how many places on the ladder of sizes an answer moves the track: negative is smaller."""
    truth = judgement_of(offset_cents)
    if truth == "unison":
        return 0
    step = RIGHT_STEP if answer == truth else UNSURE_STEP if answer == "unison" else WRONG_STEP
    return FIRST_STEP_FACTOR * step if hurried and answer == truth else step


def place_on_ladder(start: int, sizes: int, offsets_cents: Sequence[float], answers: Sequence[Judgement]) -> int:
    """Return where the track stands after some answers: an index into the ladder's sizes, 1 to sizes - 1.

    Args:
        start: the first place.
        sizes: length of the ladder, with the zero at its foot, which the track never stands on.
        offsets_cents: what was asked, signed.
        answers: what was answered.
    """
    place, hurried = start, True
    for offset, answer in zip(offsets_cents, answers, strict=True):
        place = min(max(place + level_steps(offset, answer, hurried=hurried), 1), sizes - 1)
        hurried = hurried and (offset == 0.0 or answer == judgement_of(offset))
    return place


def settling_level(window_over_sigma: float) -> float:
    """Return the offset over sigma at which the unsure track of p = .75 settles.

    There right answers lead wrong ones by half: Phi(x - w) - Phi(-x - w) = .5 for a window of w sigmas. For w = 0 that
    is the threshold, .6745; the wider the window, the further above it: the track measures caution with hearing.
    """
    low, high = 0.0, window_over_sigma + 2.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        lead = float(np.subtract(*normal_cdf([middle - window_over_sigma, -middle - window_over_sigma])))
        low, high = (middle, high) if lead < 0.5 else (low, middle)
    return 0.5 * (low + high)


def off_the_last(place: int, side: int, last_offset_cents: float | None, sizes_cents: NDArray[np.float64]) -> int:
    """Return the place to ask, one beside the track's own where that would repeat the last offset."""
    if last_offset_cents is None or side * sizes_cents[place] != last_offset_cents:
        return place
    return place - 1 if place > 1 else place + 1


def reversal_threshold_cents(
    offsets_cents: Sequence[float], answers: Sequence[Judgement], *, skipped: int = 2
) -> float | None:
    """Score a track the old way: the geometric mean of its levels where it turned round.

    For comparison only: a staircase's reversals measure caution with hearing.

    Args:
        offsets_cents: what was asked, signed; catch trials are passed over.
        answers: what was answered.
        skipped: so many reversals at the start do not count (common practice).

    Returns:
        Cents, or None where the track turned no more than `skipped` times.
    """
    levels, turns, before = [], [], 0
    for offset, answer in zip(offsets_cents, answers, strict=True):
        if offset == 0.0:
            continue
        way = -1 if answer == judgement_of(offset) else 1
        levels.append(abs(offset))
        if before and way != before:
            turns.append(levels[-1])
        before = way
    kept = turns[skipped:]
    return float(np.exp(np.mean(np.log(kept)))) if kept else None
