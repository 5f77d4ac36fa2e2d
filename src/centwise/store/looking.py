"""A store looked at without changing it: whether it is whole, and what is in it. Imports model and below."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.errors import StoreError, reason_of
from centwise.model import ESTIMATE_METHOD
from centwise.store.migrations import APPLICATION_ID, VERSION, version_of
from centwise.store.opening import BUSY_S, MEND, DamagedStoreError, check_writable, told
from centwise.store.upkeep import stale_summaries
from centwise.systems import sqlite_uri

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class StoreLook:
    """What a store holds.

    Attributes:
        version: of its schema.
        listeners: how many.
        blocks: how many.
        answers: how many.
        bytes_held: size of its file, without what is still in its log.
        stale_summaries: blocks whose summary does not say what their answers say; there should be none.
        outdated_results: results of an earlier version of the estimate.
    """

    version: int
    listeners: int
    blocks: int
    answers: int
    bytes_held: int
    stale_summaries: int = 0
    outdated_results: int = 0


def look_at_store(path: Path) -> StoreLook | None:
    """Check a whole store: every page, index and reference (PRAGMA integrity_check and foreign_key_check), and writing.

    Returns:
        What is in it, or None when there is no file, or an empty one.

    Raises:
        StoreError: it is damaged, another program's, newer than this program, held by somebody or out of reach.
    """
    try:
        if not path.exists() or path.stat().st_size == 0:
            return None
    except OSError as error:
        raise StoreError(f"the store {path} cannot be read ({reason_of(error)})", "check its permissions") from error
    with told(path), closing(sqlite3.connect(sqlite_uri(path.absolute(), "rw"), uri=True, timeout=BUSY_S)) as store:
        store.isolation_level = None
        # One state of it: another window may be making it, or be at work in it.
        store.execute("BEGIN")
        look = _look(store, path)
        store.execute("COMMIT")
        if look is not None:
            check_writable(store)
        return look


def _look(store: sqlite3.Connection, path: Path) -> StoreLook | None:
    version = version_of(store)
    troubles = [str(row[0]) for row in store.execute("PRAGMA integrity_check(3)") if row[0] != "ok"]
    troubles += [f"a row of {row[0]} belongs to nothing" for row in store.execute("PRAGMA foreign_key_check")][:3]
    if troubles:
        raise DamagedStoreError(f"the store {path} is damaged ({' '.join(troubles[0].split())})", MEND)
    tables = store.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if store.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        if not (version or tables):
            return None
        raise StoreError(f"the store {path} belongs to another program", "name another folder with --data")
    if version > VERSION:
        raise StoreError(f"the store {path} was written by a newer centwise", "update centwise")
    listeners, blocks, answers = (
        int(store.execute(f"SELECT count(*) FROM {table}").fetchone()[0])  # noqa: S608  constants only
        for table in ("listeners", "blocks", "trials")
    )
    stale = outdated = 0
    if version == VERSION:
        stale = len(stale_summaries(store))
        outdated = int(store.execute("SELECT count(*) FROM blocks WHERE method < ?", (ESTIMATE_METHOD,)).fetchone()[0])
    return StoreLook(version, listeners, blocks, answers, path.stat().st_size, stale, outdated)
