"""The store on SQLite. Each method is one transaction; what it wrote is on disk when it returns.

What is done within a transaction stands in the module of its matter: `people`, `blocks`, `benches`, `class_rows`,
`transfer`, `upkeep`. Imports exchange and below.
"""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from centwise.errors import UsageError
from centwise.store import benches, blocks, class_rows, copies, people
from centwise.store.opening import connect
from centwise.store.transactions import Transactions
from centwise.store.upkeep import mend_summaries, stale_summaries

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Generator, Iterable, Sequence
    from datetime import datetime
    from pathlib import Path

    from centwise.exchange.records import Kept
    from centwise.model import BenchAct, BenchPlan, BenchResult, BlockPlan, BlockResult, Condition, Listener, Trial
    from centwise.ports import BlockOutline, BlockSummary, Holdings, KeptRow, StoredBench, StoredBlock
    from centwise.store.transfer import TakenIn

FILE_NAME = "centwise.sqlite3"


def is_there(folder: Path) -> bool:
    """Whether a folder holds a store; yes where that cannot be looked at, for opening it says why."""
    try:
        return (folder / FILE_NAME).exists()
    except OSError:
        return True


class _Undone(Exception):  # noqa: N818  no error: what was tried is taken back
    """Leaves a transaction that was only tried."""


class SqliteStore:
    """Implements ports.Store. One connection behind a lock, so any thread may call it; made by `open`."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._transactions = Transactions(path, connection)
        self._reading, self._writing = self._transactions.reading, self._transactions.writing

    @classmethod
    def open(cls, folder: Path) -> SqliteStore:
        """Open the store in a folder; the folder and the file are made when missing.

        Raises:
            StoreError: it is damaged, newer than this program, held by somebody or out of reach. It is left as it was.
        """
        path = folder / FILE_NAME
        return cls(path, connect(path))

    def close(self) -> None:
        """Close the store; may be called twice."""
        self._transactions.close()

    @property
    def change_kept(self) -> bool:
        """Whether the last change is on disk: for whoever was stopped while it was written."""
        return self._transactions.kept

    # -- listeners -------------------------------------------------------------------------------------------------

    def listeners(self) -> Sequence[Listener]:
        """Return all listeners, the one used last first, then by name."""
        with self._reading() as connection:
            return people.everybody(connection)

    def listener_named(self, name: str) -> Listener | None:
        """Return the listener of that name, upper and lower case alike; None when there is none or it is no name."""
        with self._reading() as connection:
            return people.named(connection, name)

    def listener_with_id(self, listener_id: str) -> Listener | None:
        """Return a listener by id, or the one they were merged into; None when there is none."""
        with self._reading() as connection:
            return people.with_id(connection, listener_id)

    def add_listener(self, listener: Listener) -> None:
        """Keep a new listener, its name cleaned of control characters and outer space.

        Raises:
            UsageError: the name is empty or longer than 200 characters, or the note longer than 2000.
            StoreError: the id or the name is taken.
        """
        with self._writing() as connection:
            people.add(connection, self.path, listener)

    def change_listener(self, listener: Listener, *, was: Listener | None = None) -> None:
        """Keep a listener's name, scale length, instrument and note anew, but what is still as it `was`.

        Raises:
            UsageError: the name is empty or longer than 200 characters, or the note longer than 2000.
            StoreError: there is no such listener, or somebody else has the name.
        """
        with self._writing() as connection:
            people.change(connection, self.path, listener, was)

    def set_scale_mm(self, listener_id: str, scale_mm: float) -> None:
        """Change a listener's scale length, above 0 mm."""
        with self._writing() as connection:
            people.set_scale_mm(connection, self.path, people.meant(connection, listener_id), scale_mm)

    def holdings(self, listener_id: str) -> Holdings:
        """Return what would go if the listener went."""
        with self._reading() as connection:
            return people.holdings(connection, self.path, listener_id)

    def remove_listener(self, listener_id: str, *, keep_copy: bool, told: Holdings | None = None) -> Path | None:
        """Remove a listener and all that is theirs, where it is what was `told`.

        The copy, if one is kept, is on disk before anything goes.
        """
        with self._writing() as connection:
            return people.remove(connection, self.path, listener_id, keep_copy=keep_copy, told=told)

    def merge_listeners(self, from_id: str, into_id: str) -> Path:
        """Give all that is one listener's to another; the copy of the first is on disk before anything changes."""
        if from_id == into_id:
            raise UsageError("a listener cannot be merged with themselves", "name two listeners")
        with self._writing() as connection:
            return people.merge(connection, self.path, from_id, into_id)

    def outlines(self, listener_id: str | None = None) -> Sequence[BlockOutline]:
        """Return the same blocks in the same order, with what the class view needs of each."""
        with self._reading() as connection:
            return blocks.outlines(connection, None if listener_id is None else people.meant(connection, listener_id))

    def class_rows(self) -> Sequence[KeptRow]:
        """Return all listeners with their rows of the class view, the one used last first, then by name."""
        with self._reading() as connection:
            return class_rows.read(connection)

    def keep_class_rows(self, kept: Sequence[KeptRow]) -> None:
        """Keep rows that were worked out; of listeners who have gone meanwhile nothing is kept."""
        with self._writing() as connection:
            class_rows.keep(connection, kept)

    # -- blocks ----------------------------------------------------------------------------------------------------

    def begin_block(self, plan: BlockPlan) -> None:
        """Keep a block's plan; its listener becomes the one used last."""
        with self._writing() as connection:
            blocks.begin(connection, plan)

    def add_trial(self, block_id: str, trial: Trial) -> None:
        """Keep one answer of a block that has not ended; each number once."""
        with self._writing() as connection:
            blocks.add_trial(connection, self.path, block_id, trial)

    def end_block(self, block_id: str, result: BlockResult, ended_at: datetime, *, answers: int | None = None) -> None:
        """Keep the result of a block that has not ended and holds just as many answers as the result is made of."""
        with self._writing() as connection:
            blocks.end(connection, self.path, block_id, result, ended_at, answers)

    def blocks(self, listener_id: str, condition: Condition | None = None) -> Sequence[StoredBlock]:
        """Return a listener's blocks, oldest first, of one condition or of all."""
        with self._reading() as connection:
            return blocks.of_listener(connection, people.meant(connection, listener_id), condition)

    def block_with_id(self, block_id: str) -> StoredBlock | None:
        """Return one block, whoever it belongs to by now, or None."""
        with self._reading() as connection:
            return next(iter(blocks.read(connection, "WHERE id = ?", (block_id,))), None)

    def summaries(self, listener_id: str | None = None) -> Sequence[BlockSummary]:
        """Return the blocks of one listener, oldest first, or of all, each listener's together."""
        with self._reading() as connection:
            return blocks.summaries(connection, None if listener_id is None else people.meant(connection, listener_id))

    def outdated_blocks(self) -> Sequence[str]:
        """Return the ids of the blocks whose result came from an earlier method."""
        with self._reading() as connection:
            return blocks.outdated(connection)

    def replace_result(self, block_id: str, result: BlockResult) -> None:
        """Put this method's result in place of an earlier one's."""
        with self._writing() as connection:
            blocks.replace_result(connection, self.path, block_id, result)

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

    # -- rehearsals ------------------------------------------------------------------------------------------------

    def begin_bench(self, plan: BenchPlan, first_act: BenchAct | None = None) -> None:
        """Keep a rehearsal's plan, with its first act where one begins it; its listener becomes the one used last."""
        with self._writing() as connection:
            benches.begin(connection, plan, first_act)

    def add_bench_act(self, bench_id: str, act: BenchAct, result: BenchResult | None = None) -> None:
        """Keep one act of a rehearsal that has not ended, each number once; with the mark its reckoning."""
        with self._writing() as connection:
            benches.add_act(connection, bench_id, act, result)

    def benches(self, listener_id: str) -> Sequence[StoredBench]:
        """Return a listener's rehearsals, oldest first."""
        with self._reading() as connection:
            whose = people.meant(connection, listener_id)
            return benches.read(connection, f"WHERE listener_id = ? {blocks.OLDEST_FIRST}", (whose,))

    def unfinished_bench(self, listener_id: str) -> StoredBench | None:
        """Return the listener's latest rehearsal whose feet are not marked yet, or None."""
        with self._reading() as connection:
            whose = people.meant(connection, listener_id)
            return next(iter(benches.read(connection, benches.LATEST_UNFINISHED, (whose,))), None)

    # -- the whole -------------------------------------------------------------------------------------------------

    def copy_whole(self, reason: str) -> Path:
        """Copy the whole store and return the copy's folder; on disk when this returns."""
        with self._transactions.held() as connection:
            return copies.copy_of_all(connection, self.path, reason)

    def exported(
        self, listener_ids: Sequence[str] | None = None, *, id_key: Callable[[str], str] = str
    ) -> Generator[Kept, None, None]:
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
