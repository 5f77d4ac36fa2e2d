"""Rows of the class view in the store: what was worked out of a listener, good until their blocks change.

Imports ports and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.model import HISTORY_METHOD
from centwise.store import rows
from centwise.store.people import LAST_THEN_BY_NAME

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from centwise.ports import KeptRow

_WAYS = 1000
"""HISTORY_METHOD stays below this."""


def read(connection: sqlite3.Connection) -> tuple[KeptRow, ...]:
    """Return all listeners with their rows, the one used last first, then by name."""
    # A row is good for these very blocks, told in this very way.
    revision = f"listeners.revision * {_WAYS} + {HISTORY_METHOD}"
    whose = ", ".join((*(f"listeners.{column}" for column in rows.LISTENER_COLUMNS.split(", ")), revision))
    columns = ", ".join(f"class_rows.{column}" for column in rows.CLASS_COLUMNS)
    found = connection.execute(
        f"SELECT {whose}, {columns} FROM listeners"  # noqa: S608  constants only
        f" LEFT JOIN class_rows ON class_rows.listener_id = id AND class_rows.revision = {revision}"
        f" {LAST_THEN_BY_NAME}"
    )
    return tuple(map(rows.kept_row_of, found))


def keep(connection: sqlite3.Connection, kept: Sequence[KeptRow]) -> None:
    """Keep rows that were worked out; of listeners who have gone meanwhile nothing is kept."""
    columns = ("listener_id", "revision", *rows.CLASS_COLUMNS)
    connection.executemany(
        f"INSERT OR REPLACE INTO class_rows ({', '.join(columns)})"  # noqa: S608  constants only
        f" SELECT {rows.marks(columns)} WHERE EXISTS (SELECT * FROM listeners WHERE id = ?)",
        [(*row, row[0]) for row in map(rows.class_row, kept)],
    )
