"""Listeners who are called alike: each asks for a name (the claim), and is shown by one that nobody else has.

What is shown follows from ids and claims alone, so that stores which hold the same listeners call them the same.
Imports model and below.
"""

from __future__ import annotations

from itertools import chain, count
from typing import TYPE_CHECKING

from centwise.model import MAX_NAME_LENGTH
from centwise.store.names import name_key

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator

_ID_DIGITS = 4


def shown_names(claims: dict[str, str]) -> dict[str, str]:
    """Return a name for each id such that no two are the same, by the names asked for alone.

    The first id has the name as asked for; who asks for the same gets some digits of the id behind it.
    """
    shown: dict[str, str] = {}
    taken: set[str] = set()
    for listener_id in sorted(claims):
        key = name_key(claims[listener_id])
        if key not in taken:
            taken.add(key)
            shown[listener_id] = claims[listener_id]
    for listener_id in sorted(claims.keys() - shown.keys()):
        name = next(name for name in _others(claims[listener_id], listener_id) if name_key(name) not in taken)
        taken.add(name_key(name))
        shown[listener_id] = name
    return shown


def _others(claim: str, listener_id: str) -> Iterator[str]:
    digits = (listener_id[:length] for length in range(min(_ID_DIGITS, len(listener_id)), len(listener_id) + 1))
    numbered = (f"{listener_id} {number}" for number in count(2))
    for words in chain(digits, numbered):
        end = f" ({words})"
        yield f"{claim[: MAX_NAME_LENGTH - len(end)]}{end}"


def free_key(listener_id: str) -> str:
    """Return a key that no name has, to stand in until names are settled: a cleaned name has no control character."""
    return f"\x00{listener_id}"


def settle_names(connection: sqlite3.Connection) -> tuple[tuple[str, str], ...]:
    """Give everybody a name of their own, within the caller's transaction.

    Returns:
        The names that changed, each before and after.
    """
    if not connection.execute("SELECT EXISTS (SELECT * FROM listeners WHERE claim IS NOT NULL)").fetchone()[0]:
        return ()
    found = connection.execute("SELECT id, name, name_key, coalesce(claim, name), edition FROM listeners").fetchall()
    shown = shown_names({row[0]: row[3] for row in found})
    changed = [row for row in sorted(found) if (shown[row[0]], name_key(shown[row[0]])) != (row[1], row[2])]
    for listener_id, *_ in changed:
        connection.execute("UPDATE listeners SET name_key = ? WHERE id = ?", (free_key(listener_id), listener_id))
    for listener_id, _name, _key, claim, edition in changed:
        new = shown[listener_id]
        connection.execute(
            "UPDATE listeners SET name = ?, name_key = ? WHERE id = ?", (new, name_key(new), listener_id)
        )
        stamp(connection, listener_id, edition, claim)
    connection.execute("UPDATE listeners SET claim = NULL WHERE claim = name")
    return tuple((row[1], shown[row[0]]) for row in changed if row[1] != shown[row[0]])


def stamp(connection: sqlite3.Connection, listener_id: str, edition: int, claim: str | None) -> None:
    """Set what a change would have counted: the edition, and the name asked for."""
    connection.execute("UPDATE listeners SET edition = ?, claim = ? WHERE id = ?", (edition, claim, listener_id))
