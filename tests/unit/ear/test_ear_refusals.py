"""Every refusal of the ear, whole: what is wrong, where, and what to give instead. And the ends of what is taken."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from centwise import ear
from centwise.ear import trial_run
from centwise.ear.agreement import limits_of_agreement
from centwise.ear.grid import standard_grid
from centwise.ear.history import Session, history_of
from centwise.ear.observer import response_probabilities
from centwise.ear.prior import Prior, prior_from
from centwise.ear.simulated import SimulatedListener
from centwise.ear.threshold import ThresholdFit, estimate_threshold
from centwise.ear.track import begin_track
from centwise.ear.trial_run import Traits, run_listeners
from centwise.ear.trials import tallied
from centwise.errors import CentwiseError, InputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

ANSWERS = ["flat", "unison", "sharp", "flat", "sharp"]
OFFSETS = [-5.0, 0.0, 5.0, -3.0, 3.0]
DAY = Session(3.0, 8.0, 6.0, 10.0)

REFUSALS: list[tuple[Callable[[], object], type[CentwiseError], str]] = [
    (
        lambda: limits_of_agreement([5.0, 6.0, 0.0, 4.0]),
        InputError,
        "assessment 3 has a threshold of 0 cents: give one above 0",
    ),
    (
        lambda: limits_of_agreement([math.inf]),
        InputError,
        "assessment 1 has a threshold of inf cents: give one above 0",
    ),
    (
        lambda: Session(math.nan, 8.0, 6.0, 10.0),
        InputError,
        "a session on day nan has no place in a history: give a finite day",
    ),
    (
        lambda: Session(0.0, 8.0, 10.0, 10.0),
        InputError,
        "a threshold of 8 cents between 10 and 10 is no block's result: give sizes above 0, the low end first",
    ),
    (
        lambda: Session(0.0, 8.0, 0.0, 10.0),
        InputError,
        "a threshold of 8 cents between 0 and 10 is no block's result: give sizes above 0, the low end first",
    ),
    (
        lambda: Session(0.0, 8.0, 6.0, math.inf),
        InputError,
        "a threshold of 8 cents between 6 and inf is no block's result: give sizes above 0, the low end first",
    ),
    (
        lambda: Session(0.0, 0.0, 6.0, 10.0),
        InputError,
        "a threshold of 0 cents between 6 and 10 is no block's result: give sizes above 0, the low end first",
    ),
    (
        lambda: Session(0.0, math.inf, 6.0, 10.0),
        InputError,
        "a threshold of inf cents between 6 and 10 is no block's result: give sizes above 0, the low end first",
    ),
    (lambda: history_of([]), InputError, "no session makes no history: give at least one"),
    (
        lambda: history_of([DAY, DAY, Session(2.0, 8.0, 6.0, 10.0)]),
        InputError,
        "session 3 is of day 2, before the one before it: sort them by day",
    ),
    (
        lambda: history_of([DAY]).prior(2.0),
        InputError,
        "day 2 lies before the last session's, day 3: ask for a later one",
    ),
    (
        lambda: history_of([DAY]).foreseen_cents(math.inf, 0.2),
        InputError,
        "day inf lies before the last session's, day 3: ask for a later one",
    ),
    *(
        (
            lambda arguments=arguments: response_probabilities(*arguments),
            InputError,
            f"{name} of {value} is not possible in the observer: give {wanted}",
        )
        for arguments, name, value, wanted in (
            ((math.nan, 5.0, 0.0, 1.0, 0.1), "an offset", "nan", "a finite value"),
            (([1.0, math.inf], 5.0, 0.0, 1.0, 0.1), "an offset", "inf", "a finite value"),
            ((1.0, 0.0, 0.0, 1.0, 0.1), "a sigma", "0", "a value above 0"),
            ((1.0, 5.0, -math.inf, 1.0, 0.1), "a bias", "-inf", "a finite value"),
            ((1.0, 5.0, 0.0, [0.0, -0.5], 0.1), "a window", "-0.5", "a value of 0 or more"),
            ((1.0, 5.0, 0.0, 1.0, 1.1), "a lapse rate", "1.1", "a value from 0 to 1"),
            ((1.0, 5.0, 0.0, 1.0, -0.1), "a lapse rate", "-0.1", "a value from 0 to 1"),
        )
    ),
    (lambda: Prior(0.0), InputError, "a threshold of 0 makes no prior: give one above 0"),
    (lambda: Prior(math.inf), InputError, "a threshold of inf makes no prior: give one above 0"),
    (lambda: Prior(5.0, 0.0), InputError, "a spread of 0 makes no prior: give one above 0"),
    (lambda: Prior(5.0, math.inf), InputError, "a spread of inf makes no prior: give one above 0"),
    (lambda: Prior(5.0, 1.0, 1.5), InputError, "a flat share of 1.5 makes no prior: give one from 0 to 1"),
    (lambda: Prior(5.0, 1.0, -0.5), InputError, "a flat share of -0.5 makes no prior: give one from 0 to 1"),
    (lambda: prior_from(5.0, 1.0, -1.0), InputError, "-1 days cannot have gone by: give 0 or more"),
    (lambda: prior_from(5.0, 1.0, math.inf), InputError, "inf days cannot have gone by: give 0 or more"),
    (lambda: prior_from(5.0, 0.0), InputError, "a spread of 0 octaves makes no prior: give one above 0"),
    (lambda: prior_from(5.0, math.inf), InputError, "a spread of inf octaves makes no prior: give one above 0"),
    (
        lambda: SimulatedListener(5.0, 1.0, drift_octaves=math.nan),
        InputError,
        "a drift of nan is not possible in the observer: give a finite value",
    ),
    (
        lambda: SimulatedListener(5.0, 1.0, order_error_cents=-math.inf),
        InputError,
        "an order error of -inf is not possible in the observer: give a finite value",
    ),
    (
        lambda: estimate_threshold(OFFSETS, ANSWERS, lapse_rate=True),
        InputError,
        "a lapse rate of True is no number: give one from 0 up to below 1",
    ),
    (
        lambda: estimate_threshold(OFFSETS, ANSWERS, lapse_rate=1.0),
        InputError,
        "a lapse rate of 1 is not possible: give one from 0 up to below 1",
    ),
    (
        lambda: estimate_threshold(OFFSETS, ANSWERS, prior="wide"),  # type: ignore[arg-type]
        InputError,
        "'wide' is no prior: give None, \"flat\" or a Prior",
    ),
    (
        lambda: estimate_threshold(OFFSETS, ANSWERS, rng=7),  # type: ignore[arg-type]
        InputError,
        "7 draws nothing: give None or a numpy Generator",
    ),
    (lambda: begin_track("even"), InputError, "'even' is no rule: choose balanced or weighted"),  # type: ignore[arg-type]
    (
        lambda: begin_track("balanced", start_cents=0.0),
        InputError,
        "a block cannot start at 0 cents: start above 0 and at most at 100",
    ),
    (
        lambda: begin_track("balanced", start_cents=100.5),
        InputError,
        "a block cannot start at 100.5 cents: start above 0 and at most at 100",
    ),
    (
        lambda: begin_track("balanced").answered(-100.5, "flat"),
        InputError,
        "an offset of -100.5 cents was not asked: give one from -100 to 100",
    ),
    (
        lambda: begin_track("balanced").answered(5.0, "low"),  # type: ignore[arg-type]
        InputError,
        "'low' is no answer: answer flat, unison or sharp",
    ),
    *(
        (
            lambda traits=traits: Traits(**traits),
            UsageError,
            f"simulated listeners cannot have a {name}: give {wanted}",
        )
        for traits, name, wanted in (
            ({"window_low": 2.0, "window_high": 1.0}, "window of 1", "0 to 5, the low end first"),
            ({"window_low": -0.1}, "window of 1.5", "0 to 5, the low end first"),
            ({"window_high": 5.1}, "window of 5.1", "0 to 5, the low end first"),
            ({"bias_sd": 5.5}, "bias of 5.5", "0 to 5"),
            ({"bias_sd": -0.5}, "bias of -0.5", "0 to 5"),
            ({"lapse_high": 0.6}, "lapse rate of 0.6", "0 to 0.5"),
            ({"lapse_high": -0.1}, "lapse rate of -0.1", "0 to 0.5"),
            ({"drift_octaves": -4.5}, "drift of -4.5", "-4 to 4 octaves"),
        )
    ),
    (lambda: run_listeners(0, 10, seed=1), UsageError, "0 listeners cannot be simulated: ask for 1 to 100000"),
    (
        lambda: run_listeners(100_001, 10, seed=1),
        UsageError,
        "100001 listeners cannot be simulated: ask for 1 to 100000",
    ),
    (
        lambda: run_listeners(1, 4, seed=1),
        UsageError,
        "4 pairs are too few or too many for a simulated block: ask for 5 to 1000",
    ),
    (
        lambda: run_listeners(1, 1001, seed=1),
        UsageError,
        "1001 pairs are too few or too many for a simulated block: ask for 5 to 1000",
    ),
    (
        lambda: tallied(OFFSETS[:4], ANSWERS[:4]),
        InputError,
        "4 trials say nothing of an ear: give at least 5",
    ),
    (
        lambda: tallied([OFFSETS], ANSWERS),
        InputError,
        "the offsets have the shape (1, 5): give one row of signed cents, one a trial",
    ),
    (
        lambda: tallied(np.ma.masked_greater(OFFSETS, 4.0), ANSWERS),
        InputError,
        "some of the offsets are masked: leave those trials out, and their answers",
    ),
    (
        lambda: tallied([*OFFSETS[:3], True, 3.0], ANSWERS),
        InputError,
        "the offset of trial 4 is True: give a number of cents",
    ),
    (
        lambda: tallied(np.array(["5", "6", "7", "8", "9"]), ANSWERS),
        InputError,
        "the offset of trial 1 is '5': give a number of cents",
    ),
    (
        lambda: tallied([*OFFSETS[:3], 1200.5, 3.0], ANSWERS),
        InputError,
        "the offset of trial 4 is 1200.5: give finite cents, from -1200 to 1200",
    ),
    (
        lambda: tallied([*OFFSETS[:4], math.nan], ANSWERS),
        InputError,
        "the offset of trial 5 is nan: give finite cents, from -1200 to 1200",
    ),
    (
        lambda: tallied(OFFSETS, ANSWERS[:4]),
        InputError,
        "there are 5 offsets but answers of shape (4,): give one answer a trial",
    ),
    (
        lambda: tallied(OFFSETS, [*ANSWERS[:4], "low"]),
        InputError,
        "the answer of trial 5 is 'low': use flat, unison or sharp",
    ),
    (
        lambda: tallied(OFFSETS, ANSWERS, ["harmonic", "open", "fretted", "harmonic", "fretted"]),
        InputError,
        "the first tone of trial 2 is 'open': use harmonic or fretted",
    ),
]


@pytest.mark.parametrize(("refused", "kind", "told"), REFUSALS, ids=[told[:60] for *_, told in REFUSALS])
def test_a_refusal_says_what_is_wrong_and_what_to_give(
    refused: Callable[[], object], kind: type[CentwiseError], told: str
) -> None:
    with pytest.raises(kind) as caught:
        refused()
    assert str(caught.value) == f"{told}."


def test_the_fit_is_found_by_its_name_and_nothing_else_is() -> None:
    assert ear.estimate_threshold is estimate_threshold
    assert ear.ThresholdFit is ThresholdFit
    with pytest.raises(AttributeError) as caught:
        ear.estimate_it  # noqa: B018  what is not there
    assert str(caught.value) == "module 'centwise.ear' has no attribute 'estimate_it'"


def test_the_largest_and_the_smallest_trial_run_are_let_in(monkeypatch: pytest.MonkeyPatch) -> None:
    class BegunError(Exception):
        pass

    def begun(*_arguments: object, **_named: object) -> None:
        raise BegunError

    monkeypatch.setattr(trial_run, "simulate_blocks", begun)
    for listeners, trials in ((1, 5), (100_000, 5), (1, 1000)):
        with pytest.raises(BegunError):
            run_listeners(listeners, trials, seed=1)


def test_rows_of_uneven_length_are_no_row() -> None:
    with pytest.raises(InputError) as caught:
        tallied([[1.0], [1.0, 2.0]], ANSWERS)
    told = str(caught.value)
    assert told.startswith("the offsets are not one row of numbers (")
    assert told.endswith("): give signed cents, one a trial.")
    with pytest.raises(InputError) as caught:
        tallied(OFFSETS, [["flat"], ["flat", "sharp"]])
    told = str(caught.value)
    assert told.startswith("the answers are not one row of words (")
    assert told.endswith("): give one answer a trial.")


def test_the_ends_of_the_ranges_belong_to_them() -> None:
    assert response_probabilities(0.0, 5.0, 0.0, 0.0, 1.0) == pytest.approx([1 / 3, 1 / 3, 1 / 3])
    assert response_probabilities(0.0, 1e-300, 0.0, 0.0, 0.0) == pytest.approx([0.5, 0.0, 0.5])
    tally = tallied([-1200.0, 1200, np.float32(5), np.int64(3), 0], ANSWERS)
    assert tally.trials == 5
    assert [each.dtype for each in (tally.offsets_cents, tally.order_signs, tally.counts)] == ["f8", "i8", "i8"]
    sizes_cents = standard_grid().sizes_cents
    assert sizes_cents[begin_track("balanced", start_cents=100.0).start] == pytest.approx(100.0, rel=0.1)
    assert sizes_cents[begin_track("weighted", start_cents=1e-3).start] > 0.0
    assert begin_track("balanced").answered(-100.0, "flat").offsets_cents == (-100.0,)
    assert begin_track("balanced").answered(100, "sharp").answers == ("sharp",)
    Traits(window_low=0.0, window_high=5.0, bias_sd=5.0, lapse_high=0.5, drift_octaves=4.0)
    Traits(window_low=1.0, window_high=1.0, bias_sd=0.0, lapse_high=0.0, drift_octaves=-4.0)
    assert Prior(5.0, 1.0, 0.0).flat_share == 0.0
    assert Prior(5.0, 1.0, 1.0).flat_share == 1.0
    assert prior_from(5.0, 2.0, 0.0).sd_octaves == 2.0
    assert history_of([DAY]).prior(3.0).threshold_cents == pytest.approx(8.0)
    assert history_of([DAY, DAY]).level_octaves == pytest.approx(3.0)
    assert limits_of_agreement([5.0, 6.0, 5.0]) is None
    assert prior_from(5.0, 2.0).sd_octaves == 2.0
    # Thresholds below a cent are thresholds, and four of them tell how they agree.
    assert limits_of_agreement([0.5, 0.6, 0.5, 0.4]) is not None
    assert Session(0.0, 0.8, 0.7, 0.9).threshold_cents == Prior(0.8).threshold_cents == 0.8
    assert estimate_threshold(OFFSETS, ANSWERS, lapse_rate=0).lapse_rate == 0.0
