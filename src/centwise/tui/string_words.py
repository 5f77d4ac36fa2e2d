"""What the app says of an instrument's strings. Text only; imports strings and below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.strings.names import DEFAULT_NAME
from centwise.units import MM_PER_INCH

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument, StringSpec

_ENDINGS = {1: "st", 2: "nd", 3: "rd"}


def string_order(instrument: Instrument) -> tuple[int, ...]:
    """Return the strings from the bass side to the treble side, short ones last."""
    by_place = sorted(instrument.strings, key=lambda string: (string.start_fret > 0, -string.number))
    return tuple(string.number for string in by_place)


def string_name(string: StringSpec) -> str:
    """Return a string's number and note: `4 D`; the note of a short string is small, as players write it: `5 g`."""
    note = string.note[:-1]
    return f"{string.number} {note.lower() if string.start_fret else note}"


def about_string(instrument: Instrument, number: int) -> str:
    """Say what a string is good for, in a sentence or two."""
    string = instrument.string(number)
    nth = f"{number}{_ENDINGS.get(number, 'th')}"
    course = " It is a course of two, tuned alike; both sound." if string.course > 1 else ""
    if string.start_fret:
        said = f"The short {nth} string has its octave at fret {string.octave_fret}; the bridge is not set by it."
    elif number in instrument.side_strings:
        side = "bass" if number == instrument.bass_string else "treble"
        said = f"The {nth} string sets the {side} side of the bridge."
    else:
        said = f"The {nth} string: good practice, but the bridge is not set by it."
    return f"{said}{course}"


def whose(instrument: Instrument) -> str:
    """Return whose string it is, as in ` of the mandolin`; nothing for the instrument that is meant anyway."""
    return "" if instrument.name == DEFAULT_NAME else f" of the {instrument.title}"


def about_instrument(instrument: Instrument) -> str:
    """Say an instrument's tuning and length, from the bass side, short strings first as players name them."""
    short = [string.note for string in reversed(instrument.strings) if string.start_fret]
    long = [string.note for string in reversed(instrument.strings) if not string.start_fret]
    notes = " ".join([note.lower() for note in short] + long)
    courses = ", in courses of two" if any(string.course > 1 for string in instrument.strings) else ""
    scale_in = instrument.scale_mm / MM_PER_INCH
    return f"Tuned {notes}{courses}. Scale length {scale_in:.5g} in, {instrument.neck.frets} frets."
