"""Opening the database: the settings of the connection, the checks, and every trouble told in one sentence.

Imports systems and below.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing, contextmanager, suppress
from time import monotonic, sleep
from typing import TYPE_CHECKING

from centwise.errors import StoreError, reason_of
from centwise.store.copies import FOLDER_NAME, copy_of_all
from centwise.store.migrations import APPLICATION_ID, VERSION, migrate, version_of
from centwise.systems import PRIVATE_FOLDER, keep_private, new_private_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SIDE_ENDS = ("-wal", "-shm")
"""What SQLite's log and its index are called behind the store's own name."""
BUSY_S = 5.0
"""How long a window waits for another's write, which takes milliseconds (our judgement)."""

_LET_GO_S = 0.01
"""The pause before a lock is asked for again that SQLite does not wait for."""

READ_WHOLE_BYTES = 4 << 20
"""A store up to this size is read whole at each start, some 40 ms; of a larger one SQLite looks at the frame alone,
its length too, and `centwise check` at the rest."""

MEND = "close other windows, then type centwise check --mend to bring over what can be read"

_TROUBLES = (
    ("SQLITE_NOTADB", "is not a database and was left as it is", "move it away, or name another folder with --data"),
    ("SQLITE_CORRUPT", "is damaged and was left as it is", MEND),
    ("SQLITE_READONLY", "cannot be written to", "give yourself permission, or name another folder with --data"),
    ("SQLITE_PERM", "cannot be opened", "give yourself permission, or name another folder with --data"),
    ("SQLITE_CANTOPEN", "cannot be opened", "check its permissions, or name another folder with --data"),
    ("SQLITE_BUSY", "is held by another program", "close that one and try again"),
    ("SQLITE_LOCKED", "is held by another program", "close that one and try again"),
    ("SQLITE_FULL", "cannot grow, the disk is full", "make room and try again"),
    ("SQLITE_IOERR", "cannot be read or written", "check the disk it lies on"),
)


class DamagedStoreError(StoreError):
    """A store that is not, or no longer, what SQLite wrote; `salvage` brings over what can be read."""


_DAMAGE = ("SQLITE_NOTADB", "SQLITE_CORRUPT")


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn every error of SQLite into a StoreError that names the file and says what to do."""
    try:
        yield
    except (sqlite3.Error, OverflowError, UnicodeEncodeError) as error:
        name = getattr(error, "sqlite_errorname", None) or ""
        for start, what, to_do in _TROUBLES:
            if name.startswith(start):
                kind = DamagedStoreError if start in _DAMAGE else StoreError
                raise kind(f"the store {path} {what}", to_do) from error
        raise StoreError(f"the store {path} refused this ({error})", "check what was to be kept") from error


def connect(path: Path) -> sqlite3.Connection:
    """Open the store's file, make it when it is missing, and bring it to this program's version.

    A new one is its owner's alone, as is a folder made for it. Before an older one is brought up, a copy of it as it
    was is put into the folder `copies` beside it.

    Write-ahead logging lets one window read while another writes; `synchronous=FULL` puts a transaction on disk before
    its commit returns (SQLite documentation, "PRAGMA synchronous").

    Raises:
        StoreError: it is another program's, newer, damaged, held by somebody or out of reach. It is left as it was.
    """
    try:
        path.parent.mkdir(PRIVATE_FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        reason = reason_of(error)
        raise StoreError(
            f"the folder {path.parent} cannot be made or used ({reason})", "name another with --data"
        ) from error
    with suppress(OSError):  # what is in the way SQLite says
        new_private_file(path)
    with told(path):
        connection = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
        try:
            # One state of it: another window may be making it just now.
            connection.execute("BEGIN")
            _check(connection, path)
            connection.execute("COMMIT")
            # Names are in all of these. SQLite gives its log the rights of the store.
            for name in (path.name, *(f"{path.name}{end}" for end in SIDE_ENDS), FOLDER_NAME):
                keep_private(path.with_name(name))
            _log_ahead(connection)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            # Who is removed is overwritten, not only unlinked.
            connection.execute("PRAGMA secure_delete = ON")
            if 0 < (version := version_of(connection)) < VERSION:
                copy_of_all(connection, path, f"version-{version}")
            migrate(connection)
            check_writable(connection)
        except BaseException:
            connection.close()
            raise
    return connection


def _log_ahead(connection: sqlite3.Connection) -> None:
    # Of two windows that make a store at once, the second is refused its kind of log without the wait that SQLite
    # grants for a write, since the two could wait for each other; so we let go, and ask again for as long.
    until_s = monotonic() + BUSY_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if not error.sqlite_errorname.startswith("SQLITE_BUSY") or monotonic() > until_s:
                raise
            sleep(_LET_GO_S)
        else:
            return


def _check(connection: sqlite3.Connection, path: Path) -> None:
    version = version_of(connection)
    if version > VERSION:
        raise StoreError(
            f"the store {path} was written by a newer centwise (store version {version}, this one knows {VERSION})",
            "update centwise, or name another folder with --data",
        )
    verdict = "ok"
    if path.stat().st_size <= READ_WHOLE_BYTES:
        with closing(connection.execute("PRAGMA quick_check(1)")) as cursor:
            verdict = cursor.fetchone()[0]
    if verdict != "ok":
        raise DamagedStoreError(
            f"the store {path} is damaged ({str(verdict).splitlines()[-1]}) and was left as it is", MEND
        )
    application = connection.execute("PRAGMA application_id").fetchone()[0]
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if application != APPLICATION_ID and (version or tables):
        raise StoreError(
            f"the store {path} belongs to another program and was left as it is",
            "move it away, or name another folder with --data",
        )


def check_writable(connection: sqlite3.Connection) -> None:
    """Try to write: a file without write permission opens and reads well, and would fail at the first answer.

    Raises:
        sqlite3.Error: it cannot be written to.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    finally:
        connection.execute("ROLLBACK")
