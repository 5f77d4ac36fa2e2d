"""Where lessons are found: in the folder `lessons` beside the settings, then those that ship with the package.

Imports strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING

from centwise.errors import CentwiseError, InputError, reason_of
from centwise.lessons.reading import lesson_from_text, read_lesson
from centwise.strings.library import BUILT_IN
from centwise.systems import expanded

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.lessons.lesson import Lesson
    from centwise.strings.library import Instruments

SHIPPED = ("first-week", "toward-2-cents", "technicians-baseline")
"""In the order in which they are shown."""


@dataclass(frozen=True, slots=True)
class Found:
    """The lessons found, one's own first, and what is wrong with the files that are none."""

    lessons: tuple[Lesson, ...]
    troubles: tuple[CentwiseError, ...]


def shipped_text(name: str) -> str:
    """Return the TOML of a lesson that ships with the package; `name` is one of SHIPPED."""
    return files("centwise.lessons").joinpath("shipped", f"{name}.toml").read_text(encoding="utf-8")


def shipped_lesson(name: str) -> Lesson:
    """Return a lesson that ships with the package; `name` is one of SHIPPED."""
    return lesson_from_text(shipped_text(name), name=name, where=f"{name}, which ships with centwise")


def lessons_found(folder: Path | None, instruments: Instruments = BUILT_IN) -> Found:
    """Return all lessons there are; one's own of the same name stands in for one that ships.

    Args:
        folder: where one's own lie, as `*.toml`; None or missing for none.
        instruments: where their instruments are found.
    """
    own: dict[str, Lesson] = {}
    troubles: list[CentwiseError] = []
    for path in _files(folder, troubles):
        try:
            own[path.stem] = read_lesson(path, instruments)
        except CentwiseError as error:
            troubles.append(error)
    shipped = tuple(shipped_lesson(name) for name in SHIPPED if name not in own)
    return Found((*own.values(), *shipped), tuple(troubles))


def _files(folder: Path | None, troubles: list[CentwiseError]) -> list[Path]:
    if folder is None:
        return []
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == ".toml") if folder.exists() else []
    except OSError as error:
        reason = reason_of(error)
        troubles.append(InputError(f"the lessons in {folder} cannot be read ({reason})", "check the folder"))
        return []


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:  # words that can be no file's name, or a place nobody may look into
        return False


def lesson_named(words: str, folder: Path | None, instruments: Instruments = BUILT_IN) -> Lesson:
    """Return the lesson in a file, or the one found under that name.

    Args:
        words: a path, or the name of a lesson found, such as `first-week`.
        folder: where one's own lie.
        instruments: where its instrument is found.

    Raises:
        InputError: there is none, or something in it is wrong.
    """
    path = expanded(words)
    # A folder of that name in the folder one happens to stand in is no lesson.
    if path.suffix or len(path.parts) > 1 or _is_file(path):
        return read_lesson(path, instruments)
    own = None if folder is None else folder / f"{words}.toml"
    if own is not None and _is_file(own):
        return read_lesson(own, instruments)
    if words in SHIPPED:
        return shipped_lesson(words)
    known = ", ".join(lesson.name for lesson in lessons_found(folder, instruments).lessons)
    raise InputError(f"there is no lesson {words!r}", f"name its TOML file, or one of {known}")
