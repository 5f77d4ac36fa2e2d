"""Progress as plain data, for `--json`. Imports progress_text and below."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from centwise.model import GOOD_ENOUGH_CENTS
from centwise.progress_text import next_reason

if TYPE_CHECKING:
    from datetime import datetime

    from centwise.ports import BlockSummary, StoredBench
    from centwise.progress import ConditionProgress, ListenerProgress


def progress_record(progress: ListenerProgress) -> dict[str, Any]:
    """Return one listener's progress as plain data."""
    listener, practice = progress.listener, progress.next
    return {
        "id": listener.id,
        "name": listener.name,
        "scale_mm": round(listener.scale_mm, 4),
        "instrument": listener.instrument,
        "note": listener.note,
        "blocks": sum(block.plan.heard for block in progress.blocks),
        "trials": progress.answered,
        "practised_minutes": round(progress.practised_s / 60.0, 2),
        "last_seen": _instant(progress.last_seen),
        "next": {
            "string": practice.string,
            "assess": practice.assess,
            "reason": practice.reason,
            "why": next_reason(practice),
        },
        "conditions": [_condition_record(condition) for condition in progress.conditions],
        "rehearsals": [_rehearsal_record(bench) for bench in progress.benches],
    }


def _condition_record(progress: ConditionProgress) -> dict[str, Any]:
    condition, now = progress.condition, progress.now
    # The first session is not compared and has no place on the trend.
    trend = (None, *progress.history.trend)
    return {
        "instrument": condition.instrument,
        "string": condition.string,
        "muted": condition.muted,
        "likeness": condition.likeness,
        "order": condition.order,
        "voice": condition.voice,
        "threshold_cents": round(now.threshold_cents, 4),
        "low_cents": round(now.low_cents, 4),
        "high_cents": round(now.high_cents, 4),
        "good_enough_cents": GOOD_ENOUGH_CENTS,
        "good_enough_mm": round(progress.good_enough_mm, 4),
        "trend": progress.trend,
        "improvement_chance": None if progress.improvement_chance is None else round(progress.improvement_chance, 4),
        "since": _instant(progress.since),
        "sessions": [
            {
                **_session_record(session),
                "trend_cents": None if point is None else round(point.threshold_cents, 4),
                "trend_low_cents": None if point is None else round(point.low_cents, 4),
                "trend_high_cents": None if point is None else round(point.high_cents, 4),
            }
            for session, point in zip(progress.sessions, trend, strict=True)
        ],
    }


def _session_record(block: BlockSummary) -> dict[str, Any]:
    plan, result = block.plan, block.result
    if result is None:
        raise ValueError("a session has a result")
    return {
        "block": plan.id,
        "started_at": _instant(plan.started_at),
        "assess": plan.assess,
        "scale_mm": round(plan.scale_mm, 4),
        "trials": result.trials,
        "correct": result.correct,
        "practised_minutes": round(block.practised_s / 60.0, 2),
        "method": block.method,
        "threshold_cents": _figure(result.threshold_cents),
        "low_cents": _figure(result.low_cents),
        "high_cents": _figure(result.high_cents),
        "bias_cents": _figure(result.bias_cents),
        "unison_window_cents": _figure(result.unison_window_cents),
        "travel_mm": _figure(result.travel_mm),
    }


def _rehearsal_record(bench: StoredBench) -> dict[str, Any]:
    plan, result = bench.plan, bench.result
    record = {
        "rehearsal": plan.id,
        "started_at": _instant(plan.started_at),
        "instrument": plan.instrument,
        "bridge": plan.bridge,
        "difficulty": plan.difficulty,
        "guided": plan.guided,
        "ended": result is not None,
    }
    if result is None:
        return record
    return record | {
        "cents": {str(number): round(cents, 4) for number, cents in result.cents.items()},
        "moves": result.moves,
        "comparisons": result.comparisons,
        "order_kept": sum(point.kept for point in result.order),
        "order_points": len(result.order),
        "hand_percent": _figure(result.hand_percent),
    }


def _figure(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant.isoformat(timespec="seconds")
