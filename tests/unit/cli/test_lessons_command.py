"""`centwise lessons`, and `centwise drill --lesson`."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from centwise.lessons.finding import SHIPPED, shipped_text

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import CommandLine

SILENT = ("--player", "silent:hurry", "--listener", "Ada")
SHORT = 'title = "Short \x1b[2J"\ntrials = 5\nstrings = [1, 4]\nlikeness = 1.0\nfrom = 2999-01-01\n'


def lesson_file(folder: Path, text: str = 'title = "Short"\ntrials = 5\nstrings = [1, 4]\n') -> str:
    path = folder / "short.toml"
    path.write_text(text)
    return str(path)


def test_the_list_names_the_three_and_where_ones_own_go(centwise: CommandLine, tmp_path: Path) -> None:
    centwise.monkeypatch.setenv("CENTWISE_CONFIG", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").write_text("")
    assert centwise("lessons") == 0
    for name in SHIPPED:
        assert f"{name}: " in centwise.out
    assert f"Your own go into {tmp_path}/lessons" in centwise.out


def test_ones_own_are_listed_first_and_a_wrong_one_is_told(centwise: CommandLine, tmp_path: Path) -> None:
    centwise.monkeypatch.setenv("CENTWISE_CONFIG", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").write_text("")
    folder = tmp_path / "lessons"
    folder.mkdir()
    (folder / "mine.toml").write_text('title = "Mine"')
    (folder / "wrong.toml").write_text('title = "W"\ntrials = "all"')
    assert centwise("lessons", "--json") == 3
    document = json.loads(centwise.out)
    assert list(document) == ["lessons"]
    assert [lesson["name"] for lesson in document["lessons"]] == ["mine", *SHIPPED]
    assert "in line 2 of the lesson" in centwise.err
    assert "wrong.toml, 'trials' is 'all': give a whole number from 1 to 1000" in centwise.err


def test_a_shipped_lesson_written_out_is_a_lesson(centwise: CommandLine, tmp_path: Path) -> None:
    assert centwise("lessons", "--show", "first-week") == 0
    assert centwise.out == shipped_text("first-week")
    assert centwise("lessons", "--test", lesson_file(tmp_path, centwise.out), "--json") == 0
    record = json.loads(centwise.out)
    assert record["title"] == "First week"
    assert len(record["steps"]) == 4


def test_where_a_listener_stands(centwise: CommandLine, tmp_path: Path) -> None:
    file = lesson_file(tmp_path)
    assert centwise("drill", "--plain", "--lesson", file, *SILENT, lines="flat\n" * 5) == 0
    assert centwise("lessons", "--test", file, "--listener", "ada") == 0
    # The silent player's blocks are nobody's.
    assert "Lesson Short, step 1 of 1: block 1 of 1 on string 1." in centwise.out
    centwise.refuses("lessons", "--listener", "Nobody", code=2, words="no listener named 'Nobody'")


def test_a_drill_follows_its_lesson_from_block_to_block(centwise: CommandLine, tmp_path: Path) -> None:
    file = lesson_file(tmp_path)
    player = ("--player", f"file:{tmp_path}/wavs", "--listener", "Ada")
    strings, blocks = [], []
    for _ in range(3):
        assert centwise("drill", "--events", "--lesson", file, *player, lines="flat\n" * 5) == 0
        opened = json.loads(centwise.out.splitlines()[0])
        assert opened["trials"] == 5
        strings.append(opened["string"])
        blocks.append(opened["lesson"])
    assert strings == [1, 4, 1]
    assert [block["done"] for block in blocks] == [False, False, True]
    assert blocks[0] == {
        "name": "short",
        "title": "Short",
        "step": 1,
        "steps": 1,
        "string": 1,
        "block": 1,
        "blocks": 1,
        "target_cents": None,
        "done": False,
    }


def test_the_plain_drill_says_where_one_stands_and_steers_no_terminal(centwise: CommandLine, tmp_path: Path) -> None:
    file = lesson_file(tmp_path, SHORT.replace("\x1b", "\\u001b"))
    assert centwise("drill", "--plain", "--lesson", file, *SILENT, lines="quit\n") == 0
    assert "Lesson Short \N{REPLACEMENT CHARACTER}[2J, step 1 of 1: block 1 of 1 on string 1." in centwise.out
    assert "It begins on 1 January 2999: blocks before that do not count in it." in centwise.out
    assert "\x1b" not in centwise.out


@pytest.mark.parametrize(
    "option", ["--string=2", "--trials=9", "--assess", "--order=both", "--unmuted", "--likeness=0", "--until=1"]
)
def test_what_a_lesson_says_is_not_said_again(centwise: CommandLine, option: str) -> None:
    name = option.partition("=")[0]
    centwise.refuses(
        "drill", "--plain", "--lesson", "first-week", option, *SILENT, code=2, words=f"says itself what {name} says"
    )


def test_a_wrong_lesson_begins_nothing(centwise: CommandLine, tmp_path: Path) -> None:
    file = lesson_file(tmp_path, 'title = "W"\n\nlikeness = "very"')
    words = r"in line 3 of the lesson .*short\.toml, 'likeness' is 'very': give a number from 0 to 1"
    centwise.refuses("drill", "--plain", "--lesson", file, *SILENT, code=3, words=words)
    centwise.refuses("lessons", "--test", file, code=3, words=words)
    centwise.refuses("drill", "--plain", "--lesson", "third-week", *SILENT, code=3, words="no lesson 'third-week'")
    assert not (tmp_path / "data").exists()


def test_what_does_not_go_together(centwise: CommandLine) -> None:
    centwise.refuses("lessons", "--show", "first-week", "--json", code=2, words="nothing else")
    centwise.refuses("lessons", "--show", "third-week", code=2, words="no lesson 'third-week' ships")
