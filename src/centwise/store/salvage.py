"""A damaged store brought over into a new one: set aside whole, then read row by row as far as it can be read.

Nothing of the damaged files is written to: they are copied aside byte for byte, and another copy is read. SQLite fails
at a broken page and at every row on it, so a table is read from its beginning up to the first failure, from its end
down to the last, and between them row by row. Imports systems and below.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import tempfile
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from centwise.errors import StoreError
from centwise.store.belongings import DERIVED
from centwise.store.copies import new_folder
from centwise.store.migrations import migrate
from centwise.store.opening import BUSY_S, SIDE_ENDS
from centwise.systems import PRIVATE_FILE, new_private_file, sqlite_uri

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    Row = tuple[Any, ...]

MOST_PROBES = 200_000
"""Rows looked for one by one between the first and the last broken page of a table; a probe takes microseconds."""
MOST_MISSED = 500
"""So many numbers running that cannot be read below one owner, such as the pairs of a block, are taken for its end."""


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What became of a damaged store.

    Attributes:
        aside: folder that holds it as it was.
        rows: how many rows of each table were brought over.
    """

    aside: Path
    rows: Mapping[str, int]

    @property
    def sentence(self) -> str:
        """What the user is told."""
        listeners, answers = self.rows.get("listeners", 0), self.rows.get("trials", 0)
        what = (
            f"{listeners} {'listener' if listeners == 1 else 'listeners'} and {answers} answers were brought over"
            if listeners
            else "nothing in it could be read, so a new one was begun"
        )
        return f"the store was damaged: it was set aside as it was in {self.aside}, and {what}."


def salvage(path: Path) -> Salvaged:
    """Set a damaged store aside and put a new one in its place, with all that can still be read.

    Args:
        path: the store's file.

    Raises:
        StoreError: another window has it open, it cannot be set aside, or no new one can be written; then it stands
            where it stood.
    """
    aside = new_folder(path, "damaged")
    fresh = path.with_name(f"{path.name}.new")
    try:
        for end in ("", *SIDE_ENDS):
            if (part := path.with_name(path.name + end)).exists():
                shutil.copy(part, aside / part.name)
        _check_alone(path)
        with tempfile.TemporaryDirectory(dir=path.parent, prefix="salvage-") as name:
            for part in aside.iterdir():
                shutil.copyfile(part, Path(name) / part.name)
            fresh.unlink(missing_ok=True)
            new_private_file(fresh)
            rows = _brought_over(Path(name) / path.name, fresh)
        # Whom its owner has let read and write it may go on.
        fresh.chmod(stat.S_IMODE(path.stat().st_mode) | PRIVATE_FILE)
        # The old log must be gone before the new file stands in its place: SQLite would play it into that one.
        for end in SIDE_ENDS:
            path.with_name(path.name + end).unlink(missing_ok=True)
        os.replace(fresh, path)  # noqa: PTH105  the one call that replaces at once on every platform
    except StoreError:
        shutil.rmtree(aside, ignore_errors=True)
        raise
    except (OSError, sqlite3.Error) as error:
        fresh.unlink(missing_ok=True)
        for end in SIDE_ENDS:
            part, place = aside / f"{path.name}{end}", path.with_name(f"{path.name}{end}")
            if part.exists() and not place.exists():
                with suppress(OSError):
                    shutil.copy(part, place)
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise StoreError(
            f"the store {path} is damaged and no new one could be written beside it ({reason})",
            "make room on the disk, or name another folder with --data",
        ) from error
    return Salvaged(aside, rows)


def _check_alone(path: Path) -> None:
    """Refuse while another window has the store open: it would go on writing into what is set aside.

    Raises:
        StoreError: one has.
    """
    uri = sqlite_uri(path.absolute(), "rw")
    with closing(sqlite3.connect(uri, uri=True, timeout=BUSY_S, isolation_level=None)) as store:
        try:
            # In this mode the file itself is locked, not only its log, and whoever has it open holds it.
            store.execute("PRAGMA locking_mode = EXCLUSIVE")
            store.execute("BEGIN EXCLUSIVE")
        except sqlite3.DatabaseError as error:
            if error.sqlite_errorname.startswith("SQLITE_BUSY"):
                raise StoreError(f"the store {path} is open in another window", "close it and try again") from error
            # Too damaged to be locked is too damaged to be written to.


def _brought_over(damaged: Path, fresh: Path) -> dict[str, int]:
    """Fill a new store with the rows of a damaged one, and return how many there are of each table."""
    with closing(sqlite3.connect(fresh, isolation_level=None)) as into:
        migrate(into)
        into.execute("PRAGMA synchronous = FULL")
        # Owners may be lost before their own; what belongs to nobody is dropped at the end.
        into.execute("PRAGMA foreign_keys = OFF")
        triggers = into.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        tables = [row[0] for row in into.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY rowid")]
        tables = [name for name in tables if not name.startswith("sqlite_") and name not in DERIVED]
        into.execute("BEGIN")
        # What a store does by itself when a row comes in was done when it first came in.
        for name, _ in triggers:
            into.execute(f"DROP TRIGGER {name}")
        try:
            with closing(sqlite3.connect(damaged, isolation_level=None)) as source:
                for table in tables:
                    _copy_table(source, into, table)
        except sqlite3.DatabaseError:
            # Not even its first page says what it is.
            pass
        _drop_orphans(into)
        for _, statement in triggers:
            into.execute(statement)
        into.execute("COMMIT")
        counted = {name: into.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in tables}  # noqa: S608  names of ours
    return {name: int(count) for name, count in counted.items() if count}


def _copy_table(source: sqlite3.Connection, into: sqlite3.Connection, table: str) -> None:
    theirs = {row[1] for row in source.execute(f"PRAGMA table_info({table})")}
    info = into.execute(f"PRAGMA table_info({table})").fetchall()
    columns = [row[1] for row in info if row[1] in theirs]
    key = [row[1] for row in sorted(info, key=lambda row: row[5]) if row[5]]
    if not columns or not set(key) <= theirs:
        return
    insert = f"INSERT OR IGNORE INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"  # noqa: S608
    for row in _readable(source, table, columns, key):
        # A row that the rules of a table refuse is damaged too.
        try:
            into.execute(insert, row)
        except (sqlite3.Error, OverflowError, UnicodeError):
            continue


def _readable(source: sqlite3.Connection, table: str, columns: Sequence[str], key: Sequence[str]) -> Iterator[Row]:
    """Yield all rows of a table that can be read, each at least once."""
    select = f"SELECT {', '.join(columns)} FROM {table}"  # noqa: S608  names of ours
    places = [columns.index(name) for name in key]
    forward = _Run(source, f"{select} ORDER BY {', '.join(key)}", places)
    yield from forward
    if forward.whole:
        return
    backward = _Run(source, f"{select} ORDER BY {', '.join(f'{name} DESC' for name in key)}", places)
    yield from backward
    low, high = forward.last, backward.last
    if low is None or high is None or not isinstance(low[0], int) or not isinstance(high[0], int):
        # Where not even an end can be read its root is broken; and texts cannot be counted through.
        return
    yield from _between(source, select, key, places, (low[0], high[0]))


def _between(
    source: sqlite3.Connection, select: str, key: Sequence[str], places: Sequence[int], ends: tuple[int, int]
) -> Iterator[Row]:
    """Yield what can be read between two numbers of the key's first column, one number after the other."""
    probes = 0
    for number in range(ends[0], ends[1] + 1):
        rows = _Run(source, f"{select} WHERE {key[0]} = ? ORDER BY {', '.join(key)}", places, (number,))
        yield from rows
        probes += 1
        inner, missed = 0, 0
        while not rows.whole and len(key) > 1 and missed < MOST_MISSED and probes < MOST_PROBES:
            inner += 1
            probes += 1
            row = _Run(source, f"{select} WHERE {key[0]} = ? AND {key[1]} = ?", places, (number, inner))
            before = row.last
            yield from row
            missed = missed + 1 if row.last is before else 0
        if probes >= MOST_PROBES:
            return


class _Run:
    """The rows of one statement up to the first that cannot be read.

    Attributes:
        whole: whether it came to its end; known once it has been gone through.
        last: key of the last row that could be read, None when there was none.
    """

    def __init__(
        self, source: sqlite3.Connection, statement: str, key: Sequence[int], values: Sequence[Any] = ()
    ) -> None:
        self._source, self._statement, self._key, self._values = source, statement, key, values
        self.whole = False
        self.last: Row | None = None

    def __iter__(self) -> Iterator[Row]:
        try:
            for row in self._source.execute(self._statement, self._values):
                self.last = tuple(row[place] for place in self._key)
                yield row
            self.whole = True
        except (sqlite3.Error, OverflowError, UnicodeError):
            return


def _drop_orphans(into: sqlite3.Connection) -> None:
    """Remove what belongs to a row that is not there, until nothing does."""
    # As deep as owners of owners go, and no deeper: this must end whatever the rows are.
    for _ in range(8):
        orphans = into.execute("PRAGMA foreign_key_check").fetchall()
        for table, parent in {(row[0], row[2]) for row in orphans}:
            for key in into.execute(f"PRAGMA foreign_key_list({table})").fetchall():
                if key[2] == parent:
                    into.execute(
                        f"DELETE FROM {table} WHERE {key[3]} NOT IN (SELECT {key[4] or 'id'} FROM {parent})"  # noqa: S608
                    )
