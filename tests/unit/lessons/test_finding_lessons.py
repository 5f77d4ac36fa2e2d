"""Which lessons are found, and what stands in for what."""

from __future__ import annotations

from pathlib import Path

import pytest

import centwise.strings
from centwise.errors import InputError
from centwise.lessons.finding import SHIPPED, lesson_named, lessons_found, shipped_text
from centwise.settings.instruments import OwnInstruments


def names(folder: Path | None) -> list[str]:
    return [lesson.name for lesson in lessons_found(folder).lessons]


def test_without_a_folder_the_three_that_ship(tmp_path: Path) -> None:
    assert names(None) == names(tmp_path / "missing") == list(SHIPPED)
    assert [lesson.title for lesson in lessons_found(None).lessons] == [
        "First week",
        "Toward 2 cents",
        "Technician's baseline",
    ]


def test_ones_own_come_first_and_a_wrong_one_hides_no_other(tmp_path: Path) -> None:
    (tmp_path / "tuesday.toml").write_text('title = "Tuesday"')
    (tmp_path / "monday.toml").write_text('title = "Monday"')
    (tmp_path / "wrong.toml").write_text("trials = 3")
    (tmp_path / "notes.txt").write_text("no lesson")
    found = lessons_found(tmp_path)
    assert names(tmp_path) == ["monday", "tuesday", *SHIPPED]
    (trouble,) = found.troubles
    assert "wrong.toml, 'title' is missing" in str(trouble)


def test_ones_own_stands_in_for_one_that_ships(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "first-week.toml").write_text(shipped_text("first-week").replace("First week", "Our week"))
    assert names(tmp_path) == ["first-week", "toward-2-cents", "technicians-baseline"]
    assert lesson_named("first-week", tmp_path).title == "Our week"
    assert lesson_named("first-week", None).title == "First week"
    # A folder of that name where one happens to stand is no lesson, nor are words that can be no file's name.
    (tmp_path / "here" / "first-week").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "here")
    assert lesson_named("first-week", None).title == "First week"
    with pytest.raises(InputError, match="there is no lesson 'aaa"):
        lesson_named("a" * 300, tmp_path)


def test_a_folder_that_is_none_is_a_trouble(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_text("")
    found = lessons_found(path)
    assert len(found.lessons) == len(SHIPPED)
    assert len(found.troubles) == 1


def test_a_name_or_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "own.toml").write_text('title = "Own"')
    assert lesson_named("own", tmp_path).title == "Own"
    assert lesson_named(str(tmp_path / "own.toml"), None).title == "Own"
    monkeypatch.chdir(tmp_path)
    assert lesson_named("own.toml", None).title == "Own"
    with pytest.raises(InputError, match=r"no lesson 'second-week': name its TOML file, or one of own, first-week"):
        lesson_named("second-week", tmp_path)
    with pytest.raises(InputError, match=r"missing\.toml cannot be read"):
        lesson_named("missing.toml", tmp_path)


def test_a_lesson_may_be_on_an_instrument_of_ones_own(tmp_path: Path) -> None:
    folder = tmp_path / "instruments"
    folder.mkdir()
    guitar = Path(centwise.strings.__file__).parent / "instruments" / "archtop-guitar.toml"
    (folder / "mine.toml").write_bytes(guitar.read_bytes())
    (tmp_path / "own.toml").write_text('title = "Own"\ninstrument = "mine"\n')
    lesson = lesson_named("own", tmp_path, OwnInstruments(folder))
    assert (lesson.instrument, lesson.steps[0].strings) == ("mine", (6, 1))
    (found, *_) = lessons_found(tmp_path, OwnInstruments(folder)).lessons
    assert found == lesson
    with pytest.raises(InputError, match=r"line 2 of the lesson .*own\.toml, 'instrument' is 'mine'"):
        lesson_named("own", tmp_path)
