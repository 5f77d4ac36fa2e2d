"""A whole file of the data format: records to lines and back, in order and counted; what is wrong has its line.

Imports errors and below.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from centwise.errors import InputError
from centwise.exchange.reading import NewerError, record_of
from centwise.exchange.records import FORMAT_VERSION, BenchRecord, BlockRecord, End, Header, Kept, ListenerRecord, plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from centwise.exchange.records import Record

MOST_LINE_BYTES = 4_000_000
"""No record is so long: 10,000 answers take about 1.5 million."""


def lines_of(records: Iterable[Kept], *, written_by: str, names: bool) -> Iterator[str]:
    r"""Write records as lines of ASCII, each with its `\n`: header, each listener before what is theirs, end.

    Args:
        records: each listener's record before what is theirs.
        written_by: the program's version.
        names: whether names and notes are in it.
    """
    yield _line(Header(FORMAT_VERSION, written_by, names))
    listeners = blocks = trials = rehearsals = 0
    for record in records:
        yield _line(record)
        match record:
            case ListenerRecord():
                listeners += 1
            case BlockRecord():
                blocks += 1
                trials += len(record.trials)
            case BenchRecord():
                rehearsals += 1
    yield _line(End(listeners, blocks, trials, rehearsals))


def _line(record: Record) -> str:
    return f"{json.dumps(plain(record), allow_nan=False, separators=(',', ':'))}\n"


class Reading:
    """Reads the lines of one file; `number` is the line the last record came from.

    Args:
        lines: as bytes, each cut off after MOST_LINE_BYTES + 1 at the latest.
        where: the file, for the errors.
    """

    def __init__(self, lines: Iterable[bytes], where: str) -> None:
        self._lines = lines
        self._where = where
        self.number = 0

    def records(self) -> Iterator[Kept]:
        """Give what is kept in the file, in order.

        Raises:
            InputError: a line is no record, is out of order or of a newer version, or the file is cut short.
        """
        order = _Order()
        for number, line in enumerate(self._lines, start=1):
            self.number = number
            record = self._record(line)
            if wrong := order.trouble(record):
                raise self.refusal(wrong, _COPY_AGAIN)
            if not isinstance(record, (Header, End)):
                yield record
        if not self.number:
            raise InputError(f"{self._where} is empty", _COPY_AGAIN)
        if not order.ended:
            raise InputError(f"{self._where} ends after line {self.number} without an end record", _COPY_AGAIN)

    def refusal(self, what: str, to_do: str = "nothing was imported; export it afresh") -> InputError:
        """Return the error for the present line."""
        return InputError(f"line {self.number} of {self._where} cannot be imported: {what}", to_do)

    def _record(self, line: bytes) -> Record:
        if len(line) > MOST_LINE_BYTES:
            raise self.refusal(f"it is longer than {MOST_LINE_BYTES // 1_000_000} MB")
        try:
            # A byte order mark is some editors' doing.
            text = line.decode("utf-8-sig" if self.number == 1 else "utf-8")
        except UnicodeDecodeError:
            raise self.refusal("it is not UTF-8 text", _COPY_AGAIN) from None
        try:
            return record_of(text)
        except NewerError as error:
            raise self.refusal(str(error), "nothing was imported; update centwise") from None
        except ValueError as error:
            raise self.refusal(str(error)) from None


class _Order:
    """Follows the records of a file: header first, each listener before what is theirs, nothing twice, the end last."""

    def __init__(self) -> None:
        self.ended = False
        self._begun = False
        self._listeners: set[str] = set()
        self._blocks: set[str] = set()
        self._rehearsals: set[str] = set()
        self._answers = 0

    def trouble(self, record: Record) -> str | None:  # noqa: PLR0911  one return a trouble
        """Take the next record and say what is wrong with its place, or nothing."""
        if self.ended:
            return "something comes after the end record"
        if isinstance(record, Header) == self._begun:
            return "the header must be the first line and nowhere else"
        self._begun = True
        match record:
            case ListenerRecord(listener=listener):
                if listener.id in self._listeners:
                    return f"the listener {listener.id!r} comes twice"
                self._listeners.add(listener.id)
            case BlockRecord() | BenchRecord():
                plan = record.plan
                seen = self._blocks if isinstance(record, BlockRecord) else self._rehearsals
                if plan.listener_id not in self._listeners:
                    return f"its listener {plan.listener_id!r} has no record before it"
                if plan.id in seen:
                    return f"the {'block' if seen is self._blocks else 'rehearsal'} {plan.id!r} comes twice"
                seen.add(plan.id)
                self._answers += len(record.trials) if isinstance(record, BlockRecord) else 0
            case End():
                self.ended = True
                counted = (len(self._listeners), len(self._blocks), self._answers, len(self._rehearsals))
                if record != End(*counted):
                    return "the numbers in the end record are not those of the file"
        return None


_COPY_AGAIN = "nothing was imported; copy or export it again"
