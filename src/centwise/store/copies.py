"""Copies that are taken before something goes: each a folder with a store of its own, which `--data` opens.

Imports systems and below.
"""

from __future__ import annotations

import itertools
import shutil
import sqlite3
from contextlib import closing, contextmanager, suppress
from typing import TYPE_CHECKING

from centwise.errors import StoreError, reason_of
from centwise.store.belongings import copy
from centwise.store.migrations import migrate
from centwise.systems import PRIVATE_FOLDER, new_private_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FOLDER_NAME = "copies"


def new_folder(store: Path, reason: str) -> Path:
    """Make and return a folder beside the store that does not exist yet: `copies/removed-1`. It is its owner's alone.

    Raises:
        StoreError: it cannot be made.
    """
    base = store.parent / FOLDER_NAME
    try:
        base.mkdir(PRIVATE_FOLDER, exist_ok=True)
        for number in itertools.count(1):
            folder = base / f"{reason}-{number}"
            # Another window may take the same number at the same moment.
            with suppress(FileExistsError):
                folder.mkdir(PRIVATE_FOLDER)
                return folder
    except OSError as error:
        said = reason_of(error)
        raise StoreError(
            f"no copy can be kept in {base} ({said}), so nothing was changed", "give yourself permission there"
        ) from error
    raise AssertionError("numbers do not end")


def copy_of_all(connection: sqlite3.Connection, store: Path, reason: str) -> Path:
    """Copy a whole store and return the copy's folder. On disk when this returns."""
    with _copy_in(store, reason) as (folder, into):
        connection.backup(into)
    return folder


def copy_of_one(connection: sqlite3.Connection, store: Path, reason: str, listener_id: str) -> Path:
    """Copy one listener with all that is theirs into a store of its own, and return its folder. On disk by then."""
    with _copy_in(store, reason) as (folder, into):
        migrate(into)
        into.execute("PRAGMA synchronous = FULL")
        into.execute("BEGIN")
        copy(connection, listener_id, into)
        into.execute("COMMIT")
    return folder


@contextmanager
def _copy_in(store: Path, reason: str) -> Iterator[tuple[Path, sqlite3.Connection]]:
    """Give a new folder and a connection to the empty store in it; both go again where the copy fails."""
    folder = new_folder(store, reason)
    try:
        with suppress(OSError):  # what is in the way SQLite says
            new_private_file(folder / store.name)
        with closing(sqlite3.connect(folder / store.name, isolation_level=None)) as into:
            yield folder, into
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
