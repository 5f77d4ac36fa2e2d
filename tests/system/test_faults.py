"""Faults made to happen for real to the program itself: a full disk, a lock, two windows, a clock turned back."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from contextlib import closing, suppress
from pathlib import Path

import pytest
from faults import HURRY, PATIENCE_S, mounted, small_disk, surroundings, talking

from centwise.store.sqlite import FILE_NAME, SqliteStore

pytestmark = pytest.mark.skipif(os.name != "posix", reason="disks, limits and locks as POSIX has them")

CLOCK_BACK = Path(__file__).with_name("clock_back.py")


def fill(path: Path) -> None:
    """Write to a file until the disk takes no more."""
    with suppress(OSError), path.open("wb", buffering=0) as file:
        while file.write(b"x" * 512):
            pass


def answers(data: Path) -> list[tuple[int, str]]:
    """Return all answers of the last block, read by a connection of one's own."""
    with closing(sqlite3.connect(data / FILE_NAME)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return connection.execute(
            "SELECT n, answer FROM trials WHERE block_number = (SELECT max(number) FROM blocks) ORDER BY n"
        ).fetchall()


def test_a_disk_that_fills_up_loses_no_answer(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 2000) as disk:
        data = disk / "data"
        with talking(surroundings(data), *HURRY, "--trials", "6") as talk:
            talk.hear("pair")
            talk.say("flat")
            talk.hear("pair")
            filler = disk / "filler"
            fill(filler)
            talk.say("sharp")
            refused = talk.hear("answer", "error")
            assert refused["event"] == "error"
            assert refused["message"] == (
                f"the store {data / FILE_NAME} cannot grow, the disk is full: make room and try again."
            )
            assert refused["words"] == ["keep", "quit"]
            talk.say("keep")
            assert talk.hear("answer", "error")["event"] == "error"
            assert answers(data) == [(1, "flat")]
            filler.unlink()
            talk.say("keep")
            told = talk.hear("answer", "error")
            assert (told["event"], told["n"], told["answer"]) == ("answer", 2, "sharp")
            assert talk.hear("pair")["n"] == 3
            assert talk.end() == (0, "")
        assert answers(data) == [(1, "flat"), (2, "sharp")]


def test_a_store_that_may_grow_no_further_loses_no_answer(tmp_path: Path) -> None:
    # The kernel refuses every file of the program beyond a size: needs no disk of its own.
    resource = pytest.importorskip("resource")
    data = tmp_path / "data"
    with talking(surroundings(data), *HURRY, "--trials", "30") as talk:
        talk.hear("pair")
        talk.say("flat")
        talk.hear("pair")
        size = (data / f"{FILE_NAME}-wal").stat().st_size
        resource.prlimit(talk.process.pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
        talk.say("sharp")
        refused = talk.hear("answer", "error")
        assert refused["event"] == "error"
        assert f"the store {data / FILE_NAME} " in refused["message"]
        resource.prlimit(talk.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        talk.say("keep")
        assert talk.hear("answer", "error")["answer"] == "sharp"
        assert talk.end() == (0, "")
    assert answers(data) == [(1, "flat"), (2, "sharp")]


def test_a_file_that_a_full_disk_cannot_take_leaves_the_earlier_one(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 100) as disk:
        wanted = disk / "pair.wav"
        wanted.write_text("as it was")
        done = run(surroundings(tmp_path / "data"), "render", str(wanted), "--seed", "1")
        assert done.returncode == 3
        assert done.stderr.startswith(f"centwise: {wanted} cannot be written (no space left on device)")
        assert wanted.read_text() == "as it was"
        assert list(disk.iterdir()) == [wanted]


def test_a_home_that_may_only_be_read(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 2000) as disk:
        data = disk / "data"
        with talking(surroundings(data), *HURRY, "--trials", "6") as talk:
            talk.hear("pair")
            talk.say("flat")
            talk.hear("pair")
            assert talk.end() == (0, "")
        assert mounted("mount", "-o", "remount,ro", str(disk))
        before = answers_as_they_are(data)
        for words in (("drill", "--plain", *HURRY), ("bench", "--plain", *HURRY), ("listeners", "add", "Bo")):
            done = run(surroundings(data), *words)
            assert done.returncode == 5, done
            assert done.stderr.startswith(f"centwise: the store {data / FILE_NAME} cannot be ")
            assert done.stderr.count("\n") == 1
        empty = run(surroundings(disk / "none"), "drill", "--plain", *HURRY)
        assert empty.returncode == 5
        assert "cannot be made or used (read-only file system): name another with --data." in empty.stderr
        assert mounted("mount", "-o", "remount,rw", str(disk))
        assert answers_as_they_are(data) == before
        assert run(surroundings(data), "drill", "--plain", *HURRY).returncode == 0


def answers_as_they_are(data: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(data.iterdir()) if not path.name.endswith("-shm")}


def run(environment: dict[str, str], *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "centwise", *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        env=environment,
        timeout=PATIENCE_S,
        check=False,
    )


def test_a_store_held_by_another_program_loses_no_answer(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with talking(surroundings(data), *HURRY, "--trials", "6") as talk:
        talk.hear("pair")
        with closing(sqlite3.connect(data / FILE_NAME, isolation_level=None)) as holder:
            holder.execute("BEGIN IMMEDIATE")
            talk.say("flat")
            refused = talk.hear("answer", "error")
            assert refused["message"] == (
                f"the store {data / FILE_NAME} is held by another program: close that one and try again."
            )
            holder.execute("ROLLBACK")
        talk.say("keep")
        assert talk.hear("answer", "error")["answer"] == "flat"
        assert talk.end() == (0, "")


def test_two_windows_practise_at_once(tmp_path: Path) -> None:
    data = tmp_path / "data"
    words = ("flat", "sharp", "unison", "flat", "sharp", "unison")
    first, second = (("--listener", "Ada", "--seed", str(seed), "--trials", "6", *HURRY) for seed in (1, 2))
    with talking(surroundings(data), *first) as one, talking(surroundings(data), *second) as two:
        for word in words:
            for talk in (one, two):
                talk.hear("pair")
            for talk in (one, two):
                talk.say(word)
        results = [talk.hear("result") for talk in (one, two)]
        assert [talk.end() for talk in (one, two)] == [(0, ""), (0, "")]
    assert [result["trials"] for result in results] == [6, 6]
    with closing(SqliteStore.open(data)) as store:
        (ada,) = store.listeners()
        blocks = store.blocks(ada.id)
    assert sorted(block.plan.seed for block in blocks) == [1, 2]
    for block in blocks:
        assert tuple(trial.answer for trial in block.trials) == words
        assert block.result is not None


MAKE_STORES = """
import sys, time
from pathlib import Path
from centwise.store.sqlite import SqliteStore
folders = [Path(word) for word in sys.argv[1:]]
print(flush=True)
start_s = float(input())
for k, folder in enumerate(folders):
    while time.time() < start_s + 0.05 * k:
        pass
    SqliteStore.open(folder).close()
"""


def test_windows_that_make_a_store_at_the_same_moment_all_get_it(tmp_path: Path) -> None:
    folders = [str(tmp_path / str(k)) for k in range(40)]
    command = [sys.executable, "-c", MAKE_STORES, *folders]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    windows = [subprocess.Popen(command, env=surroundings(tmp_path), **pipes) for _ in range(4)]  # type: ignore[call-overload]
    for window in windows:
        window.stdout.readline()
    start_s = time.time() + 0.2
    for window in windows:
        window.stdin.write(f"{start_s}\n")
        window.stdin.flush()
    assert [window.communicate(timeout=PATIENCE_S) for window in windows] == [("", "")] * 4


def test_one_block_in_two_windows_counts_no_answer_twice(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with talking(surroundings(data), *HURRY, "--trials", "6") as one:
        one.hear("pair")
        one.say("flat")
        one.hear("pair")
        with talking(surroundings(data), *HURRY, "--resume") as two:
            assert two.hear("pair")["n"] == 2
            two.say("sharp")
            assert two.hear("answer")["n"] == 2
            one.say("unison")
            _, err = one.process.communicate(timeout=PATIENCE_S)
            assert one.process.returncode == 5
            assert err == (
                "centwise: pair 2 of this block was answered in another window:"
                " go on there, or close it and go on here.\n"
            )
            assert two.hear("pair")["n"] == 3
            assert two.end() == (0, "")
    assert answers(data) == [(1, "flat"), (2, "sharp")]


def test_a_clock_that_is_turned_back_does_no_harm(tmp_path: Path) -> None:
    # Two days back after every third look at it, in the midst of a block and between blocks.
    data = tmp_path / "data"
    environment = surroundings(data)
    back = (str(CLOCK_BACK),)
    with talking(environment, *HURRY, "--trials", "8", "--seed", "5", "--listener", "Ada", program=back) as talk:
        for word in ("flat", "sharp", "unison", "flat", "sharp"):
            talk.hear("pair")
            talk.say(word)
        assert talk.hear("pair")["n"] == 6
        talk.process.kill()
    with talking(environment, *HURRY, "--resume", program=back) as talk:
        assert talk.hear("pair")["n"] == 6
        for word in ("unison", "flat", "sharp"):
            talk.say(word)
        assert talk.hear("result")["trials"] == 8
    assert [n for n, _ in answers(data)] == list(range(1, 9))
    with talking(environment | {"BACK_DAYS": "30"}, *HURRY, "--trials", "2", program=back) as talk:
        for word in ("flat", "sharp"):
            talk.hear("pair")
            talk.say(word)
        talk.hear("result")
    for words in (("progress", "--json"), ("export", str(tmp_path / "all.jsonl"))):
        done = run(environment, *words)
        assert (done.returncode, done.stderr) == (0, "")
    with closing(SqliteStore.open(data)) as store:
        (ada,) = store.listeners()
        found = {summary.plan.trials: summary for summary in store.summaries(ada.id)}
        # The later block has the earlier date; neither has practised for less than no time.
        assert found[2].plan.started_at < found[8].plan.started_at
        assert all(0.0 <= summary.practised_s <= 60.0 * summary.answered for summary in found.values())
    taken = run(environment, "import", str(tmp_path / "all.jsonl"), "--data", str(tmp_path / "other"))
    assert taken.stdout == "New: 1 listener, 2 blocks, 10 answers. Here already: 0 blocks.\n"
