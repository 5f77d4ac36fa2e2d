"""Rehearsals in the store: what was kept comes back, an ended one takes no more, and they belong to their listener."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from centwise.errors import ElsewhereError, StoreError
from centwise.model import BenchAct, BenchJudgement, BenchPlan, BenchResult, BenchShare, Listener, OrderPoint
from centwise.store.sqlite import SqliteStore
from fakes import START

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PLAN = BenchPlan("b1", "l1", "five-string", "straight", "hard", False, 2**32 - 1, 666.75, "silent", START)
RESULT = BenchResult(
    cents={1: 0.1, 4: -2.5},
    string_mm={1: -0.01, 4: 1.0},
    must_leave_cents={1: 0.0, 4: 0.0},
    bass_mm=1.25,
    treble_mm=-0.5,
    side_mm=0.0,
    moves=3,
    comparisons=9,
    judgements=(BenchJudgement(4, 4, "flat", -2.5, True),),
    order=(OrderPoint("muted", True, "Because."),),
    shares=(BenchShare(4, -2.5, 0.5, -3.0, None, True), BenchShare(1, 0.1, 0.0, 0.1, 4.5, False)),
    hand_percent=None,
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqliteStore]:
    store = SqliteStore.open(tmp_path)
    store.add_listener(Listener("l1", "Ada"))
    store.add_listener(Listener("l2", "Béla"))
    yield store
    store.close()


def act(n: int, words: str) -> BenchAct:
    return BenchAct(n, words, START + timedelta(seconds=n, microseconds=7))


def test_a_rehearsal_comes_back_as_it_was_kept(store: SqliteStore, tmp_path: Path) -> None:
    store.begin_bench(PLAN)
    store.add_bench_act("b1", act(1, "mute"))
    store.add_bench_act("b1", act(2, "bass forward 1/16in"))
    left = store.unfinished_bench("l1")
    assert left is not None
    assert (left.plan, left.acts, left.result) == (PLAN, (act(1, "mute"), act(2, "bass forward 1/16in")), None)
    store.add_bench_act("b1", act(3, "mark"), RESULT)
    assert store.unfinished_bench("l1") is None
    store.close()
    again = SqliteStore.open(tmp_path)
    (kept,) = again.benches("l1")
    assert kept.result == RESULT
    assert len(kept.acts) == 3
    again.close()


def test_the_latest_one_that_is_open_goes_on(store: SqliteStore) -> None:
    for number in range(3):
        store.begin_bench(replace(PLAN, id=f"b{number}", started_at=START + timedelta(minutes=number)))
    store.add_bench_act("b2", act(1, "mark"), RESULT)
    left = store.unfinished_bench("l1")
    assert left is not None
    assert left.plan.id == "b1"
    assert [bench.plan.id for bench in store.benches("l1")] == ["b0", "b1", "b2"]
    assert store.unfinished_bench("l2") is None
    assert store.listeners()[0].id == "l1"


def test_an_ended_or_unknown_one_and_a_number_twice_are_refused(store: SqliteStore) -> None:
    store.begin_bench(PLAN)
    store.add_bench_act("b1", act(1, "mute"))
    with pytest.raises(ElsewhereError, match="was gone on with in another window: close one of the two"):
        store.add_bench_act("b1", act(1, "unmute"))
    with pytest.raises(StoreError, match="this rehearsal is not kept"):
        store.add_bench_act("nobody", act(1, "mute"))
    store.add_bench_act("b1", act(2, "mark"), RESULT)
    with pytest.raises(ElsewhereError, match="was marked in another window: begin a new one"):
        store.add_bench_act("b1", act(3, "mute"))
    with pytest.raises(StoreError):
        store.begin_bench(replace(PLAN, id="b9", listener_id="nobody"))


def test_they_belong_to_their_listener(store: SqliteStore) -> None:
    store.begin_bench(PLAN)
    store.add_bench_act("b1", act(1, "mute"))
    assert store.holdings("l1").counts == {"benches": 1, "bench_acts": 1}
    store.merge_listeners("l1", "l2")
    (moved,) = store.benches("l2")
    assert moved.acts == (act(1, "mute"),)
    folder = store.remove_listener("l2", keep_copy=True)
    assert folder is not None
    assert store.benches("l2") == ()
    copied = SqliteStore.open(folder)
    assert copied.benches("l2")[0].acts == (act(1, "mute"),)
    copied.close()


def test_a_rehearsal_begun_with_an_act_is_kept_with_it_or_not_at_all(store: SqliteStore) -> None:
    store.begin_bench(PLAN, act(8, "start over"))
    left = store.unfinished_bench("l1")
    assert left is not None
    assert left.acts == (act(8, "start over"),)
    unsaid = BenchAct(9, "start over", START.replace(tzinfo=None))
    with pytest.raises(StoreError, match="says no zone"):
        store.begin_bench(replace(PLAN, id="b2"), unsaid)
    assert store.benches("l1") == (left,)
