"""`centwise export` and `centwise import` as a teacher uses them."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest

from centwise.store.opening import connect
from centwise.store.transfer import Taking

if TYPE_CHECKING:
    import sqlite3
    from pathlib import Path

    from centwise.exchange.records import BlockRecord
    from centwise.store.sqlite import SqliteStore
    from conftest import CommandLine

HOSTILE = ("<script>alert(1)</script>", "=cmd|' /C calc'!A0", "../../x", "[bold]Ada[/bold]", "עדה", "x" * 200)


def drilled(centwise: CommandLine, tmp_path: Path, *names: str, data: str = "data") -> None:
    for name in names:
        player = ("--player", f"file:{tmp_path}/wavs", "--data", f"{tmp_path}/{data}")
        assert centwise("drill", "--events", "--listener", name, "--trials", "5", *player, lines="flat\n" * 5) == 0


def test_out_and_into_another_store_and_out_again(centwise: CommandLine, tmp_path: Path) -> None:
    drilled(centwise, tmp_path, *HOSTILE)
    one, other = str(tmp_path / "one.jsonl"), str(tmp_path / "other.jsonl")
    elsewhere = ("--data", f"{tmp_path}/elsewhere")
    assert centwise("export", one) == 0
    assert centwise.out == f"6 listeners, 6 blocks and 30 answers written to {one}.\n"
    assert centwise("import", one, *elsewhere) == 0
    assert centwise.out == "New: 6 listeners, 6 blocks, 30 answers. Here already: 0 blocks.\n"
    assert centwise("export", other, *elsewhere) == 0
    assert (tmp_path / "other.jsonl").read_bytes() == (tmp_path / "one.jsonl").read_bytes()
    assert centwise("import", one, *elsewhere) == 0
    assert centwise.out == "Nothing new. Here already: 6 blocks.\n"
    assert centwise("listeners", "--json", *elsewhere) == 0
    assert {row["name"] for row in json.loads(centwise.out)["listeners"]} == set(HOSTILE)


def test_standard_output_and_standard_input(centwise: CommandLine, tmp_path: Path) -> None:
    drilled(centwise, tmp_path, "Ada", "Ben")
    assert centwise("export", "-", "--listener", "ben") == 0
    text = centwise.out
    assert [json.loads(line)["record"] for line in text.splitlines()] == ["header", "listener", "block", "end"]
    assert centwise("import", "-", "--data", f"{tmp_path}/elsewhere", "--json", lines=text) == 0
    assert json.loads(centwise.out) == {
        "dry_run": False,
        "listeners": 1,
        "changed_listeners": 0,
        "merged_listeners": 0,
        "blocks": 1,
        "changed_blocks": 0,
        "known_blocks": 0,
        "trials": 5,
        "rehearsals": 0,
        "changed_rehearsals": 0,
        "known_rehearsals": 0,
        "renamed": [],
    }


def test_several_files_and_a_dry_run(centwise: CommandLine, tmp_path: Path) -> None:
    files = []
    for place in ("a", "b"):
        drilled(centwise, tmp_path, "Ada", data=place)
        files.append(str(tmp_path / f"{place}.jsonl"))
        assert centwise("export", files[-1], "--data", f"{tmp_path}/{place}") == 0
    assert centwise("import", *files, "--dry-run") == 0
    assert "Would be new: 2 listeners, 2 blocks, 10 answers." in centwise.out
    assert "Two are called 'Ada': one would be 'Ada (" in centwise.out
    assert centwise("listeners", "--json") == 0
    assert json.loads(centwise.out)["listeners"] == []
    assert centwise("import", *files) == 0
    assert re.search(r"Two are called 'Ada': one is now 'Ada \(\w{4}\)'\.\nThe same person\?", centwise.out)


def test_without_names(centwise: CommandLine, tmp_path: Path) -> None:
    drilled(centwise, tmp_path, "Ada Lovelace")
    file = tmp_path / "shared.jsonl"
    assert centwise("export", str(file), "--without-names", "--json") == 0
    assert json.loads(centwise.out) == {"file": str(file), "listeners": 1, "blocks": 1, "trials": 5, "rehearsals": 0}
    text = file.read_text()
    assert "Lovelace" not in text
    assert str(tmp_path) not in text
    elsewhere = ("--data", f"{tmp_path}/elsewhere")
    assert centwise("import", str(file), *elsewhere) == 0
    assert centwise("export", "-", *elsewhere) == 0
    # The header alone says that names were left out.
    assert centwise.out.splitlines()[1:] == text.splitlines()[1:]
    # Into the store they are from they come as somebody else, and disturb nobody.
    assert centwise("import", str(file)) == 0
    assert centwise("listeners", "--json") == 0
    assert "Ada Lovelace" in {row["name"] for row in json.loads(centwise.out)["listeners"]}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda lines: lines[:-1], "ends after line 3 without an end record: nothing was imported"),
        (lambda lines: [*lines[:2], lines[2][:90]], r"line 3 of .* cannot be imported: it is not JSON"),
        (lambda lines: [lines[0].replace('"version":1', '"version":7'), *lines[1:]], "line 1 of .*update centwise"),
        (lambda lines: [lines[0], lines[1].replace('"Ada"', '"\\u001b"'), *lines[2:]], r"line 2 of .*is no name"),
        (lambda _: ["no JSON at all"], "line 1 of .* it is not JSON"),
        (lambda _: [], "broken.jsonl is empty"),
        (lambda _: ["", ""], r"line 1 of .*broken.jsonl cannot be imported: it is not JSON \(the line is blank\)"),
        (
            lambda lines: [lines[0], lines[1].replace('"edition":1', f'"edition":{"9" * 5000}'), *lines[2:]],
            "line 2 of .* it holds a whole number of thousands of digits: nothing was imported; export it afresh",
        ),
    ],
)
def test_a_broken_file_changes_nothing(centwise: CommandLine, tmp_path: Path, change, words: str) -> None:  # noqa: ANN001
    drilled(centwise, tmp_path, "Ada", data="elsewhere")
    whole, broken = tmp_path / "whole.jsonl", tmp_path / "broken.jsonl"
    assert centwise("export", str(whole), "--data", f"{tmp_path}/elsewhere") == 0
    broken.write_text("\n".join(change(whole.read_text().splitlines())))
    centwise.refuses("import", str(whole), str(broken), code=3, words=words)
    assert centwise("listeners", "--json") == 0
    assert json.loads(centwise.out)["listeners"] == []


def test_ctrl_c_says_that_nothing_was_imported(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drilled(centwise, tmp_path, "Ada", data="elsewhere")
    whole = tmp_path / "whole.jsonl"
    assert centwise("export", str(whole), "--data", f"{tmp_path}/elsewhere") == 0

    def stopped(_taking: Taking, _record: BlockRecord) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Taking, "block", stopped)
    centwise.refuses(
        "import", str(whole), code=130, words=r"stopped by ctrl\+c, and nothing was imported: give the same"
    )
    assert centwise("listeners", "--json") == 0
    assert json.loads(centwise.out)["listeners"] == []


def test_stopped_after_all_is_in_it_says_so(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drilled(centwise, tmp_path, "Ada")
    file, elsewhere = str(tmp_path / "all.jsonl"), ("--data", f"{tmp_path}/elsewhere")
    assert centwise("export", file) == 0

    def stopped(_store: SqliteStore) -> None:
        raise KeyboardInterrupt

    words = r"stopped by ctrl\+c, but all of it is imported already: look at it with centwise progress"
    with monkeypatch.context() as patched:
        patched.setattr("centwise.class_view.class_rows", stopped)
        centwise.refuses("import", file, *elsewhere, code=130, words=words)
    assert centwise("import", file, *elsewhere) == 0
    assert centwise.out == "Nothing new. Here already: 1 block.\n"


@pytest.mark.parametrize("dry_run", [False, True])
def test_ctrl_c_while_sqlite_writes_strikes_after_it_and_says_so(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, dry_run: bool
) -> None:
    drilled(centwise, tmp_path, "Ada")
    file = str(tmp_path / "all.jsonl")
    assert centwise("export", file) == 0

    class Struck:
        """A connection during whose COMMIT ctrl+c is pressed: Python hears of it once SQLite has written."""

        def __init__(self, connection: sqlite3.Connection) -> None:
            self._connection = connection

        def __getattr__(self, name: str) -> object:
            return getattr(self._connection, name)

        def execute(self, words: str, *values: object) -> sqlite3.Cursor:
            done = self._connection.execute(words, *values)
            if words == "COMMIT" and self._connection.total_changes > 4:
                raise KeyboardInterrupt
            return done

    elsewhere = ("--data", f"{tmp_path}/elsewhere")
    with monkeypatch.context() as patched:
        patched.setattr("centwise.store.sqlite.connect", lambda path: Struck(connect(path)))
        if dry_run:
            # What is only tried is never committed.
            assert centwise("import", file, "--dry-run", *elsewhere) == 0
        else:
            centwise.refuses("import", file, *elsewhere, code=130, words="but all of it is imported already")
    assert centwise("listeners", "--json", *elsewhere) == 0
    assert len(json.loads(centwise.out)["listeners"]) == (0 if dry_run else 1)


def test_what_cannot_be_read_or_written(centwise: CommandLine, tmp_path: Path) -> None:
    drilled(centwise, tmp_path, "Ada")
    missing = str(tmp_path / "missing" / "file.jsonl")
    centwise.refuses("import", missing, code=3, words=r"file\.jsonl cannot be read \(no such file.*check its name")
    centwise.refuses("export", missing, code=3, words=r"file\.jsonl cannot be written \(no such file")
    centwise.refuses("export", str(tmp_path), code=3, words="cannot be written")
    centwise.refuses("export", "-", "--json", code=2, words="cannot both go to standard output")
    centwise.refuses("export", "-", "--listener", "Adda", code=2, words="no listener named 'Adda': did you mean 'Ada'")
    centwise.refuses("import", code=2, words="[Mm]issing argument")
    assert not [path for path in tmp_path.iterdir() if path.name.endswith(".part")]


@pytest.mark.parametrize("nowhere", ["", "/"])
def test_a_place_that_names_no_file_is_refused(centwise: CommandLine, nowhere: str) -> None:
    centwise("listeners", "add", "Ann")
    centwise.refuses("export", nowhere, code=3, words="names no file: name one")
