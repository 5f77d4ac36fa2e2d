"""Blocks in the store: plans, answers, results and what is kept beside them, within the caller's transaction.

Imports ports and below.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from centwise.errors import ElsewhereError, StoreError
from centwise.model import ESTIMATE_METHOD
from centwise.ports import StoredBlock
from centwise.store import people, rows
from centwise.store.upkeep import summarise_blocks

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from centwise.model import BlockPlan, BlockResult, Condition, Trial
    from centwise.ports import BlockOutline, BlockSummary

OLDEST_FIRST = "ORDER BY started_at, number"
"""Of blocks and of rehearsals alike."""
TO_DO = "go on there, or close it and go on here"


def begin(connection: sqlite3.Connection, plan: BlockPlan) -> None:
    """Keep a block's plan; its listener becomes the one used last.

    Raises:
        StoreError: there is no such listener any more.
    """
    plan = replace(plan, listener_id=people.there(connection, plan.listener_id))
    columns, marks = ", ".join(rows.PLAN_COLUMNS), rows.marks(rows.PLAN_COLUMNS)
    connection.execute(f"INSERT INTO blocks ({columns}) VALUES ({marks})", rows.plan_row(plan))  # noqa: S608
    people.used_now(connection, plan.listener_id)


def add_trial(connection: sqlite3.Connection, path: Path, block_id: str, trial: Trial) -> None:
    """Keep one answer of a block that has not ended; each number once.

    Raises:
        ElsewhereError: another window ended the block, or has an answer of that number.
        StoreError: there is no such block.
    """
    number = _open_block(connection, path, block_id)
    if connection.execute("SELECT 1 FROM trials WHERE block_number = ? AND n = ?", (number, trial.n)).fetchone():
        raise ElsewhereError(f"pair {trial.n} of this block was answered in another window", TO_DO)
    connection.execute(
        f"INSERT INTO trials (block_number, {', '.join(rows.TRIAL_COLUMNS)})"  # noqa: S608  constants only
        f" VALUES (?, {rows.marks(rows.TRIAL_COLUMNS)})",
        (number, *rows.trial_row(trial)),
    )
    summarise_blocks(connection, number, number)


def end(
    connection: sqlite3.Connection,
    path: Path,
    block_id: str,
    result: BlockResult,
    ended_at: datetime,
    answers: int | None = None,
) -> None:
    """Keep the result of a block that has not ended; `answers` says from how many it was worked out.

    Raises:
        ElsewhereError: another window ended the block, or gave it other answers.
        StoreError: there is no such block.
    """
    changes = ", ".join(f"{column} = ?" for column in ("ended_at", "method", *rows.RESULT_COLUMNS))
    number = _open_block(connection, path, block_id)
    kept = connection.execute("SELECT count(*) FROM trials WHERE block_number = ?", (number,)).fetchone()[0]
    if answers is not None and answers != kept:
        raise ElsewhereError("this block was gone on with in another window", TO_DO)
    connection.execute(
        f"UPDATE blocks SET {changes} WHERE number = ?",  # noqa: S608  constants only
        (rows.instant_text(ended_at), ESTIMATE_METHOD, *rows.result_row(result), number),
    )


def replace_result(connection: sqlite3.Connection, path: Path, block_id: str, result: BlockResult) -> None:
    """Put this method's result in place of an earlier one's.

    Raises:
        StoreError: there is no such block, or it has not ended.
    """
    changes = ", ".join(f"{column} = ?" for column in ("method", *rows.RESULT_COLUMNS))
    changed = connection.execute(
        f"UPDATE blocks SET {changes} WHERE id = ? AND ended_at IS NOT NULL",  # noqa: S608  constants only
        (ESTIMATE_METHOD, *rows.result_row(result), block_id),
    ).rowcount
    if not changed:
        raise StoreError(f"{path} knows no ended block {block_id!r}", "look at centwise check")


def outdated(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Return the ids of the blocks whose result came from an earlier method."""
    found = connection.execute("SELECT id FROM blocks WHERE method < ? ORDER BY number", (ESTIMATE_METHOD,))
    return tuple(str(row[0]) for row in found)


def read(connection: sqlite3.Connection, clause: str, values: Sequence[Any]) -> tuple[StoredBlock, ...]:
    """Return the blocks that a clause of ours finds, each with its answers."""
    columns = ", ".join((*rows.PLAN_COLUMNS, *rows.RESULT_COLUMNS, "number"))
    found = connection.execute(f"SELECT {columns} FROM blocks {clause}", tuple(values)).fetchall()  # noqa: S608
    split = len(rows.PLAN_COLUMNS)
    return tuple(
        StoredBlock(
            plan=rows.plan_of(row[:split]),
            trials=tuple(
                map(
                    rows.trial_of,
                    connection.execute(
                        f"SELECT {', '.join(rows.TRIAL_COLUMNS)} FROM trials"  # noqa: S608  constants only
                        " WHERE block_number = ? ORDER BY n",
                        (row[-1],),
                    ),
                )
            ),
            result=rows.result_of(row[split:-1]),
        )
        for row in found
    )


def of_listener(
    connection: sqlite3.Connection, listener_id: str, condition: Condition | None
) -> tuple[StoredBlock, ...]:
    """Return a listener's blocks, oldest first, of one condition or of all."""
    where, values = "listener_id = ?", (listener_id,)
    if condition is not None:
        where += "".join(f" AND {column} = ?" for column in rows.CONDITION_COLUMNS)
        values += rows.condition_row(condition)
    return read(connection, f"WHERE {where} {OLDEST_FIRST}", values)


def summaries(connection: sqlite3.Connection, listener_id: str | None) -> tuple[BlockSummary, ...]:
    """Return the blocks of one listener, oldest first, or of all, each listener's together; no answer is read."""
    columns = (*rows.PLAN_COLUMNS, *rows.RESULT_COLUMNS, *rows.SUMMARY_COLUMNS)
    return tuple(map(rows.summary_of, _rows(connection, columns, listener_id)))


def outlines(connection: sqlite3.Connection, listener_id: str | None) -> tuple[BlockOutline, ...]:
    """Return the same blocks in the same order, with what the class view needs of each."""
    return tuple(map(rows.outline_of, _rows(connection, rows.OUTLINE_COLUMNS, listener_id)))


def _rows(connection: sqlite3.Connection, columns: Sequence[str], listener_id: str | None) -> sqlite3.Cursor:
    where, values = ("", ()) if listener_id is None else ("WHERE listener_id = ?", (listener_id,))
    return connection.execute(
        f"SELECT {', '.join(columns)} FROM blocks {where} ORDER BY listener_id, started_at, number",  # noqa: S608
        values,
    )


def _open_block(connection: sqlite3.Connection, path: Path, block_id: str) -> int:
    row = connection.execute("SELECT number, ended_at FROM blocks WHERE id = ?", (block_id,)).fetchone()
    if row is None:
        raise StoreError(f"this block is not in {path}, or no more since its listener was removed", "begin a new one")
    if row[1] is not None:
        raise ElsewhereError("this block has ended in another window", "begin a new one")
    return int(row[0])
