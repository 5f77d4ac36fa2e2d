"""An import that is stopped half way, whichever way: nothing has changed, and it can be done again."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from centwise.store.sqlite import FILE_NAME, SqliteStore
from practised import practise

if TYPE_CHECKING:
    from pathlib import Path

CENTWISE = (sys.executable, "-m", "centwise")
PATIENCE_S = 60


def dump(folder: Path) -> list[str]:
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        return list(connection.iterdump())


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize(
    ("sent", "code"), [(signal.SIGKILL, -signal.SIGKILL), (signal.SIGINT, 130)], ids=["killed", "ctrl-c"]
)
def test_an_import_stopped_half_way_changes_nothing(tmp_path: Path, sent: signal.Signals, code: int) -> None:
    here, there, file = tmp_path / "here", tmp_path / "there", tmp_path / "class.jsonl"
    with closing(SqliteStore.open(there)) as store:
        for name in ("Ada", "Ben", "Cleo"):
            practise(store, name, 2, trials=10)
    with closing(SqliteStore.open(here)) as store:
        practise(store, "Dora", 1, trials=10, key="here-")
    subprocess.run([*CENTWISE, "export", str(file), "--data", str(there)], check=True, timeout=PATIENCE_S)
    before = dump(here)
    lines = file.read_bytes().splitlines(keepends=True)
    process = subprocess.Popen(
        [*CENTWISE, "import", "-", "--data", str(here)], stdin=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdin is not None
    assert process.stderr is not None
    try:
        process.stdin.write(b"".join(lines[: len(lines) // 2]))
        process.stdin.flush()
        # It holds the store for writing now: nobody else may.
        until = time.monotonic() + PATIENCE_S
        while not held(here):
            assert time.monotonic() < until
            time.sleep(0.05)
        process.send_signal(sent)
        assert process.wait(timeout=PATIENCE_S) == code
        assert b"Traceback" not in process.stderr.read()
    finally:
        process.kill()
        process.wait()
        process.stdin.close()
        process.stderr.close()
    assert dump(here) == before
    done = subprocess.run(
        [*CENTWISE, "import", str(file), "--data", str(here)],
        check=True,
        timeout=PATIENCE_S,
        capture_output=True,
        text=True,
    )
    assert done.stdout == "New: 3 listeners, 6 blocks, 60 answers. Here already: 0 blocks.\n"


def held(folder: Path) -> bool:
    with closing(sqlite3.connect(folder / FILE_NAME, timeout=0, isolation_level=None)) as connection:
        try:
            connection.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError:
            return True
        connection.execute("ROLLBACK")
        return False
