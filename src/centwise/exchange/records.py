"""The records of the data format as frozen dataclasses, and their way into plain data. Imports model and below."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from typing import Any

from centwise.model import BenchAct, BenchPlan, BenchResult, BlockPlan, BlockResult, Listener, Trial

FORMAT = "centwise-data"
FORMAT_VERSION = 1
"""Raised when a reader of the version before could not read what is written."""

BY_STRING = ("cents", "string_mm", "must_leave_cents")
"""The parts of a reckoning that have a number for each string."""

RESULT_KEYS = tuple(field.name for field in fields(BlockResult))


@dataclass(frozen=True, slots=True)
class Header:
    """The first record: whose format, which version, by which program, and whether names are in it."""

    version: int
    written_by: str
    names: bool


@dataclass(frozen=True, slots=True)
class ListenerRecord:
    """A listener.

    Attributes:
        listener: as they are called; two may be called alike.
        edition: counts the changes to name, scale length, instrument and note, from 1; of two the later one holds.
        merged_ids: ids that mean this listener since others were merged into them, in order.
    """

    listener: Listener
    edition: int
    merged_ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BlockRecord:
    """A block with its answers; `ended_at`, `result` and `method` are None together while it has not ended."""

    plan: BlockPlan
    trials: tuple[Trial, ...]
    result: BlockResult | None
    ended_at: datetime | None
    method: int | None


@dataclass(frozen=True, slots=True)
class BenchRecord:
    """A rehearsal at the bench with its acts; `ended_at` and `result` are None together while it goes on."""

    plan: BenchPlan
    acts: tuple[BenchAct, ...]
    result: BenchResult | None
    ended_at: datetime | None


@dataclass(frozen=True, slots=True)
class End:
    """The last record: how many came before it, so that a file cut short is known by it."""

    listeners: int
    blocks: int
    trials: int
    rehearsals: int


Kept = ListenerRecord | BlockRecord | BenchRecord
"""What is kept: everything between header and end."""

Record = Header | Kept | End


def instant_text(instant: datetime) -> str:
    """Write an instant, as in 2026-03-01T18:04:05.000000+00:00: always UTC, always microseconds."""
    return instant.astimezone(UTC).isoformat(timespec="microseconds")


def plain(record: Record) -> dict[str, Any]:
    """Return a record as plain data in the format's order of keys."""
    match record:
        case Header():
            return {
                "record": "header",
                "format": FORMAT,
                "version": record.version,
                "written_by": record.written_by,
                "names": record.names,
            }
        case ListenerRecord(listener=listener):
            return {
                "record": "listener",
                "id": listener.id,
                "name": listener.name,
                "scale_mm": listener.scale_mm,
                "instrument": listener.instrument,
                "note": listener.note,
                "edition": record.edition,
                "merged_ids": list(record.merged_ids),
            }
        case BlockRecord():
            return _plain_block(record)
        case BenchRecord():
            return _plain_bench(record)
        case End():
            return {
                "record": "end",
                "listeners": record.listeners,
                "blocks": record.blocks,
                "trials": record.trials,
                "rehearsals": record.rehearsals,
            }


def _plain_block(record: BlockRecord) -> dict[str, Any]:
    plan, result = record.plan, record.result
    condition = plan.condition
    return {
        "record": "block",
        "id": plan.id,
        "listener_id": plan.listener_id,
        "instrument": condition.instrument,
        "string": condition.string,
        "muted": condition.muted,
        "likeness": condition.likeness,
        "order": condition.order,
        "voice": condition.voice,
        "rule": plan.rule,
        "trials": plan.trials,
        "assess": plan.assess,
        "seed": plan.seed,
        "scale_mm": plan.scale_mm,
        "player": plan.player,
        "started_at": instant_text(plan.started_at),
        "warm_up": plan.warm_up,
        "until_octaves": plan.until_octaves,
        "prior_threshold_cents": plan.prior_threshold_cents,
        "prior_sd_octaves": plan.prior_sd_octaves,
        "take_sha256": plan.take_sha256,
        "take_error_cents": plan.take_error_cents,
        "given_cents": list(plan.given_cents),
        "string_length_mm": plan.string_length_mm,
        "octave_hz": plan.octave_hz,
        "ended_at": None if record.ended_at is None else instant_text(record.ended_at),
        "method": record.method,
        "result": None if result is None else {key: getattr(result, key) for key in RESULT_KEYS},
        "answers": [
            {
                "n": trial.n,
                "offset_cents": trial.offset_cents,
                "first": trial.first,
                "answer": trial.answer,
                "answered_at": instant_text(trial.answered_at),
                "replays": trial.replays,
                "scored": trial.scored,
            }
            for trial in record.trials
        ],
    }


def _plain_bench(record: BenchRecord) -> dict[str, Any]:
    plan, result = record.plan, record.result
    reckoning: dict[str, Any] | None = None
    if result is not None:
        reckoning = asdict(result)
        for key in BY_STRING:
            reckoning[key] = {str(string): value for string, value in sorted(reckoning[key].items())}
        for key in ("judgements", "order", "shares"):
            reckoning[key] = list(reckoning[key])
    return {
        "record": "rehearsal",
        "id": plan.id,
        "listener_id": plan.listener_id,
        "instrument": plan.instrument,
        "bridge": plan.bridge,
        "difficulty": plan.difficulty,
        "guided": plan.guided,
        "seed": plan.seed,
        "scale_mm": plan.scale_mm,
        "player": plan.player,
        "started_at": instant_text(plan.started_at),
        "ended_at": None if record.ended_at is None else instant_text(record.ended_at),
        "acts": [{"n": act.n, "words": act.words, "at": instant_text(act.at)} for act in record.acts],
        "reckoning": reckoning,
    }
