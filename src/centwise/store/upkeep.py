"""What is kept beside a block so that its trials need not be read again: how many, how long, until when.

Imports nothing of centwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3

LONGEST_PAUSE_S = 60.0
"""More than this between two answers is a rest, not practice (a judgement: a pair with its feedback takes 9 s)."""

_SUMMARISE = f"""
    UPDATE blocks SET answered = found.answered, practised_s = found.practised_s, last_answer_at = found.last_answer_at
    FROM (
        SELECT block_number, count(*) AS answered, max(answered_at) AS last_answer_at,
               sum(min(max(gap_s, 0.0), {LONGEST_PAUSE_S})) AS practised_s
        FROM (
            SELECT block_number, answered_at,
                   86400.0 * (julianday(answered_at) - julianday(
                       lag(answered_at, 1, started_at) OVER (PARTITION BY block_number ORDER BY n)
                   )) AS gap_s
            FROM trials JOIN blocks ON blocks.number = trials.block_number
            WHERE block_number BETWEEN ? AND ?
        )
        GROUP BY block_number
    ) AS found
    WHERE blocks.number = found.block_number
"""  # noqa: S608  a constant of ours


def summarise_blocks(connection: sqlite3.Connection, first_number: int, last_number: int) -> None:
    """Bring the summaries of blocks up to their trials, within the caller's transaction.

    Args:
        connection: of a store.
        first_number: the first block's number in the store.
        last_number: the last one's; the same for one block alone.
    """
    connection.execute(_SUMMARISE, (first_number, last_number))


def stale_summaries(connection: sqlite3.Connection) -> list[int]:
    """Return the numbers of blocks whose summary does not say what their trials say."""
    rows = connection.execute(
        """
        SELECT number FROM blocks
        LEFT JOIN (
            SELECT block_number, count(*) AS answers, max(answered_at) AS last FROM trials GROUP BY block_number
        ) ON block_number = number
        WHERE blocks.answered IS NOT coalesce(answers, 0) OR blocks.last_answer_at IS NOT last
           OR blocks.practised_s < 0 OR (answers IS NULL AND blocks.practised_s <> 0)
        """
    )
    return [int(row[0]) for row in rows.fetchall()]


def mend_summaries(connection: sqlite3.Connection, numbers: list[int]) -> None:
    """Work out the summaries of blocks anew, within the caller's transaction."""
    for number in numbers:
        connection.execute(
            "UPDATE blocks SET answered = 0, practised_s = 0, last_answer_at = NULL WHERE number = ?", (number,)
        )
        summarise_blocks(connection, number, number)
