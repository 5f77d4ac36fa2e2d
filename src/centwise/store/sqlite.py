"""The store on SQLite. Each method is one transaction; what it wrote is on disk when it returns."""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager, suppress
from threading import RLock
from typing import TYPE_CHECKING, Any

from centwise.errors import StoreError, UsageError
from centwise.model import ESTIMATE_METHOD, HISTORY_METHOD
from centwise.ports import BlockSummary, Holdings, KeptRow, StoredBench, StoredBlock
from centwise.store import belongings, benches, copies, rows
from centwise.store.alike import settle_names
from centwise.store.names import cleaned_name, cleaned_note, name_key
from centwise.store.opening import connect, told
from centwise.store.upkeep import mend_summaries, stale_summaries, summarise_blocks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from contextlib import AbstractContextManager
    from datetime import datetime
    from pathlib import Path

    from centwise.exchange.records import Kept
    from centwise.model import BenchAct, BenchPlan, BenchResult, BlockPlan, BlockResult, Condition, Listener, Trial
    from centwise.store.transfer import TakenIn

FILE_NAME = "centwise.sqlite3"
_WAYS = 1000
"""HISTORY_METHOD stays below this."""
_LAST_THEN_BY_NAME = (
    "ORDER BY last_used IS NOT (SELECT max(last_used) FROM listeners) OR last_used IS NULL, name_key, id"
)


def _marks(columns: Sequence[str]) -> str:
    return ", ".join("?" * len(columns))


class _Undone(Exception):  # noqa: N818  no error: what was tried is taken back
    """Leaves a transaction that was only tried."""


class SqliteStore:
    """Implements ports.Store. One connection behind a lock, so any thread may call it; made by `open`."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._lock = RLock()
        self._connection: sqlite3.Connection | None = connection

    @classmethod
    def open(cls, folder: Path) -> SqliteStore:
        """Open the store in a folder; the folder and the file are made when missing.

        Raises:
            StoreError: it is damaged, newer than this program, held by somebody or out of reach. It is left as it was.
        """
        path = folder / FILE_NAME
        return cls(path, connect(path))

    def listeners(self) -> Sequence[Listener]:
        """Return all listeners, the one used last first, then by name."""
        with self._reading() as connection:
            found = connection.execute(
                f"SELECT {rows.LISTENER_COLUMNS} FROM listeners {_LAST_THEN_BY_NAME}"  # noqa: S608  constants only
            ).fetchall()
        return tuple(rows.listener_of(row) for row in found)

    def listener_named(self, name: str) -> Listener | None:
        """Return the listener of that name, upper and lower case alike; None when there is none or it is no name."""
        try:
            key = name_key(cleaned_name(name))
        except UsageError:
            return None
        with self._reading() as connection:
            row = connection.execute(
                f"SELECT {rows.LISTENER_COLUMNS} FROM listeners WHERE name_key = ?",  # noqa: S608  constants only
                (key,),
            ).fetchone()
        return None if row is None else rows.listener_of(row)

    def add_listener(self, listener: Listener) -> None:
        """Keep a new listener, its name cleaned of control characters and outer space.

        Raises:
            UsageError: the name is empty or longer than 200 characters.
            StoreError: the id or the name is taken.
        """
        name = cleaned_name(listener.name)
        with self._writing() as connection:
            if self._with_id(connection, listener.id) is not None:
                raise StoreError(
                    f"the listener {name!r} cannot be added to {self.path} (the id {listener.id!r} is taken)",
                    "give a new id",
                )
            try:
                connection.execute(
                    "INSERT INTO listeners (id, name, name_key, scale_mm, instrument, note) VALUES (?, ?, ?, ?, ?, ?)",
                    (
                        listener.id,
                        name,
                        name_key(name),
                        float(listener.scale_mm),
                        listener.instrument,
                        cleaned_note(listener.note),
                    ),
                )
            except sqlite3.IntegrityError as error:
                raise StoreError(
                    f"the listener {name!r} cannot be added to {self.path} ({error})", "choose a name not yet taken"
                ) from error

    def set_scale_mm(self, listener_id: str, scale_mm: float) -> None:
        """Change a listener's scale length, above 0 mm."""
        with self._writing() as connection:
            changed = connection.execute(
                "UPDATE listeners SET scale_mm = ? WHERE id = ?", (float(scale_mm), listener_id)
            ).rowcount
            if not changed:
                raise StoreError(f"{self.path} knows no listener {listener_id!r}", "add the listener first")

    def listener_with_id(self, listener_id: str) -> Listener | None:
        """Return a listener by id, or the one they were merged into; None when there is none."""
        with self._reading() as connection:
            return self._with_id(connection, listener_id)

    def change_listener(self, listener: Listener) -> None:
        """Keep a listener's name, scale length, instrument and note anew; the id says whose.

        Raises:
            UsageError: the name is empty or longer than 200 characters, or the note longer than 2000.
            StoreError: there is no such listener, or somebody else has the name.
        """
        name, note = cleaned_name(listener.name), cleaned_note(listener.note)
        with self._writing() as connection:
            self._known(connection, listener.id)
            try:
                connection.execute(
                    "UPDATE listeners SET name = ?, name_key = ?, scale_mm = ?, instrument = ?, note = ? WHERE id = ?",
                    (name, name_key(name), float(listener.scale_mm), listener.instrument, note, listener.id),
                )
            except sqlite3.IntegrityError as error:
                raise StoreError(
                    f"the listener cannot be kept as {name!r} in {self.path} ({error})", "choose a name not yet taken"
                ) from error
            settle_names(connection)

    def holdings(self, listener_id: str) -> Holdings:
        """Return what would go if the listener went."""
        with self._reading() as connection:
            return Holdings(self._known(connection, listener_id), belongings.counts(connection, listener_id))

    def remove_listener(self, listener_id: str, *, keep_copy: bool) -> Path | None:
        """Remove a listener and all that is theirs; the copy, if one is kept, is on disk before anything goes."""
        with self._writing() as connection:
            self._known(connection, listener_id)
            folder = copies.copy_of_one(connection, self.path, "removed", listener_id) if keep_copy else None
            belongings.remove(connection, listener_id)
            connection.execute("DELETE FROM settings WHERE key = ?", (f"lesson {listener_id}",))
            settle_names(connection)
        return folder

    def merge_listeners(self, from_id: str, into_id: str) -> Path:
        """Give all that is one listener's to another; the copy of the first is on disk before anything changes."""
        if from_id == into_id:
            raise UsageError("a listener cannot be merged with themselves", "name two listeners")
        from centwise.store import oneness  # noqa: PLC0415  start-up path

        with self._writing() as connection:
            goes, stays = self._known(connection, from_id), self._known(connection, into_id)
            folder = copies.copy_of_one(connection, self.path, "merged", from_id)
            note = "\n".join(dict.fromkeys(note for note in (stays.note, goes.note) if note))
            connection.execute("UPDATE listeners SET note = ? WHERE id = ?", (note, into_id))
            belongings.give(connection, from_id, into_id)
            oneness.settle(connection, into_id)
            connection.execute("DELETE FROM settings WHERE key = ?", (f"lesson {from_id}",))
            settle_names(connection)
        return folder

    def summaries(self, listener_id: str | None = None) -> Sequence[BlockSummary]:
        """Return the blocks of one listener, oldest first, or of all, each listener's together."""
        columns = ", ".join((*rows.PLAN_COLUMNS, *rows.RESULT_COLUMNS, *rows.SUMMARY_COLUMNS))
        where, values = ("", ()) if listener_id is None else ("WHERE listener_id = ?", (listener_id,))
        with self._reading() as connection:
            found = connection.execute(
                f"SELECT {columns} FROM blocks {where} ORDER BY listener_id, started_at, number",  # noqa: S608
                values,
            )
            return tuple(map(rows.summary_of, found))

    def copy_whole(self, reason: str) -> Path:
        """Copy the whole store and return the copy's folder; on disk when this returns."""
        with self._lock, told(self.path):
            if self._connection is None:
                raise StoreError(f"the store {self.path} is closed", "open it again")
            return copies.copy_of_all(self._connection, self.path, reason)

    def stale_summaries(self) -> int:
        """Return how many blocks have a summary that does not say what their answers say."""
        with self._reading() as connection:
            return len(stale_summaries(connection))

    def mend_summaries(self) -> int:
        """Work such summaries out anew, and return how many there were."""
        with self._writing() as connection:
            numbers = stale_summaries(connection)
            mend_summaries(connection, numbers)
        return len(numbers)

    def outdated_blocks(self) -> Sequence[str]:
        """Return the ids of the blocks whose result came from an earlier method."""
        with self._reading() as connection:
            found = connection.execute("SELECT id FROM blocks WHERE method < ? ORDER BY number", (ESTIMATE_METHOD,))
            return tuple(str(row[0]) for row in found.fetchall())

    def block_with_id(self, block_id: str) -> StoredBlock | None:
        """Return one block, or None."""
        found = self._blocks("WHERE id = ?", (block_id,))
        return found[0] if found else None

    def replace_result(self, block_id: str, result: BlockResult) -> None:
        """Put this method's result in place of an earlier one's."""
        changes = ", ".join(f"{column} = ?" for column in ("method", *rows.RESULT_COLUMNS))
        with self._writing() as connection:
            changed = connection.execute(
                f"UPDATE blocks SET {changes} WHERE id = ? AND ended_at IS NOT NULL",  # noqa: S608  constants only
                (ESTIMATE_METHOD, *rows.result_row(result), block_id),
            ).rowcount
            if not changed:
                raise StoreError(f"{self.path} knows no ended block {block_id!r}", "look at centwise check")

    def class_rows(self) -> Sequence[KeptRow]:
        """Return all listeners with their rows of the class view, the one used last first, then by name."""
        # A row is good for these very blocks, told in this very way.
        revision = f"listeners.revision * {_WAYS} + {HISTORY_METHOD}"
        whose = ", ".join((*(f"listeners.{column}" for column in rows.LISTENER_COLUMNS.split(", ")), revision))
        columns = ", ".join(f"class_rows.{column}" for column in rows.CLASS_COLUMNS)
        with self._reading() as connection:
            found = connection.execute(
                f"SELECT {whose}, {columns} FROM listeners"  # noqa: S608  constants only
                f" LEFT JOIN class_rows ON class_rows.listener_id = id AND class_rows.revision = {revision}"
                f" {_LAST_THEN_BY_NAME}"
            ).fetchall()
        return tuple(map(rows.kept_row_of, found))

    def keep_class_rows(self, kept: Sequence[KeptRow]) -> None:
        """Keep rows that were worked out; of listeners who have gone meanwhile nothing is kept."""
        columns = ("listener_id", "revision", *rows.CLASS_COLUMNS)
        with self._writing() as connection:
            connection.executemany(
                f"INSERT OR REPLACE INTO class_rows ({', '.join(columns)})"  # noqa: S608  constants only
                f" SELECT {_marks(columns)} WHERE EXISTS (SELECT * FROM listeners WHERE id = ?1)",
                [rows.class_row(row) for row in kept],
            )

    def begin_block(self, plan: BlockPlan) -> None:
        """Keep a block's plan; its listener becomes the one used last."""
        with self._writing() as connection:
            connection.execute(
                f"INSERT INTO blocks ({', '.join(rows.PLAN_COLUMNS)})"  # noqa: S608  constants only
                f" VALUES ({_marks(rows.PLAN_COLUMNS)})",
                rows.plan_row(plan),
            )
            connection.execute(
                "UPDATE listeners SET last_used = (SELECT coalesce(max(last_used), 0) + 1 FROM listeners) WHERE id = ?",
                (plan.listener_id,),
            )

    def add_trial(self, block_id: str, trial: Trial) -> None:
        """Keep one answer of a block that has not ended; each number once."""
        with self._writing() as connection:
            number = self._open_block(connection, block_id)
            connection.execute(
                f"INSERT INTO trials (block_number, {', '.join(rows.TRIAL_COLUMNS)})"  # noqa: S608  constants only
                f" VALUES (?, {_marks(rows.TRIAL_COLUMNS)})",
                (number, *rows.trial_row(trial)),
            )
            summarise_blocks(connection, number, number)

    def end_block(self, block_id: str, result: BlockResult, ended_at: datetime) -> None:
        """Keep the result of a block that has not ended."""
        changes = ", ".join(f"{column} = ?" for column in ("ended_at", "method", *rows.RESULT_COLUMNS))
        with self._writing() as connection:
            number = self._open_block(connection, block_id)
            connection.execute(
                f"UPDATE blocks SET {changes} WHERE number = ?",  # noqa: S608  constants only
                (rows.instant_text(ended_at), ESTIMATE_METHOD, *rows.result_row(result), number),
            )

    def blocks(self, listener_id: str, condition: Condition | None = None) -> Sequence[StoredBlock]:
        """Return a listener's blocks, oldest first, of one condition or of all."""
        where, values = "listener_id = ?", (listener_id,)
        if condition is not None:
            where += "".join(f" AND {column} = ?" for column in rows.CONDITION_COLUMNS)
            values += rows.condition_row(condition)
        return self._blocks(f"WHERE {where} ORDER BY started_at, number", values)

    def unfinished_block(self, listener_id: str) -> StoredBlock | None:
        """Return the listener's latest block that has no result yet, or None."""
        found = self._blocks(
            "WHERE listener_id = ? AND ended_at IS NULL ORDER BY started_at DESC, number DESC LIMIT 1", (listener_id,)
        )
        return found[0] if found else None

    def begin_bench(self, plan: BenchPlan) -> None:
        """Keep a rehearsal's plan; its listener becomes the one used last."""
        with self._writing() as connection:
            benches.begin(connection, plan)

    def add_bench_act(self, bench_id: str, act: BenchAct, result: BenchResult | None = None) -> None:
        """Keep one act of a rehearsal that has not ended, each number once; with the mark its reckoning."""
        with self._writing() as connection:
            benches.add_act(connection, bench_id, act, result)

    def benches(self, listener_id: str) -> Sequence[StoredBench]:
        """Return a listener's rehearsals, oldest first."""
        with self._reading() as connection:
            return benches.read(connection, "WHERE listener_id = ? ORDER BY started_at, number", (listener_id,))

    def unfinished_bench(self, listener_id: str) -> StoredBench | None:
        """Return the listener's latest rehearsal whose feet are not marked yet, or None."""
        clause = "WHERE listener_id = ? AND ended_at IS NULL ORDER BY started_at DESC, number DESC LIMIT 1"
        with self._reading() as connection:
            found = benches.read(connection, clause, (listener_id,))
        return found[0] if found else None

    def exported(
        self, listener_ids: Sequence[str] | None = None, *, id_key: Callable[[str], str] = str
    ) -> Iterator[Kept]:
        """Give listeners, each with all that is theirs, as records of the data format.

        The store is held until the last record has been taken.

        Args:
            listener_ids: whose; None for all.
            id_key: what ids are ordered by.
        """
        from centwise.store import transfer  # noqa: PLC0415  start-up path

        with self._reading() as connection:
            yield from transfer.exported(connection, listener_ids, id_key=id_key)

    def take_in(self, records: Iterable[Kept], *, try_only: bool = False) -> TakenIn:
        """Take records in, all of them or, when anything is wrong with one, none.

        Args:
            records: each listener before what is theirs.
            try_only: change nothing, only say what would change.

        Raises:
            InputError: from the records.
            UsageError: a record does not fit what is here.
        """
        from centwise.exchange.records import BlockRecord, ListenerRecord  # noqa: PLC0415  start-up path
        from centwise.store import transfer  # noqa: PLC0415

        with suppress(_Undone), self._writing() as connection:
            taking = transfer.Taking(connection, self.path)
            for record in records:
                if isinstance(record, ListenerRecord):
                    taking.listener(record)
                elif isinstance(record, BlockRecord):
                    taking.block(record)
                else:
                    taking.rehearsal(record)
            taken = taking.finish()
            if try_only:
                raise _Undone
        return taken

    def setting(self, key: str) -> str | None:
        """Return a small value kept beside the data, or None."""
        with self._reading() as connection:
            row = connection.execute("SELECT value FROM settings WHERE key = ?", (key,)).fetchone()
        return None if row is None else str(row[0])

    def set_setting(self, key: str, value: str) -> None:
        """Keep a small value."""
        with self._writing() as connection:
            connection.execute(
                "INSERT INTO settings (key, value) VALUES (?, ?)"
                " ON CONFLICT (key) DO UPDATE SET value = excluded.value",
                (key, value),
            )

    def close(self) -> None:
        """Close the store; may be called twice."""
        with self._lock:
            connection, self._connection = self._connection, None
            if connection is not None:
                with told(self.path):
                    connection.close()

    def _blocks(self, clause: str, values: tuple[Any, ...]) -> tuple[StoredBlock, ...]:
        columns = ", ".join((*rows.PLAN_COLUMNS, *rows.RESULT_COLUMNS, "number"))
        with self._reading() as connection:
            found = connection.execute(f"SELECT {columns} FROM blocks {clause}", values).fetchall()  # noqa: S608
            trials = [
                connection.execute(
                    f"SELECT {', '.join(rows.TRIAL_COLUMNS)} FROM trials"  # noqa: S608  constants only
                    " WHERE block_number = ? ORDER BY n",
                    (row[-1],),
                ).fetchall()
                for row in found
            ]
        split = len(rows.PLAN_COLUMNS)
        return tuple(
            StoredBlock(
                plan=rows.plan_of(row[:split]),
                trials=tuple(rows.trial_of(trial) for trial in of_block),
                result=rows.result_of(row[split:-1]),
            )
            for row, of_block in zip(found, trials, strict=True)
        )

    def _with_id(self, connection: sqlite3.Connection, listener_id: str) -> Listener | None:
        row = connection.execute(
            f"SELECT {rows.LISTENER_COLUMNS} FROM listeners"  # noqa: S608  constants only
            " WHERE id = coalesce((SELECT listener_id FROM merged_listeners WHERE id = ?1), ?1)",
            (listener_id,),
        ).fetchone()
        return None if row is None else rows.listener_of(row)

    def _known(self, connection: sqlite3.Connection, listener_id: str) -> Listener:
        found = self._with_id(connection, listener_id)
        if found is None or found.id != listener_id:
            raise StoreError(f"{self.path} knows no listener {listener_id!r}", "look at centwise listeners")
        return found

    def _open_block(self, connection: sqlite3.Connection, block_id: str) -> int:
        row = connection.execute("SELECT number, ended_at FROM blocks WHERE id = ?", (block_id,)).fetchone()
        if row is None:
            raise StoreError(f"{self.path} knows no block {block_id!r}", "begin the block first")
        if row[1] is not None:
            raise StoreError(f"the block {block_id!r} in {self.path} has ended", "begin a new one")
        return int(row[0])

    @contextmanager
    def _transaction(self, kind: str) -> Iterator[sqlite3.Connection]:
        with self._lock, told(self.path):
            connection = self._connection
            if connection is None:
                raise StoreError(f"the store {self.path} is closed", "open it again")
            connection.execute(f"BEGIN {kind}")
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def _reading(self) -> AbstractContextManager[sqlite3.Connection]:
        return self._transaction("DEFERRED")

    def _writing(self) -> AbstractContextManager[sqlite3.Connection]:
        return self._transaction("IMMEDIATE")
