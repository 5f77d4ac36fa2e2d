"""`centwise check` for the whole chain: lines, exit codes, parts by themselves, the sheet, and its refusals."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from centwise.chain.line import PARTS, STATUSES, CheckLine
from centwise.chain.store import check_store
from centwise.store.sqlite import FILE_NAME, SqliteStore
from chain_once import estimate_once, tones_once

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import CommandLine


@pytest.fixture
def heavy_parts_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the real tones and the real estimate be checked once for all tests that want them."""
    monkeypatch.setattr("centwise.chain.tones.check_tones", tones_once)
    monkeypatch.setattr("centwise.chain.estimate.check_estimate", estimate_once)


def checks(out: str) -> dict[str, dict]:
    return {check["part"]: check for check in json.loads(out)["checks"]}


@pytest.mark.usefixtures("heavy_parts_once")
def test_the_whole_chain_has_a_line_each_and_every_word(centwise: CommandLine) -> None:
    assert centwise("check", "--player", "silent", "--seed", "7") == 0
    said = centwise.out.splitlines()
    assert said[0] == "Checking the listening chain; seed 7."
    assert all(line.endswith(".") for line in said)
    assert said[1].startswith("Tones as asked: passed. 160 pairs of 5 strings")
    assert "worst error" in said[1]
    told = {line.split(":")[0]: line.split(":")[1].split(".")[0].strip() for line in said[1:-1]}
    assert told["Player miniaudio"] == "passed"
    assert told["Output"] == told["Left, right and both"] == told["Loop"] == told["Store"] == "not checked"
    assert told["Room on its disk"] == told["Estimate of a threshold"] == "passed"
    assert "--ears" in centwise.out
    assert "--loop" in centwise.out
    assert "0 failed" in said[-1]


@pytest.mark.usefixtures("heavy_parts_once")
def test_as_json_every_line_is_a_record(centwise: CommandLine) -> None:
    assert centwise("check", "--player", "silent", "--seed", "7", "--json") == 0
    record = json.loads(centwise.out)
    assert (record["passed"], record["seed"]) == (True, 7)
    assert record["versions"]["Python"]
    assert {check["part"] for check in record["checks"]} == set(PARTS)
    for check in record["checks"]:
        assert check["status"] in STATUSES
        assert check["finding"]
    found = checks(centwise.out)
    assert 0.0 < found["tones"]["worst_pair_error_cents"] < 0.01
    assert found["loop"]["status"] == "not checked"


def test_one_part_alone(centwise: CommandLine) -> None:
    assert centwise("check", "--only", "store", "--only", "players", "--json") == 0
    assert {check["part"] for check in json.loads(centwise.out)["checks"]} == {"store", "players"}


def test_one_failure_is_exit_code_1(centwise: CommandLine, tmp_path: Path) -> None:
    folder = tmp_path / "data"
    SqliteStore.open(folder).close()
    assert centwise("check", "--only", "store") == 0
    (folder / FILE_NAME).write_bytes(b"no database" * 1000)
    assert centwise("check", "--only", "store") == 1
    assert "Store: failed." in centwise.out
    assert centwise("check", "--only", "store", "--json") == 1
    assert json.loads(centwise.out)["passed"] is False
    # A store that is broken does not hinder the other parts.
    assert centwise("check", "--only", "store", "--only", "device", "--player", "silent") == 1
    assert "Output: not checked." in centwise.out


def test_nothing_is_made_or_changed_by_looking(centwise: CommandLine, tmp_path: Path) -> None:
    assert centwise("check", "--player", "silent", "--only", "device", "--only", "store") == 0
    assert not (tmp_path / "data").exists()
    files = f"file:{tmp_path / 'sounds'}"
    assert centwise("check", "--player", files, "--only", "device", "--only", "loop", "--only", "ears", "--json") == 0
    assert {check["status"] for check in checks(centwise.out).values()} == {"not checked"}
    assert not (tmp_path / "sounds").exists()


def test_the_ears_without_a_player_of_two_sides_and_without_an_answer(centwise: CommandLine) -> None:
    assert centwise("check", "--only", "ears", "--player", "silent", "--json") == 0
    assert "does not sound each side apart" in checks(centwise.out)["ears"]["finding"]


class SidedFake:
    """Sounds nothing; where it sounds follows from `sides`."""

    rate_hz = 48_000
    level_db = 0.0
    sides = (1.0, 1.0)

    def play(self, sound: object) -> SidedFake:
        return self

    def wait(self) -> bool:
        return True

    def close(self) -> None:
        return


def test_the_ears_ask_in_words_and_letters(centwise: CommandLine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("centwise.cli.check_run.open_sided_player", lambda _clock: SidedFake())
    assert centwise("check", "--only", "ears", "--seed", "1", lines="huh?\nl\nRIGHT\nboth\n") in {0, 1}
    assert centwise.out.count("where was it?") == 4
    assert "Say left, right, both, nothing, again or quit" in centwise.out
    assert "no hearing test" in centwise.out.casefold()
    assert centwise("check", "--only", "ears", "--json", lines="q\n") == 0
    assert checks(centwise.out)["ears"]["status"] == "not checked"
    assert "where was it?" in centwise.err


def test_the_sheet_holds_what_was_said(centwise: CommandLine, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.html"
    assert centwise("check", "--player", "silent", "--only", "store", "--sheet", str(sheet)) == 0
    assert f"Wrote the sheet to {sheet}." in centwise.out
    html = sheet.read_text(encoding="utf-8")
    line = check_store(tmp_path / "data")[0]
    assert line.told in html
    # A sheet says what was left out.
    assert html.count("it was left out of this check".capitalize()) == len(PARTS) - 1
    assert "There is no store yet, so no listener has a baseline." in html
    assert centwise("check", "--only", "players", "--sheet", str(sheet), "--json") == 0
    assert json.loads(centwise.out)["sheet"] == str(sheet)


def test_a_sheet_that_cannot_be_written_loses_no_findings(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", full)
    assert centwise("check", "--only", "players", "--sheet", str(tmp_path / "x.html"), "--json") == 3
    assert checks(centwise.out)["players"]
    assert "no space left on device" in centwise.err
    assert not (tmp_path / "x.html").exists()


def test_a_failure_still_leaves_its_sheet(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing = (CheckLine("players", "Player miniaudio", "failed", "it does not load"),)
    monkeypatch.setattr("centwise.chain.players.check_players", lambda: failing)
    sheet = tmp_path / "sheet.html"
    assert centwise("check", "--only", "players", "--sheet", str(sheet)) == 1
    assert "✗ failed" in sheet.read_text(encoding="utf-8")


def test_the_sheet_takes_the_last_listener_or_the_named_one(centwise: CommandLine, tmp_path: Path) -> None:
    words = ("drill", "--player", f"file:{tmp_path / 'sounds'}", "--trials", "20", "--events", "--seed", "3")
    for name in ("Ada", "Bo"):
        assert centwise(*words, "--listener", name, lines="flat\nunison\nsharp\nsharp\n" * 5) == 0
    sheet = tmp_path / "sheet.html"
    assert centwise("check", "--only", "players", "--sheet", str(sheet)) == 0
    assert "<bdi>Bo</bdi>" in sheet.read_text(encoding="utf-8")
    assert centwise("check", "--only", "players", "--sheet", str(sheet), "--listener", "ada") == 0
    html = sheet.read_text(encoding="utf-8")
    assert "<bdi>Ada</bdi>" in html
    assert "String 4, the others muted, harmonic first" in html
    centwise.refuses(
        "check", "--sheet", str(sheet), "--listener", "Cy", "--only", "players", code=2, words="no listener named 'Cy'"
    )


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--only", "sound"), 2, "'sound' is not one of"),
        (("--listeners", "5", "--loop"), 2, "a run of their own"),
        (("--trials", "20", "--sheet", "x.html"), 2, "a run of their own"),
        (("--listener", "Ada"), 2, "--listener is for the sheet"),
        (("--sheet", "x.pdf"), 2, "does not say a page"),
        (("--sheet", "nowhere/x.html"), 3, "does not exist"),
        (("--instrument", "spoons"), 2, "there is no instrument named 'spoons'"),
        (("--player", "gramophone"), 2, "there is no player 'gramophone'"),
        (("--sheet", "x.html", "--listener", "Ada"), 2, "no store yet"),
    ],
)
def test_what_cannot_be_is_refused(centwise: CommandLine, arguments: tuple[str, ...], code: int, words: str) -> None:
    centwise.refuses("check", *arguments, code=code, words=words)


def test_the_list_of_commands_says_what_check_checks(centwise: CommandLine) -> None:
    assert centwise("--help") == 0
    assert "Check the listening chain, part by part." in centwise.out
