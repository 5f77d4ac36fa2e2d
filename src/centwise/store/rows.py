"""Records to rows and back. Instants are ISO 8601 text in UTC with microseconds, so that text order is time order.

Imports ports and below.
"""

from __future__ import annotations

import json
from dataclasses import astuple, fields
from datetime import UTC, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from centwise.errors import StoreError
from centwise.model import BlockPlan, BlockResult, Condition, Listener, Trial, was_heard
from centwise.ports import BlockOutline, BlockSummary, ClassRow, KeptRow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.model import Order, Voice

LISTENER_COLUMNS = "id, name, scale_mm, instrument, note"

CONDITION_COLUMNS = ("instrument", "string", "muted", "likeness", "tone_order", "voice")

PLAN_COLUMNS = (
    "id",
    "listener_id",
    *CONDITION_COLUMNS,
    "rule",
    "trials",
    "assess",
    "seed",
    "scale_mm",
    "player",
    "started_at",
    "warm_up",
    "until_octaves",
    "prior_threshold_cents",
    "prior_sd_octaves",
    "take_sha256",
    "take_error_cents",
    "given_cents",
    "string_length_mm",
    "octave_hz",
)

RESULT_COLUMNS = tuple(
    f"result_{field.name}" if field.name in {"trials", "correct"} else field.name for field in fields(BlockResult)
)
"""In the order of BlockResult's fields; the plan has a `trials` of its own."""

_LISTENER_END = len(fields(Listener))
_PLAN_END = len(PLAN_COLUMNS)
_RESULT_END = _PLAN_END + len(RESULT_COLUMNS)

SUMMARY_COLUMNS = ("answered", "practised_s", "last_answer_at", "method")

OUTLINE_COLUMNS = (
    "listener_id",
    *CONDITION_COLUMNS,
    "player",
    "started_at",
    "threshold_cents",
    "low_cents",
    "high_cents",
    "doubt",
    "answered",
    "practised_s",
    "last_answer_at",
)

CLASS_COLUMNS = (
    "blocks",
    "answered",
    "practised_s",
    "last_seen",
    "instrument",
    "string",
    "threshold_cents",
    "low_cents",
    "high_cents",
    "improvement_chance",
)

TRIAL_COLUMNS = ("n", "offset_cents", "first_tone", "answer", "answered_at", "replays", "scored")


def marks(columns: Sequence[str]) -> str:
    """Return a parameter mark for each column."""
    return ", ".join("?" * len(columns))


def instant_text(instant: datetime) -> str:
    """Write an instant, as in 2026-03-01T18:04:05.000000+00:00.

    Raises:
        StoreError: it says no zone.
    """
    if instant.tzinfo is None:
        raise StoreError(f"the instant {instant} says no zone and was not kept", "pass instants in UTC")
    return instant.astimezone(UTC).isoformat(timespec="microseconds")


def listener_of(row: Sequence[Any]) -> Listener:
    """Read LISTENER_COLUMNS."""
    return Listener(*row)


def condition_row(condition: Condition) -> tuple[Any, ...]:
    """Write CONDITION_COLUMNS."""
    return (
        condition.instrument,
        condition.string,
        int(condition.muted),
        float(condition.likeness),
        condition.order,
        condition.voice,
    )


def plan_row(plan: BlockPlan) -> tuple[Any, ...]:
    """Write PLAN_COLUMNS."""
    return (
        plan.id,
        plan.listener_id,
        *condition_row(plan.condition),
        plan.rule,
        plan.trials,
        int(plan.assess),
        plan.seed,
        float(plan.scale_mm),
        plan.player,
        instant_text(plan.started_at),
        plan.warm_up,
        plan.until_octaves,
        plan.prior_threshold_cents,
        plan.prior_sd_octaves,
        plan.take_sha256,
        plan.take_error_cents,
        json.dumps(list(plan.given_cents)) if plan.given_cents else None,
        plan.string_length_mm,
        plan.octave_hz,
    )


def plan_of(row: Sequence[Any]) -> BlockPlan:
    """Read PLAN_COLUMNS. In their order and the record's: a history reads tens of thousands."""
    id_, listener_id, instrument, string, muted, likeness, order, voice, rule, trials, assess, seed, *rest = row
    scale_mm, player, started_at, warm_up, until_octaves, prior_cents, prior_sd, take, take_error, given, *of_string = (
        rest
    )
    return BlockPlan(
        id_,
        listener_id,
        _condition(instrument, string, muted, likeness, order, voice),
        rule,
        trials,
        bool(assess),
        seed,
        scale_mm,
        player,
        datetime.fromisoformat(started_at),
        warm_up,
        until_octaves,
        prior_cents,
        prior_sd,
        take,
        take_error,
        () if given is None else tuple(json.loads(given)),
        *of_string,
    )


@lru_cache(maxsize=1024)
def _condition(instrument: str, string: int, muted: int, likeness: float, order: Order, voice: Voice) -> Condition:
    # A history of many thousand blocks is of a few conditions.
    return Condition(instrument, string, bool(muted), likeness, order, voice)


def summary_of(row: Sequence[Any]) -> BlockSummary:
    """Read PLAN_COLUMNS, RESULT_COLUMNS and SUMMARY_COLUMNS."""
    answered, practised_s, last_answer_at, method = row[_RESULT_END:]
    return BlockSummary(
        plan_of(row[:_PLAN_END]),
        result_of(row[_PLAN_END:_RESULT_END]),
        answered,
        practised_s,
        None if last_answer_at is None else datetime.fromisoformat(last_answer_at),
        method,
    )


def outline_of(row: Sequence[Any]) -> BlockOutline:
    """Read OUTLINE_COLUMNS."""
    listener_id, instrument, string, muted, likeness, order, voice, player, started_at, *found = row
    threshold, low, high, doubt, answered, practised_s, last_answer_at = found
    if doubt is not None:
        threshold = low = high = None
    return BlockOutline(
        listener_id,
        _condition(instrument, string, muted, likeness, order, voice),
        was_heard(player),
        datetime.fromisoformat(started_at),
        threshold,
        low,
        high,
        answered,
        practised_s,
        None if last_answer_at is None else datetime.fromisoformat(last_answer_at),
    )


def result_row(result: BlockResult) -> tuple[Any, ...]:
    """Write RESULT_COLUMNS."""
    return astuple(result)


def result_of(row: Sequence[Any]) -> BlockResult | None:
    """Read RESULT_COLUMNS; None when the block has not ended."""
    return None if row[0] is None else BlockResult(*row)


def trial_row(trial: Trial) -> tuple[Any, ...]:
    """Write TRIAL_COLUMNS."""
    return (
        trial.n,
        float(trial.offset_cents),
        trial.first,
        trial.answer,
        instant_text(trial.answered_at),
        trial.replays,
        int(trial.scored),
    )


def trial_of(row: Sequence[Any]) -> Trial:
    """Read TRIAL_COLUMNS."""
    n, offset_cents, first, answer, answered_at, replays, scored = row
    return Trial(
        n=n,
        offset_cents=offset_cents,
        first=first,
        answer=answer,
        answered_at=datetime.fromisoformat(answered_at),
        replays=replays,
        scored=bool(scored),
    )


def kept_row_of(row: Sequence[Any]) -> KeptRow:
    """Read the listener's columns, the revision, and CLASS_COLUMNS, all null where no row is kept."""
    listener, (revision, *columns) = Listener(*row[:_LISTENER_END]), row[_LISTENER_END:]
    if columns[0] is None:
        return KeptRow(listener, revision, None)
    blocks, answered, practised_s, last_seen, *of_the_last = columns
    seen = None if last_seen is None else datetime.fromisoformat(last_seen)
    return KeptRow(listener, revision, ClassRow(listener, blocks, answered, practised_s, seen, *of_the_last))


def class_row(kept: KeptRow) -> tuple[Any, ...]:
    """Write the listener's id, the revision and CLASS_COLUMNS of a row that was worked out."""
    row = kept.row
    if row is None:
        raise ValueError("a row that was worked out is kept, not a missing one")
    return (
        kept.listener.id,
        kept.revision,
        row.blocks,
        row.answered,
        row.practised_s,
        None if row.last_seen is None else instant_text(row.last_seen),
        row.instrument,
        row.string,
        row.threshold_cents,
        row.low_cents,
        row.high_cents,
        row.improvement_chance,
    )
