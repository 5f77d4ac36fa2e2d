from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from banjo import FIVE_STRING
from centwise.errors import ElsewhereError, StoreError, UsageError
from centwise.model import DEFAULT_SCALE_MM, BlockPlan, BlockResult, Condition, Listener, Trial
from centwise.ports import StoredBlock
from centwise.store import opening
from centwise.store.looking import look_at_store
from centwise.store.migrations import MIGRATIONS, VERSION, migrate, version_of
from centwise.store.names import MAX_NAME_LENGTH, cleaned_name
from centwise.store.rows import PLAN_COLUMNS, RESULT_COLUMNS, TRIAL_COLUMNS
from centwise.store.sqlite import FILE_NAME, SqliteStore
from centwise.store.upkeep import summarise_blocks

if TYPE_CHECKING:
    from collections.abc import Iterator

START = datetime(2026, 3, 1, 18, 4, 5, 678901, tzinfo=UTC)
RESULT = BlockResult(40, 31, 4.5, 3.1, 6.6, -0.5, -2.0, 1.0, 3.2, 1.73, 1.19, 2.54, 4)


def plan_of(id_: str = "block", listener_id: str = "ann", **changes: object) -> BlockPlan:
    plan = BlockPlan(id_, listener_id, Condition(), "balanced", 40, False, 7, DEFAULT_SCALE_MM, "silent", START)
    return replace(plan, **changes)  # type: ignore[arg-type]


def trial_of(n: int) -> Trial:
    return Trial(n, -8.25 * n, "fretted", "flat", START + timedelta(seconds=n), replays=n, scored=n % 2 == 0)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqliteStore]:
    store = SqliteStore.open(tmp_path / "data")
    store.add_listener(Listener("ann", "Ann"))
    opened.append(store)
    yield store
    while opened:
        opened.pop().close()


opened: list[SqliteStore] = []


def reopened(store: SqliteStore) -> SqliteStore:
    store.close()
    opened.append(SqliteStore.open(store.path.parent))
    return opened[-1]


def test_every_field_of_a_plan_comes_back(store: SqliteStore, tmp_path: Path) -> None:
    plan = BlockPlan(
        id="full",
        listener_id="ann",
        condition=Condition("other", 5, False, 0.375, "both", "shifted"),
        rule="weighted",
        trials=12,
        assess=True,
        seed=2**32 - 1,
        scale_mm=660.4,
        player=f"file:{tmp_path / 'ä'}",
        started_at=START,
        warm_up=3,
        until_octaves=1.25,
        prior_threshold_cents=9.5,
        prior_sd_octaves=1.5,
        take_sha256="0f" * 32,
        take_error_cents=0.125,
        given_cents=(-3.25, 0.0, 0.1),
        string_length_mm=494.75,
        octave_hz=783.5,
    )
    usual = plan_of()
    untold = [field.name for field in fields(BlockPlan) if getattr(plan, field.name) == getattr(usual, field.name)]
    assert set(untold) <= {"listener_id", "started_at"}, "give the new field a value of its own here"
    store.begin_block(plan)
    store.add_trial("full", trial_of(1))
    store.add_trial("full", trial_of(2))
    store.end_block("full", RESULT, START + timedelta(minutes=7))
    expected = (StoredBlock(plan, (trial_of(1), trial_of(2)), RESULT),)
    assert reopened(store).blocks("ann") == expected


def test_columns_cover_the_records() -> None:
    assert len(PLAN_COLUMNS) == len(fields(BlockPlan)) + len(fields(Condition)) - 1
    assert len(RESULT_COLUMNS) == len(fields(BlockResult))
    assert len(TRIAL_COLUMNS) == len(fields(Trial))


def test_a_result_that_says_nothing_is_still_a_result(store: SqliteStore) -> None:
    nothing = BlockResult(0, 0, *([None] * 11))
    store.begin_block(plan_of())
    store.end_block("block", nothing, START)
    assert store.blocks("ann")[0].result == nothing


def test_instants_are_kept_as_utc_text_whatever_their_zone(store: SqliteStore) -> None:
    elsewhere = START.astimezone(timezone(timedelta(hours=-7)))
    store.begin_block(plan_of(started_at=elsewhere))
    assert store.blocks("ann")[0].plan.started_at == START
    with sqlite3.connect(store.path) as connection:
        assert connection.execute("SELECT started_at FROM blocks").fetchone() == ("2026-03-01T18:04:05.678901+00:00",)
    connection.close()
    with pytest.raises(StoreError, match="says no zone"):
        store.begin_block(plan_of("naive", started_at=datetime(2026, 3, 1)))  # noqa: DTZ001  that is the point


def test_blocks_of_one_condition_and_one_by_its_id(store: SqliteStore) -> None:
    store.add_listener(Listener("bo", "Bo"))
    store.begin_block(plan_of("late", started_at=START + timedelta(days=1)))
    store.begin_block(plan_of("early"))
    store.begin_block(plan_of("other", condition=Condition(string=1)))
    store.begin_block(plan_of("bos", "bo"))
    assert [block.plan.id for block in store.blocks("ann")] == ["early", "other", "late"]
    assert [block.plan.id for block in store.blocks("ann", Condition())] == ["early", "late"]
    assert store.blocks("ann", Condition(likeness=1.0)) == ()
    assert store.block_with_id("late") == store.blocks("ann")[-1]
    assert store.block_with_id("nobody's") is None


def test_the_index_serves_the_blocks_of_a_condition(store: SqliteStore) -> None:
    connection = store._transactions._connection
    assert connection is not None
    plan = connection.execute(
        "EXPLAIN QUERY PLAN SELECT * FROM blocks WHERE listener_id = ? AND instrument = ? AND string = ?"
        " AND muted = ? AND likeness = ? AND tone_order = ? ORDER BY started_at, number",
        ("a", "b", 1, 1, 0.0, "c"),
    ).fetchall()
    assert len(plan) == 1
    assert "blocks_by_condition" in plan[0][-1]


def test_the_listener_used_last_comes_first_then_names(store: SqliteStore) -> None:
    for name in ("zoë", "Bo", "carl"):
        store.add_listener(Listener(name, name))
    assert [listener.name for listener in store.listeners()] == ["Ann", "Bo", "carl", "zoë"]
    store.begin_block(plan_of("1", "carl"))
    store.begin_block(plan_of("2", "zoë"))
    assert [listener.name for listener in reopened(store).listeners()] == ["zoë", "Ann", "Bo", "carl"]


@pytest.mark.parametrize("same", ["Straße", "STRASSE", "  strasse\t", "stra\u00dfe\n"])
def test_names_match_whatever_their_case(store: SqliteStore, same: str) -> None:
    store.add_listener(Listener("s", "Straße"))
    found = store.listener_named(same)
    assert found == Listener("s", "Straße")
    with pytest.raises(StoreError, match="there is a listener named 'Straße' already: choose a name not yet taken"):
        store.add_listener(Listener("t", same))


def test_names_are_composed_and_cleaned(store: SqliteStore) -> None:
    store.add_listener(Listener("z", " \x1b[31mZoe\u0308\u202e\x00\n"))
    assert store.listener_named("[31mzo\u00cb") == Listener("z", "[31mZo\u00eb")
    for script in ("李小龙", "مریم", "Ἀθηνᾶ", "🎸", "O'Brien; DROP TABLE listeners"):
        store.add_listener(Listener(script, script))
        assert store.listener_named(script) == Listener(script, script)


@pytest.mark.parametrize("name", ["", "  ", "\n\t", "\x07", "\u202e", "\u200b", "\u200d\u0301 \ufe0f"])
def test_a_name_of_nothing_is_refused(store: SqliteStore, name: str) -> None:
    with pytest.raises(UsageError, match="is no name"):
        store.add_listener(Listener("x", name))
    assert store.listener_named(name) is None


def test_a_name_may_be_long_but_not_endless() -> None:
    assert cleaned_name(" " + "ä" * MAX_NAME_LENGTH) == "ä" * MAX_NAME_LENGTH
    with pytest.raises(UsageError, match="a name of 201 characters is too long"):
        cleaned_name("ä" * (MAX_NAME_LENGTH + 1))


def test_scale_lengths_change(store: SqliteStore) -> None:
    store.set_scale_mm("ann", 600.0)
    assert reopened(store).listener_named("ann") == Listener("ann", "Ann", 600.0)


def test_settings_are_kept_and_replaced(store: SqliteStore) -> None:
    assert store.setting("level") is None
    store.set_setting("level", "-12")
    store.set_setting("level", "-9.5")
    assert reopened(store).setting("level") == "-9.5"


def test_what_cannot_be_kept_is_told_and_changes_nothing(store: SqliteStore) -> None:
    store.begin_block(plan_of())
    store.add_trial("block", trial_of(1))
    before = store.blocks("ann")
    with pytest.raises(StoreError, match="cannot be added"):
        store.add_listener(Listener("ann", "Another"))
    with pytest.raises(StoreError, match="knows no listener 'x'"):
        store.set_scale_mm("x", 600.0)
    with pytest.raises(StoreError, match="refused this"):
        store.set_scale_mm("ann", -1.0)
    with pytest.raises(StoreError, match="was removed in another window: choose who listens"):
        store.begin_block(plan_of("new", "nobody"))
    with pytest.raises(StoreError, match="UNIQUE"):
        store.begin_block(plan_of())
    with pytest.raises(ElsewhereError, match="pair 1 of this block was answered in another window: go on there"):
        store.add_trial("block", trial_of(1))
    with pytest.raises(ElsewhereError, match="this block was gone on with in another window: go on there"):
        store.end_block("block", RESULT, START, answers=2)
    with pytest.raises(StoreError, match=r"this block is not in .*: begin a new one"):
        store.add_trial("x", trial_of(1))
    with pytest.raises(StoreError, match="refused this"):
        store.add_trial("block", replace(trial_of(2), answer="maybe"))  # type: ignore[arg-type]
    with pytest.raises(StoreError, match="refused this"):
        store.add_trial("block", replace(trial_of(2), offset_cents=float("nan")))
    with pytest.raises(StoreError, match="surrogates not allowed"):
        store.set_setting("odd", "\udcff")
    assert store.blocks("ann") == before
    store.end_block("block", RESULT, START, answers=1)
    with pytest.raises(ElsewhereError, match="has ended in another window: begin a new one"):
        store.add_trial("block", trial_of(2))
    with pytest.raises(ElsewhereError, match="has ended"):
        store.end_block("block", RESULT, START)


def test_a_closed_store_says_so(store: SqliteStore) -> None:
    store.close()
    store.close()
    with pytest.raises(StoreError, match="is closed: open it again"):
        store.listeners()


def test_several_threads_share_one_store(store: SqliteStore) -> None:
    store.begin_block(plan_of())
    failures: list[BaseException] = []

    def answer(numbers: range) -> None:
        try:
            for n in numbers:
                store.add_trial("block", trial_of(n))
                assert any(trial.n == n for trial in store.blocks("ann")[0].trials)
        except BaseException as error:  # noqa: BLE001  shown below
            failures.append(error)

    threads = [threading.Thread(target=answer, args=(range(1 + k, 61, 4),)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert [trial.n for trial in reopened(store).blocks("ann")[0].trials] == list(range(1, 61))


def test_two_windows_practise_at_once(store: SqliteStore) -> None:
    other = SqliteStore.open(store.path.parent)
    store.begin_block(plan_of("one"))
    other.begin_block(plan_of("two"))
    for n in range(1, 11):
        store.add_trial("one", trial_of(n))
        other.add_trial("two", trial_of(n))
    assert store.blocks("ann") == other.blocks("ann")
    assert [len(block.trials) for block in store.blocks("ann")] == [10, 10]
    other.close()


def test_answers_are_on_disk_when_the_call_returns(store: SqliteStore) -> None:
    connection = store._transactions._connection
    assert connection is not None
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert connection.execute("PRAGMA foreign_keys").fetchone() == (1,)


ANSWERING = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from centwise.model import BlockPlan, Condition, Listener, Trial
from centwise.store.sqlite import SqliteStore

now = datetime(2026, 3, 1, tzinfo=UTC)
store = SqliteStore.open(Path(sys.argv[1]))
store.add_listener(Listener("ann", "Ann"))
store.begin_block(BlockPlan("block", "ann", Condition(), "balanced", 40, False, 7, 666.75, "silent", now))
n = 0
while True:
    n += 1
    store.add_trial("block", Trial(n, -1.5 * n, "harmonic", "flat", now))
    print("kept", n, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this platform")
def test_no_answer_is_lost_when_the_program_is_killed(tmp_path: Path) -> None:
    for round_ in range(3):
        folder = tmp_path / str(round_)
        process = subprocess.Popen([sys.executable, "-c", ANSWERING, str(folder)], stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        try:
            kept = [int(process.stdout.readline().split()[1]) for _ in range(15 + 7 * round_)]
            process.kill()
            kept += [int(line.split()[1]) for line in process.stdout if line.endswith("\n")]
            assert process.wait(10) == -signal.SIGKILL
        finally:
            process.kill()
            process.wait()
            process.stdout.close()
        store = SqliteStore.open(folder)
        block = store.block_with_id("block")
        store.close()
        assert block is not None
        stored = [trial.n for trial in block.trials]
        assert stored[: len(kept)] == kept
        assert len(stored) <= len(kept) + 1


# Opening


def test_nothing_is_made_before_opening(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    SqliteStore.open(folder).close()
    assert (folder / FILE_NAME).exists()


def test_a_newer_store_is_refused_and_left_alone(store: SqliteStore) -> None:
    store.close()
    connection = sqlite3.connect(store.path)
    connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    connection.close()
    before = store.path.read_bytes()
    with pytest.raises(StoreError, match=r"was written by a newer centwise .*: update centwise"):
        SqliteStore.open(store.path.parent)
    assert store.path.read_bytes() == before


def test_another_programs_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE theirs (x)")
    connection.commit()
    connection.close()
    before = path.read_bytes()
    with pytest.raises(StoreError, match="belongs to another program and was left as it is: move it away"):
        SqliteStore.open(tmp_path)
    assert path.read_bytes() == before


def test_what_is_no_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    path.write_text("Dear diary, today I heard four cents. " * 100)
    before = path.read_bytes()
    with pytest.raises(
        StoreError, match=r"centwise\.sqlite3 is not a database and was left as it is: move it away"
    ) as caught:
        SqliteStore.open(tmp_path)
    assert caught.value.exit_code == 5
    assert path.read_bytes() == before
    assert [found.name for found in tmp_path.iterdir()] == [FILE_NAME]


def test_a_damaged_store_is_refused_and_left_alone(store: SqliteStore) -> None:
    store.begin_block(plan_of())
    for n in range(1, 400):
        store.add_trial("block", trial_of(n))
    store.close()
    content = bytearray(store.path.read_bytes())
    content[4096 * 2 : 4096 * 5] = b"\xa5" * (4096 * 3)
    store.path.write_bytes(content)
    with pytest.raises(StoreError, match=r"is damaged.* and was left as it is: close other windows, then"):
        SqliteStore.open(store.path.parent)
    assert store.path.read_bytes() == bytes(content)


def test_a_cut_off_store_is_refused_and_left_alone(store: SqliteStore) -> None:
    store.begin_block(plan_of())
    store.close()
    content = store.path.read_bytes()[: 4096 * 3]
    store.path.write_bytes(content)
    with pytest.raises(StoreError, match=r"is damaged"):
        SqliteStore.open(store.path.parent)
    assert store.path.read_bytes() == content


def test_of_a_large_store_the_frame_is_looked_at_and_damage_is_told_when_it_is_met(
    store: SqliteStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.begin_block(plan_of())
    for n in range(1, 400):
        store.add_trial("block", trial_of(n))
    store.close()
    monkeypatch.setattr(opening, "READ_WHOLE_BYTES", 0)
    whole = store.path.read_bytes()
    store.path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(StoreError, match="is damaged and was left as it is"):
        SqliteStore.open(store.path.parent)
    content = bytearray(whole)
    content[-4096 * 4 :] = b"\xa5" * (4096 * 4)
    store.path.write_bytes(content)
    opened_store = SqliteStore.open(store.path.parent)
    with pytest.raises(StoreError, match="is damaged and was left as it is: close other windows, then"):
        opened_store.blocks("ann")
    opened_store.close()
    store.path.write_bytes(whole)
    SqliteStore.open(store.path.parent).close()


def test_a_large_store_opens_while_its_log_holds_its_end(store: SqliteStore, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "READ_WHOLE_BYTES", 0)
    store.begin_block(plan_of())
    for n in range(1, 200):
        store.add_trial("block", trial_of(n))
    second = SqliteStore.open(store.path.parent)
    assert len(second.blocks("ann")[0].trials) == 199
    second.close()


def test_a_file_for_a_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for folder in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(StoreError, match=r"the folder .* cannot be made or used .*: name another with --data"):
            SqliteStore.open(folder)


def test_a_folder_for_the_file_is_told(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).mkdir()
    with pytest.raises(StoreError, match="cannot be opened"):
        SqliteStore.open(tmp_path)


def test_a_locked_store_is_told(store: SqliteStore, monkeypatch: pytest.MonkeyPatch) -> None:
    store.close()
    monkeypatch.setattr(opening, "BUSY_S", 0.05)
    waiting = SqliteStore.open(store.path.parent)
    holder = sqlite3.connect(store.path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreError, match="is held by another program: close that one and try again"):
        waiting.add_listener(Listener("bo", "Bo"))
    with pytest.raises(StoreError, match="is held by another program"):
        SqliteStore.open(store.path.parent)
    holder.execute("ROLLBACK")
    holder.close()
    waiting.add_listener(Listener("bo", "Bo"))
    waiting.close()


def half_made(folder: Path) -> sqlite3.Connection:
    """A store that another window is making: its kind of log cannot be changed yet, and SQLite would not wait."""
    folder.mkdir()
    maker = sqlite3.connect(folder / FILE_NAME, isolation_level=None, check_same_thread=False)
    maker.execute("BEGIN IMMEDIATE")
    return maker


def test_a_store_that_another_window_is_making_is_waited_for(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with closing(half_made(folder)) as maker:
        done = threading.Timer(0.3, maker.execute, ("COMMIT",))
        done.start()
        with closing(SqliteStore.open(folder)) as store:
            done.join()
            store.add_listener(Listener("ann", "Ann"))
            assert [listener.name for listener in store.listeners()] == ["Ann"]


def test_a_store_that_is_never_ready_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "BUSY_S", 0.05)
    with closing(half_made(tmp_path / "data")) as maker:
        with pytest.raises(StoreError, match="is held by another program: close that one and try again"):
            SqliteStore.open(tmp_path / "data")
        assert not (tmp_path / "data" / f"{FILE_NAME}-wal").exists()
        maker.execute("COMMIT")
        SqliteStore.open(tmp_path / "data").close()


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no permissions of this kind on this platform")
@pytest.mark.parametrize(("of_file", "of_folder"), [(0o444, 0o755), (0o444, 0o555), (0o000, 0o755)])
def test_a_store_one_may_not_write_or_read_is_told(store: SqliteStore, of_file: int, of_folder: int) -> None:
    import tempfile

    store.close()
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base) / "data"
        folder.mkdir()
        path = folder / FILE_NAME
        path.write_bytes(store.path.read_bytes())
        Path(base).chmod(0o755)
        path.chmod(of_file)
        folder.chmod(of_folder)
        root = os.geteuid() == 0
        if root:
            os.seteuid(65534)
        try:
            with pytest.raises(StoreError, match=r"cannot be (written to|opened): .* --data"):
                SqliteStore.open(folder)
        finally:
            if root:
                os.seteuid(0)
            folder.chmod(0o755)


# Migrations


def test_a_step_and_its_version_come_together_or_not_at_all() -> None:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    steps = (("CREATE TABLE one (x)",), ("CREATE TABLE two (x)", "CREATE NONSENSE"))
    # A new store takes every step or none.
    with pytest.raises(sqlite3.OperationalError):
        migrate(connection, steps)
    assert version_of(connection) == 0
    assert connection.execute("SELECT name FROM sqlite_master").fetchall() == []
    migrate(connection, steps[:1])
    # One that is there stays at the step before the one that failed.
    with pytest.raises(sqlite3.OperationalError):
        migrate(connection, steps)
    assert version_of(connection) == 1
    assert [row[0] for row in connection.execute("SELECT name FROM sqlite_master")] == ["one"]
    migrate(connection, (steps[0], ("CREATE TABLE two (x)",)))
    assert version_of(connection) == 2
    migrate(connection, (steps[0], ("CREATE TABLE two (x)",)))
    connection.close()


def test_blocks_kept_before_recordings_were_heard_are_of_rendered_tones(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    connection = sqlite3.connect(path, isolation_level=None)
    migrate(connection, MIGRATIONS[:1])
    connection.execute("INSERT INTO listeners (id, name, name_key, scale_mm) VALUES ('ann', 'Ann', 'ann', 666.75)")
    connection.execute(
        "INSERT INTO blocks (id, listener_id, instrument, string, muted, likeness, tone_order, rule, trials, assess,"
        " seed, scale_mm, player, started_at, warm_up) VALUES ('old', 'ann', 'five-string', 4, 1, 0.0,"
        " 'harmonic-first', 'balanced', 40, 0, 7, 666.75, 'silent', '2026-03-01T18:04:05.678901+00:00', 0)"
    )
    connection.close()
    store = SqliteStore.open(tmp_path)
    store.begin_block(plan_of("own", condition=Condition(voice="shifted"), take_sha256="0f" * 32))
    kept = plan_of("old", string_length_mm=666.75, octave_hz=pytest.approx(293.6648, abs=1e-4))
    assert [block.plan for block in store.blocks("ann", Condition())] == [kept]
    assert [block.plan.id for block in store.blocks("ann", Condition(voice="shifted"))] == ["own"]
    store.close()


def test_blocks_kept_before_there_were_other_instruments_have_the_five_strings_lengths(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)) as connection:
        migrate(connection, MIGRATIONS[:6])
        connection.execute("INSERT INTO listeners (id, name, name_key, scale_mm) VALUES ('ann', 'Ann', 'ann', 666.75)")
        for string in range(1, 6):
            connection.execute(
                "INSERT INTO blocks (id, listener_id, instrument, string, muted, likeness, tone_order, rule, trials,"
                " assess, seed, scale_mm, player, started_at, warm_up) VALUES (?, 'ann', 'five-string', ?, 1, 0.0,"
                " 'harmonic-first', 'balanced', 40, 0, 7, 685.8, 'x', '2026-03-01T18:04:05.678901+00:00', 0)",
                (f"block-{string}", string),
            )
    instrument = FIVE_STRING.with_scale(685.8)
    with closing(SqliteStore.open(tmp_path)) as store:
        for block in store.blocks("ann"):
            string = instrument.string(block.plan.condition.string)
            assert block.plan.string_length_mm == pytest.approx(string.length_mm, abs=1e-9)
            assert block.plan.octave_hz == pytest.approx(string.octave_hz, abs=1e-9)


SUMMARIES_SINCE = 3


def filled(path: Path, version: int) -> dict[str, list[tuple[object, ...]]]:
    """Make a store of an earlier version with something in every table it had then, and return its rows."""
    path.parent.mkdir()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        migrate(connection, MIGRATIONS[:version])
        if version:
            connection.execute(
                "INSERT INTO listeners (id, name, name_key, scale_mm) VALUES ('ann', 'Ann', 'ann', 640.0)"
            )
            for number in (1, 2):
                connection.execute(
                    "INSERT INTO blocks (id, listener_id, instrument, string, muted, likeness, tone_order, rule,"
                    " trials, assess, seed, scale_mm, player, started_at, warm_up, threshold_cents) VALUES (?, 'ann',"
                    " 'five-string', 4, 1, 0.0, 'both', 'balanced', 40, 0, 7, 640.0, 'x', ?, 0, 4.5)",
                    (f"block-{number}", f"2026-03-0{number}T18:00:00.000000+00:00"),
                )
                connection.execute(
                    "INSERT INTO trials VALUES (?, 1, -8.0, 'harmonic', 'flat', ?, 0, 1)",
                    (number, f"2026-03-0{number}T18:00:09.000000+00:00"),
                )
            if version >= SUMMARIES_SINCE:
                summarise_blocks(connection, 1, 2)
            connection.execute("INSERT INTO settings VALUES ('level', '-12')")
        return rows_of(connection)


def rows_of(connection: sqlite3.Connection) -> dict[str, list[tuple[object, ...]]]:
    """Return each table's rows with their columns' names, the first row being the names."""
    found = {}
    for (table,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
        cursor = connection.execute(f"SELECT * FROM {table}")
        found[table] = [tuple(column[0] for column in cursor.description), *cursor.fetchall()]
    return found


@pytest.mark.parametrize("version", range(VERSION))
def test_a_store_of_every_earlier_version_is_brought_up_and_keeps_what_it_holds(tmp_path: Path, version: int) -> None:
    path = tmp_path / "old" / FILE_NAME
    before = filled(path, version)
    store = SqliteStore.open(path.parent)
    if version:
        (block, _other) = store.summaries("ann")
        assert (block.answered, block.practised_s, store.setting("level")) == (1, pytest.approx(9.0, abs=1e-3), "-12")
    store.close()
    with closing(sqlite3.connect(path)) as connection:
        assert version_of(connection) == VERSION
        for table, (columns, *rows) in before.items():
            if table == "sqlite_sequence":
                continue
            names = ", ".join(str(column) for column in columns)
            found = connection.execute(f"SELECT {names} FROM {table}").fetchall()
            # What a later step fills in was at its default before.
            filled_in = {"answered", "practised_s", "last_answer_at", "method", "revision"}
            kept = [k for k, column in enumerate(columns) if column not in filled_in]
            assert [[row[k] for k in kept] for row in found] == [[row[k] for k in kept] for row in rows]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


@pytest.mark.parametrize("version", range(1, VERSION))
def test_before_a_store_is_brought_up_a_copy_of_it_as_it_was_is_kept(tmp_path: Path, version: int) -> None:
    path = tmp_path / "old" / FILE_NAME
    before = filled(path, version)
    for _ in range(2):
        SqliteStore.open(path.parent).close()
    copies = list((path.parent / "copies").iterdir())
    assert [folder.name for folder in copies] == [f"version-{version}-1"], "one copy, and none at the second start"
    with closing(sqlite3.connect(copies[0] / FILE_NAME)) as connection:
        assert version_of(connection) == version
        assert rows_of(connection) == before


def test_a_store_is_left_as_it_is_when_no_copy_of_it_can_be_kept(tmp_path: Path) -> None:
    path = tmp_path / "old" / FILE_NAME
    before = filled(path, 1)
    (path.parent / "copies").write_text("in the way")
    with pytest.raises(StoreError, match=r"no copy can be kept in .*so nothing was changed"):
        SqliteStore.open(path.parent)
    with closing(sqlite3.connect(path)) as connection:
        assert version_of(connection) == 1
        assert rows_of(connection) == before


def test_nothing_is_copied_for_a_new_store(tmp_path: Path) -> None:
    SqliteStore.open(tmp_path).close()
    assert not (tmp_path / "copies").exists()


LANDED = [
    "73ec26c45e5c117b",
    "161a487bd584929b",
    "f364514d047d5de7",
    "00d91930fccb5acc",
    "5b514a971bd60f51",
    "bd92c5243e94d772",
    "74da16411a550d46",
    "8238e0b3d97ead4e",
]


def test_steps_that_were_released_stay_as_they_are() -> None:
    # SHA-256 of each step's statements, taken when it landed: a store made by it exists somewhere.
    digests = [sha256("\0".join(step).encode()).hexdigest()[:16] for step in MIGRATIONS]
    assert digests[: len(LANDED)] == LANDED, "append a step instead of changing one"


def test_a_power_cut_at_any_byte_of_the_log_loses_no_answer_that_was_told(store: SqliteStore, tmp_path: Path) -> None:
    # SQLite appends to its log and waits for the disk before a commit returns: what a cut can leave of the log is all
    # that was there then, and any part of what came after, torn at any byte and followed by whatever lay on the disk.
    store.begin_block(plan_of())
    log = store.path.with_name(f"{FILE_NAME}-wal")
    sizes = []
    for n in range(1, 13):
        store.add_trial("block", trial_of(n))
        sizes.append(log.stat().st_size)
    main, whole = store.path.read_bytes(), log.read_bytes()
    rng = np.random.default_rng(8)
    cuts = [*sizes, *(int(cut) for cut in rng.integers(sizes[0], len(whole), 40))]
    for number, cut in enumerate(cuts):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / FILE_NAME).write_bytes(main)
        rest = rng.integers(0, 256, len(whole) - cut, dtype=np.uint8).tobytes() if number % 2 else b""
        (folder / f"{FILE_NAME}-wal").write_bytes(whole[:cut] + rest)
        kept = SqliteStore.open(folder)
        block = kept.block_with_id("block")
        assert block is not None
        told = sum(size <= cut for size in sizes)
        assert [trial.n for trial in block.trials] == list(range(1, told + 1))
        # And it goes on from there.
        kept.add_trial("block", trial_of(told + 1))
        kept.close()


class Struck(sqlite3.Connection):
    """A connection on which ctrl+c strikes as soon as a transaction has begun, once."""

    strikes = False

    def execute(self, sql: str, *values: tuple[object, ...]) -> sqlite3.Cursor:
        cursor = super().execute(sql, *values)
        if self.strikes and sql.startswith("BEGIN"):
            self.strikes = False
            raise KeyboardInterrupt
        return cursor


def test_a_transaction_that_ctrl_c_strikes_as_it_begins_is_over(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    SqliteStore.open(tmp_path).close()
    connection = sqlite3.connect(path, isolation_level=None, factory=Struck)
    with closing(SqliteStore(path, connection)) as store:
        connection.strikes = True
        with pytest.raises(KeyboardInterrupt):
            store.set_setting("key", "value")
        assert not store.change_kept
        with closing(SqliteStore.open(tmp_path)) as other:
            other.set_setting("key", "another window's")
        store.set_setting("key", "value")
        assert store.setting("key") == "value"


def test_a_number_that_another_window_takes_for_its_copy_is_passed_over(
    store: SqliteStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    (store.path.parent / "copies" / "mended-1").mkdir(parents=True)
    monkeypatch.setattr(Path, "exists", lambda _path: False)
    assert store.copy_whole("mended").name == "mended-2"


def test_a_copy_that_fails_leaves_no_half_one(store: SqliteStore, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_arguments: object) -> None:
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorname = "SQLITE_FULL"
        raise error

    monkeypatch.setattr("centwise.store.copies.copy", full)
    with pytest.raises(StoreError, match="the disk is full"):
        store.remove_listener("ann", keep_copy=True)
    assert list((store.path.parent / "copies").iterdir()) == []
    assert store.listener_with_id("ann") is not None


def test_a_store_that_is_just_being_made_holds_nothing_yet(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
    assert path.stat().st_size > 0
    assert look_at_store(path) is None
