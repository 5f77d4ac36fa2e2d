"""One block, gone on with in two windows at once: no answer twice, none lost, and every pair as if in one window."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from centwise.conductor import Sitting
from centwise.errors import ElsewhereError, StoreError
from centwise.model import Listener
from centwise.planning import with_instrument
from centwise.store.sqlite import SqliteStore
from centwise.strings.library import BUILT_IN
from fakes import ManualClock, RecordingPlayer, block_plan

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from centwise.model import BlockResult, Judgement
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
            left = second.block_with_id(plan.id)
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


def test_a_block_whose_listener_was_merged_meanwhile_is_caught_up_with_all_the_same(
    windows: tuple[SqliteStore, Sitting, SqliteStore, Sitting],
) -> None:
    store, here, _, there = windows
    store.add_listener(Listener("bo", "Bo"))
    store.merge_listeners(here.drill.plan.listener_id, "bo")
    assert here.answer(WORDS[2]).told is not None
    with pytest.raises(ElsewhereError, match="pair 3 of this block was answered in another window"):
        there.answer("sharp")
    assert there.drill == here.drill
    result = here.leave()
    assert there.leave() == result
    assert only_block(store).result == result


def test_who_changes_one_thing_undoes_no_other_windows_change(tmp_path: Path) -> None:
    first, second = SqliteStore.open(tmp_path), SqliteStore.open(tmp_path)
    with closing(first), closing(second):
        was = Listener("ada", "Ada", note="hears well")
        first.add_listener(was)
        second.change_listener(replace(was, name="Ada L.", note="hears very well"), was=was)
        first.change_listener(replace(was, scale_mm=640.0), was=was)
        kept = second.listener_with_id("ada")
        assert kept == replace(was, name="Ada L.", note="hears very well", scale_mm=640.0)
        assert with_instrument(first, was, "mandolin", (), BUILT_IN).name == "Ada L."
        # What both changed is as it was changed last.
        first.change_listener(replace(was, note="yes"), was=was)
        kept = second.listener_with_id("ada")
        assert kept is not None
        assert (kept.note, kept.instrument) == ("yes", "mandolin")


def test_who_practises_between_the_question_and_the_yes_is_not_removed(
    windows: tuple[SqliteStore, Sitting, SqliteStore, Sitting],
) -> None:
    store, here, other, _ = windows
    listener_id = here.drill.plan.listener_id
    told = other.holdings(listener_id)
    here.answer(WORDS[2])
    with pytest.raises(ElsewhereError, match=r"another window 'Ada' has changed meanwhile, and nothing was removed"):
        other.remove_listener(listener_id, keep_copy=False, told=told)
    assert len(only_block(store).trials) == 3
    assert other.remove_listener(listener_id, keep_copy=False, told=other.holdings(listener_id)) is None
    assert store.listeners() == ()


def test_a_block_that_another_window_ends_with_its_last_answer_just_kept_here_has_its_result(
    windows: tuple[SqliteStore, Sitting, SqliteStore, Sitting], monkeypatch: pytest.MonkeyPatch
) -> None:
    store, here, _, there = windows
    for word in WORDS[2:-1]:
        here.answer(word)
    end_block = store.end_block

    def later(*values: Any, **options: Any) -> None:
        ended.append(there.leave())
        end_block(*values, **options)

    ended: list[BlockResult] = []
    monkeypatch.setattr(store, "end_block", later)
    taken = here.answer(WORDS[-1])
    assert taken.told is not None
    assert ended == [taken.result]
    assert only_block(store).result == here.result == taken.result


def test_who_was_merged_or_removed_in_another_window_is_met_kindly(
    windows: tuple[SqliteStore, Sitting, SqliteStore, Sitting],
) -> None:
    store, here, other, _ = windows
    listener_id = here.drill.plan.listener_id
    other.add_listener(Listener("bo", "Bo"))
    other.merge_listeners(listener_id, "bo")
    # This window still has the first one's id: it means the second.
    plan = block_plan(id="next", listener_id=listener_id, trials=2)
    with Sitting(store, ManualClock(), RecordingPlayer(), plan) as sitting:
        for word in WORDS[:2]:
            sitting.answer(word)
    assert [one.plan.id for one in store.summaries(listener_id)] == [one.plan.id for one in store.summaries("bo")]
    assert {block.plan.listener_id for block in store.blocks(listener_id)} == {"bo"}
    assert store.outlines(listener_id) == store.outlines("bo")
    other.remove_listener("bo", keep_copy=False)
    with pytest.raises(StoreError, match="whose this is was removed in another window: choose who listens"):
        Sitting(store, ManualClock(), RecordingPlayer(), replace(plan, id="last"))
    with pytest.raises(StoreError, match=r"this block is not in .*, or no more since its listener was removed"):
        here.answer("flat")
    with pytest.raises(StoreError, match="this block is not in"):
        here.leave()
