"""A lesson's file: what it may say, and that every mistake names line, key and what was expected."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.errors import CentwiseError, InputError
from centwise.lessons.lesson import Lesson, Step
from centwise.lessons.reading import lesson_from_text, read_lesson
from centwise.strings.toml_lines import line_of

if TYPE_CHECKING:
    from pathlib import Path

FULL = """\
title = "Week  of\\nthe 4th"   # a comment
about = "Large ones first."
from = 2026-09-01
until = 2026-09-07
order = "both"
trials = 25

[[step]]
strings = [4, 1]
likeness = 0.5
blocks = 3

[[step]]
strings = [2]
order = "fretted-first"
muted = false
target = 6
"""


def read(text: str) -> Lesson:
    return lesson_from_text(text, name="week", where="week.toml")


def test_everything_a_lesson_can_say() -> None:
    lesson = read(FULL)
    assert lesson == Lesson(
        name="week",
        title="Week of the 4th",
        about="Large ones first.",
        instrument="five-string",
        first_day=date(2026, 9, 1),
        last_day=date(2026, 9, 7),
        steps=(
            Step((4, 1), "both", 25, 0.5, muted=True, assess=False, blocks=3, target_cents=None),
            Step((2,), "fretted-first", 25, 0.0, muted=False, assess=False, blocks=None, target_cents=6.0),
        ),
    )


def test_a_title_alone_is_a_lesson_of_one_step() -> None:
    (step,) = read('title = "Short"').steps
    assert step == Step((4, 1), "harmonic-first", 40, 0.0, muted=True, assess=False, blocks=1, target_cents=None)


def test_an_assessment_has_its_own_usual_length_and_order() -> None:
    (step,) = read('title = "Where I stand"\nassess = true').steps
    assert (step.trials, step.order, step.assess) == (100, "both", True)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("trials = 20", r"^in the lesson week\.toml, 'title' is missing: give text of at most 60"),
        ('title = "T"\n\ntrials = "many"', r"^in line 3 of the lesson week\.toml, 'trials' is 'many': give a whole"),
        ('title = "T"\ntrials = 0', r"line 2 .*'trials' is 0: give a whole number from 1 to 1000"),
        ('title = "T"\ntrials = 2.5', r"line 2 .*'trials' is 2\.5: give a whole number"),
        ('title = "T"\nstrings = [\n  4,\n  6,\n]', r"line 2 .*'strings' is \[4, 6\]: give a list of strings from 1"),
        ('title = "T"\nstrings = 4', r"line 2 .*'strings' is 4: give a list"),
        ('title = "T"\nstrings = []', r"line 2 .*'strings' is \[\]: give a list"),
        ('title = "T"\nstrings = [4, 4]', r"line 2 .*each once"),
        ('title = "T"\nstrings = [true]', r"line 2 .*'strings' is \[true\]: give a list"),
        ('title = "T"\nstrings = [{a = 2026-01-01}]', r"line 2 .*'strings' is \[\{a = 2026-01-01\}\]: give a list"),
        ('title = "T"\nstep = 10:30:00', r"line 2 .*'step' is 10:30:00: give steps"),
        ('title = "T"\ntrials = ' + "9" * 5000, r"is not TOML \(.*too many digits \(at line 2,.*: mend that line"),
        ('title = "T"\ntrials = 0x' + "f" * 5000, r"is not TOML \(.*too many digits \(at line 2,.*: mend that line"),
        ('title = "T"\n[[step]]\n[step]\n', r"line 3 of the lesson week\.toml gives 'step' again: begin each step"),
        ('title = "T"\norder = "random"', r"line 2 .*'order' is 'random': give one of 'harmonic-first'"),
        ('title = "T"\nlikeness = 2', r"line 2 .*'likeness' is 2: give a number from 0 to 1"),
        ('title = "T"\nlikeness = nan', r"line 2 .*'likeness' is nan: give a number from 0 to 1"),
        ('title = "T"\ntarget = 0', r"line 2 .*'target' is 0: give cents above 0"),
        ('title = "T"\nmuted = "yes"', r"line 2 .*'muted' is 'yes': give true or false"),
        ('title = "T"\nblocks = 0', r"line 2 .*'blocks' is 0: give a whole number from 1 to 100"),
        ('title = "T"\nfrom = "2026-09-01"', r"line 2 .*'from' is '2026-09-01': give a day without quotation marks"),
        ('title = "T"\nfrom = 2026-09-01T10:00:00', r"line 2 .*'from' is .*: give a day without"),
        ('title = "T"\nfrom = 2026-09-02\nuntil = 2026-09-01', r"line 3 .*'until' is 2026-09-01: give a day on or"),
        ('title = "T"\ninstrument = "lute"', r"line 2 .*'instrument' is 'lute': give one of 'five-string'"),
        ('title = "T"\ninstrument = [1]', r"line 2 .*'instrument' is \[1\]: give one of"),
        ('title = "T"\ntempo = 3', r"line 2 .*'tempo' is no key of a lesson: give one of the keys title, about"),
        ('title = "T"\n[[step]]\n[[step]]\nstring = 4', r"line 4 .*'string' is no key of a lesson: give .* strings,"),
        ('title = "T"\n[[step]]\n\n[[step]]\ntrials = -1', r"line 5 .*'trials' is -1"),
        ('title = "T"\ntrials = -1\n[[step]]\n[[step]]', r"line 2 .*'trials' is -1"),
        ('title = "T"\n[step]\ntrials = 3', r"line 2 .*'step' is .*: give steps that begin with \[\[step\]\]"),
        ('title = "T"\nstep = []', r"line 2 .*'step' is \[\]: give steps"),
        ("title = 3", r"line 1 .*'title' is 3: give text"),
        ('title = "  "', r"line 1 .*'title' is '  ': give text"),
        (f'title = "{"x" * 61}"', r"line 1 .*'title' is 'x+…: give text of at most 60"),
        ('title = "T"\ntitle = "U"', r"^line 2 of the lesson week\.toml gives 'title' again: give it once"),
        ('title = "T"\ntrials = true', r"line 2 .*'trials' is true: give a whole number"),
        ('title = "T"\ntrials = ', r"^the lesson week\.toml is not TOML \(.*line 2.*\): mend that line"),
        ("x = " + "[" * 5000, r"is nested too deeply|is not TOML"),
    ],
)  # fmt: skip
def test_a_mistake_names_line_key_and_what_was_expected(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(text)


def test_the_line_is_found_whatever_stands_around_it() -> None:
    text = '# title = 1\nabout = """\ntrials = 3\n"""\n\nstep = [{trials = 4},\n{blocks = 2}]\ntrials = 5\n'
    assert line_of(text, ("about",)) == 2
    assert line_of(text, ("trials",)) == 8
    assert line_of(text, ("step", 1, "blocks")) in {6, 7}
    assert line_of(text, ("title",)) is None
    assert line_of('"trials" = 5\r\norder.first = 2\r\n', ("order", "first")) == 2


@given(st.lists(st.sampled_from(["", "# a note", "about = 'x'", "muted = true"]), unique=True, max_size=4))
def test_a_mistake_in_any_line_is_named_by_that_line(before: list[str]) -> None:
    text = "\n".join(['title = "T"', *before, "trials = 0"])
    with pytest.raises(InputError, match=f"^in line {len(before) + 2} of"):
        read(text)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b'title = "\xff"', r"^line 1 of the lesson .*is not UTF-8 text: save it as UTF-8"),
        (b"# line\n" * 10_000, r"longer than 64 kB"),
    ],
)
def test_a_file_that_is_no_text(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=words):
        read_lesson(path)


def test_a_file_that_is_not_there_or_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.toml cannot be read \(no such file"):
        read_lesson(tmp_path / "none.toml")
    with pytest.raises(InputError, match="cannot be read"):
        read_lesson(tmp_path)


def test_a_byte_order_mark_does_not_matter_and_the_file_gives_the_name(tmp_path: Path) -> None:
    path = tmp_path / "monday.toml"
    path.write_bytes(b'\xef\xbb\xbftitle = "M"\n')
    assert read_lesson(path).name == "monday"


@given(st.text(max_size=200))
def test_any_text_is_a_lesson_or_refused_in_a_sentence(text: str) -> None:
    with suppress(CentwiseError):
        read(text)
