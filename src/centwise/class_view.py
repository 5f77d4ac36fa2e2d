"""The class view: every listener in a row, in any order. Rows that are kept are read, others worked out once.

Imports progress and below.
"""

from __future__ import annotations

import gc
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

from centwise.errors import StoreError
from centwise.trend import TRENDS, trend_word

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from centwise.model import Listener
    from centwise.ports import ClassRow, KeptRow, Store

SortKey = Literal["last", "name", "threshold", "trend", "seen", "minutes", "blocks"]
SORT_KEYS: tuple[SortKey, ...] = ("last", "name", "threshold", "trend", "seen", "minutes", "blocks")
"""`last` leaves them as the store has them: the one used last, then by name."""

ONE_BY_ONE = 20
"""So many missing rows are read listener by listener; for more, all blocks are read in one go."""
_NEVER = datetime(1, 1, 1, tzinfo=UTC)


def class_rows(store: Store) -> tuple[ClassRow, ...]:
    """Return every listener's row, the one used last first, then by name.

    Raises:
        StoreError: the store cannot be read.
    """
    kept = store.class_rows()
    missing = [one for one in kept if one.row is None]
    made = {one.listener.id: one for one in _made(store, missing)} if missing else {}
    if made:
        # A store that is busy or may not be written to is read all the same.
        with suppress(StoreError):
            store.keep_class_rows(tuple(made.values()))
    rows = (one.row or made[one.listener.id].row for one in kept)
    return tuple(row for row in rows if row is not None)


def _made(store: Store, missing: Sequence[KeptRow]) -> Iterable[KeptRow]:
    from centwise.progress import class_rows_of  # noqa: PLC0415  loads numpy, which kept rows do not need

    listeners = [one.listener for one in missing]
    if len(missing) <= ONE_BY_ONE:
        rows = class_rows_of(listeners, [block for who in listeners for block in store.outlines(who.id)])
    else:
        with uncollected():
            rows = class_rows_of(listeners, store.outlines())
    for one, row in zip(missing, rows, strict=True):
        yield replace(one, row=row)


@contextmanager
def uncollected() -> Iterator[None]:
    """Look for no rubbish meanwhile: among tens of thousands of objects in use that takes a third of the time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def sorted_rows(rows: Iterable[ClassRow], key: SortKey, *, reverse: bool = False) -> tuple[ClassRow, ...]:
    """Return rows in order; who has nothing to be sorted by comes last, whichever way round.

    Finest threshold, best trend, latest seen, most minutes and most blocks come first, names from A on.
    """
    found = list(rows)
    if key == "last":
        return tuple(reversed(found) if reverse else found)
    value = _VALUES[key]
    without = [row for row in found if value(row) is None]
    having = [row for row in found if value(row) is not None]
    # Python's sort keeps equals in their order, reversed too.
    having.sort(key=value, reverse=reverse)  # type: ignore[arg-type]
    return (*having, *without)


def _name(listener: Listener) -> str:
    return listener.name.casefold()


_VALUES: dict[SortKey, Callable[[ClassRow], object]] = {
    "name": lambda row: _name(row.listener),
    "threshold": lambda row: row.threshold_cents,
    "trend": lambda row: None if row.threshold_cents is None else TRENDS.index(trend_word(row.improvement_chance)),
    "seen": lambda row: None if row.last_seen is None else _NEVER - row.last_seen,
    "minutes": lambda row: -row.practised_s,
    "blocks": lambda row: -row.blocks,
}
