"""docs/json.md says which keys `--json` prints: no more and no fewer than are printed."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from made_class import MadeClass, make_class

if TYPE_CHECKING:
    from collections.abc import Iterator

    from conftest import CommandLine

PAGE = Path(__file__).parents[3] / "docs" / "json.md"


def documented(title: str) -> set[str]:
    """Return the paths of the keys in the tables of one part of the page."""
    part = f"\n{PAGE.read_text(encoding='utf-8')}".partition(f"\n## {title}\n")[2].partition("\n## ")[0]
    found, within = set(), ""
    for line in part.splitlines():
        if heading := re.fullmatch(r"### In `(.+)`", line):
            within = f"{heading[1]}."
        elif line.startswith("| `"):
            found |= {f"{within}{key}" for key in re.findall(r"`(\w+)`", line.split("|")[1])}
    return found


def printed(value: Any, at: str = "") -> Iterator[str]:
    """Give the path of each key in a document; what is kept by a string's number has no keys of its own."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if not key.isdigit():
                path = f"{at}.{key}" if at else key
                yield path
                yield from printed(inner, path)
    elif isinstance(value, list):
        for inner in value:
            yield from printed(inner, f"{at}[]")


@pytest.fixture
def desk(centwise: CommandLine, tmp_path: Path) -> CommandLine:
    """A class of two who have practised, one of whom has marked a bridge's feet and left another."""
    make_class(tmp_path / "data", MadeClass(listeners=2, blocks_each=6, trials_each=5))
    # Into files, for which nobody waits.
    player = ("--player", f"file:{tmp_path / 'sounds'}")
    bench = ("bench", "--plain", *player, "--seed", "1", "--listener", "Listener 00001", "--json")
    assert centwise(*bench, lines="mute\nchime 4\nfret 4\nbass forward 1/16in\nmark\nquit\n") == 0
    assert set(printed(json.loads(centwise.out))) == documented("`centwise bench`")
    assert centwise(*bench, "--new", lines="mute\nquit\n") == 0
    return centwise


def keys_of(centwise: CommandLine, *arguments: str, lines: str = "") -> set[str]:
    assert centwise(*arguments, "--json", lines=lines) == 0, centwise.err
    return set(printed(json.loads(centwise.out)))


def test_listeners_and_their_progress(desk: CommandLine, tmp_path: Path) -> None:
    assert keys_of(desk, "listeners") == documented("`centwise listeners`")
    assert keys_of(desk, "progress") == documented("`centwise progress`")
    files = ("--html", str(tmp_path / "page.html"), "--csv", str(tmp_path / "answers.csv"))
    assert keys_of(desk, "progress", *files) == documented("`centwise progress` with `--html` and `--csv`")
    one = documented("`centwise listeners add`, `rename` and `change`")
    assert keys_of(desk, "listeners", "add", "Ada") == one
    assert keys_of(desk, "listeners", "rename", "Ada", "Ida") == one
    assert keys_of(desk, "listeners", "change", "Ida", "--note", "left-handed") == one
    merged = ("merge", "Listener 00001", "Listener 00000", "--yes")
    assert keys_of(desk, "listeners", *merged) == documented("`centwise listeners merge`")
    told = json.loads(desk.out)
    # 12 blocks of 5 pairs between the two; a rehearsal of 5 acts and one of 1.
    assert [told[key] for key in ("blocks", "trials", "rehearsals", "acts")] == [12, 60, 2, 6]
    assert keys_of(desk, "listeners", "remove", "Ida", "--yes") == documented("`centwise listeners remove`")
    assert json.loads(desk.out)["rehearsals"] == 0


def test_lessons_and_blocks(desk: CommandLine, tmp_path: Path) -> None:
    lessons = documented("`centwise lessons`")
    assert keys_of(desk, "lessons", "--listener", "Listener 00000") == lessons
    without = {key for key in lessons if not key.startswith("lessons[].standpoint")}
    assert keys_of(desk, "lessons") == without
    mine = tmp_path / "mine.toml"
    assert desk("lessons", "--show", "first-week") == 0
    mine.write_text(desk.out, encoding="utf-8")
    one = {key.removeprefix("lessons[].") for key in without} - {"lessons"}
    assert keys_of(desk, "lessons", "--test", str(mine)) == one
    drill = ("drill", "--plain", "--player", f"file:{tmp_path / 'sounds'}", "--listener", "Ada", "--trials", "5")
    assert keys_of(desk, *drill, lines="flat\n" * 9) == documented("`centwise drill`")


def test_out_and_in(desk: CommandLine, tmp_path: Path) -> None:
    file, other = str(tmp_path / "all.jsonl"), ("--data", str(tmp_path / "other"))
    assert keys_of(desk, "export", file) == documented("`centwise export`")
    assert desk("listeners", "add", "listener 00000", *other) == 0
    # Somebody there is called alike.
    assert keys_of(desk, "import", file, *other) == documented("`centwise import`")


def test_travel_and_tones(centwise: CommandLine, tmp_path: Path) -> None:
    assert keys_of(centwise, "shift", "--cents", "-4", "--string", "4") == documented("`centwise shift`")
    pair = ("render", str(tmp_path / "pair.wav"), "--string", "4", "--cents", "-4", "--seed", "1")
    assert keys_of(centwise, *pair) == documented("`centwise render`")
