"""All that belongs to a listener, whatever tables there are: counted, copied, given to another, removed.

The tables are found by their foreign keys, so a table that a later migration adds belongs to its listener by saying so.
Imports nothing of centwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3

MERGED = "merged_listeners"
DERIVED = frozenset({"class_rows"})
"""Worked out from the rest: never counted or copied, and gone with its listener by itself (ON DELETE CASCADE)."""


def owned(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    """Return each table that holds something of a listener with the condition that finds it, owners before the owned.

    The condition has one parameter, the listener's id.
    """
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY rowid").fetchall()
    rows = [row for row in rows if row[0] not in DERIVED]
    keys = {row[0]: _references(connection, row[0]) for row in rows}
    found = {"listeners": "id = ?"}
    waiting = ["listeners"]
    while waiting:
        parent = waiting.pop(0)
        for name, references in keys.items():
            for column, target, target_column in references:
                if target == parent and name not in found:
                    inner = f"SELECT {target_column} FROM {parent} WHERE {found[parent]}"  # noqa: S608  names of ours
                    found[name] = f"{column} = ?" if parent == "listeners" else f"{column} IN ({inner})"
                    waiting.append(name)
    return list(found.items())[1:]


def _references(connection: sqlite3.Connection, table: str) -> list[tuple[str, str, str]]:
    rows = connection.execute(f"PRAGMA foreign_key_list({table})").fetchall()
    return [(row[3], row[2], row[4] or "id") for row in rows]


def counts(connection: sqlite3.Connection, listener_id: str) -> dict[str, int]:
    """Return how many rows of each table belong to a listener, without tables that hold none of theirs."""
    found = {
        table: connection.execute(f"SELECT count(*) FROM {table} WHERE {where}", (listener_id,)).fetchone()[0]  # noqa: S608  names of ours
        for table, where in owned(connection)
        if table != MERGED
    }
    return {table: count for table, count in found.items() if count}


def copy(connection: sqlite3.Connection, listener_id: str, into: sqlite3.Connection) -> None:
    """Copy a listener and all that is theirs into another store of the same version, which has nothing of them yet."""
    for table, where in [("listeners", "id = ?"), *owned(connection)]:
        rows = connection.execute(f"SELECT * FROM {table} WHERE {where}", (listener_id,))  # noqa: S608  names of ours
        marks = ", ".join("?" * len(rows.description))
        into.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)  # noqa: S608  names of ours


def remove(connection: sqlite3.Connection, listener_id: str) -> None:
    """Remove a listener and all that is theirs."""
    for table, where in [*reversed(owned(connection)), ("listeners", "id = ?")]:
        connection.execute(f"DELETE FROM {table} WHERE {where}", (listener_id,))  # noqa: S608  names of ours


def give(connection: sqlite3.Connection, from_id: str, into_id: str) -> None:
    """Give all that is one listener's to another, and remember that the first one's id now means the second."""
    for table, where in owned(connection):
        if where.endswith(" = ?"):
            column = where.removesuffix(" = ?")
            connection.execute(f"UPDATE {table} SET {column} = ? WHERE {where}", (into_id, from_id))  # noqa: S608
    connection.execute(f"INSERT INTO {MERGED} (id, listener_id) VALUES (?, ?)", (from_id, into_id))  # noqa: S608
    connection.execute("DELETE FROM listeners WHERE id = ?", (from_id,))
