"""One block, gone on with in two windows at once: no answer twice, none lost, and every pair as if in one window."""

from __future__ import annotations

from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from centwise.conductor import Sitting
from centwise.errors import ElsewhereError
from centwise.model import Listener
from centwise.store.sqlite import SqliteStore
from fakes import ManualClock, RecordingPlayer, block_plan

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from centwise.model import Judgement
    from centwise.ports import StoredBlock

WORDS: tuple[Judgement, ...] = ("flat", "sharp", "unison", "sharp", "flat", "flat", "unison", "sharp")


@pytest.fixture
def windows(tmp_path: Path) -> Iterator[tuple[SqliteStore, Sitting, SqliteStore, Sitting]]:
    """A block two answers old, open in two windows, each with a connection of its own."""
    first, second = SqliteStore.open(tmp_path), SqliteStore.open(tmp_path)
    with closing(first), closing(second):
        plan = block_plan(trials=len(WORDS))
        first.add_listener(Listener(plan.listener_id, "Ada"))
        with Sitting(first, ManualClock(), RecordingPlayer(), plan) as here:
            for word in WORDS[:2]:
                here.answer(word)
            left = second.unfinished_block(plan.listener_id)
            assert left is not None
            with Sitting(second, ManualClock(), RecordingPlayer(), left.plan, left.trials) as there:
                yield first, here, second, there


def only_block(store: SqliteStore) -> StoredBlock:
    (block,) = store.blocks(store.listeners()[0].id)
    return block


def test_whoever_is_behind_is_told_and_goes_on_from_there(
    windows: tuple[SqliteStore, Sitting, SqliteStore, Sitting], tmp_path: Path
) -> None:
    store, here, _, there = windows
    assert here.answer(WORDS[2]).told is not None
    with pytest.raises(ElsewhereError, match="pair 3 of this block was answered in another window: go on there, or"):
        there.answer("sharp")
    assert there.drill == here.drill
    assert there.judged is None
    # By turns now, each a pair behind the other's.
    for number in range(3, len(WORDS)):
        ahead, behind = (there, here) if number % 2 else (here, there)
        taken = ahead.answer(WORDS[number])
        with pytest.raises(ElsewhereError):
            behind.answer("unison")
        assert behind.drill.trials == ahead.drill.trials
    assert taken.result is not None
    assert here.result == there.result == taken.result
    block = only_block(store)
    assert [trial.n for trial in block.trials] == list(range(1, len(WORDS) + 1))
    with closing(SqliteStore.open(tmp_path / "one")) as alone:
        alone.add_listener(Listener(block.plan.listener_id, "Ada"))
        with Sitting(alone, ManualClock(), RecordingPlayer(), block.plan) as sitting:
            for word in WORDS:
                sitting.answer(word)
        assert only_block(alone) == block


def test_who_leaves_behind_the_other_ends_the_block_with_all_its_answers(
    windows: tuple[SqliteStore, Sitting, SqliteStore, Sitting],
) -> None:
    store, here, _, there = windows
    for word in WORDS[2:6]:
        here.answer(word)
    result = there.leave()
    block = only_block(store)
    assert (result.trials, len(block.trials), block.result) == (6, 6, result)
    with pytest.raises(ElsewhereError, match="this block has ended in another window: begin a new one"):
        here.answer("flat")
    assert here.drill.over
    assert here.leave() == result
    assert only_block(store) == block
