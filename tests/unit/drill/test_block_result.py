"""What a block says: figures or none, and the travel by the exact law at the string's own length."""

from __future__ import annotations

import math

import pytest

from centwise.drill.result import FEWEST_TRIALS, block_result, string_length_mm
from centwise.model import BlockResult, Trial
from fakes import START, block_plan


def trials(count: int) -> list[Trial]:
    """Answers of somebody who hears about 10 cents, both tones first by turns."""
    sizes = (40.0, -28.3, 14.1, 0.0, -10.0, 7.1, -14.1, 20.0)
    return [
        Trial(
            n,
            sizes[n % 8],
            "harmonic" if n % 2 else "fretted",
            "unison" if abs(sizes[n % 8]) < 9 else "flat" if sizes[n % 8] < 0 else "sharp",
            START,
        )
        for n in range(1, count + 1)
    ]


def bridge_mm_by_bisection(cents: float, length_mm: float) -> float:
    """Solve -1200 log2((S+2d)/(S+d)) = -cents for d: the bridge that far back makes the note that flat."""
    low, high = 0.0, length_mm / 2
    for _ in range(200):
        middle = (low + high) / 2
        if 1200.0 * math.log2((length_mm + 2 * middle) / (length_mm + middle)) < cents:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@pytest.mark.parametrize("scale_mm", [666.75, 571.5, 685.8])
@pytest.mark.parametrize("string", [1, 2, 3, 4, 5])
def test_travel_is_the_exact_law_at_the_listeners_scale_and_the_strings_own_length(
    string: int, scale_mm: float
) -> None:
    plan = block_plan(string=string, scale_mm=scale_mm)
    # The 5th string starts at the 5th fret: S 2^(-5/12), 499.50 mm at 26 1/4 in.
    length_mm = scale_mm * (2.0 ** (-5 / 12) if string == 5 else 1.0)
    assert string_length_mm(plan) == pytest.approx(length_mm, rel=1e-12)
    result = block_result(plan, trials(32))
    for cents, travel_mm in (
        (result.threshold_cents, result.travel_mm),
        (result.low_cents, result.travel_low_mm),
        (result.high_cents, result.travel_high_mm),
    ):
        assert cents is not None
        assert travel_mm == pytest.approx(bridge_mm_by_bisection(cents, length_mm), rel=1e-9)
    assert result.travel_mm is not None
    assert result.travel_sixty_fourths == round(result.travel_mm / 25.4 * 64)


def test_the_fifth_strings_millimetre_is_3_466_cents() -> None:
    plan = block_plan(string=5)
    result = block_result(plan, trials(32))
    assert result.threshold_cents is not None
    assert result.travel_mm is not None
    slope = 1731.234 / string_length_mm(plan)
    assert slope == pytest.approx(3.466, abs=5e-4)
    assert result.threshold_cents / result.travel_mm == pytest.approx(slope, rel=0.02)


@pytest.mark.parametrize("count", range(FEWEST_TRIALS))
def test_fewer_than_five_answers_give_counts_and_no_figures(count: int) -> None:
    answers = trials(count)
    right = sum(trial.correct for trial in answers)
    assert block_result(block_plan(), answers) == BlockResult(count, right, *([None] * 11))


def test_five_answers_give_every_figure() -> None:
    result = block_result(block_plan(), trials(5))
    assert all(getattr(result, name) is not None for name in BlockResult.__slots__ if name != "doubt")


def test_the_interval_encloses_the_threshold_and_answers_count() -> None:
    result = block_result(block_plan(), trials(40))
    assert result.low_cents is not None
    assert result.threshold_cents is not None
    assert result.high_cents is not None
    assert result.low_cents < result.threshold_cents < result.high_cents
    assert result.trials == 40
    assert result.correct == sum(trial.correct for trial in trials(40))


def test_the_warm_up_says_nothing() -> None:
    warm = [Trial(n, 40.0, "harmonic", "flat", START, scored=False) for n in (1, 2, 3)]
    assert block_result(block_plan(), [*warm, *trials(20)]) == block_result(block_plan(), trials(20))


def test_earlier_blocks_do_not_pull_the_result() -> None:
    answers = trials(20)
    stranger = block_result(block_plan(), answers)
    known = block_result(block_plan(prior_threshold_cents=1.0, prior_sd_octaves=0.5), answers)
    assert known == stranger
