"""Bad input to the drill: one sentence, the right exit code, nothing begun and nothing lost."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import click
import pytest

from centwise import bootstrap
from centwise.cli import diagnostics
from centwise.cli.diagnostics import ExitCode, guarded
from centwise.cli.main import COMMANDS
from centwise.errors import DeviceError
from centwise.store.sqlite import FILE_NAME, SqliteStore

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.settings.load import Settings
    from conftest import CommandLine

SILENT = ("--player", "silent:hurry")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("drill",), "needs a terminal: use centwise drill --plain"),
        ((), "needs a terminal: use centwise drill --plain"),
        (("drill", "--plain", "--events"), "two ways to ask"),
        (("drill", "--plain", "--trials", "0"), "cannot have 0 pairs"),
        (("drill", "--plain", "--trials=-4"), "cannot have -4 pairs"),
        (("drill", "--plain", "--trials", "1001"), "cannot have 1001 pairs"),
        (("drill", "--plain", "--trials", "ten"), "'ten' is not a valid integer"),
        (("drill", "--plain", "--string", "6"), "no string 6: choose one from 1 to 5"),
        (("drill", "--plain", "--instrument", "lute"), "no instrument named 'lute'"),
        (("drill", "--plain", "--likeness", "2"), "likeness of 2 is outside"),
        (("drill", "--plain", "--likeness", "nan"), "likeness of nan is outside"),
        (("drill", "--plain", "--until", "0"), "interval of 0 octaves"),
        (("drill", "--plain", "--until", "nan"), "interval of nan octaves"),
        (("drill", "--plain", "--order", "random"), "'random' is not one of"),
        (("drill", "--plain", "--rule", "coin"), "'coin' is not one of"),
        (("drill", "--plain", "--seed", "4294967296"), "4294967296 is not in the range"),
        (("drill", "--plain", "--scale", "10mm"), "scale length of 10 mm is outside"),
        (("drill", "--plain", "--scale", "long"), "'long' is not a length"),
        (("drill", "--plain", "--player", "gramophone"), "no player 'gramophone'"),
        (("drill", "--plain", "--player", "file:"), "no player 'file:'"),
        (("drill", "--events", *SILENT, "--listener", "  "), "'  ' is no name"),
        (("drill", "--events", *SILENT, "--listener", "x" * 201), "201 characters is too long"),
        (("drill", "--trails", "3"), r"no such option '--trails' \(did you mean .*'--trials'.*: see centwise drill"),
        (("--loud",), "no such option '--loud': see centwise --help"),
        (
            ("--data", "there", "drill"),
            "--data before a command is the app's: write it behind: centwise drill --data there",
        ),
        (("strum",), "no such command 'strum': see centwise --help"),
    ],
)
def test_wrong_words_are_a_matter_of_usage(centwise: CommandLine, arguments: tuple[str, ...], words: str) -> None:
    centwise.refuses(*arguments, code=2, words=words)


def test_a_refused_request_opens_no_device_and_adds_no_listener(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bootstrap, "open_player", no_device)
    for option in (("--string", "7"), ("--trials", "0"), ("--scale", "1mm"), ("--likeness", "-1")):
        centwise.refuses("drill", "--plain", "--listener", "Ada", *option, code=2, words=".")
    assert not (tmp_path / "data").exists()


def no_device(*_arguments: object, **_options: object) -> None:
    raise DeviceError("no sound device could be opened", "plug in headphones, or use --player silent")


@pytest.mark.parametrize("way", ["--plain", "--events"])
def test_no_device_begins_nothing(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    monkeypatch.setattr(bootstrap, "open_player", no_device)
    centwise.refuses("drill", way, "--listener", "Ada", code=4, words="no sound device could be opened: plug in")
    with closing(SqliteStore.open(tmp_path / "data")) as store:
        assert store.listeners() == ()


def test_a_folder_that_cannot_be_written_to(centwise: CommandLine, tmp_path: Path) -> None:
    (tmp_path / "occupied").write_text("a file, no folder")
    centwise.refuses(
        "drill", "--plain", "--player", f"file:{tmp_path}/occupied/wavs", code=3, words="wavs cannot be written"
    )


@pytest.mark.parametrize("content", [b"not a database at all, just text that is long enough" * 40, b"SQLite"])
def test_a_store_that_is_none(centwise: CommandLine, tmp_path: Path, content: bytes) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "centwise.sqlite3").write_bytes(content)
    centwise.refuses("drill", "--plain", *SILENT, code=5, words=r"centwise\.sqlite3 is not a database")
    assert (folder / "centwise.sqlite3").read_bytes() == content


def test_a_store_of_a_newer_version(centwise: CommandLine, tmp_path: Path) -> None:
    SqliteStore.open(tmp_path / "data").close()
    with closing(sqlite3.connect(tmp_path / "data" / "centwise.sqlite3")) as connection:
        connection.execute("PRAGMA user_version = 999")
    centwise.refuses("drill", "--plain", *SILENT, code=5, words="written by a newer centwise .*999.*: update centwise")


def test_a_store_in_a_place_that_is_no_folder(centwise: CommandLine, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    centwise.refuses("drill", "--events", *SILENT, "--data", f"{tmp_path}/file", code=5, words="/file cannot be")


@pytest.mark.parametrize(
    ("text", "words"),
    [("scale = 26.25", "sets scale to 26.25"), ("player = ", "is not TOML"), ("tempo = 'slow'", "unknown key 'tempo'")],
)
def test_a_settings_file_that_cannot_be_used(centwise: CommandLine, tmp_path: Path, text: str, words: str) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(text)
    centwise.monkeypatch.setenv("CENTWISE_CONFIG", str(file))
    centwise.refuses("drill", "--plain", *SILENT, code=3, words=words)


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_is_no_error(centwise: CommandLine, command: str) -> None:
    for option in ("-h", "--help"):
        assert centwise(*command.split(), option) == 0
        assert centwise.out.startswith(f"Usage: centwise{' ' + command if command else ''}")
        assert centwise.err == ""


@pytest.mark.parametrize("option", ["-V", "--version"])
def test_the_version_is_said(centwise: CommandLine, option: str) -> None:
    assert centwise(option) == 0
    assert centwise.out == "centwise 0.1.0\n"


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (KeyboardInterrupt(), ExitCode.INTERRUPTED, "stopped by ctrl\\+c"),
        (click.Abort(), ExitCode.INTERRUPTED, "stopped by ctrl\\+c"),
        (OSError(28, "No space left on device"), ExitCode.FAILED, r"\(no space left on device\): check"),
        (PermissionError(13, "Permission denied", "/x"), ExitCode.FAILED, r"at /x \(permission denied\)"),
        (MemoryError(), ExitCode.FAILED, "not enough memory"),
        (DeviceError("the device\x1b[2J went", "look"), ExitCode.DEVICE, "the device\N{REPLACEMENT CHARACTER}"),
    ],
)
def test_whatever_goes_wrong_is_one_sentence(
    capsys: pytest.CaptureFixture[str], error: BaseException, code: ExitCode, words: str
) -> None:
    def failing() -> None:
        raise error

    assert guarded(failing) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert "\x1b" not in err
    assert re.search(words, err)


def test_a_reader_that_went_away_is_nobodys_trouble(capsys: pytest.CaptureFixture[str]) -> None:
    def failing() -> None:
        raise BrokenPipeError

    assert guarded(failing) == ExitCode.DONE
    assert capsys.readouterr() == ("", "")


def test_a_fault_of_the_program_is_not_hidden() -> None:
    def failing() -> None:
        raise RuntimeError("a fault")

    with pytest.raises(RuntimeError, match="a fault"):
        guarded(failing)


def test_the_exit_codes_are_those_of_the_manual() -> None:
    assert {code.name: int(code) for code in diagnostics.ExitCode} == {
        "DONE": 0,
        "FAILED": 1,
        "USAGE": 2,
        "INPUT": 3,
        "DEVICE": 4,
        "STORE": 5,
        "INTERRUPTED": 130,
    }


@pytest.mark.parametrize(
    ("variable", "arguments"),
    [
        ("CENTWISE_DATA", ("listeners",)),
        ("CENTWISE_CONFIG", ("listeners",)),
        ("", ("drill", "--plain", "--player", "file:~nobody-of-that-name/x")),
        ("", ("drill", "--plain", "--lesson", "~nobody-of-that-name/x.toml")),
    ],
)
def test_a_home_folder_nobody_has_is_refused(
    centwise: CommandLine, monkeypatch: pytest.MonkeyPatch, variable: str, arguments: tuple[str, ...]
) -> None:
    if variable:
        monkeypatch.setenv(variable, "~nobody-of-that-name/x")
    assert centwise(*arguments) == 3
    assert "begins with a home folder that is not known: write the whole path." in centwise.err


def test_the_app_opens_with_the_folder_named_without_a_command(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = []

    def run_app(_services: object, settings: Settings, *_more: object, **_named: object) -> int:
        opened.append(settings.data_dir)
        return 0

    monkeypatch.setattr("centwise.tui.app.run_app", run_app)
    monkeypatch.setattr("centwise.cli.drill.at_a_terminal", lambda: True)
    assert centwise("--data", str(tmp_path / "there")) == 0
    assert opened == [tmp_path / "there"]


@pytest.mark.parametrize("command", [("drill", "--plain", *SILENT), ("bench", "--plain", *SILENT), ("check", "--mend")])
def test_a_store_that_cannot_be_looked_for_is_the_stores_trouble(
    centwise: CommandLine, tmp_path: Path, command: tuple[str, ...]
) -> None:
    # A name of 300 letters, which no file system takes, stands for a folder that only somebody else may look into.
    folder = str(tmp_path / ("x" * 300))
    centwise.refuses(*command, "--data", folder, code=5, words=r"\(file name too long\)")


def test_a_file_that_may_not_be_read_is_no_wrong_word(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(b"no sound")
    # Whoever runs the tests as root may read everything.
    monkeypatch.setattr("os.access", lambda *_arguments, **_options: False)
    centwise.refuses("measure", str(path), code=3, words="is not a sound file that can be read")


@pytest.mark.parametrize("command", [("export",), ("progress", "--csv")])
def test_nothing_is_written_over_a_store(centwise: CommandLine, tmp_path: Path, command: tuple[str, ...]) -> None:
    SqliteStore.open(tmp_path).close()
    path = tmp_path / FILE_NAME
    before = path.read_bytes()
    centwise.refuses(
        *command, str(path), "--data", str(tmp_path), code=3, words="is a database and was left as it is: name another"
    )
    assert path.read_bytes() == before
