"""Limits of agreement (Bland and Altman 1986, recalled), held against numpy; independent truths of an assessment."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from scipy import stats

from centwise.draws import Draws, Purpose
from centwise.ear import estimate_threshold
from centwise.ear.agreement import limits_of_agreement
from centwise.ear.track import begin_track
from centwise.ear.truths import CATCH_SHARE
from centwise.errors import InputError

THRESHOLDS = [8.0, 7.1, 9.0, 6.4, 7.7]


def test_limits_are_the_prediction_interval_of_one_more_step() -> None:
    found = limits_of_agreement(THRESHOLDS)
    assert found is not None
    steps = np.diff(np.log2(THRESHOLDS))
    # Student's t of scipy; for many steps this is Bland and Altman's mean and 1.96 standard deviations.
    middle, half = steps.mean(), stats.t.ppf(0.975, 3) * np.sqrt(1 + 1 / 4) * steps.std(ddof=1)
    assert np.log2([found.low_ratio, found.high_ratio]) == pytest.approx([middle - half, middle + half], abs=1e-6)
    assert found.assessments == 5


def test_few_assessments_say_nothing_of_agreement() -> None:
    assert limits_of_agreement(THRESHOLDS[:3]) is None
    assert limits_of_agreement([]) is None


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), float("inf")])
def test_a_threshold_that_is_none_is_named(wrong: float) -> None:
    with pytest.raises(InputError, match="assessment 2 has a threshold of"):
        limits_of_agreement([8.0, wrong])


def truths(*, independent: bool, trials: int = 1500) -> list[int]:
    track = begin_track("weighted", independent=independent)
    found = []
    for n in range(1, trials + 1):
        offset = track.next_offset(Draws(3).stream(Purpose.PLACEMENT, n))
        found.append(int(np.sign(offset)))
        track = begin_track("weighted", independent=independent) if n % 40 == 0 else track.answered(offset, "flat")
    return found


def test_truths_of_an_assessment_do_not_depend_on_those_before() -> None:
    sides = np.array(truths(independent=True))
    for side in (-1, 0, 1):
        after = sides[1:][sides[:-1] == side]
        for truth, expected in ((0, CATCH_SHARE), (1, (1 - CATCH_SHARE) / 2)):
            error = np.sqrt(expected * (1 - expected) / after.size)
            # Four standard errors: six such looks at a fixed seed.
            assert abs((after == truth).mean() - expected) < 4 * error, (side, truth)


def test_in_a_drill_a_unison_never_follows_a_unison() -> None:
    sides = truths(independent=False)
    pairs = [(a, b) for n, (a, b) in enumerate(itertools.pairwise(sides), start=1) if n % 40]
    assert (0, 0) not in pairs


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"prior": "Flat"}, "'Flat' is no prior: give None"),
        ({"prior": 3}, "3 is no prior"),
        ({"lapse_rate": "x"}, "a lapse rate of 'x' is no number"),
        ({"lapse_rate": None}, "a lapse rate of None is no number"),
    ],
)
def test_a_wrong_keyword_of_the_fit_is_named(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        estimate_threshold([-8.0, 8.0] * 5, ["flat", "sharp"] * 5, **wrong)
