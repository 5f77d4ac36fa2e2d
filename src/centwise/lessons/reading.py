"""Reading a lesson's TOML. What is wrong is told with its line, its key and what was expected.

Imports planning and below.
"""

from __future__ import annotations

import re
import tomllib
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, NoReturn

from centwise.errors import InputError, reason_of
from centwise.lessons.lesson import Lesson, Step
from centwise.model import MAX_OFFSET_CENTS, ORDERS
from centwise.planning import ASSESSMENT_TRIALS, DRILL_TRIALS, MOST_TRIALS
from centwise.strings.library import BUILT_IN
from centwise.strings.names import DEFAULT_NAME
from centwise.strings.toml_lines import as_toml, line_of, toml_table

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.model import Order
    from centwise.strings.library import Instruments
    from centwise.strings.toml_lines import Place

MOST_BYTES = 65_536
MOST_STEPS = 100
LONGEST_TITLE, LONGEST_ABOUT = 60, 500
MOST_BLOCKS = 100

LESSON_KEYS = ("title", "about", "instrument", "from", "until", "step")
STEP_KEYS = ("strings", "order", "trials", "likeness", "muted", "assess", "blocks", "target")


def read_lesson(path: Path, instruments: Instruments = BUILT_IN) -> Lesson:
    """Read a lesson from its file; the lesson takes its name from the file's, its instrument from those there are.

    Raises:
        InputError: it cannot be read, or something in it is wrong; then line, key and what was expected are named.
    """
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        reason = reason_of(error)
        raise InputError(f"the lesson {path} cannot be read ({reason})", "check its name") from error
    if len(content) > MOST_BYTES:
        raise InputError(f"the lesson {path} is longer than {MOST_BYTES // 1024} kB", "name a lesson's TOML file")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(f"line {line} of the lesson {path} is not UTF-8 text", "save it as UTF-8") from error
    return lesson_from_text(text, name=path.stem, where=str(path), instruments=instruments)


def lesson_from_text(text: str, *, name: str, where: str, instruments: Instruments = BUILT_IN) -> Lesson:
    """Read a lesson from TOML text.

    Args:
        text: the whole file.
        name: what the lesson is called by.
        where: the file, for the errors.
        instruments: where its instrument is found.

    Raises:
        InputError: something is wrong; line, key and what was expected are named.
    """
    try:
        table = toml_table(text)
    except tomllib.TOMLDecodeError as error:
        # tomllib ends its message with "(at line 3, column 5)" or "(at end of document)".
        message = str(error).replace("at end of document", f"at line {text.count(chr(10)) + 1}, the last one")
        if twice := _key_given_twice(text, message):
            line, key = twice
            to_do = "begin each step with [[step]]" if key == "step" else "give it once"
            raise InputError(f"line {line} of the lesson {where} gives {key!r} again", to_do) from error
        raise InputError(f"the lesson {where} is not TOML ({message})", "mend that line") from error
    except RecursionError as error:
        raise InputError(f"the lesson {where} is nested too deeply", "name a lesson's TOML file") from error
    return _Reader(text, table, where, instruments).lesson(name)


class _Reader:
    """Reads the values of one file, each against what is expected of it."""

    def __init__(self, text: str, table: dict[str, Any], where: str, instruments: Instruments) -> None:
        self._instruments = instruments
        self._text = text
        self._table = table
        self._where = where

    def lesson(self, name: str) -> Lesson:
        table = self._table
        self._check_keys((), table, (*LESSON_KEYS, *STEP_KEYS))
        instrument = self._instrument(table)
        steps = table.get("step", [{}])
        if not isinstance(steps, list) or not all(isinstance(step, dict) for step in steps) or not steps:
            self._refuse(("step",), "steps that begin with [[step]]")
        if len(steps) > MOST_STEPS:
            self._refuse(("step",), f"at most {MOST_STEPS} steps", shown=f"{len(steps)} steps")
        for place, step in enumerate(steps):
            self._check_keys(("step", place), step, STEP_KEYS)
        first_day, last_day = self._day("from"), self._day("until")
        if first_day is not None and last_day is not None and last_day < first_day:
            self._refuse(("until",), f"a day on or after {first_day.isoformat()}, the day it begins")
        return Lesson(
            name=name,
            title=self._text_of("title", LONGEST_TITLE, required=True),
            about=self._text_of("about", LONGEST_ABOUT),
            instrument=instrument,
            steps=tuple(self._step(place, step, instrument) for place, step in enumerate(steps)),
            first_day=first_day,
            last_day=last_day,
        )

    def _step(self, place: int, step: dict[str, Any], instrument: str) -> Step:
        def found(key: str, default: Any) -> tuple[Place, Any]:  # noqa: ANN401  TOML holds anything
            """The step's own value, else the lesson's, else the default; and where it stands."""
            if key in step:
                return ("step", place, key), step[key]
            return (key,), self._table.get(key, default)

        assess = self._yes_or_no(*found("assess", False))
        target = self._number(*found("target", None), 0.1, MAX_OFFSET_CENTS, "cents above 0, such as 6")
        blocks = self._whole(*found("blocks", None if target is not None else 1), MOST_BLOCKS)
        trials = self._whole(*found("trials", ASSESSMENT_TRIALS if assess else DRILL_TRIALS), MOST_TRIALS)
        likeness = self._number(*found("likeness", 0.0), 0.0, 1.0, "a number from 0 to 1")
        return Step(
            strings=self._strings(*found("strings", self._outer_strings(instrument)), instrument),
            order=self._order(*found("order", "both" if assess else "harmonic-first")),
            trials=trials or DRILL_TRIALS,
            likeness=likeness or 0.0,
            muted=self._yes_or_no(*found("muted", True)),
            assess=assess,
            blocks=blocks,
            target_cents=target,
        )

    def _check_keys(self, at: Place, table: dict[str, Any], known: tuple[str, ...]) -> None:
        for key in table:
            if key not in known:
                self._refuse((*at, key), f"one of the keys {', '.join(known)}", shown="no key of a lesson")

    def _instrument(self, table: dict[str, Any]) -> str:
        name = table.get("instrument", DEFAULT_NAME)
        if not isinstance(name, str) or name not in self._instruments.names():
            self._refuse(("instrument",), f"one of {', '.join(repr(known) for known in self._instruments.names())}")
        return name

    def _text_of(self, key: str, longest: int, *, required: bool = False) -> str:
        text = self._table.get(key, "")
        if not isinstance(text, str) or len(text.strip()) > longest or (required and not text.strip()):
            shown = None if key in self._table else "missing"
            self._refuse((key,), f"text of at most {longest} characters in quotation marks", shown=shown)
        # One line of it: a lesson's words stand in the middle of ours.
        return " ".join(text.split())

    def _day(self, key: str) -> date | None:
        day = self._table.get(key)
        if day is not None and (not isinstance(day, date) or isinstance(day, datetime)):
            self._refuse((key,), "a day without quotation marks, such as 2026-09-01")
        return day

    def _strings(self, at: Place, strings: object, instrument: str) -> tuple[int, ...]:
        numbers = self._instruments.named(instrument).numbers
        outer = self._outer_strings(instrument)
        wanted = f"a list of strings from {min(numbers)} to {max(numbers)}, each once, such as {outer}"
        if not isinstance(strings, list) or not strings:
            self._refuse(at, wanted)
        for string in strings:
            if isinstance(string, bool) or not isinstance(string, int) or string not in numbers:
                self._refuse(at, wanted)
        if len(set(strings)) != len(strings):
            self._refuse(at, wanted)
        return tuple(strings)

    def _outer_strings(self, instrument: str) -> list[int]:
        return list(self._instruments.named(instrument).side_strings)

    def _order(self, at: Place, order: object) -> Order:
        found = next((known for known in ORDERS if known == order), None)
        if found is None:
            self._refuse(at, f"one of {', '.join(repr(known) for known in ORDERS)}")
        return found

    def _yes_or_no(self, at: Place, value: object) -> bool:
        if not isinstance(value, bool):
            self._refuse(at, "true or false, without quotation marks")
        return value

    def _whole(self, at: Place, value: object, most: int) -> int | None:
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= most:
            self._refuse(at, f"a whole number from 1 to {most}")
        return value

    def _number(self, at: Place, value: object, least: float, most: float, wanted: str) -> float | None:
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not least <= value <= most:
            self._refuse(at, wanted)
        return float(value)

    def _refuse(self, at: Place, wanted: str, *, shown: str | None = None) -> NoReturn:
        key = str(at[-1])
        value: Any = self._table
        for part in at:
            value = value.get(part) if isinstance(value, dict) else value[part]
        text = as_toml(value) if shown is None else shown
        if len(text) > 60:
            text = f"{text[:59]}…"
        line = line_of(self._text, at)
        where = f"line {line} of the lesson {self._where}" if line else f"the lesson {self._where}"
        raise InputError(f"in {where}, {key!r} is {text}", f"give {wanted}")


def _key_given_twice(text: str, message: str) -> tuple[int, str] | None:
    """Return line and key where the parser's message says that a value was there already; else None."""
    place = re.search(r"^Cannot (?:overwrite|declare|mutate).*\(at line (\d+), ", message)
    if place is None:
        return None
    line = int(place[1])
    key = re.split(r"=|#", text.split("\n")[line - 1], maxsplit=1)[0].strip().strip("[]")
    return (line, key) if 0 < len(key) <= LONGEST_TITLE else None
