"""Instruments as TOML: the ones of the package hold together, and a wrong one is refused with file, line and field."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import centwise.strings
from banjo import FIVE_STRING, alternation_factor
from centwise.errors import InputError, UsageError
from centwise.strings.bridge import contact_mm, feet_through, foot_shares, margins_mm
from centwise.strings.fretted import fretted_cents_over_harmonic, null_contact_mm
from centwise.strings.geometry import bridge_offset_mm
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES
from centwise.strings.reading import read_instrument
from centwise.strings.toml_lines import line_of
from centwise.units import note_hz

FOLDER = Path(centwise.strings.__file__).parent / "instruments"
GOOD = (FOLDER / "five-string.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "notes", "scale_in", "octave_frets"),
    [
        # Tunings as players name them, from the last string to the 1st (common practice, no source).
        ("five-string", "G4 D3 G3 B3 D4", 26.25, "17 12 12 12 12"),
        ("five-string-double-c", "G4 C3 G3 C4 D4", 26.25, "17 12 12 12 12"),
        ("five-string-long-neck", "E4 B2 E3 G#3 B3", 32.0, "20 12 12 12 12"),
        ("plectrum", "C3 G3 B3 D4", 26.5, "12 12 12 12"),
        ("tenor-17", "C3 G3 D4 A4", 20.75, "12 12 12 12"),
        ("tenor-19", "C3 G3 D4 A4", 22.5, "12 12 12 12"),
        ("mandolin", "G3 D4 A4 E5", 13.875, "12 12 12 12"),
        ("archtop-guitar", "E2 A2 D3 G3 B3 E4", 25.5, "12 12 12 12 12 12"),
    ],
)
def test_tunings_scales_and_octave_frets(name: str, notes: str, scale_in: float, octave_frets: str) -> None:
    instrument = BUILT_IN.named(name)
    by_number = sorted(instrument.strings, key=lambda string: -string.number)
    # The short string is named first, as players do; it is the last by number.
    assert [string.note for string in by_number] == notes.split()
    assert [str(string.octave_fret) for string in by_number] == octave_frets.split()
    assert instrument.scale_mm == pytest.approx(scale_in * 25.4)
    assert instrument.numbers == tuple(range(1, len(by_number) + 1))


def test_every_file_of_the_package_is_an_instrument() -> None:
    assert {file.stem for file in FOLDER.glob("*.toml")} == set(BUILT_IN_NAMES) == set(BUILT_IN.names())
    for name in BUILT_IN_NAMES:
        text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
        assert text.startswith("#"), "each says first where its values are from"
        assert "common practice, no source" in text


@pytest.mark.parametrize("name", BUILT_IN_NAMES)
def test_strings_pull_as_strings_do(name: str) -> None:
    # Sets are sold with tensions between about 10 and 30 lbf a string (common practice, no source).
    for string in BUILT_IN.named(name).strings:
        assert 10.0 <= string.tension_n / 4.4482216 <= 30.0
        assert 5e-6 <= string.inharmonicity <= 3e-4
        assert string.core_mm <= string.gauge_mm
        assert (string.winding == "wound") == (string.core_mm < string.gauge_mm)


@pytest.mark.parametrize("name", BUILT_IN_NAMES)
def test_the_mandolin_alone_has_courses(name: str) -> None:
    assert {string.course for string in BUILT_IN.named(name).strings} == ({2} if name == "mandolin" else {1})


@pytest.mark.parametrize("name", BUILT_IN_NAMES)
def test_bridge_and_neck_hold_together(name: str) -> None:
    instrument = BUILT_IN.named(name)
    assert instrument.bass_string == max(s.number for s in instrument.strings if not s.start_fret)
    assert instrument.treble_string == 1
    # Alternation converges wherever each string follows its own foot more than the other.
    assert 0.0 < alternation_factor(instrument) < 0.2
    for number, own in ((instrument.bass_string, 0), (1, 1)):
        assert foot_shares(instrument, number)[own] > 0.5
    margins = margins_mm(instrument, 0.0)
    assert margins.bass_mm == pytest.approx(margins.treble_mm)
    # Outer strings run 3 to 5 mm from the edges (common practice, no source).
    assert 3.0 <= margins.bass_mm <= 5.0


@pytest.mark.parametrize("name", BUILT_IN_NAMES)
def test_a_compensated_bridge_leaves_less_than_two_cents_on_the_inner_strings(name: str) -> None:
    instrument = BUILT_IN.named(name).with_bridge("compensated")
    ends = {number: null_contact_mm(instrument, number) for number in (instrument.bass_string, 1)}
    feet = feet_through(instrument, ends)
    for string in instrument.strings:
        if not string.start_fret:
            contact = contact_mm(instrument, string.number, feet)
            assert abs(fretted_cents_over_harmonic(instrument, string.number, contact)) < 2.0
    for null_mm in ends.values():
        assert 0.0 < null_mm < 8.0


@pytest.mark.parametrize(
    ("name", "mm_per_cent"),
    [("tenor-19", 0.33011), ("archtop-guitar", 0.3741), ("five-string", 0.38513), ("plectrum", 0.3888)],
)
def test_millimetres_per_cent(name: str, mm_per_cent: float) -> None:
    length_mm = BUILT_IN.named(name).string(1).length_mm
    slope = (bridge_offset_mm(-0.001, length_mm) - bridge_offset_mm(0.001, length_mm)) / 0.002
    assert slope == pytest.approx(mm_per_cent, abs=5e-5)


def test_an_unknown_name_is_told_the_known_ones() -> None:
    with pytest.raises(UsageError, match=r"no instrument named '\.\./five-string': choose one of: five-string, five"):
        BUILT_IN.named("../five-string")


def test_the_file_is_read_as_it_is_written() -> None:
    read = read_instrument(GOOD, "mine", "mine.toml")
    assert read.name == "mine"
    assert (read.strings, read.bridge, read.neck, read.top) == (
        FIVE_STRING.strings,
        FIVE_STRING.bridge,
        FIVE_STRING.neck,
        FIVE_STRING.top,
    )


def test_sharps_flats_and_courses_are_read() -> None:
    text = GOOD.replace('note = "B3"', 'note = "B♭3"\ncourse = 2').replace('note = "G3"', 'note = "F#3"')
    second, third = read_instrument(text, "x", "x.toml").strings[1:3]
    assert (second.open_hz, second.course) == (pytest.approx(note_hz(58)), 2)
    assert third.open_hz == pytest.approx(note_hz(54))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('scale = "26.25in"', 'scale = "26.25"', r"line 5: scale is '26.25': give a length with its unit from 200 to"),
        ('scale = "26.25in"', "scale = 26.25", r"line 5: scale is 26.25: give a length with its unit"),
        ('scale = "26.25in"\n', "", r"mine.toml: scale is missing: give a length"),
        ('scale = "26.25in"', 'scale = "2in"', r"line 5: scale is '2in'"),
        ('title = "five-string banjo"', 'title = "a\\u001bb"', r"line 4: title is 'a\\x1bb': give 1 to 60 characters"),
        ('title = "five-string banjo"', "title = true", r"line 4: title is true"),
        ('kind = "straight"', 'kind = "bent"', r'line 13: bridge.kind is \'bent\': give "straight" or "compensated"'),
        ('kind = "straight"\n', "", r"line 12: bridge.kind is missing: give \"straight\""),
        ("frets = 22", "frets = 22.5", r"line 18: neck.frets is 22.5: give a whole number from 12 to 30"),
        ("frets = 22", "frets = 16", r"neck.margin_fret is 22: give a fret up to the last, 16"),
        (
            'width = "47mm"',
            'width = "20mm"',
            r"neck.width is '20mm': give a fingerboard of \d\d\.\d mm or more there, .* 2.5 mm aside",
        ),
        ("[room]", "[rooms]", r"line 23: rooms is no field of an instrument: use title, scale"),
        ("side =", "sides =", r"line 26: room.sides is no field of an instrument: use forward, back, side"),
        ('note = "B3"', 'note = "H3"', r"line 33: string 2.note is \'H3\': give a note between 32 and 750 Hz"),
        ('note = "B3"', 'note = "B7"', r"line 33: string 2.note is 'B7'"),
        ('note = "B3"\n', "", r"line 32: string 2.note is missing"),
        (
            'gauge = "0.013in"',
            'gauge = "thick"',
            r"line 39: string 3.gauge is 'thick': give a length with its unit from",
        ),
        (
            'gauge = "0.013in"',
            'gauge = "0.08in"',
            r"line 39: string 3.gauge is '0.08in': give one that pulls",
        ),
        (
            'set_back = "2.5mm"',
            'set_back = "25mm"',
            r"line 40: string 3.set_back is '25mm': give .* either way",
        ),
        ('set_back = "2.5mm"', 'set_back = ""', r"line 40: string 3.set_back is ''"),
        ('core = "0.011in"', 'core = "0.03in"', r"line 45: string 4.core is '0.03in': give a length"),
        ('core = "0.011in"\n', "", r"line 42: string 4.core is missing"),
        (
            "weight_share = 0.923",
            "weight_share = nan",
            r"line 46: string 4.weight_share is nan: give a number",
        ),
        ("weight_share = 0.923", "weight_share = true", r"line 46: string 4.weight_share is true"),
        ("start_fret = 5", "start_fret = 11", r"line 51: string 5.start_fret is 11: give one whose octave, 12 frets"),
        (
            "start_fret = 5",
            "start_fret = 5\ncourse = 3",
            r"line 52: string 5.course is 3: give a whole number",
        ),
        ("start_fret = 5", "colour = 5", r"line 51: string 5.colour is no field of an instrument: use note, gauge"),
        (
            "[[string]]",
            "x = 0x" + "f" * 99 + "\n[[string]]",
            r"mine.toml is not TOML \(A whole number has too many digits",
        ),
        ("[[string]]", "[string", r"mine.toml is not TOML \(.*line 28.*\): mend that line"),
    ],
)
def test_a_wrong_field_is_named_with_its_line(old: str, new: str, message: str) -> None:
    assert old in GOOD
    with pytest.raises(InputError, match=message) as caught:
        read_instrument(GOOD.replace(old, new), "mine", "mine.toml")
    assert str(caught.value).startswith("the instrument file mine.toml")
    assert caught.value.exit_code == 3
    assert "\x1b" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "title is missing|neck is missing|scale is missing"),
        (re.sub(r"(?s)\[\[string\]\].*", "", GOOD), r"string is missing: give a table \[\[string\]\] for each string"),
        (re.sub(r"(?s)\[\[string\]\].*", '[string]\nnote="D4"\n', GOOD), r"string is \{note = 'D4'\}: give tables"),
        (GOOD + '[[string]]\nnote = "G4"\ngauge = "0.01in"\n' * 5, r"string is 10: give 2 to 9 tables"),
        (GOOD.replace("[neck]", "neck = 3\n[necks]"), "neck"),
        ("a = " + "[" * 5000, "mine.toml is nested too deeply: describe the instrument in it"),
    ],
)
def test_a_file_that_lacks_its_tables_is_refused(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_instrument(text, "mine", "mine.toml")


def test_one_long_string_is_no_bridge_to_set() -> None:
    text = GOOD[: GOOD.index("[[string]]")]
    text += '[[string]]\nnote = "D4"\ngauge = "0.01in"\n[[string]]\nnote = "G4"\ngauge = "0.01in"\nstart_fret = 5\n'
    with pytest.raises(InputError, match="two or more strings without start_fret"):
        read_instrument(text, "mine", "mine.toml")


FIELDS = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=4,
)


@given(st.data())
def test_whatever_a_file_holds_it_is_an_instrument_or_refused(data: st.DataObject) -> None:
    lines = GOOD.splitlines()
    place = data.draw(st.sampled_from([n for n, line in enumerate(lines) if "=" in line and not line.startswith("#")]))
    value = data.draw(FIELDS)
    key = lines[place].split("=")[0]
    lines[place] = f"{key}= {_toml(value)}"
    try:
        read = read_instrument("\n".join(lines), "mine", "mine.toml")
    except InputError as error:
        # What contradicts another field is told at the other one.
        told = str(error)
        assert f"line {place + 1}" in told or "margin_fret" in told or "start_fret" in told
    else:
        assert all(math.isfinite(string.tension_n) for string in read.strings)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if value is None:
        return '""'
    if isinstance(value, float):
        return "nan" if math.isnan(value) else "inf" if value > 1e308 else "-inf" if value < -1e308 else repr(value)
    if isinstance(value, list):
        return f"[{', '.join(_toml(item) for item in value)}]"
    if isinstance(value, str):
        return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 0x10000 else f"\\U{ord(c):08x}" for c in value) + '"'
    return str(value)


def test_lines_are_found_where_they_can_be() -> None:
    text = 'a = 1\n[one]\n  "b" = 2\n[[two]]\nb=3\n[[ two ]]  # second\n# b = 4\nb = 5\n'
    assert line_of(text, ("a",)) == 1
    assert line_of(text, ("one", "b")) == 3
    assert line_of(text, ("two", 0, "b")) == 5
    assert line_of(text, ("two", 1, "b")) == 8
    assert line_of(text, ("two", 1)) == 6
    assert line_of(text, ("two", 1, "c")) is None
    assert line_of(text, ("three", "b")) is None
    assert line_of(text, ()) is None
