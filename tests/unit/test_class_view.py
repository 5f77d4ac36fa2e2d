"""The class view: rows kept as long as they are good, worked out anew when blocks change, in any order."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from centwise.class_view import ONE_BY_ONE, SORT_KEYS, class_rows, sorted_rows
from centwise.model import JUDGEMENTS, BlockResult, Listener, Trial
from centwise.ports import ClassRow
from centwise.progress import class_row_of
from centwise.store.sqlite import SqliteStore
from fakes import START, MemoryStore, block_plan
from made_class import MadeClass, make_class

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

NOW = START + timedelta(days=200)
RESULT = BlockResult(5, 4, 4.5, 3.1, 6.6, -0.5, -2.0, 1.0, 3.2, 1.73, 1.19, 2.54, 4)


@pytest.fixture
def made(tmp_path: Path) -> Iterator[SqliteStore]:
    make_class(tmp_path, MadeClass(listeners=ONE_BY_ONE + 5, blocks_each=5, trials_each=6))
    store = SqliteStore.open(tmp_path)
    yield store
    store.close()


def test_rows_are_each_listeners_own_progress_whether_worked_out_or_kept(made: SqliteStore) -> None:
    expected = [class_row_of(who, [one.outline for one in made.summaries(who.id)]) for who in made.listeners()]
    assert list(class_rows(made)) == expected
    assert all(kept.row is not None for kept in made.class_rows()), "kept from now on"
    assert list(class_rows(made)) == expected
    assert {row.blocks for row in expected} == {5}


def test_whatever_changes_a_listeners_blocks_has_their_row_worked_out_anew(made: SqliteStore) -> None:
    def check(*changed: str) -> None:
        missing = {kept.listener.id for kept in made.class_rows() if kept.row is None}
        assert missing == set(changed)
        expected = [class_row_of(who, [one.outline for one in made.summaries(who.id)]) for who in made.listeners()]
        assert list(class_rows(made)) == expected

    class_rows(made)
    made.begin_block(block_plan(id="new", listener_id="listener-3", started_at=NOW))
    check("listener-3")
    made.add_trial("new", Trial(1, -8.0, "harmonic", JUDGEMENTS[0], NOW))
    check("listener-3")
    made.end_block("new", RESULT, NOW)
    check("listener-3")
    made.change_listener(replace(made.listeners()[0], name="Renamed"))
    check()
    made.merge_listeners("listener-3", "listener-4")
    check("listener-4")
    made.merge_listeners("listener-5", "listener-4")
    made.remove_listener("listener-6", keep_copy=False)
    check("listener-4")


def test_a_row_worked_out_while_a_block_came_in_is_not_taken_for_good(made: SqliteStore) -> None:
    kept = made.class_rows()[0]
    made.begin_block(block_plan(id="new", listener_id=kept.listener.id, started_at=NOW))
    row = class_row_of(kept.listener, ())
    made.keep_class_rows([replace(kept, row=row)])
    assert next(one.row for one in made.class_rows() if one.listener.id == kept.listener.id) is None


def test_who_has_gone_meanwhile_is_not_kept(made: SqliteStore) -> None:
    kept = made.class_rows()[0]
    made.remove_listener(kept.listener.id, keep_copy=False)
    made.keep_class_rows([replace(kept, row=class_row_of(kept.listener, ()))])
    assert kept.listener not in {one.listener for one in made.class_rows()}


def test_a_store_that_cannot_keep_rows_is_read_all_the_same() -> None:
    store = MemoryStore()
    store.add_listener(Listener("ann", "Ann"))
    store.broken.add("keep_class_rows")
    assert [row.listener.name for row in class_rows(store)] == ["Ann"]


def row(name: str, cents: float | None = None, *, chance: float | None = None, day: int | None = None) -> ClassRow:
    seen = None if day is None else START + timedelta(days=day)
    return ClassRow(
        Listener(name, name), day or 0, 0, 60.0 * (day or 0), seen, threshold_cents=cents, improvement_chance=chance
    )


ROWS = (
    row("Éva", 4.0, chance=0.99, day=3),
    row("zoë"),
    row("Ada", 9.0, chance=0.5, day=9),
    row("bo", 6.0, day=5),
    row("Cy", 12.0, chance=0.01, day=1),
)


@pytest.mark.parametrize(
    ("key", "names", "turned"),
    [
        ("last", ["Éva", "zoë", "Ada", "bo", "Cy"], ["Cy", "bo", "Ada", "zoë", "Éva"]),
        ("name", ["Ada", "bo", "Cy", "zoë", "Éva"], ["Éva", "zoë", "Cy", "bo", "Ada"]),
        ("threshold", ["Éva", "bo", "Ada", "Cy", "zoë"], ["Cy", "Ada", "bo", "Éva", "zoë"]),
        ("trend", ["Éva", "Ada", "bo", "Cy", "zoë"], ["Cy", "bo", "Ada", "Éva", "zoë"]),
        ("seen", ["Ada", "bo", "Éva", "Cy", "zoë"], ["Cy", "Éva", "bo", "Ada", "zoë"]),
        ("minutes", ["Ada", "bo", "Éva", "Cy", "zoë"], ["zoë", "Cy", "Éva", "bo", "Ada"]),
        ("blocks", ["Ada", "bo", "Éva", "Cy", "zoë"], ["zoë", "Cy", "Éva", "bo", "Ada"]),
    ],
)
def test_a_class_is_sorted_and_who_has_nothing_to_sort_by_comes_last(
    key: str, names: list[str], turned: list[str]
) -> None:
    assert key in SORT_KEYS
    assert [one.listener.name for one in sorted_rows(ROWS, key)] == names  # type: ignore[arg-type]
    assert [one.listener.name for one in sorted_rows(ROWS, key, reverse=True)] == turned  # type: ignore[arg-type]


def test_rows_told_in_an_earlier_way_are_worked_out_anew(made: SqliteStore, monkeypatch: pytest.MonkeyPatch) -> None:
    class_rows(made)
    monkeypatch.setattr("centwise.store.class_rows.HISTORY_METHOD", 999)
    assert all(kept.row is None for kept in made.class_rows())
    class_rows(made)
    assert all(kept.row is not None for kept in made.class_rows())


def test_an_outline_says_what_the_whole_block_says(made: SqliteStore) -> None:
    ada = made.listeners()[0]
    (first, *_) = made.summaries(ada.id)
    assert first.result is not None
    for name, player, result in (
        ("silent", "silent:hurry", first.result),
        ("swapped", "miniaudio", replace(first.result, doubt="swapped")),
        ("left", "miniaudio", None),
    ):
        plan = replace(first.plan, id=name, player=player, started_at=first.plan.started_at + timedelta(days=400))
        made.begin_block(plan)
        if result is not None:
            made.end_block(name, result, plan.started_at)
    for whose in (None, ada.id):
        assert made.outlines(whose) == tuple(one.outline for one in made.summaries(whose))
    assert [(one.heard, one.threshold_cents is None) for one in made.outlines(ada.id)[-3:]] == [
        (False, False),
        (True, True),
        (True, True),
    ]
