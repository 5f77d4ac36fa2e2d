"""Data passed on: everything of some listeners as records, and records taken in without doubles.

Taking in is a union: of two copies of a listener or a block the later one holds, whichever comes first, and who was
merged stays merged. Whose id stands for those who are one follows from all that was taken in, not from its order
(`oneness`). So the same file twice changes nothing, and several files in any order come to the same store.
Imports exchange and below.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING

from centwise.errors import UsageError
from centwise.exchange.records import BenchRecord, BlockRecord, ListenerRecord, plain
from centwise.store import belongings, benches, copies, oneness, people, rows
from centwise.store.alike import free_key, settle_names, stamp
from centwise.store.names import cleaned_name, cleaned_note
from centwise.store.upkeep import summarise_blocks

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from centwise.exchange.records import Kept

_BLOCK_COLUMNS = (*rows.PLAN_COLUMNS, *rows.RESULT_COLUMNS, "ended_at", "method")
_PORTION = 500


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What an import changed.

    Attributes:
        listeners: new ones.
        changed_listeners: of whom name, scale length, instrument or note were changed.
        merged_listeners: who were merged into another because they are in the file.
        blocks: new ones.
        changed_blocks: which had gone on in the file.
        known_blocks: which were here already.
        trials: answers that are new here.
        rehearsals: new ones; `changed_rehearsals` and `known_rehearsals` as for blocks.
        renamed: names before and after, where two are called alike.
    """

    listeners: int = 0
    changed_listeners: int = 0
    merged_listeners: int = 0
    blocks: int = 0
    changed_blocks: int = 0
    known_blocks: int = 0
    trials: int = 0
    rehearsals: int = 0
    changed_rehearsals: int = 0
    known_rehearsals: int = 0
    renamed: tuple[tuple[str, str], ...] = ()

    @property
    def nothing(self) -> bool:
        """Whether everything was here already."""
        return self == TakenIn(known_blocks=self.known_blocks, known_rehearsals=self.known_rehearsals)


def exported(
    connection: sqlite3.Connection,
    listener_ids: Iterable[str] | None = None,
    *,
    id_key: Callable[[str], str] = str,
) -> Iterator[Kept]:
    """Give listeners, each with all that is theirs, in an order that depends on nothing but what is kept.

    Args:
        connection: of a store, within a transaction.
        listener_ids: whose; None for all.
        id_key: what ids are ordered by: the ids they are given afterwards, where they are given others.
    """
    everybody = [row[0] for row in connection.execute("SELECT id FROM listeners")]
    wanted = set(everybody if listener_ids is None else listener_ids)
    for listener_id in sorted(wanted.intersection(everybody), key=id_key):
        yield _listener(connection, listener_id)
        yield from _blocks(connection, listener_id, id_key)
        yield from _rehearsals(connection, listener_id, id_key)


def _listener(connection: sqlite3.Connection, listener_id: str) -> ListenerRecord:
    *row, edition, claim = connection.execute(
        f"SELECT {rows.LISTENER_COLUMNS}, edition, claim FROM listeners WHERE id = ?",  # noqa: S608  constants only
        (listener_id,),
    ).fetchone()
    listener = rows.listener_of(row)
    merged = connection.execute("SELECT id FROM merged_listeners WHERE listener_id = ? ORDER BY id", (listener_id,))
    return ListenerRecord(
        listener if claim is None else replace(listener, name=claim), edition, tuple(row[0] for row in merged)
    )


def _blocks(connection: sqlite3.Connection, listener_id: str, id_key: Callable[[str], str]) -> Iterator[BlockRecord]:
    found = connection.execute("SELECT started_at, id, number FROM blocks WHERE listener_id = ?", (listener_id,))
    for _at, _id, number in sorted(found, key=lambda row: (row[0], id_key(row[1]))):
        row = connection.execute(
            f"SELECT number, {', '.join(_BLOCK_COLUMNS)} FROM blocks WHERE number = ?",  # noqa: S608  constants only
            (number,),
        ).fetchone()
        yield _block(connection, row)


def _block(connection: sqlite3.Connection, row: tuple[object, ...]) -> BlockRecord:
    number, *values, ended_at, method = row
    split = len(rows.PLAN_COLUMNS)
    trials = connection.execute(
        f"SELECT {', '.join(rows.TRIAL_COLUMNS)} FROM trials WHERE block_number = ? ORDER BY n",  # noqa: S608
        (number,),
    )
    return BlockRecord(
        plan=rows.plan_of(values[:split]),
        trials=tuple(map(rows.trial_of, trials)),
        result=rows.result_of(values[split:]),
        ended_at=None if ended_at is None else datetime.fromisoformat(str(ended_at)),
        method=None if method is None else int(str(method)),
    )


def _rehearsals(
    connection: sqlite3.Connection, listener_id: str, id_key: Callable[[str], str]
) -> Iterator[BenchRecord]:
    found = connection.execute("SELECT started_at, id, ended_at FROM benches WHERE listener_id = ?", (listener_id,))
    for _at, bench_id, ended_at in sorted(found, key=lambda row: (row[0], id_key(row[1]))):
        yield _rehearsal(connection, bench_id, ended_at)


def _rehearsal(connection: sqlite3.Connection, bench_id: str, ended_at: str | None) -> BenchRecord:
    (kept,) = benches.read(connection, "WHERE id = ?", (bench_id,))
    return BenchRecord(
        kept.plan, kept.acts, kept.result, None if ended_at is None else datetime.fromisoformat(ended_at)
    )


@dataclass(slots=True)
class Taking:
    """Takes records into a store, within the caller's transaction; call `finish` once after the last.

    Args:
        connection: of a store, within a transaction that may write.
        store: the store's file, beside which copies are kept of who is merged.
    """

    connection: sqlite3.Connection
    store: Path
    _counts: Counter[str] = field(default_factory=Counter)
    _new_numbers: list[int] = field(default_factory=list)
    _arrived: set[str] = field(default_factory=set)

    def listener(self, record: ListenerRecord) -> None:
        """Take in a listener, and whoever was merged into them.

        Raises:
            UsageError: nothing is left of the name, or name or note is too long.
        """
        listener = record.listener
        # The same text must come out as went in, so it is cleaned before anything is compared.
        listener = replace(listener, name=cleaned_name(listener.name), note=cleaned_note(listener.note))
        self._keep(replace(record, listener=listener))
        for merged_id in record.merged_ids:
            oneness.note_merged(self.connection, merged_id)
        self._unite([listener.id, *record.merged_ids])

    def block(self, record: BlockRecord) -> None:
        """Take in a block of a listener who has been taken in.

        Raises:
            UsageError: here the block belongs to somebody else.
        """
        owner = self._meant(record.plan.listener_id) or record.plan.listener_id
        record = replace(record, plan=replace(record.plan, listener_id=owner))
        row = self.connection.execute(
            f"SELECT number, {', '.join(_BLOCK_COLUMNS)} FROM blocks WHERE id = ?",  # noqa: S608  constants only
            (record.plan.id,),
        ).fetchone()
        if row is None:
            self._counts["blocks"] += 1
            self._insert(record)
            return
        here = _block(self.connection, row)
        if here.plan.listener_id != owner:
            raise UsageError(
                f"the block {record.plan.id!r} belongs to another listener here", "merge the two listeners first"
            )
        if _age(record) <= _age(here):
            self._counts["known_blocks"] += 1
            return
        self._counts["changed_blocks"] += 1
        self._counts["trials"] -= len(here.trials)
        self.connection.execute("DELETE FROM trials WHERE block_number = ?", (row[0],))
        self._update(record, row[0])

    def rehearsal(self, record: BenchRecord) -> None:
        """Take in a rehearsal of a listener who has been taken in.

        Raises:
            UsageError: here the rehearsal belongs to somebody else.
        """
        owner = self._meant(record.plan.listener_id) or record.plan.listener_id
        record = replace(record, plan=replace(record.plan, listener_id=owner))
        row = self.connection.execute(
            "SELECT number, listener_id, ended_at FROM benches WHERE id = ?", (record.plan.id,)
        ).fetchone()
        if row is None:
            self._counts["rehearsals"] += 1
            benches.put(self.connection, record.plan, record.acts, record.result, record.ended_at)
            return
        number, here_owner, ended_at = row
        if here_owner != owner:
            raise UsageError(
                f"the rehearsal {record.plan.id!r} belongs to another listener here", "merge the two listeners first"
            )
        if _bench_age(record) <= _bench_age(_rehearsal(self.connection, record.plan.id, ended_at)):
            self._counts["known_rehearsals"] += 1
            return
        self._counts["changed_rehearsals"] += 1
        self.connection.execute("DELETE FROM bench_acts WHERE bench_number = ?", (number,))
        self.connection.execute("DELETE FROM benches WHERE number = ?", (number,))
        benches.put(self.connection, record.plan, record.acts, record.result, record.ended_at)

    def finish(self) -> TakenIn:
        """Bring summaries and names up to what was taken in, and return what has changed."""
        for first, last in _runs(self._new_numbers):
            # In portions: SQLite keeps all rows of one in memory.
            for number in range(first, last + 1, _PORTION):
                summarise_blocks(self.connection, number, min(number + _PORTION - 1, last))
        return TakenIn(**self._counts, renamed=settle_names(self.connection))

    def _meant(self, listener_id: str) -> str | None:
        """Return whom an id means here, None when nobody."""
        listener = people.with_id(self.connection, listener_id)
        return None if listener is None else listener.id

    def _keep(self, record: ListenerRecord) -> None:
        listener = record.listener
        here = self.connection.execute("SELECT id FROM listeners WHERE id = ?", (listener.id,)).fetchone()
        if here is None and self._meant(listener.id) is not None:
            self._keep_beside(record)
            return
        if here is None:
            self._counts["listeners"] += 1
            self._arrived.add(listener.id)
            self._add(record, gone=0)
            return
        known = _listener(self.connection, listener.id)
        if _edition(record) <= _edition(known):
            return
        if known.listener != listener:
            self._counts["changed_listeners"] += 1
        self.connection.execute(
            "UPDATE listeners SET name = ?, name_key = ?, scale_mm = ?, instrument = ?, note = ? WHERE id = ?",
            (
                listener.name,
                free_key(listener.id),
                listener.scale_mm,
                listener.instrument,
                listener.note,
                listener.id,
            ),
        )
        stamp(self.connection, listener.id, record.edition, listener.name)

    def _keep_beside(self, record: ListenerRecord) -> None:
        """Keep the details of somebody whose id means another here."""
        known = oneness.details_of(self.connection, record.listener.id)
        if known is None or _edition(record) > _edition(known):
            oneness.keep_details(self.connection, record)

    def _add(self, record: ListenerRecord, *, gone: int) -> None:
        listener = record.listener
        # Under a key nobody can have, until the names are settled.
        self.connection.execute(
            "INSERT INTO listeners (id, name, name_key, scale_mm, instrument, note, edition, claim, gone)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                listener.id,
                listener.name,
                free_key(listener.id),
                listener.scale_mm,
                listener.instrument,
                listener.note,
                record.edition,
                listener.name,
                gone,
            ),
        )

    def _unite(self, ids: list[str]) -> None:
        """Make the ids one listener, under the one that all merges taken in so far come to."""
        here = {meant for one in ids if (meant := self._meant(one)) is not None}
        stays = oneness.who_stays(self.connection, here)
        if stays not in here:
            revived = oneness.details_of(self.connection, stays)
            assert revived is not None, "only who has details can stay"
            gone = oneness.forget(self.connection, stays)
            self._add(revived, gone=gone)
        for goes in sorted(here - {stays}):
            self._merge(goes, stays)
        for one in ids:
            if self._meant(one) is None:
                oneness.remember(self.connection, one, stays)

    def _merge(self, from_id: str, into_id: str) -> None:
        self._counts["merged_listeners"] += 1
        if from_id not in self._arrived:
            copies.copy_of_one(self.connection, self.store, "merged", from_id)
        details = replace(_listener(self.connection, from_id), merged_ids=())
        (gone,) = self.connection.execute("SELECT gone FROM listeners WHERE id = ?", (from_id,)).fetchone()
        belongings.give(self.connection, from_id, into_id)
        people.forget_lesson(self.connection, from_id)
        oneness.keep_details(self.connection, details, gone=gone)

    def _insert(self, record: BlockRecord) -> None:
        columns = ", ".join(_BLOCK_COLUMNS)
        number = self.connection.execute(
            f"INSERT INTO blocks ({columns}) VALUES ({rows.marks(_BLOCK_COLUMNS)})",  # noqa: S608  constants only
            _block_row(record),
        ).lastrowid
        self._add_trials(record, int(number or 0))

    def _update(self, record: BlockRecord, number: int) -> None:
        changes = ", ".join(f"{column} = ?" for column in _BLOCK_COLUMNS)
        # The summary is made anew of the answers that come, and of none where none come.
        self.connection.execute(
            f"UPDATE blocks SET {changes}, answered = 0, practised_s = 0, last_answer_at = NULL WHERE number = ?",  # noqa: S608  constants only
            (*_block_row(record), number),
        )
        self._add_trials(record, number)

    def _add_trials(self, record: BlockRecord, number: int) -> None:
        self._counts["trials"] += len(record.trials)
        self._new_numbers.append(number)
        self.connection.executemany(
            f"INSERT INTO trials (block_number, {', '.join(rows.TRIAL_COLUMNS)})"  # noqa: S608  constants only
            f" VALUES (?, {rows.marks(rows.TRIAL_COLUMNS)})",
            [(number, *rows.trial_row(trial)) for trial in record.trials],
        )


def _edition(record: ListenerRecord) -> tuple[int, str]:
    """What makes one copy of a listener later than another; the text settles what else would be chance."""
    return record.edition, json.dumps(plain(replace(record, merged_ids=())))


def _age(record: BlockRecord) -> tuple[bool, int, int, str]:
    """What makes one copy of a block later than another."""
    return record.ended_at is not None, record.method or 0, len(record.trials), json.dumps(plain(record))


def _bench_age(record: BenchRecord) -> tuple[bool, int, str]:
    """What makes one copy of a rehearsal later than another."""
    return record.ended_at is not None, len(record.acts), json.dumps(plain(record))


def _block_row(record: BlockRecord) -> tuple[object, ...]:
    result = (None,) * len(rows.RESULT_COLUMNS) if record.result is None else rows.result_row(record.result)
    ended_at = None if record.ended_at is None else rows.instant_text(record.ended_at)
    return (*rows.plan_row(record.plan), *result, ended_at, record.method)


def _runs(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Give the first and last of each run of numbers that follow one another."""
    first = last = None
    for number in sorted(numbers):
        if last is None or first is None or number != last + 1:
            if first is not None and last is not None:
                yield first, last
            first = number
        last = number
    if first is not None and last is not None:
        yield first, last
