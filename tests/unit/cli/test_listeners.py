"""`centwise listeners` from the command line."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from centwise.model import BlockResult, Listener, Trial
from centwise.store.sqlite import SqliteStore
from fakes import START, block_plan

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import CommandLine

RESULT = BlockResult(3, 2, 4.5, 3.1, 6.6, -0.5, -2.0, 1.0, 3.2, 1.73, 1.19, 2.54, 4)


@pytest.fixture
def kept(tmp_path: Path) -> None:
    store = SqliteStore.open(tmp_path / "data")
    store.add_listener(Listener("ann", "Ann", 640.0, note="hears well"))
    store.add_listener(Listener("bo", "Bo", 660.0))
    for name, who in (("a", "ann"), ("b", "bo")):
        store.begin_block(block_plan(id=name, listener_id=who))
        for n in (1, 2, 3):
            store.add_trial(name, Trial(n, -8.0, "harmonic", "flat", START))
        store.end_block(name, RESULT, START)
    store.close()


def people(centwise: CommandLine) -> dict[str, dict[str, Any]]:
    assert centwise("listeners", "--json") == 0
    return {who["name"]: who for who in json.loads(centwise.out)["listeners"]}


def test_with_nobody_it_says_how_to_begin(centwise: CommandLine) -> None:
    assert centwise("listeners") == 0
    assert centwise.out == "Nobody yet. Begin with centwise, or add somebody: centwise listeners add NAME.\n"


@pytest.mark.usefixtures("kept")
def test_they_are_listed_the_last_used_first(centwise: CommandLine) -> None:
    assert centwise("listeners") == 0
    lines = centwise.out.splitlines()
    assert lines[0].split() == ["Listener", "Scale", "Instrument", "Blocks", "Last", "seen", "Note"]
    assert lines[1].startswith("Bo        25.98 in (660.00 mm)  five-string       1  2 Jan 2026")
    assert lines[2].endswith("hears well")
    assert centwise("listeners", "list") == 0
    assert centwise.out.splitlines() == lines


def test_somebody_is_added_with_all_that_is_known(centwise: CommandLine) -> None:
    arguments = ("add", " Zoe\u0308 ", "--scale", "25.5in", "--note", "left-handed")
    assert centwise("listeners", *arguments) == 0
    assert centwise.out == "Added Zo\u00eb: scale 25.5 in (647.70 mm), five-string. Note: left-handed\n"
    assert people(centwise)["Zo\u00eb"]["scale_mm"] == 647.7
    centwise.refuses("listeners", *arguments, code=2, words="there is a listener named .* already")


@pytest.mark.usefixtures("kept")
def test_a_name_changes_and_nothing_else(centwise: CommandLine) -> None:
    before = people(centwise)["Ann"]
    assert centwise("listeners", "rename", "ann", "Anna") == 0
    assert centwise.out == "Ann is now Anna: scale 25.2 in (640.00 mm), five-string. Note: hears well\n"
    assert people(centwise)["Anna"] == before | {"name": "Anna"}
    assert centwise("listeners", "rename", "Anna", "ANNA") == 0, "the case of one's own name may change"
    centwise.refuses("listeners", "rename", "bo", "anna", code=2, words="named 'ANNA' already: .*listeners merge")


@pytest.mark.usefixtures("kept")
def test_scale_instrument_and_note_change(centwise: CommandLine) -> None:
    assert centwise("listeners", "change", "Bo", "--scale", "26 1/4in", "--note", "a note", "--json") == 0
    assert json.loads(centwise.out)["scale_mm"] == 666.75
    assert centwise("listeners", "change", "Bo", "--instrument", "mandolin") == 0
    assert people(centwise)["Bo"]["instrument"] == "mandolin"
    assert people(centwise)["Bo"]["scale_mm"] == 352.425, "another instrument has another length"
    assert people(centwise)["Bo"]["note"] == "a note"
    assert centwise("listeners", "change", "Bo", "--note", "") == 0
    assert people(centwise)["Bo"]["note"] == ""
    centwise.refuses("listeners", "change", "Bo", code=2, words="nothing to change")
    centwise.refuses("listeners", "change", "Bo", "--instrument", "lute", code=2, words="'lute'")
    centwise.refuses("listeners", "change", "Bo", "--scale", "3in", code=2, words="scale length of 76.2 mm is outside")


@pytest.mark.usefixtures("kept")
def test_removing_names_what_goes_and_wants_a_yes(centwise: CommandLine) -> None:
    for lines in ("", "no\n", "\n"):
        assert centwise("listeners", "remove", "Ann", lines=lines) == 2
        assert "Ann goes, with 1 block with 3 answers. A copy is kept.\nRemove Ann? Type yes" in centwise.err
        assert "nothing was changed, because nobody said yes" in centwise.err
        assert centwise.out == ""
    assert set(people(centwise)) == {"Ann", "Bo"}
    assert centwise("listeners", "remove", "Ann", lines="yes\n") == 0
    assert centwise.out.startswith("Removed Ann, with 1 block with 3 answers.\nA copy is in ")
    assert set(people(centwise)) == {"Bo"}


@pytest.mark.usefixtures("kept")
def test_the_copy_of_who_was_removed_opens_as_a_store(centwise: CommandLine) -> None:
    assert centwise("listeners", "remove", "Ann", "--yes", "--json") == 0
    record = json.loads(centwise.out)
    assert (record["blocks"], record["trials"]) == (1, 3)
    assert centwise("listeners", "--data", record["copy"], "list", "--json") == 0
    assert [who["name"] for who in json.loads(centwise.out)["listeners"]] == ["Ann"]


@pytest.mark.usefixtures("kept")
def test_a_final_removal_says_so_and_keeps_nothing(centwise: CommandLine, tmp_path: Path) -> None:
    assert centwise("listeners", "remove", "Ann", "--final", lines="yes\n") == 0
    assert "No copy is kept: this is final." in centwise.err
    assert centwise.out.endswith("No copy was kept.\n")
    assert not (tmp_path / "data" / "copies").exists()


@pytest.mark.usefixtures("kept")
def test_merging_says_what_joins_what_and_what_stays(centwise: CommandLine) -> None:
    centwise("listeners", "change", "Bo", "--note", "left-handed", "--instrument", "mandolin")
    assert centwise("listeners", "merge", "Bo", "Ann", lines="yes\n") == 0
    assert "Bo, with 1 block with 3 answers, joins Ann, with 1 block with 3 answers." in centwise.err
    assert "The scale length stays 25.2 in (640.00 mm), not 13.875 in (352.42 mm)" in centwise.err
    assert "The instrument stays five-string, not mandolin." in centwise.err
    assert "The notes are put one under the other." in centwise.err
    assert centwise.out.startswith("Ann has now 2 blocks with 6 answers. A copy of Bo as they were is in ")
    assert people(centwise)["Ann"]["note"] == "hears well\nleft-handed"
    assert people(centwise)["Ann"]["blocks"] == 2


@pytest.mark.usefixtures("kept")
def test_a_merge_nobody_wants_changes_nothing(centwise: CommandLine) -> None:
    assert centwise("listeners", "merge", "Bo", "Ann", lines="no\n") == 2
    assert set(people(centwise)) == {"Ann", "Bo"}
    centwise.refuses("listeners", "merge", "Bo", "bo", code=2, words="cannot be merged with themselves")


@pytest.mark.usefixtures("kept")
@pytest.mark.parametrize("arguments", [("rename", "Anm", "X"), ("remove", "Anm"), ("merge", "Anm", "Bo")])
def test_who_is_not_there_is_told_with_who_comes_near(centwise: CommandLine, arguments: tuple[str, ...]) -> None:
    centwise.refuses("listeners", *arguments, code=2, words="no listener named 'Anm': did you mean 'Ann'")


HOSTILE = (
    "<script>alert(1)</script>",
    "=cmd|'/C calc'!A0",
    "../../x",
    "\x1b[31mred\x1b]0;title\x07",
    "\u202eright to left",
    "[bold]markup[/bold]",
    "'; DROP TABLE listeners; --",
    "مریم",
    "-rf",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_kept_and_shown_harmlessly(centwise: CommandLine, tmp_path: Path, name: str) -> None:
    assert centwise("listeners", "add", "--", name) == 0
    shown = centwise.out
    (kept,) = people(centwise)
    for arguments in (
        ("listeners",),
        ("progress", "--class"),
        ("progress", "--listener", kept),
        ("listeners", "remove", "--yes", "--", kept),
    ):
        assert centwise(*arguments) == 0, centwise.err
        shown += centwise.out + centwise.err
    assert not {ch for ch in shown if (ord(ch) < 32 and ch != "\n") or ch in "\x7f\u202e\x9b"}
    assert sorted(path.name for path in (tmp_path / "data" / "copies").iterdir()) == ["removed-1"]
    assert people(centwise) == {}


def test_a_name_of_ten_thousand_letters_is_refused(centwise: CommandLine) -> None:
    centwise.refuses("listeners", "add", "x" * 10_000, code=2, words="a name of 10000 characters is too long")
    centwise.refuses("listeners", "remove", "x" * 10_000, code=2, words="there is no listener named 'x+…'")
