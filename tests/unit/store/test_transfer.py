"""Data out of a store and into another: the same bytes, nothing twice, any order, all or nothing."""

from __future__ import annotations

import json
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import timedelta
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from centwise.errors import CentwiseError, InputError, UsageError
from centwise.exchange.lines import Reading, lines_of
from centwise.exchange.records import BenchRecord, BlockRecord, Kept, ListenerRecord
from centwise.model import BenchAct, BenchPlan, BenchResult, BenchShare, BlockResult, Listener, Trial
from centwise.store.alike import shown_names
from centwise.store.names import cleaned_name, name_key
from centwise.store.sqlite import SqliteStore
from centwise.store.transfer import TakenIn
from fakes import START, block_plan

Records = Iterable[Kept]


@contextmanager
def store_in(folder: Path) -> Iterator[SqliteStore]:
    with closing(SqliteStore.open(folder)) as store:
        yield store


def exported(store: SqliteStore) -> str:
    return "".join(lines_of(store.exported(), written_by="test", names=True))


def records_in(text: str) -> Iterator[Kept]:
    return Reading(text.encode().splitlines(keepends=True), "test.jsonl").records()


def listener(listener_id: str, name: str, edition: int = 1, *merged: str, note: str = "") -> ListenerRecord:
    return ListenerRecord(Listener(listener_id, name, note=note), edition, merged)


def block(
    block_id: str, listener_id: str, answers: int = 3, *, ended: bool = True, method: int = 1, day: float = 0.0
) -> BlockRecord:
    start = START + timedelta(days=day)
    trials = tuple(
        Trial(n, 4.0 * n, "harmonic", "sharp", start + timedelta(seconds=9 * n)) for n in range(1, answers + 1)
    )
    result = BlockResult(answers, answers, 8.0, 6.0, 11.0, *[None] * 8) if ended else None
    plan = block_plan(id=block_id, listener_id=listener_id, started_at=start)
    return BlockRecord(plan, trials, result, start + timedelta(minutes=9) if ended else None, method if ended else None)


def test_out_in_and_out_again_are_the_same_bytes(tmp_path: Path) -> None:
    with store_in(tmp_path / "a") as a, store_in(tmp_path / "b") as b:
        a.take_in([listener("x", "Ada", 3, "old", note="two\nlines"), block("1", "x"), block("2", "x", ended=False)])
        a.take_in([listener("y", "Бела"), block("3", "y", 0, ended=False)])
        text = exported(a)
        taken = b.take_in(records_in(text))
        assert taken == TakenIn(listeners=2, blocks=3, trials=6)
        assert exported(b) == text
        assert b.take_in(records_in(text)).nothing
        assert exported(b) == text
        # What is worked out beside the trials is the same too.
        assert b.summaries() == a.summaries()
        assert [summary.practised_s for summary in b.summaries("x")] == pytest.approx([27.0, 27.0])
        assert b.blocks("x") == a.blocks("x")
        assert b.listener_with_id("old") == a.listener_with_id("old")


def rehearsal(bench_id: str, listener_id: str, acts: int = 3, *, ended: bool = True) -> BenchRecord:
    done = tuple(BenchAct(n, f"chime {n}", START + timedelta(seconds=n)) for n in range(1, acts + 1))
    share = BenchShare(4, 1.5, 0.5, 1.0, None, rechecked=True)
    result = BenchResult({4: 1.5, 1: -2.0}, {4: 0.6}, {4: 0.0}, 0.5, -0.5, 0.1, 3, 9, (), (), (share,), 14.0)
    plan = BenchPlan(bench_id, listener_id, "five-string", "straight", "easy", True, 7, 666.75, "miniaudio", START)
    return BenchRecord(plan, done, result if ended else None, START + timedelta(minutes=5) if ended else None)


def test_rehearsals_go_along(tmp_path: Path) -> None:
    with store_in(tmp_path / "a") as a, store_in(tmp_path / "b") as b:
        going_on = [listener("x", "Ada"), rehearsal("r1", "x", 2, ended=False)]
        assert a.take_in(going_on) == TakenIn(listeners=1, rehearsals=1)
        assert a.unfinished_bench("x") is not None
        marked = [listener("x", "Ada"), rehearsal("r1", "x"), rehearsal("r2", "x")]
        assert a.take_in(marked) == TakenIn(rehearsals=1, changed_rehearsals=1)
        assert a.take_in(going_on).nothing
        text = exported(a)
        b.take_in(records_in(text))
        assert exported(b) == text
        assert b.benches("x") == a.benches("x")
        assert [bench.result for bench in b.benches("x")] == [rehearsal("r1", "x").result] * 2
        with pytest.raises(UsageError, match="the rehearsal 'r1' belongs to another listener here"):
            a.take_in([listener("y", "Ben"), rehearsal("r1", "y")])


def test_only_some_listeners(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("x", "Ada"), block("1", "x"), listener("y", "Ben"), block("2", "y")])
        assert [type(record) for record in store.exported(["y"])] == [ListenerRecord, BlockRecord]
        assert list(store.exported([])) == []


def test_a_pupil_comes_again_with_more(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("x", "Ada"), block("1", "x", 2, ended=False)])
        taken = store.take_in([listener("x", "Ada"), block("1", "x", 5), block("2", "x")])
        assert taken == TakenIn(blocks=1, changed_blocks=1, trials=6)
        # The earlier state again takes nothing back.
        assert store.take_in([listener("x", "Ada"), block("1", "x", 2, ended=False)]).nothing
        (first, _second) = store.blocks("x")
        assert len(first.trials) == 5
        assert first.result is not None
        assert store.summaries("x")[0].answered == 5


def test_of_two_results_the_newer_method_holds(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("x", "Ada"), block("1", "x", method=2)])
        assert store.take_in([listener("x", "Ada"), block("1", "x", method=1)]).nothing
        store.take_in([listener("x", "Ada"), block("1", "x", method=3)])
        assert store.summaries("x")[0].method == 3


def test_of_two_copies_of_a_listener_the_later_holds(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("x", "Ada")])
        store.change_listener(replace(store.listeners()[0], name="Ada B.", note="left-handed"))
        assert store.take_in([listener("x", "Ada")]).nothing
        assert store.listeners()[0].name == "Ada B."
        assert next(iter(store.exported())) == listener("x", "Ada B.", 2, note="left-handed")
        assert store.take_in([listener("x", "Ada L.", 3)]) == TakenIn(changed_listeners=1, renamed=())
        assert store.listener_named("ada l.") == store.listeners()[0]
        store.set_scale_mm("x", 700.0)
        assert next(iter(store.exported())).edition == 4  # type: ignore[union-attr]


def test_two_who_are_called_alike_stay_two_in_any_order(tmp_path: Path) -> None:
    files = [[listener(one, "Ada"), block(f"b{one}", one)] for one in ("1111-x", "2222-y", "2222-z")]
    texts = set()
    for number, order in enumerate(permutations(files)):
        with store_in(tmp_path / str(number)) as store:
            renamed = [pair for records in order for pair in store.take_in(records).renamed]
            names = {one.id: one.name for one in store.listeners()}
            assert names == {"1111-x": "Ada", "2222-y": "Ada (2222)", "2222-z": "Ada (2222-)"}
            assert renamed
            for name in names.values():
                assert store.listener_named(name) is not None
            texts.add(exported(store))
    (text,) = texts
    # Each still has the name asked for, for stores in which nobody else has it.
    assert text.count('"name":"Ada"') == 3


def test_who_is_renamed_by_hand_keeps_that(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("1111", "Ada")])
        store.take_in([listener("2222", "Ada")])
        second = store.listener_with_id("2222")
        assert second is not None
        store.change_listener(replace(second, name="Ada the younger"))
        assert store.take_in([listener("1111", "Ada"), listener("2222", "Ada")]).nothing
        assert {one.name for one in store.listeners()} == {"Ada", "Ada the younger"}


@given(st.dictionaries(st.text("ab", min_size=1, max_size=6), st.sampled_from(["Ada", "ADA", "Ada (aaaa)", "x" * 200])))
def test_shown_names_are_all_different(claims: dict[str, str]) -> None:
    shown = shown_names(claims)
    assert shown.keys() == claims.keys()
    assert len({name_key(name) for name in shown.values()}) == len(claims)
    for name in shown.values():
        assert cleaned_name(name) == name


def test_once_the_other_is_gone_the_name_is_free_again(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        for act in (
            lambda: store.remove_listener("1111", keep_copy=False),
            lambda: store.merge_listeners("1111", "2222"),
            lambda: store.change_listener(Listener("1111", "Ben")),
        ):
            store.take_in([listener("1111", "Ada", 7)])
            store.take_in([listener("2222", "Ada")])
            act()
            found = store.listener_with_id("2222")
            assert found is not None
            assert found.name == "Ada"
            assert [r.edition for r in store.exported(["2222"])] == [1]  # type: ignore[union-attr]
            for one in store.listeners():
                store.remove_listener(one.id, keep_copy=False)


def test_who_was_merged_stays_merged(tmp_path: Path) -> None:
    pupil = [listener("y", "Ada"), block("2", "y")]
    teacher = [listener("x", "Ada L.", 1, "y"), block("1", "x")]
    with store_in(tmp_path / "a") as a, store_in(tmp_path / "b") as b:
        a.take_in(teacher)
        a.take_in(pupil)
        b.take_in(pupil)
        taken = b.take_in(teacher)
        assert taken.merged_listeners == 1
        assert exported(a) == exported(b)
        for store in (a, b):
            assert [one.name for one in store.listeners()] == ["Ada L."]
            assert len(store.blocks("x")) == 2
    # Somebody of one's own is not merged without a copy.
    assert not (tmp_path / "a" / "copies").exists()
    with store_in(tmp_path / "b" / "copies" / "merged-1") as copy:
        assert [one.name for one in copy.listeners()] == ["Ada"]


def test_each_merged_into_the_other(tmp_path: Path) -> None:
    one, other = [listener("x", "Ada", 1, "y")], [listener("y", "Adah", 2, "x")]
    with store_in(tmp_path / "a") as a, store_in(tmp_path / "b") as b:
        for store, order in ((a, (one, other)), (b, (other, one))):
            for records in order:
                store.take_in(records)
        assert exported(a) == exported(b)
        assert [one.id for one in a.listeners()] == ["x"]


FOUR = ("w", "x", "y", "z")


def merged_files(merges: Iterable[tuple[str, str]], edition: int) -> str:
    """What a store that has four listeners exports after some merges: who is gone has none of their own any more."""
    folder = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    try:
        with store_in(folder) as store:
            for number, one in enumerate(FOUR):
                store.take_in([listener(one, one.upper(), 1), block(f"b{one}", one, day=number)])
            for goes, stays in merges:
                here = {one.id for one in store.listeners()}
                if goes != stays and {goes, stays} <= here:
                    store.merge_listeners(goes, stays)
                    store.set_scale_mm(stays, 650.0 + edition)
            return exported(store)
    finally:
        shutil.rmtree(folder)


def agree_in_all_orders(files: list[str]) -> str:
    """Take the files in in every order, and each again, and return what all of them come to."""
    folder = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    try:
        came_to = set()
        for number, order in enumerate(permutations(files)):
            with store_in(folder / str(number)) as store:
                for text in order:
                    store.take_in(records_in(text))
                came_to.add(exported(store))
                for text in order:
                    assert store.take_in(records_in(text)).nothing
                came_to.add(exported(store))
        (text,) = came_to
        return text
    finally:
        shutil.rmtree(folder)


@pytest.mark.parametrize(
    ("merges", "stay"),
    [
        ([["yz", "wz"], ["wy"]], ["x", "z"]),
        ([["wx", "yz"], ["xy", "wz"]], ["z"]),
        ([["yz", "wx", "xz"], ["wy"]], ["z"]),
        # Three stores go round in a circle; w has no part in it.
        ([["xy"], ["yz"], ["zx"]], ["w", "x"]),
        ([["xy"], ["yz"], ["yx"]], ["w", "z"]),
        # Two wish w merged, and then one of the two is merged elsewhere.
        ([["wx"], ["wy"], ["xz"]], ["y"]),
    ],
)
def test_chains_and_circles_of_merges(merges: list[list[str]], stay: list[str]) -> None:
    files = [merged_files([(pair[0], pair[1]) for pair in one], n) for n, one in enumerate(merges)]
    text = agree_in_all_orders(files)
    assert [r.listener.id for r in records_in(text) if isinstance(r, ListenerRecord)] == stay


@settings(max_examples=15, deadline=None)
@given(st.lists(st.lists(st.permutations(FOUR), min_size=1, max_size=3), min_size=3, max_size=3))
def test_three_stores_with_any_merges_agree_in_all_orders(merges: list[list[list[str]]]) -> None:
    agree_in_all_orders([merged_files([(pair[0], pair[1]) for pair in one], n) for n, one in enumerate(merges)])


def test_a_merge_made_here_decides(tmp_path: Path) -> None:
    with store_in(tmp_path / "a") as store, store_in(tmp_path / "b") as other:
        for one in (["xy"], ["yx"]):
            store.take_in(records_in(merged_files([(pair[0], pair[1]) for pair in one], 1)))
        assert [one.id for one in store.listeners()] == ["w", "x", "z"]
        store.merge_listeners("x", "z")
        text = exported(store)
        assert store.take_in(records_in(text)).nothing
        other.take_in(records_in(text))
        assert exported(other) == text
        assert other.listener_with_id("y") == other.listener_with_id("x") == store.listener_with_id("z")


NAMES = st.sampled_from(["Ada", "ada", "Ben", "Ada (i1)"])
IDS = ("i1", "i2", "i3")
BLOCK_IDS = ("b1", "b2", "b3", "b4")


@st.composite
def histories(draw: st.DrawFn) -> list[Callable[[SqliteStore], object]]:
    """What happened to a store: listeners who came, blocks that went on, changes, a merge."""
    acts: list[Callable[[SqliteStore], object]] = []
    here = draw(st.lists(st.sampled_from(IDS), unique=True, min_size=1))
    for one in here:
        records: list[Kept] = [listener(one, draw(NAMES), draw(st.integers(1, 2)))]
        # A block belongs to one listener, wherever it goes.
        for number, block_id in enumerate(BLOCK_IDS):
            if IDS[number % len(IDS)] == one and draw(st.booleans()):
                ended = draw(st.booleans())
                records.append(block(block_id, one, draw(st.integers(0, 2)), ended=ended, day=number))
                records.append(rehearsal(f"r{number}", one, draw(st.integers(0, 2)), ended=draw(st.booleans())))
        acts.append(lambda store, records=records: store.take_in(records))
    if len(here) > 1 and draw(st.booleans()):
        acts.append(lambda store: store.merge_listeners(here[0], here[1]))
    if draw(st.booleans()):
        scale = draw(st.sampled_from([650.0, 700.0]))
        acts.append(lambda store: store.set_scale_mm(here[-1], scale))
    return acts


@settings(max_examples=40, deadline=None)
@given(histories(), histories())
def test_two_stores_merged_in_either_order_agree(
    one: list[Callable[[SqliteStore], object]], other: list[Callable[[SqliteStore], object]]
) -> None:
    # In memory where there is such a place: a disk that is asked to be sure takes its time.
    folder = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    try:
        texts = []
        for number, acts in enumerate((one, other)):
            with store_in(folder / str(number)) as store:
                for act in acts:
                    act(store)
                texts.append(exported(store))
                assert store.take_in(records_in(texts[-1])).nothing
                assert exported(store) == texts[-1]
        merged = []
        for number, order in enumerate((texts, texts[::-1])):
            with store_in(folder / f"merged-{number}") as store:
                for text in order:
                    store.take_in(records_in(text))
                merged.append(exported(store))
                for text in order:
                    assert store.take_in(records_in(text)).nothing
        # Into the first itself, as a teacher does with a pupil's file.
        with store_in(folder / "0") as store:
            store.take_in(records_in(texts[1]))
            merged.append(exported(store))
        assert merged[0] == merged[1] == merged[2]
    finally:
        shutil.rmtree(folder)


def test_anything_wrong_changes_nothing(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("x", "Ada"), block("1", "x")])
        before = dump(tmp_path)
        for broken in (
            failing([listener("x", "Adah", 9), block("2", "x")], InputError("line 4 is torn", "mend it")),
            failing([listener("y", "Ada"), block("1", "y")], KeyboardInterrupt()),
            [listener("x", "Ada", 9), listener("y", "\x1b")],
            [listener("y", "Ben"), block("1", "y")],
        ):
            with pytest.raises((CentwiseError, KeyboardInterrupt)):
                store.take_in(broken)
            assert dump(tmp_path) == before


def failing(records: Records, error: BaseException) -> Iterator[Kept]:
    yield from records
    raise error


def dump(folder: Path) -> list[str]:
    with closing(sqlite3.connect(folder / "centwise.sqlite3")) as connection:
        return list(connection.iterdump())


def test_what_is_only_tried_changes_nothing(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("x", "Ada"), block("1", "x")])
        before = dump(tmp_path)
        taken = store.take_in([listener("y", "Ada"), block("2", "y")], try_only=True)
        assert taken == TakenIn(listeners=1, blocks=1, trials=3, renamed=(("Ada", "Ada (y)"),))
        assert dump(tmp_path) == before


def test_a_block_that_is_somebody_elses_here(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("x", "Ada"), block("1", "x")])
        with pytest.raises(UsageError, match="the block '1' belongs to another listener here: merge the two"):
            store.take_in([listener("y", "Ben"), block("1", "y")])


def test_names_are_cleaned_on_their_way_in(tmp_path: Path) -> None:
    hostile = ["<script>alert(1)</script>", "=cmd|' /C calc'!A0", "../../x", "\x1b[2J\u202eAda\u202c", "e\u0301ve"]
    with store_in(tmp_path) as store:
        store.take_in([listener(f"i{n}", name) for n, name in enumerate(hostile)])
        names = {one.id: one.name for one in store.listeners()}
        assert names == {"i0": hostile[0], "i1": hostile[1], "i2": "../../x", "i3": "[2JAda", "i4": "éve"}
        text = exported(store)
        assert "\\u001b" not in text
        assert json.loads(text.splitlines()[4])["name"] == "[2JAda"


def test_a_block_that_comes_without_answers_keeps_no_summary_of_before(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        store.take_in([listener("ann", "Ann"), block("b1", "ann", 3, ended=False)])
        store.take_in([listener("ann", "Ann"), block("b1", "ann", 0)])
        (summary,) = store.summaries("ann")
        assert (summary.answered, summary.practised_s, summary.last_answer_at) == (0, 0.0, None)
        assert store.stale_summaries() == 0


def test_who_is_merged_by_a_file_follows_no_lesson_any_more(tmp_path: Path) -> None:
    with store_in(tmp_path) as store:
        for who in ("x", "y"):
            store.take_in([listener(who, who)])
            store.set_setting(f"lesson {who}", "first-week")
        store.take_in([listener("x", "x", 2, "y")])
        assert [store.setting(f"lesson {who}") for who in ("x", "y")] == ["first-week", None]
