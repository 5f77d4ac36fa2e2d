"""Ear against meter: what is told where the truth is a measurement, and what its error means, in whole sentences.

Imports model and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.drill.advice import PER_SIGMA, bridge_sentence, bridge_text
from centwise.model import GOOD_ENOUGH_CENTS, SIGNS, SURE_ERRORS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.drill.words import Feedback
    from centwise.model import BlockPlan, BlockResult, Trial

MOST_TOLD = 10


def reading_text(trial: Trial, error_cents: float) -> str:
    """Say what the meter reads: `sharp by 5.2 ± 0.1 cents`, `unison within 0.2 cents`. No error below 0.01 is told."""
    if trial.truth == "unison":
        return f"unison within {_figure(max(SURE_ERRORS * error_cents, 0.1))} cents"
    places = 1 if error_cents >= 0.095 else 2
    return f"{trial.truth} by {abs(trial.offset_cents):.{places}f} ± {_figure(max(error_cents, 0.01))} cents"


def meter_sentence(feedback: Feedback) -> str:
    """Say all there is about one recorded pair, once it was judged."""
    trial, error_cents = feedback.trial, feedback.error_cents or 0.0
    agrees = "Ear and meter agree." if trial.correct else f"You said {trial.answer}."
    return f"The meter reads {reading_text(trial, error_cents)}. {agrees} {bridge_sentence(feedback)}"


def meter_text(feedback: Feedback) -> str:
    """Say the same in two short lines, with sign and number."""
    trial, error_cents = feedback.trial, feedback.error_cents or 0.0
    agrees = "You agree." if trial.correct else f"You said {trial.answer}."
    bridge = "Leave the bridge." if feedback.travel.direction == "leave" else f"Bridge: {bridge_text(feedback)}."
    return f"Meter: {SIGNS[trial.truth]} {reading_text(trial, error_cents)}. {agrees}\n{bridge}"


def against_sentences(plan: BlockPlan, trials: Sequence[Trial]) -> tuple[str, ...]:
    """Say how ear and meter compare over a block of recorded pairs, and what the meter's error means."""
    if not trials:
        return ("No pair was judged, so the meter tells nothing.",)
    error_cents = plan.take_error_cents or 0.0
    agreed = sum(trial.correct for trial in trials)
    count = "the pair" if len(trials) == 1 else f"{agreed} of {len(trials)} pairs"
    said = [
        f"Ear and meter agree on {count}." if len(trials) > 1 or agreed else "Ear and meter do not agree on the pair."
    ]
    if not plan.heard:
        said.append("But these pairs made no sound, so that says nothing about your ear.")
    if plan.assess:
        said += [
            f"Pair {trial.n}: you said {trial.answer}, the meter reads {reading_text(trial, error_cents)}."
            for trial in trials[:MOST_TOLD]
        ]
    small = [trial for trial in trials if not trial.correct and abs(trial.offset_cents) <= GOOD_ENOUGH_CENTS]
    if small:
        count = "One difference is" if len(small) == 1 else f"{len(small)} differences are"
        said.append(f"{count} within {GOOD_ENOUGH_CENTS:g} cents of unison, which is good enough to leave.")
    said.append(
        f"The meter's readings have a standard error of {_figure(error_cents)} cents: what it calls unison lies within "
        f"{_figure(max(SURE_ERRORS * error_cents, 0.1))} cents of it, 90 % sure."
    )
    return tuple(said)


def error_sentence(plan: BlockPlan, result: BlockResult) -> str | None:
    """Say what the take's own error means for a block of its shifted notes; None where there is nothing to say."""
    error_cents = plan.take_error_cents
    if error_cents is None or result.threshold_cents is None:
        return None
    sigma = result.threshold_cents / PER_SIGMA
    wider = PER_SIGMA * (math.hypot(sigma, error_cents) - sigma)
    return (
        f"Your recorded notes are known to ± {_figure(error_cents)} cents (standard error), and that is in every pair "
        f"alike: it may move the lean of a unison by as much, and the threshold by {_less(wider)} cents."
    )


def _figure(cents: float) -> str:
    return "less than 0.01" if cents < 0.01 else f"{cents:.2f}" if cents < 0.095 else f"{cents:.1f}"


def _less(cents: float) -> str:
    return "less than 0.01" if cents < 0.01 else f"about {_figure(cents)}"
