"""Every command ended by a signal in its midst: one sentence, 128 and the signal's number, nothing half done."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from centwise.store.sqlite import FILE_NAME, SqliteStore
from practised import practise

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")

STRUCK = Path(__file__).with_name("struck.py")
PATIENCE_S = 120
SAID = {"SIGTERM": "told to end by SIGTERM", "SIGHUP": "left by its terminal", "SIGINT": "stopped by ctrl+c"}
NOTHING_HALF = ", and nothing half done is left behind: give the same command again.\n"
MIDST = [
    # In the midst of writing where there is a file: source, function and built-in, at its how many-eth return.
    ("SIGTERM", ("export", "wanted.jsonl"), ("cli/export.py", "_write>write", "3")),
    ("SIGINT", ("export", "wanted.jsonl", "--without-names"), ("cli/export.py", "_write>write", "2")),
    ("SIGHUP", ("progress", "--html", "wanted.html"), ("report/page.py", "write_page>write", "1")),
    ("SIGTERM", ("progress", "--csv", "wanted.csv"), ("report/spreadsheet.py", "write_answers>writerow", "5")),
    ("SIGHUP", ("render", "wanted.wav", "--seed", "1"), ("audio/sound_file.py", "_put>write", "1")),
    ("SIGTERM", ("measure", "there.wav", "--string", "4"), ("pitch/measure.py", "_measured", "1")),
    ("SIGHUP", ("check", "--listeners", "2", "--trials", "8"), ("cli/simulated.py", "run_simulated", "1")),
    ("SIGTERM", ("check", "--mend"), ("centwise/mending.py", "mend", "1")),
    ("SIGHUP", ("import", "there.jsonl"), ("exchange/reading.py", "record_of", "4")),
    ("SIGTERM", ("drill", "--events", "--player", "file:wav"), ("planning.py", "plan_block", "1")),
]


@pytest.fixture(scope="module")
def there(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with three listeners' blocks, and files to read and to be replaced."""
    folder = tmp_path_factory.mktemp("there")
    with closing(SqliteStore.open(folder / "data")) as opened:
        for name in ("Ada", "Ben", "Cleo"):
            practise(opened, name, 2, trials=8)
    for words in (("export", "there.jsonl"), ("render", "there.wav", "--seed", "1", "--cents", "4")):
        done = run(folder, [sys.executable, "-m", "centwise", *words])
        assert done.returncode == 0, done.stderr
    return folder


def run(folder: Path, command: list[str], lines: str = "") -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("CENTWISE", "XDG"))}
    return subprocess.run(
        command,
        cwd=folder,
        env=kept | {"HOME": str(folder), "CENTWISE_DATA": str(folder / "data")},
        input=lines,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )


def files_in(folder: Path) -> list[Path]:
    """Return the files there, hidden ones too; what libraries cache for themselves lies deeper."""
    return sorted(path for path in folder.iterdir() if path.is_file())


def stored(folder: Path) -> list[str]:
    with closing(sqlite3.connect(folder / "data" / FILE_NAME)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        # The class view's rows are worked out from the blocks at any time.
        return [line for line in connection.iterdump() if not line.startswith('INSERT INTO "class_rows"')]


@pytest.mark.parametrize(("name", "arguments", "place"), MIDST, ids=[f"{words[0]} {name}" for name, words, _ in MIDST])
def test_ended_in_its_midst(
    there: Path, tmp_path: Path, name: str, arguments: tuple[str, ...], place: tuple[str, ...]
) -> None:
    folder = tmp_path / "here"
    shutil.copytree(there, folder)
    wanted = folder / next((word for word in arguments if word.startswith("wanted")), "none")
    wanted.write_text("as it was before")
    before, files = stored(folder), files_in(folder)
    done = run(folder, [sys.executable, str(STRUCK), name, *place, *arguments], "flat\n" * 3)
    assert done.returncode == 128 + getattr(signal, name), done
    sentence = NOTHING_HALF
    if arguments[0] == "import":
        sentence = ", and nothing was imported: give the same command again.\n"
    assert done.stderr == f"centwise: {SAID[name]}{sentence}"
    assert wanted.read_text() == "as it was before"
    assert files_in(folder) == files
    assert stored(folder) == before


@pytest.mark.parametrize(("name", "way"), [("SIGTERM", "--plain"), ("SIGHUP", "--events"), ("SIGINT", "--plain")])
def test_the_bench_keeps_every_act(tmp_path: Path, name: str, way: str) -> None:
    command = [sys.executable, str(STRUCK), name, "bench/acts.py", "parse_act", "3", "bench", way]
    done = run(tmp_path, [*command, "--player", "silent:hurry"], "mute\nbass forward 1/16in\nmargins\n")
    assert done.returncode == 128 + getattr(signal, name), done
    assert done.stderr == f"centwise: {SAID[name]}, and every act so far is kept: type centwise bench to go on.\n"
    with closing(SqliteStore.open(tmp_path / "data")) as store:
        bench = store.unfinished_bench(store.listeners()[0].id)
    assert bench is not None
    assert [act.words for act in bench.acts] == ["mute", "bass forward 1/16in"]


@pytest.mark.parametrize(("name", "way"), [("SIGTERM", "--events"), ("SIGHUP", "--plain"), ("SIGINT", "--events")])
def test_an_answer_struck_before_it_is_told_is_kept_and_counted(tmp_path: Path, name: str, way: str) -> None:
    # The moment the store has it on disk.
    command = [sys.executable, str(STRUCK), name, "store/sqlite.py", "add_trial<", "2", "drill", way]
    done = run(tmp_path, [*command, "--player", "silent:hurry"], "flat\nsharp\nunison\n")
    ended = name == "SIGINT"
    assert done.returncode == 128 + getattr(signal, name), done
    to_do = "type centwise drill for the next block" if ended else "type centwise drill --resume to go on"
    assert done.stderr == f"centwise: {SAID[name]} with 2 answers of the block kept: {to_do}.\n"
    with closing(SqliteStore.open(tmp_path / "data")) as store:
        (block,) = store.blocks(store.listeners()[0].id)
    assert [trial.answer for trial in block.trials] == ["flat", "sharp"]
    assert (block.result is not None) == ended
