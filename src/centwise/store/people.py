"""Listeners in the store: found, added, changed, merged and removed, within the caller's transaction.

Imports ports and below.
"""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from typing import TYPE_CHECKING

from centwise.errors import ElsewhereError, StoreError, UsageError
from centwise.ports import Holdings
from centwise.store import belongings, copies, rows
from centwise.store.alike import settle_names
from centwise.store.names import cleaned_name, cleaned_note, name_key

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.model import Listener

LAST_THEN_BY_NAME = (
    "ORDER BY last_used IS NOT (SELECT max(last_used) FROM listeners) OR last_used IS NULL, name_key, id"
)
"""The listener used last first, then by name."""


def everybody(connection: sqlite3.Connection) -> tuple[Listener, ...]:
    """Return all listeners, the one used last first, then by name."""
    found = connection.execute(f"SELECT {rows.LISTENER_COLUMNS} FROM listeners {LAST_THEN_BY_NAME}")  # noqa: S608
    return tuple(map(rows.listener_of, found))


def named(connection: sqlite3.Connection, name: str) -> Listener | None:
    """Return the listener of that name, upper and lower case alike; None when there is none or it is no name."""
    try:
        key = name_key(cleaned_name(name))
    except UsageError:
        return None
    row = connection.execute(
        f"SELECT {rows.LISTENER_COLUMNS} FROM listeners WHERE name_key = ?",  # noqa: S608  constants only
        (key,),
    ).fetchone()
    return None if row is None else rows.listener_of(row)


def with_id(connection: sqlite3.Connection, listener_id: str) -> Listener | None:
    """Return a listener by id, or the one they were merged into; None when there is none."""
    row = connection.execute(
        f"SELECT {rows.LISTENER_COLUMNS} FROM listeners WHERE id = ?",  # noqa: S608  constants only
        (meant(connection, listener_id),),
    ).fetchone()
    return None if row is None else rows.listener_of(row)


def meant(connection: sqlite3.Connection, listener_id: str) -> str:
    """Return the id of whom an id means, its own where it was merged into nobody's."""
    row = connection.execute("SELECT listener_id FROM merged_listeners WHERE id = ?", (listener_id,)).fetchone()
    return listener_id if row is None else str(row[0])


def there(connection: sqlite3.Connection, listener_id: str) -> str:
    """Return the id of whom an id means, for something new of theirs.

    Raises:
        StoreError: there is nobody of that id any more.
    """
    listener = with_id(connection, listener_id)
    if listener is None:
        raise StoreError("whose this is was removed in another window", "choose who listens, then begin again")
    return listener.id


def known(connection: sqlite3.Connection, path: Path, listener_id: str) -> Listener:
    """Return the listener of that very id.

    Raises:
        StoreError: there is none.
    """
    found = with_id(connection, listener_id)
    if found is None or found.id != listener_id:
        raise StoreError(f"{path} knows no listener {listener_id!r}", "look at centwise listeners")
    return found


def add(connection: sqlite3.Connection, path: Path, listener: Listener) -> None:
    """Keep a new listener, their name and note cleaned.

    Raises:
        UsageError: the name is empty or longer than 200 characters, or the note longer than 2000.
        StoreError: the id or the name is taken.
    """
    name, note = cleaned_name(listener.name), cleaned_note(listener.note)
    if with_id(connection, listener.id) is not None:
        raise StoreError(
            f"the listener {name!r} cannot be added to {path} (the id {listener.id!r} is taken)", "give a new id"
        )
    _check_free(connection, name, listener.id)
    try:
        connection.execute(
            "INSERT INTO listeners (id, name, name_key, scale_mm, instrument, note) VALUES (?, ?, ?, ?, ?, ?)",
            (listener.id, name, name_key(name), float(listener.scale_mm), listener.instrument, note),
        )
    except sqlite3.IntegrityError as error:
        raise StoreError(
            f"the listener {name!r} cannot be added to {path} ({error})", "check the scale length"
        ) from error


def change(connection: sqlite3.Connection, path: Path, listener: Listener, was: Listener | None = None) -> None:
    """Keep a listener's name, scale length, instrument and note anew; the id says whose.

    What is in `listener` as in `was`, which the change was begun from, stays as it is in the store.

    Raises:
        UsageError: the name is empty or longer than 200 characters, or the note longer than 2000.
        StoreError: there is no such listener, or somebody else has the name.
    """
    now = known(connection, path, listener.id)
    if was is not None:
        changed = {field: getattr(listener, field) for field in ("name", "scale_mm", "instrument", "note")}
        listener = replace(now, **{field: new for field, new in changed.items() if new != getattr(was, field)})
    name, note = cleaned_name(listener.name), cleaned_note(listener.note)
    _check_free(connection, name, listener.id)
    try:
        connection.execute(
            "UPDATE listeners SET name = ?, name_key = ?, scale_mm = ?, instrument = ?, note = ? WHERE id = ?",
            (name, name_key(name), float(listener.scale_mm), listener.instrument, note, listener.id),
        )
    except sqlite3.IntegrityError as error:
        raise StoreError(
            f"the listener cannot be kept as {name!r} in {path} ({error})", "check the scale length"
        ) from error
    settle_names(connection)


def _check_free(connection: sqlite3.Connection, name: str, listener_id: str) -> None:
    namesake = named(connection, name)
    if namesake is not None and namesake.id != listener_id:
        raise StoreError(f"there is a listener named {namesake.name!r} already", "choose a name not yet taken")


def set_scale_mm(connection: sqlite3.Connection, path: Path, listener_id: str, scale_mm: float) -> None:
    """Change a listener's scale length, above 0 mm.

    Raises:
        StoreError: there is no such listener.
    """
    changed = connection.execute(
        "UPDATE listeners SET scale_mm = ? WHERE id = ?", (float(scale_mm), listener_id)
    ).rowcount
    if not changed:
        raise StoreError(f"{path} knows no listener {listener_id!r}", "add the listener first")


def used_now(connection: sqlite3.Connection, listener_id: str) -> None:
    """Make a listener the one used last."""
    connection.execute(
        "UPDATE listeners SET last_used = (SELECT coalesce(max(last_used), 0) + 1 FROM listeners) WHERE id = ?",
        (listener_id,),
    )


def holdings(connection: sqlite3.Connection, path: Path, listener_id: str) -> Holdings:
    """Return what the store holds of a listener.

    Raises:
        StoreError: there is none of that very id.
    """
    return Holdings(known(connection, path, listener_id), belongings.counts(connection, listener_id))


def remove(
    connection: sqlite3.Connection, path: Path, listener_id: str, *, keep_copy: bool, told: Holdings | None = None
) -> Path | None:
    """Remove a listener and all that is theirs; the copy, if one is kept, is on disk before anything goes.

    Raises:
        ElsewhereError: the store holds something else of theirs than was `told` before.
        StoreError: there is no such listener, or no copy could be kept.
    """
    held = holdings(connection, path, listener_id)
    if told not in (None, held):
        raise ElsewhereError(
            f"in another window {held.listener.name!r} has changed meanwhile, and nothing was removed",
            "look once more at what would go",
        )
    folder = copies.copy_of_one(connection, path, "removed", listener_id) if keep_copy else None
    belongings.remove(connection, listener_id)
    forget_lesson(connection, listener_id)
    settle_names(connection)
    return folder


def merge(connection: sqlite3.Connection, path: Path, from_id: str, into_id: str) -> Path:
    """Give all that is one listener's to another; the copy of the first is on disk before anything changes.

    Raises:
        StoreError: one of them is not there, or no copy could be kept.
    """
    from centwise.store import oneness  # noqa: PLC0415  start-up path

    goes, stays = known(connection, path, from_id), known(connection, path, into_id)
    folder = copies.copy_of_one(connection, path, "merged", from_id)
    note = "\n".join(dict.fromkeys(note for note in (stays.note, goes.note) if note))
    connection.execute("UPDATE listeners SET note = ? WHERE id = ?", (note, into_id))
    belongings.give(connection, from_id, into_id)
    oneness.settle(connection, into_id)
    forget_lesson(connection, from_id)
    settle_names(connection)
    return folder


def forget_lesson(connection: sqlite3.Connection, listener_id: str) -> None:
    """Forget which lesson a listener follows."""
    connection.execute("DELETE FROM settings WHERE key = ?", (f"lesson {listener_id}",))
