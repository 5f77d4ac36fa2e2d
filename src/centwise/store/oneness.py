"""Listeners who are one: of their ids, which one stands for all.

Kept is only what grows: which ids are one, which of them somebody has merged into another ("gone"), and the latest
details of each that came as a listener. Who stays follows from these alone, so the order in which files came does not
matter, chains and contradictions between stores included. Imports exchange and below.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from centwise.exchange.records import ListenerRecord, plain
from centwise.model import Listener

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable


def note_merged(connection: sqlite3.Connection, listener_id: str) -> None:
    """Note that somebody merged this id into another, if it is known here."""
    connection.execute("UPDATE listeners SET gone = 1 WHERE id = ?", (listener_id,))
    connection.execute("UPDATE merged_listeners SET gone = 1 WHERE id = ?", (listener_id,))


def who_stays(connection: sqlite3.Connection, listener_ids: Iterable[str]) -> str:
    """Return the id that stands for these listeners and all that were merged into them.

    The lowest that nobody merged into another; where each was merged somewhere, the lowest. Only ids whose details are
    known count.

    Args:
        connection: of a store.
        listener_ids: listeners here, at least one.
    """
    found: list[tuple[int, str]] = []
    for one in listener_ids:
        found += connection.execute(
            "SELECT gone, id FROM listeners WHERE id = :id UNION ALL"
            " SELECT gone, id FROM merged_listeners WHERE listener_id = :id AND details IS NOT NULL",
            {"id": one},
        )
    return min(found)[1]


def remember(connection: sqlite3.Connection, merged_id: str, into_id: str) -> None:
    """Remember that an id, of which nothing else is known, means a listener here."""
    connection.execute("INSERT INTO merged_listeners (id, listener_id) VALUES (?, ?)", (merged_id, into_id))


def details_of(connection: sqlite3.Connection, merged_id: str) -> ListenerRecord | None:
    """Return the details of who was merged into another; None where they are not known."""
    (text,) = connection.execute("SELECT details FROM merged_listeners WHERE id = ?", (merged_id,)).fetchone()
    if text is None:
        return None
    data = json.loads(text)
    listener = Listener(data["id"], data["name"], data["scale_mm"], instrument=data["instrument"], note=data["note"])
    return ListenerRecord(listener, data["edition"])


def keep_details(connection: sqlite3.Connection, record: ListenerRecord, *, gone: int | None = None) -> None:
    """Keep the details of who was merged into another, and whether somebody did that or it only came of it."""
    text = json.dumps(plain(ListenerRecord(record.listener, record.edition)))
    connection.execute(
        "UPDATE merged_listeners SET details = ?, gone = coalesce(?, gone) WHERE id = ?",
        (text, gone, record.listener.id),
    )


def forget(connection: sqlite3.Connection, merged_id: str) -> int:
    """Forget that an id means another, and return whether somebody merged it (1) or not (0)."""
    (gone,) = connection.execute("SELECT gone FROM merged_listeners WHERE id = ?", (merged_id,)).fetchone()
    connection.execute("DELETE FROM merged_listeners WHERE id = ?", (merged_id,))
    return int(gone)


def settle(connection: sqlite3.Connection, listener_id: str) -> None:
    """Let a merge made here decide: this listener stays, and all who are one with them are merged into them."""
    connection.execute("UPDATE listeners SET gone = 0 WHERE id = ?", (listener_id,))
    connection.execute("UPDATE merged_listeners SET gone = 1, details = NULL WHERE listener_id = ?", (listener_id,))
