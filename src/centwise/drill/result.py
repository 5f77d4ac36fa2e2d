"""What a block's answers say: the threshold with its interval, bias and unison window, and the same in travel.

Imports ear and below.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from centwise.drill.verdict import doubt_of
from centwise.ear.estimate import estimate_trials
from centwise.ear.trials import FEWEST_TRIALS
from centwise.errors import UsageError
from centwise.model import BlockPlan, BlockResult, Trial
from centwise.strings.geometry import bridge_offset_mm
from centwise.strings.library import BUILT_IN
from centwise.units import nearest_64ths

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.ear.summary import Estimate


def string_length_mm(plan: BlockPlan) -> float:
    """Return the plan's string's own nominal length: the law of cents and travel holds for that length."""
    if plan.string_length_mm is not None:
        return plan.string_length_mm
    return _share_of_scale(plan.condition.instrument, plan.condition.string) * plan.scale_mm


@lru_cache(maxsize=256)
def _share_of_scale(instrument: str, string: int) -> float:
    """Return a string's own length over the scale length; 1 for an instrument that is not known here."""
    try:
        known = BUILT_IN.named(instrument)
        return known.string(string).length_mm / known.scale_mm
    except UsageError:
        # Somebody else's instrument, come in with their blocks: its strings are taken to run to the head.
        return 1.0


def block_interval_octaves(trials: Sequence[Trial]) -> float:
    """Return the width of the threshold's 90 % interval that a block's result would give, from 5 scored trials on."""
    return _estimate([trial for trial in trials if trial.scored]).interval_octaves


def _estimate(scored: Sequence[Trial]) -> Estimate:
    # With a stranger's prior: earlier blocks place the pairs, but the history must not count them again as news.
    return estimate_trials(
        [trial.offset_cents for trial in scored],
        [trial.answer for trial in scored],
        [trial.first for trial in scored],
    )


def block_result(plan: BlockPlan, trials: Sequence[Trial]) -> BlockResult:
    """Estimate from the scored trials.

    With fewer than five every figure but the counts is None; so it is where the offsets were given: a recorded pair
    judged as it is compares ear and meter, and a few offsets that nobody placed say nothing of a threshold.
    """
    scored = [trial for trial in trials if trial.scored]
    correct = sum(trial.correct for trial in scored)
    if len(scored) < FEWEST_TRIALS or plan.given_cents:
        return BlockResult(len(scored), correct, *([None] * 11))
    estimate = _estimate(scored)
    length_mm = string_length_mm(plan)
    # A difference of that many cents flat stands for a bridge that far back: the positive root of the exact law.
    travel_mm, low_mm, high_mm = (
        bridge_offset_mm(-cents, length_mm)
        for cents in (estimate.threshold_cents, estimate.low_cents, estimate.high_cents)
    )
    return BlockResult(
        trials=len(scored),
        correct=correct,
        threshold_cents=estimate.threshold_cents,
        low_cents=estimate.low_cents,
        high_cents=estimate.high_cents,
        bias_cents=estimate.bias_cents,
        bias_low_cents=estimate.bias_low_cents,
        bias_high_cents=estimate.bias_high_cents,
        unison_window_cents=estimate.window_cents,
        travel_mm=travel_mm,
        travel_low_mm=low_mm,
        travel_high_mm=high_mm,
        travel_sixty_fourths=nearest_64ths(travel_mm),
        order_error_cents=estimate.order_error_cents,
        order_error_low_cents=estimate.order_error_low_cents,
        order_error_high_cents=estimate.order_error_high_cents,
        doubt=doubt_of(trials),
    )
