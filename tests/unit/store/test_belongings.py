"""What belongs to a listener: changed, counted, copied, given to another, removed."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from centwise.errors import StoreError, UsageError
from centwise.model import BlockPlan, BlockResult, Condition, Listener, Trial
from centwise.ports import Holdings
from centwise.store import belongings, copies
from centwise.store.sqlite import FILE_NAME, SqliteStore

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

START = datetime(2026, 3, 1, 18, 4, 5, tzinfo=UTC)
RESULT = BlockResult(3, 2, 4.5, 3.1, 6.6, -0.5, -2.0, 1.0, 3.2, 1.73, 1.19, 2.54, 4)


def add_block(store: SqliteStore, id_: str, listener_id: str, *, trials: int = 3) -> None:
    plan = BlockPlan(id_, listener_id, Condition(), "balanced", 40, False, 7, 660.0, "recording", START)
    store.begin_block(plan)
    for n in range(1, trials + 1):
        store.add_trial(id_, Trial(n, -8.0, "harmonic", "flat", START + timedelta(seconds=10 * n)))
    store.end_block(id_, RESULT, START + timedelta(minutes=7))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqliteStore]:
    store = SqliteStore.open(tmp_path)
    store.add_listener(Listener("ann", "Ann", 640.0, "five-string", "hears well"))
    store.add_listener(Listener("bo", "Bo", 660.0))
    add_block(store, "a1", "ann")
    add_block(store, "a2", "ann", trials=5)
    add_block(store, "b1", "bo")
    yield store
    store.close()


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


def test_name_scale_instrument_and_note_change_together(store: SqliteStore) -> None:
    changed = Listener("bo", "Bo\u0308", 700.0, "tenor", "line one\nline two")
    store.change_listener(replace(changed, name=" Bo\u0308\x1b\n", note="line one\r\nline\x1b two \n"))
    assert store.listener_named("bÖ") == replace(changed, name="B\u00f6")
    assert store.listener_with_id("bo") == replace(changed, name="B\u00f6")


@pytest.mark.parametrize(
    ("changes", "error", "said"),
    [
        ({"name": "ANN"}, StoreError, "there is a listener named 'Ann' already: choose a name not yet taken"),
        ({"name": "\u202e"}, UsageError, "is no name"),
        ({"note": "x" * 2001}, UsageError, "a note of 2001 characters is too long"),
        ({"id": "nobody"}, StoreError, "knows no listener 'nobody'"),
        ({"scale_mm": 0.0}, StoreError, "cannot be kept"),
    ],
)
def test_a_change_that_cannot_be_is_refused_whole(
    store: SqliteStore, changes: dict[str, str], error: type[Exception], said: str
) -> None:
    before = store.listeners()
    with pytest.raises(error, match=said):
        store.change_listener(replace(Listener("bo", "Bo", 650.0), **changes))  # type: ignore[arg-type]
    assert store.listeners() == before


def test_holdings_count_what_would_go(store: SqliteStore) -> None:
    ann = Listener("ann", "Ann", 640.0, "five-string", "hears well")
    assert store.holdings("ann") == Holdings(ann, {"blocks": 2, "trials": 8})
    with pytest.raises(StoreError, match="knows no listener 'x'"):
        store.holdings("x")


def test_every_table_of_the_schema_is_somebodys_or_a_setting(store: SqliteStore) -> None:
    connection = store._transactions._connection
    assert connection is not None
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    owned = {table for table, _where in belongings.owned(connection)}
    assert tables - owned == {"listeners", "settings", "sqlite_sequence", *belongings.DERIVED}, (
        "a new table that holds something of a listener must reach it by foreign keys"
    )


def test_who_is_removed_leaves_nothing_behind_and_a_copy_that_opens(store: SqliteStore, tmp_path: Path) -> None:
    kept = store.blocks("ann")
    listener = store.listener_with_id("ann")
    folder = store.remove_listener("ann", keep_copy=True)
    assert folder == tmp_path / "copies" / "removed-1"
    assert [who.name for who in store.listeners()] == ["Bo"]
    assert store.blocks("ann") == ()
    assert not [line for line in dump(store.path) if "ann" in line or "a1" in line or "hears well" in line]
    assert [block.plan.id for block in store.blocks("bo")] == ["b1"]
    copy = SqliteStore.open(folder)
    assert copy.listeners() == (listener,)
    assert copy.blocks("ann") == kept
    assert [summary.answered for summary in copy.summaries()] == [3, 5]
    copy.close()


def test_who_is_removed_for_good_leaves_no_copy(store: SqliteStore, tmp_path: Path) -> None:
    assert store.remove_listener("ann", keep_copy=False) is None
    assert not (tmp_path / copies.FOLDER_NAME).exists()
    store.close()
    assert b"hears well" not in (tmp_path / FILE_NAME).read_bytes()


def test_each_copy_has_a_folder_of_its_own(store: SqliteStore) -> None:
    folders = {store.remove_listener(who, keep_copy=True) for who in ("ann", "bo")}
    assert {folder.name for folder in folders if folder} == {"removed-1", "removed-2"}


def test_nothing_goes_when_no_copy_can_be_kept(store: SqliteStore, tmp_path: Path) -> None:
    (tmp_path / copies.FOLDER_NAME).write_text("in the way")
    with pytest.raises(StoreError, match=r"no copy can be kept in .*so nothing was changed"):
        store.remove_listener("ann", keep_copy=True)
    assert len(store.blocks("ann")) == 2


def test_two_listeners_become_one(store: SqliteStore) -> None:
    bos = store.blocks("bo")[0]
    store.change_listener(Listener("bo", "Bo", 660.0, "five-string", "left-handed"))
    folder = store.merge_listeners("bo", "ann")
    assert store.listeners() == (Listener("ann", "Ann", 640.0, "five-string", "hears well\nleft-handed"),)
    assert sorted(block.plan.id for block in store.blocks("ann")) == ["a1", "a2", "b1"]
    moved = next(block for block in store.blocks("ann") if block.plan.id == "b1")
    assert moved == replace(bos, plan=replace(bos.plan, listener_id="ann"))
    assert moved.plan.scale_mm == 660.0, "a block keeps the scale length it was taken with"
    assert store.listener_with_id("bo") == store.listener_with_id("ann"), "the old id means the one who stays"
    copy = SqliteStore.open(folder)
    assert [(who.name, who.note) for who in copy.listeners()] == [("Bo", "left-handed")]
    copy.close()


def test_ids_follow_one_merge_after_another_and_go_with_a_removal(store: SqliteStore) -> None:
    store.add_listener(Listener("cy", "Cy"))
    store.merge_listeners("bo", "ann")
    store.merge_listeners("ann", "cy")
    assert {id_: store.listener_with_id(id_) for id_ in ("ann", "bo")} == dict.fromkeys(
        ("ann", "bo"), store.listener_with_id("cy")
    )
    store.remove_listener("cy", keep_copy=False)
    assert store.listener_with_id("bo") is None
    assert store.listeners() == ()


@pytest.mark.parametrize(
    ("pair", "error", "said"),
    [
        (("ann", "ann"), UsageError, "cannot be merged with themselves"),
        (("ann", "x"), StoreError, "knows no listener 'x'"),
        (("x", "ann"), StoreError, "knows no listener 'x'"),
    ],
)
def test_a_merge_that_cannot_be_changes_nothing(
    store: SqliteStore, pair: tuple[str, str], error: type[Exception], said: str
) -> None:
    before = store.summaries()
    with pytest.raises(error, match=said):
        store.merge_listeners(*pair)
    assert store.summaries() == before
