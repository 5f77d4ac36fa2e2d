"""Reads an instrument from TOML text; a refusal names file, line, field and what was expected. No I/O.

Lengths are text with a unit (`26.25in`, `42mm`); strings come in order from the 1st. Imports model and below.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NoReturn

from centwise.errors import InputError, UsageError
from centwise.model import BRIDGE_KINDS, BridgeKind
from centwise.strings.bridge import margins_mm
from centwise.strings.fretted import pressing_cents
from centwise.strings.geometry import MAX_SCALE_MM, MIN_SCALE_MM
from centwise.strings.instrument import Bridge, Instrument, Neck, StringSpec, Top
from centwise.strings.physics import STEEL_DENSITY_KG_M3, linear_density_kg_m
from centwise.strings.toml_lines import as_toml, line_of, toml_table
from centwise.units import note_hz, parse_length_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_STRINGS = 9
KNOCKED_ASIDE_MM = 2.5
"""A bridge is found this far aside at most: then too its outer strings must lie on the fingerboard."""
LOWEST_HZ, HIGHEST_HZ = 32.0, 750.0
"""Open strings whose octave the measuring of recordings still looks for."""
LEAST_TENSION_N, MOST_TENSION_N = 15.0, 300.0
"""Between what still sounds and what breaks (judgement): outside, note, gauge or scale length is a slip."""
MOST_PRESSED_CENTS = 100.0
"""A string that pressing sharpens by a semitone serves no frets (judgement: 3 to 25 cents are usual): as a rule a wound
one that is described as plain, or an action in the wrong unit."""

_NOTE = re.compile(r"([A-G])([#♯b♭]?)([0-8])")
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}


def read_instrument(text: str, name: str, file: str) -> Instrument:
    """Return the instrument that a TOML text describes.

    Args:
        text: the whole text.
        name: what the instrument is chosen by.
        file: what the text is called in a refusal.

    Raises:
        InputError: it is not TOML, a field is unknown, missing, of the wrong kind or out of range, or the fields
            contradict each other.
    """
    try:
        table = toml_table(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the instrument file {file} is not TOML ({error})", "mend that line") from error
    except RecursionError as error:
        raise InputError(f"the instrument file {file} is nested too deeply", "describe the instrument in it") from error
    whole = _Fields(table, (), text, file)
    whole.only("title", "scale", "afterlength", "action", "bridge", "neck", "room", "string")
    scale_mm = whole.length("scale", MIN_SCALE_MM, MAX_SCALE_MM)
    frets = whole.table("neck", "frets", "nut_spacing", "margin_fret", "width")
    neck = Neck(
        frets=frets.whole("frets", 12, 30),
        nut_spacing_mm=frets.length("nut_spacing", 5.0, 100.0),
        margin_fret=frets.whole("margin_fret", 1, 30),
        width_mm=frets.length("width", 10.0, 120.0),
    )
    if neck.margin_fret > neck.frets:
        frets.refuse("margin_fret", f"a fret up to the last, {neck.frets}")
    action = whole.table("action", "bass", "treble")
    feet = whole.table("bridge", "kind", "feet", "spacing")
    room = whole.table("room", "forward", "back", "side")
    instrument = Instrument(
        name=name,
        title=whole.words("title"),
        scale_mm=scale_mm,
        strings=_strings(whole, scale_mm, neck),
        action_bass_mm=action.length("bass", 0.2, 8.0),
        action_treble_mm=action.length("treble", 0.2, 8.0),
        afterlength_mm=whole.length("afterlength", 1.0, 1000.0),
        bridge=Bridge(
            kind=feet.kind("kind"),
            foot_span_mm=feet.length("feet", 10.0, 300.0),
            spacing_mm=feet.length("spacing", 5.0, 200.0),
        ),
        neck=neck,
        top=Top(
            forward_mm=room.length("forward", 5.0, 500.0),
            back_mm=room.length("back", 5.0, 500.0),
            side_mm=room.length("side", 1.0, 300.0),
        ),
    )
    margins = [margins_mm(instrument, aside_mm) for aside_mm in (-KNOCKED_ASIDE_MM, KNOCKED_ASIDE_MM)]
    least_mm = min(min(margin.bass_mm, margin.treble_mm) for margin in margins)
    if least_mm < 0.0:
        wanted_mm = neck.width_mm - 2.0 * least_mm
        frets.refuse(
            "width",
            f"a fingerboard of {wanted_mm:.1f} mm or more there, so that the outer strings stay on it with the bridge "
            f"{KNOCKED_ASIDE_MM:g} mm aside, or less spacing",
        )
    for fields, string in zip(whole.table_list("string"), instrument.strings, strict=True):
        sharp_cents = pressing_cents(instrument, string.number)
        if sharp_cents > MOST_PRESSED_CENTS:
            fields.refuse(
                "core" if string.winding == "wound" else "gauge",
                f"a string that pressing to its octave fret sharpens by {MOST_PRESSED_CENTS:g} cents at most, not by "
                f"{sharp_cents:.0f}: a thinner core (with weight_share, if wound), less action or more afterlength",
            )
    if sum(string.start_fret == 0 for string in instrument.strings) < 2:
        whole.refuse("string", "two or more strings without start_fret, one for each side of the bridge")
    return instrument


def _strings(whole: _Fields, scale_mm: float, neck: Neck) -> tuple[StringSpec, ...]:
    tables = whole.table_list("string")
    if not 2 <= len(tables) <= MOST_STRINGS:
        whole.refuse("string", f"2 to {MOST_STRINGS} tables [[string]], the 1st string first", len(tables))
    return tuple(_string(fields, number, scale_mm, neck) for number, fields in enumerate(tables, 1))


def _string(fields: _Fields, number: int, scale_mm: float, neck: Neck) -> StringSpec:
    fields.only("note", "gauge", "core", "weight_share", "start_fret", "course", "set_back")
    note, midi = fields.note("note")
    gauge_mm = fields.length("gauge", 0.1, 2.5)
    wound = fields.has("core") or fields.has("weight_share")
    core_mm = fields.length("core", 0.1, gauge_mm) if wound else gauge_mm
    share = fields.number("weight_share", 0.5, 1.2) if wound else 1.0
    start_fret = fields.whole("start_fret", 0, 12) if fields.has("start_fret") else 0
    if start_fret + 12 > neck.frets:
        fields.refuse("start_fret", f"one whose octave, 12 frets further on, is among the {neck.frets} frets")
    string = StringSpec(
        number=number,
        note=note,
        open_hz=note_hz(midi),
        length_mm=scale_mm * math.exp2(-start_fret / 12.0),
        gauge_mm=gauge_mm,
        core_mm=core_mm,
        winding="wound" if wound else "plain",
        start_fret=start_fret,
        octave_fret=12 + start_fret,
        linear_kg_m=linear_density_kg_m(gauge_mm, STEEL_DENSITY_KG_M3 * share),
        course=fields.whole("course", 1, 2) if fields.has("course") else 1,
        compensation_mm=fields.signed_length("set_back", 20.0) if fields.has("set_back") else 0.0,
    )
    if not LEAST_TENSION_N <= string.tension_n <= MOST_TENSION_N:
        fields.refuse(
            "gauge",
            f"one that pulls with {LEAST_TENSION_N:g} to {MOST_TENSION_N:g} N at {note} and that scale length, "
            f"not with {string.tension_n:.0f} N",
        )
    return string


@dataclass(frozen=True, slots=True)
class _Fields:
    """One table of the text, whose fields are asked for by name; `path` leads to it, with numbers counted from 0."""

    values: dict[str, Any]
    path: tuple[str | int, ...]
    text: str
    file: str

    def has(self, name: str) -> bool:
        return name in self.values

    def only(self, *names: str) -> None:
        for name in self.values:
            if name not in names:
                raise self._error(name, f"{self._called(name)} is no field of an instrument", f"use {', '.join(names)}")

    def refuse(self, name: str, expected: str, shown: object = None) -> NoReturn:
        value = self.values.get(name) if shown is None else shown
        raise self._error(name, f"{self._called(name)} is {as_toml(value)}", f"give {expected}")

    def table(self, name: str, *names: str) -> _Fields:
        value = self._wanted(name, f"a table [{name}]")
        if not isinstance(value, dict):
            self.refuse(name, f"a table [{name}]")
        fields = _Fields(value, (*self.path, name), self.text, self.file)
        fields.only(*names)
        return fields

    def table_list(self, name: str) -> Sequence[_Fields]:
        value = self._wanted(name, f"a table [[{name}]] for each string, the 1st first")
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.refuse(name, f"tables [[{name}]]")
        return [_Fields(item, (*self.path, name, place), self.text, self.file) for place, item in enumerate(value)]

    def words(self, name: str) -> str:
        value = self._wanted(name, "its name in a sentence")
        if not isinstance(value, str) or not value.isprintable() or not 1 <= len(value.strip()) <= 60:
            self.refuse(name, "1 to 60 characters of text")
        return value.strip()

    def kind(self, name: str) -> BridgeKind:
        expected = " or ".join(f'"{kind}"' for kind in BRIDGE_KINDS)
        value = self._wanted(name, expected)
        found = next((kind for kind in BRIDGE_KINDS if value == kind), None)
        if found is None:
            self.refuse(name, expected)
        return found

    def whole(self, name: str, low: int, high: int) -> int:
        expected = f"a whole number from {low} to {high}"
        value = self._wanted(name, expected)
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            self.refuse(name, expected)
        return value

    def number(self, name: str, low: float, high: float) -> float:
        expected = f"a number from {low:g} to {high:g}"
        value = self._wanted(name, expected)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            self.refuse(name, expected)
        return float(value)

    def length(self, name: str, low_mm: float, high_mm: float) -> float:
        expected = f'a length with its unit from {low_mm:g} to {high_mm:g} mm, such as "{_example(low_mm, high_mm)}"'
        value = self._wanted(name, expected)
        try:
            length_mm = parse_length_mm(value) if isinstance(value, str) else math.nan
        except UsageError:
            length_mm = math.nan
        if not low_mm <= length_mm <= high_mm:
            self.refuse(name, expected)
        return length_mm

    def signed_length(self, name: str, most_mm: float) -> float:
        expected = f'a length with its unit up to {most_mm:g} mm either way, such as "0.8mm" or "-0.8mm"'
        value = self._wanted(name, expected)
        text = value.strip() if isinstance(value, str) else ""
        try:
            length_mm = parse_length_mm(text.removeprefix("-"))
        except UsageError:
            length_mm = math.nan
        if not length_mm <= most_mm:
            self.refuse(name, expected)
        return -length_mm if text.startswith("-") else length_mm

    def note(self, name: str) -> tuple[str, int]:
        expected = f'a note between {LOWEST_HZ:g} and {HIGHEST_HZ:g} Hz with its octave, such as "D3", "G#3" or "Bb2"'
        value = self._wanted(name, expected)
        match = _NOTE.fullmatch(value) if isinstance(value, str) else None
        if match is None:
            self.refuse(name, expected)
        midi = 12 * (int(match[3]) + 1) + _LETTERS[match[1]] + _ACCIDENTALS[match[2]]
        if not LOWEST_HZ <= note_hz(midi) <= HIGHEST_HZ:
            self.refuse(name, expected)
        return match[0], midi

    def _wanted(self, name: str, expected: str) -> Any:  # noqa: ANN401  TOML holds anything
        if name not in self.values:
            raise self._error(None, f"{self._called(name)} is missing", f"give {expected}")
        return self.values[name]

    def _called(self, name: str) -> str:
        words: list[str] = []
        for part in (*self.path, name):
            if isinstance(part, int):
                words[-1] = f"{words[-1]} {part + 1}"
            else:
                words.append(part)
        return ".".join(words)

    def _error(self, name: str | None, what: str, to_do: str) -> InputError:
        line = line_of(self.text, self.path if name is None else (*self.path, name))
        where = f"the instrument file {self.file}" + (f", line {line}" if line else "")
        return InputError(f"{where}: {what}", to_do)


def _example(low_mm: float, high_mm: float) -> str:
    return f"{round(math.sqrt(low_mm * high_mm), 1):g}mm"
