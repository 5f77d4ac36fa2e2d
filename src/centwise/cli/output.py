"""Owns stdout: sentences for people, JSON for programs. Imports lessons and below."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Any

from centwise.harmless import harmless

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from centwise.drill.verdict import Verdict
    from centwise.lessons.lesson import Lesson, Standpoint
    from centwise.model import BlockPlan, BlockResult, Trial
    from centwise.standing import Standing


def say(sentence: str = "") -> None:
    """Write one line, harmless on a terminal, and flush it: a screen reader or a pipe gets it at once."""
    sys.stdout.write(f"{harmless(sentence)}\n")
    sys.stdout.flush()


def emit(record: Mapping[str, Any]) -> None:
    """Write one JSON object on a line of its own and flush it.

    In ASCII: whatever a name holds, the line survives every code page and steers no terminal.
    """
    sys.stdout.write(f"{json.dumps(record, allow_nan=False)}\n")
    sys.stdout.flush()


def result_record(result: BlockResult, verdict: Verdict) -> dict[str, Any]:
    """Return a result as plain data, rounded to what the answers can bear, with what the figures are worth."""
    return {
        "verdict": verdict,
        "threshold_cents": _figure(result.threshold_cents),
        "low_cents": _figure(result.low_cents),
        "high_cents": _figure(result.high_cents),
        "bias_cents": _figure(result.bias_cents),
        "bias_low_cents": _figure(result.bias_low_cents),
        "bias_high_cents": _figure(result.bias_high_cents),
        "order_error_cents": _figure(result.order_error_cents),
        "order_error_low_cents": _figure(result.order_error_low_cents),
        "order_error_high_cents": _figure(result.order_error_high_cents),
        "unison_window_cents": _figure(result.unison_window_cents),
        "trials": result.trials,
        "correct": result.correct,
        "travel_mm": _figure(result.travel_mm),
        "travel_low_mm": _figure(result.travel_low_mm),
        "travel_high_mm": _figure(result.travel_high_mm),
        "travel_64ths_in": result.travel_sixty_fourths,
    }


def take_record(plan: BlockPlan, trials: Sequence[Trial]) -> dict[str, Any]:
    """Return what a recording has to do with a block as plain data, nothing for rendered tones.

    Pairs as they were played come with the answer and the meter's reading; they are told with a block's result alone.
    """
    if plan.condition.voice == "rendered":
        return {}
    record: dict[str, Any] = {
        "voice": plan.condition.voice,
        "take_sha256": plan.take_sha256,
        "take_error_cents": _figure(plan.take_error_cents, 6),
    }
    if plan.given_cents:
        record["pairs"] = [
            {
                "n": trial.n,
                "answer": trial.answer,
                "meter": trial.truth,
                "cents": _figure(trial.offset_cents, 6),
                "agrees": trial.correct,
            }
            for trial in trials
        ]
    return record


def standing_record(standing: Standing) -> dict[str, Any]:
    """Return where a block stands among the earlier ones as plain data; null where there is nothing to compare with."""
    agreement = standing.agreement
    return {
        "number": standing.number,
        "improvement_chance": _figure(standing.improvement_chance),
        "since": None if standing.since is None else standing.since.isoformat(timespec="seconds"),
        "usual_low_cents": _figure(standing.usual_low_cents),
        "usual_high_cents": _figure(standing.usual_high_cents),
        "unusual": standing.unusual,
        "agreement_low_ratio": None if agreement is None else _figure(agreement.low_ratio),
        "agreement_high_ratio": None if agreement is None else _figure(agreement.high_ratio),
    }


def lesson_record(lesson: Lesson) -> dict[str, Any]:
    """Return a lesson as plain data."""
    return {
        "name": lesson.name,
        "title": lesson.title,
        "about": lesson.about,
        "instrument": lesson.instrument,
        "from": None if lesson.first_day is None else lesson.first_day.isoformat(),
        "until": None if lesson.last_day is None else lesson.last_day.isoformat(),
        "steps": [
            {
                "strings": list(step.strings),
                "order": step.order,
                "trials": step.trials,
                "likeness": step.likeness,
                "muted": step.muted,
                "assess": step.assess,
                "blocks": step.blocks,
                "target_cents": step.target_cents,
            }
            for step in lesson.steps
        ],
    }


def stand_record(at: Standpoint) -> dict[str, Any]:
    """Return where a listener stands in a lesson as plain data."""
    return {
        "name": at.lesson.name,
        "title": at.lesson.title,
        "step": at.number,
        "steps": len(at.lesson.steps),
        "string": at.string,
        "block": at.block,
        "blocks": at.step.blocks,
        "target_cents": at.step.target_cents,
        "done": at.done,
    }


def _figure(value: float | None, digits: int = 4) -> float | None:
    return None if value is None else round(value, digits)
