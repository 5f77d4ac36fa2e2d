"""One row an answer, for spreadsheets and statistics; what a spreadsheet would take for a formula is made plain.

Imports ports and below.
"""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from typing import TextIO

    from centwise.model import Listener
    from centwise.ports import StoredBlock

COLUMNS = (
    "listener",
    "listener_id",
    "block_id",
    "block_started_at",
    "instrument",
    "string",
    "order",
    "voice",
    "muted",
    "likeness",
    "assess",
    "rule",
    "player",
    "scale_mm",
    "n",
    "scored",
    "first",
    "offset_cents",
    "truth",
    "answer",
    "correct",
    "replays",
    "answered_at",
)
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What makes a cell a formula in the usual spreadsheets (OWASP, "CSV Injection"), the last four in full width."""


def plain_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: an apostrophe goes before what begins like one."""
    return f"'{text}" if text.lstrip().startswith(_FORMULA_STARTS) or text.startswith(_FORMULA_STARTS) else text


def answer_cells(listener: Listener, blocks: Iterable[StoredBlock]) -> Iterator[tuple[Any, ...]]:
    """Give a row of COLUMNS for each answer, in order."""
    for block in blocks:
        plan = block.plan
        condition = plan.condition
        of_block = (
            plain_cell(listener.name),
            listener.id,
            plan.id,
            plan.started_at.isoformat(timespec="seconds"),
            condition.instrument,
            condition.string,
            condition.order,
            condition.voice,
            int(condition.muted),
            condition.likeness,
            int(plan.assess),
            plan.rule,
            plain_cell(plan.player),
            round(plan.scale_mm, 4),
        )
        for trial in block.trials:
            yield (
                *of_block,
                trial.n,
                int(trial.scored),
                trial.first,
                round(trial.offset_cents, 6),
                trial.truth,
                trial.answer,
                int(trial.correct),
                trial.replays,
                trial.answered_at.isoformat(timespec="milliseconds"),
            )


def write_answers(out: TextIO, rows: Iterable[tuple[Any, ...]]) -> int:
    """Write a header and the rows as CSV (RFC 4180), and return how many rows."""
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    count = 0
    for row in rows:
        writer.writerow(row)
        count += 1
    return count
