"""What is worked out from answers, worked out anew: summaries that went wrong, results of an earlier method.

The answers themselves are never changed. Before anything is, the whole store is copied. Imports store and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.drill.result import block_result
from centwise.errors import CentwiseError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from centwise.store.sqlite import SqliteStore


@dataclass(frozen=True, slots=True)
class Mended:
    """What was done.

    Attributes:
        summaries: how many were wrong and are right now.
        results: how many were of an earlier method and are of this one now.
        left: how many results stay as they were, because their answers give none.
        copy: the folder of the store as it was, None where nothing was to be done.
    """

    summaries: int
    results: int
    left: int
    copy: Path | None


def mend(store: SqliteStore, progress: Callable[[int, int], None] = lambda _done, _all: None) -> Mended:
    """Mend a store.

    Args:
        store: an open one.
        progress: told after each result how many are done, and of how many.

    Raises:
        StoreError: the store cannot be read or written.
    """
    outdated = store.outdated_blocks()
    stale = store.stale_summaries()
    if not outdated and not stale:
        return Mended(0, 0, 0, None)
    copy = store.copy_whole("mended")
    summaries = store.mend_summaries()
    results = left = 0
    for done, block_id in enumerate(outdated, start=1):
        block = store.block_with_id(block_id)
        if block is not None:
            try:
                result = block_result(block.plan, block.trials)
            except CentwiseError:
                left += 1
            else:
                store.replace_result(block_id, result)
                results += 1
        progress(done, len(outdated))
    return Mended(summaries, results, left, copy)
