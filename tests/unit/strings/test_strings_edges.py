"""Values away from the middle: uneven action, any fret, ends of ranges, and every sentence of a refusal whole."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from datetime import date, time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import centwise.strings
from centwise.errors import InputError, UsageError
from centwise.strings.bridge import (
    bridge_place_mm,
    contact_mm,
    feet_through,
    sideways_cents,
)
from centwise.strings.fretted import (
    END_KAPPA,
    fretted_cents_over_harmonic,
    fretted_hz,
    null_contact_mm,
    press_height_mm,
    pressing_cents,
)
from centwise.strings.geometry import check_scale_mm, fret_cents_at_bridge, fret_distance_mm, retuning_cents
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES
from centwise.strings.physics import end_stiffness_cents, pressed_cents
from centwise.strings.reading import read_instrument
from centwise.strings.toml_lines import as_toml, line_of, toml_table
from centwise.units import cents_between

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument

GOOD = (Path(centwise.strings.__file__).parent / "instruments" / "five-string.toml").read_text(encoding="utf-8")


@pytest.fixture
def banjo() -> Instrument:
    return read_instrument(GOOD, "mine", "mine.toml")


@pytest.mark.parametrize("number", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("side_mm", [-6.0, 2.5, 10.0])
def test_a_slide_lengthens_a_string_by_its_hypotenuse(banjo: Instrument, number: int, side_mm: float) -> None:
    # In the plane: from the string's own nut, on its line from 32 mm of spacing to 42 mm, to the bridge.
    own_nut_mm = fret_distance_mm(banjo.string(number).start_fret, 666.75)
    place = bridge_place_mm(banjo, number) / 42.0
    nut = (own_nut_mm, place * (32.0 + 10.0 * own_nut_mm / 666.75))
    before = math.dist(nut, (666.75, place * 42.0))
    after = math.dist(nut, (666.75, place * 42.0 + side_mm))
    assert sideways_cents(banjo, number, side_mm) == pytest.approx(1200.0 * math.log2(before / after), abs=1e-9)


def test_a_lone_string_stands_at_the_treble_end_and_two_at_both_ends(banjo: Instrument) -> None:
    two = replace(banjo, strings=banjo.strings[:2])
    assert [bridge_place_mm(two, number) for number in (1, 2)] == [21.0, -21.0]
    assert bridge_place_mm(replace(banjo, strings=banjo.strings[:1]), 1) == 21.0


def test_feet_are_found_through_strings_that_are_set_back(banjo: Instrument) -> None:
    compensated = banjo.with_bridge("compensated")
    feet = feet_through(compensated, {3: 4.0, 2: 3.0})
    assert contact_mm(compensated, 3, feet) == pytest.approx(4.0)
    assert contact_mm(compensated, 2, feet) == pytest.approx(3.0)


def test_the_action_grows_evenly_from_one_side_to_the_other(banjo: Instrument) -> None:
    low = replace(banjo, action_bass_mm=3.2, action_treble_mm=2.4)
    assert [press_height_mm(low, number) for number in (5, 4, 3, 2, 1)] == pytest.approx([3.2, 3.0, 2.8, 2.6, 2.4])
    # And from the nut: at fret 12 the action, at the 7th twice the 7th fret's share of the way.
    assert press_height_mm(low, 1, 7) == pytest.approx(2.0 * 2.4 * (1.0 - 2.0 ** (-7.0 / 12.0)))
    assert press_height_mm(low, 5, 12, nut_rise_mm=0.3) == pytest.approx(
        2.0 * 3.2 * (1.0 - 2.0 ** (-7.0 / 12.0)) + 0.3 * 2.0 ** (-7.0 / 12.0)
    )


@pytest.mark.parametrize(("number", "fret"), [(3, 7), (4, 19), (5, 12), (1, 1)])
def test_pressing_at_any_fret_follows_from_two_triangles_and_a_stiff_end(
    banjo: Instrument, number: int, fret: int
) -> None:
    string = banjo.string(number)
    frets = fret - string.start_fret
    sounding = string.length_mm * 2.0 ** (-frets / 12.0)
    silent = string.length_mm - sounding
    height = press_height_mm(banjo, number, fret, nut_rise_mm=0.4)
    longer = math.hypot(silent, height) - silent + math.hypot(sounding, height) - sounding
    strain = longer / (string.length_mm + 155.0)
    stretch = 600.0 * math.log2(1.0 + string.spring_ratio * strain)
    # A clamped end shortens what sounds by kappa epsilon, epsilon = sqrt(EI/T) = L sqrt(B)/pi, the open string too.
    share = END_KAPPA * math.sqrt(string.inharmonicity) / math.pi
    stiff = 1200.0 / math.log(2.0) * share * (2.0 ** (frets / 12.0) - 1.0)
    pressed = pressing_cents(banjo, number, fret, nut_rise_mm=0.4)
    assert pressed == pytest.approx(stretch + stiff, rel=2e-4)  # angles are not quite shallow
    assert pressing_cents(banjo, number, fret) < pressed
    by_lengths = fret_cents_at_bridge(-2.0, string.length_mm, frets)
    told = fretted_cents_over_harmonic(banjo, number, -2.0, fret=fret, nut_rise_mm=0.4)
    assert told == pytest.approx(by_lengths + pressed, abs=1e-9)


def test_a_high_nut_sharpens_where_a_string_would_come_right(banjo: Instrument) -> None:
    null_mm = null_contact_mm(banjo, 5)
    assert fretted_cents_over_harmonic(banjo, 5, null_mm) == pytest.approx(0.0, abs=1e-9)
    assert fretted_cents_over_harmonic(banjo, 5, null_mm, nut_rise_mm=0.5) > 0.3


def test_a_sharp_fretted_note_is_higher(banjo: Instrument) -> None:
    in_place = fretted_hz(banjo, 4, 0.0, fret=7)
    assert cents_between(in_place, banjo.string(4).open_hz) == pytest.approx(700.0)
    assert cents_between(fretted_hz(banjo, 4, 7.0, fret=7), in_place) == pytest.approx(7.0)
    assert cents_between(fretted_hz(banjo, 4, -7.0, fret=7), in_place) == pytest.approx(-7.0)


def test_string_beyond_nut_and_bridge_shares_the_stretch() -> None:
    assert pressed_cents(3.0, 300.0, 360.0, 200.0) == pressed_cents(3.0, 300.0, 360.0, 200.0, 0.0)
    assert pressed_cents(3.0, 330.0, 330.0, 200.0, 660.0) == pytest.approx(
        pressed_cents(3.0, 330.0, 330.0, 100.0), rel=1e-12
    )


def test_a_stiff_end_adds_nothing_to_the_open_string_and_three_times_as_much_two_octaves_up() -> None:
    assert end_stiffness_cents(1e-4, 0, 1.0) == 0.0
    octave = end_stiffness_cents(1e-4, 12, 1.0)
    assert octave == pytest.approx(1200.0 / math.log(2.0) * 0.01 / math.pi)
    assert end_stiffness_cents(1e-4, 24, 1.0) == pytest.approx(3.0 * octave)
    assert end_stiffness_cents(1e-4, 12, 2.0) == pytest.approx(2.0 * octave)


def test_the_shortest_and_longest_scale_are_scales() -> None:
    assert (check_scale_mm(200.0), check_scale_mm(1500.0)) == (200.0, 1500.0)
    with pytest.raises(UsageError) as refused:
        check_scale_mm(66.675)
    assert str(refused.value) == (
        "a scale length of 66.675 mm is outside 200 to 1500 mm: measure from the nut to the 12th fret and double it, "
        "for example --scale 26.25in."
    )


def test_retuning_adds_up_over_the_way() -> None:
    assert retuning_cents(1.0, 3.0, 666.75) == pytest.approx(
        retuning_cents(0.0, 3.0, 666.75) - retuning_cents(0.0, 1.0, 666.75)
    )
    assert retuning_cents(2.0, 2.0, 666.75) == 0.0


def test_a_string_that_was_tuned_otherwise_is_refused(banjo: Instrument) -> None:
    octave_hz = banjo.string(4).octave_hz
    banjo.check_note(4, octave_hz)
    banjo.check_note(4, octave_hz * 2.0 ** (0.99 / 1200.0))
    banjo.check_note(4, octave_hz * 2.0 ** (-0.99 / 1200.0))
    with pytest.raises(InputError) as refused:
        banjo.check_note(4, octave_hz * 2.0 ** (-200.0 / 1200.0))
    assert str(refused.value) == (
        "string 4 of 'mine' was tuned to 130.8 Hz in earlier blocks, now it is 146.8 Hz: give the changed instrument a "
        "file name of its own, so that the two are not taken for one another."
    )
    with pytest.raises(InputError):
        banjo.check_note(4, octave_hz * 2.0 ** (1.01 / 1200.0))


def _read(old: str, new: str) -> Instrument:
    assert old in GOOD
    return read_instrument(GOOD.replace(old, new), "mine", "mine.toml")


def told_of(file: str, told: str) -> str:
    """The whole sentence: what is told begins with the line where there is one."""
    return f"the instrument file {file}{', line ' if told[0].isdigit() else ': '}{told}."


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            'gauge = "0.013in"',
            'gauge = "2.6mm"',
            "39: string 3.gauge is '2.6mm': give a length with its unit from 0.1 to 2.5 mm, such as \"0.5mm\"",
        ),
        (
            'core = "0.011in"',
            'core = "0.09mm"',
            "45: string 4.core is '0.09mm': give a length with its unit from 0.1 to 0.508 mm, such as \"0.2mm\"",
        ),
        (
            "weight_share = 0.923",
            "weight_share = 1.21",
            "46: string 4.weight_share is 1.21: give a number from 0.5 to 1.2",
        ),
        (
            "weight_share = 0.923",
            'weight_share = "much"',
            "46: string 4.weight_share is 'much': give a number from 0.5 to 1.2",
        ),
        (
            "weight_share = 0.923\n",
            "",
            "42: string 4.weight_share is missing: give a number from 0.5 to 1.2",
        ),
        (
            "start_fret = 5",
            "start_fret = 13",
            "51: string 5.start_fret is 13: give a whole number from 0 to 12",
        ),
        (
            "start_fret = 5",
            "start_fret = 11",
            "51: string 5.start_fret is 11: give one whose octave, 12 frets further on, is among the 22 frets",
        ),
        (
            "start_fret = 5",
            "start_fret = 5\ncourse = 0",
            "52: string 5.course is 0: give a whole number from 1 to 2",
        ),
        (
            'set_back = "2.5mm"',
            "set_back = 5",
            (
                "40: string 3.set_back is 5: give a length with its unit up to 20 mm either way, such as "
                '"0.8mm" or "-0.8mm"'
            ),
        ),
        (
            'set_back = "2.5mm"',
            'set_back = "-20.1mm"',
            (
                "40: string 3.set_back is '-20.1mm': give a length with its unit up to 20 mm either way, such as "
                '"0.8mm" or "-0.8mm"'
            ),
        ),
        (
            'gauge = "0.013in"',
            'gauge = "0.1mm"',
            (
                "39: string 3.gauge is '0.1mm': give one that pulls with 15 to 300 N at G3 and that scale length, "
                "not with 4 N"
            ),
        ),
        (
            'note = "G3"\ngauge = "0.013in"',
            'note = "E2"\ngauge = "0.056in"',
            (
                "39: string 3.gauge is '0.056in': give a string that pressing to its octave fret sharpens by 100 cents "
                "at most, not by 111: a thinner core (with weight_share, if wound), less action or more afterlength"
            ),
        ),
        (
            "frets = 22",
            "frets = 11",
            "18: neck.frets is 11: give a whole number from 12 to 30",
        ),
        (
            "frets = 22",
            "frets = 31",
            "18: neck.frets is 31: give a whole number from 12 to 30",
        ),
        (
            "frets = 22\n",
            "",
            "17: neck.frets is missing: give a whole number from 12 to 30",
        ),
        (
            'nut_spacing = "32mm"',
            'nut_spacing = "4mm"',
            "19: neck.nut_spacing is '4mm': give a length with its unit from 5 to 100 mm, such as \"22.4mm\"",
        ),
        (
            "margin_fret = 22",
            "margin_fret = 0",
            "20: neck.margin_fret is 0: give a whole number from 1 to 30",
        ),
        (
            "margin_fret = 22",
            "margin_fret = 23",
            "20: neck.margin_fret is 23: give a fret up to the last, 22",
        ),
        (
            'width = "47mm"',
            'width = "121mm"',
            "21: neck.width is '121mm': give a length with its unit from 10 to 120 mm, such as \"34.6mm\"",
        ),
        (
            'width = "47mm"',
            'width = "40mm"',
            (
                "21: neck.width is '40mm': give a fingerboard of 42.8 mm or more there, so that the outer strings "
                "stay on it with the bridge 2.5 mm aside, or less spacing"
            ),
        ),
        (
            'bass = "3.2mm"',
            'bass = "8.1mm"',
            "9: action.bass is '8.1mm': give a length with its unit from 0.2 to 8 mm, such as \"1.3mm\"",
        ),
        (
            'treble = "3.2mm"',
            'treble = "0.1mm"',
            "10: action.treble is '0.1mm': give a length with its unit from 0.2 to 8 mm, such as \"1.3mm\"",
        ),
        (
            'afterlength = "155mm"',
            'afterlength = "0.5mm"',
            "6: afterlength is '0.5mm': give a length with its unit from 1 to 1000 mm, such as \"31.6mm\"",
        ),
        (
            'feet = "70mm"',
            'feet = "301mm"',
            "14: bridge.feet is '301mm': give a length with its unit from 10 to 300 mm, such as \"54.8mm\"",
        ),
        (
            'spacing = "42mm"',
            'spacing = "4.9mm"',
            "15: bridge.spacing is '4.9mm': give a length with its unit from 5 to 200 mm, such as \"31.6mm\"",
        ),
        (
            'forward = "60mm"',
            'forward = "4mm"',
            "24: room.forward is '4mm': give a length with its unit from 5 to 500 mm, such as \"50mm\"",
        ),
        (
            'back = "60mm"\nside',
            'back = "501mm"\nside',
            "25: room.back is '501mm': give a length with its unit from 5 to 500 mm, such as \"50mm\"",
        ),
        (
            'side = "40mm"',
            'side = "0.9mm"',
            "26: room.side is '0.9mm': give a length with its unit from 1 to 300 mm, such as \"17.3mm\"",
        ),
        (
            'side = "40mm"\n',
            "",
            '23: room.side is missing: give a length with its unit from 1 to 300 mm, such as "17.3mm"',
        ),
        (
            'title = "five-string banjo"\n',
            "",
            "title is missing: give its name in a sentence",
        ),
        (
            'title = "five-string banjo"',
            'title = "  "',
            "4: title is '  ': give 1 to 60 characters of text",
        ),
        (
            'title = "five-string banjo"',
            f'title = "{"n" * 61}"',
            f"4: title is '{'n' * 61}': give 1 to 60 characters of text",
        ),
        (
            'note = "B3"\n',
            "",
            (
                '32: string 2.note is missing: give a note between 32 and 750 Hz with its octave, such as "D3", '
                '"G#3" or "Bb2"'
            ),
        ),
        (
            'note = "B3"',
            'note = "B0"',
            (
                "33: string 2.note is 'B0': give a note between 32 and 750 Hz with its octave, such as "
                '"D3", "G#3" or "Bb2"'
            ),
        ),
        (
            "[room]",
            "[rooms]",
            (
                "23: rooms is no field of an instrument: use title, scale, afterlength, action, bridge, neck, room, "
                "string"
            ),
        ),
        (
            'forward = "60mm"',
            'forwards = "60mm"',
            "24: room.forwards is no field of an instrument: use forward, back, side",
        ),
        (
            'kind = "straight"',
            'sort = "straight"',
            "13: bridge.sort is no field of an instrument: use kind, feet, spacing",
        ),
        (
            'bass = "3.2mm"',
            'left = "3.2mm"',
            "9: action.left is no field of an instrument: use bass, treble",
        ),
        (
            "frets = 22",
            "fret = 22",
            "18: neck.fret is no field of an instrument: use frets, nut_spacing, margin_fret, width",
        ),
        (
            'set_back = "2.5mm"',
            'setback = "2.5mm"',
            (
                "40: string 3.setback is no field of an instrument: use note, gauge, core, weight_share, "
                "start_fret, course, set_back"
            ),
        ),
        (
            'kind = "straight"\n',
            "",
            '12: bridge.kind is missing: give "straight" or "compensated"',
        ),
        (
            '[action]\nbass = "3.2mm"\ntreble = "3.2mm"\n',
            "",
            "action is missing: give a table [action]",
        ),
    ],
)
def test_each_refusal_says_where_what_and_what_to_give(old: str, new: str, told: str) -> None:
    with pytest.raises(InputError) as refused:
        _read(old, new)
    assert str(refused.value) == told_of("mine.toml", told)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            GOOD[: GOOD.index("[action]")] + "action = 3\n" + GOOD[GOOD.index("[bridge]") :],
            "8: action is 3: give a table [action]",
        ),
        (
            GOOD[: GOOD.index("[[string]]")],
            "string is missing: give a table [[string]] for each string, the 1st first",
        ),
        ("string = 3\n" + GOOD[: GOOD.index("[[string]]")], "1: string is 3: give tables [[string]]"),
        ("string = [3]\n" + GOOD[: GOOD.index("[[string]]")], "1: string is [3]: give tables [[string]]"),
        (
            GOOD[: GOOD.index("[[string]]")] + '[[string]]\nnote = "D4"\ngauge = "0.010in"\n',
            "28: string is 1: give 2 to 9 tables [[string]], the 1st string first",
        ),
        (
            "string = []\n" + GOOD[: GOOD.index("[[string]]")],
            "1: string is 0: give 2 to 9 tables [[string]], the 1st string first",
        ),
    ],
    ids=["no action", "no string", "a number", "a list of numbers", "one string", "an empty list"],
)
def test_tables_that_are_none_are_refused_whole(text: str, told: str) -> None:
    with pytest.raises(InputError) as refused:
        read_instrument(text, "mine", "mine.toml")
    assert str(refused.value) == told_of("mine.toml", told)


def test_the_ends_of_the_ranges_belong_to_them() -> None:
    assert _read("weight_share = 0.923", "weight_share = 0.5").string(4).linear_kg_m < 1e-3
    assert _read("weight_share = 0.923", "weight_share = 1.2").string(4).winding == "wound"
    assert _read("weight_share = 0.923", "weight_share = 1").string(4).winding == "wound"
    assert _read("start_fret = 5", "start_fret = 10").string(5).octave_fret == 22
    assert _read("start_fret = 5", "start_fret = 0").string(5).length_mm == pytest.approx(666.75)
    assert _read("start_fret = 5", "start_fret = 5\ncourse = 2").string(5).course == 2
    assert _read("start_fret = 5", "start_fret = 5\ncourse = 1").string(5).course == 1
    assert _read("frets = 22\n", "frets = 30\n").neck.frets == 30
    assert _read("margin_fret = 22", "margin_fret = 1").neck.margin_fret == 1
    assert _read('set_back = "2.5mm"', 'set_back = " 20mm "').string(3).compensation_mm == 20.0
    assert _read('set_back = "2.5mm"', 'set_back = " -2.5mm"').string(3).compensation_mm == -2.5
    assert _read('core = "0.011in"', 'core = "0.020in"').string(4).core_mm == pytest.approx(0.508)
    assert _read('afterlength = "155mm"', 'afterlength = "1mm"').afterlength_mm == 1.0
    assert _read('bass = "3.2mm"', 'bass = "8mm"').action_bass_mm == 8.0
    assert _read('title = "five-string banjo"', f'title = " {"n" * 60} "').title == "n" * 60
    assert _read('title = "five-string banjo"', 'title = "n"').title == "n"


HEAD = GOOD[: GOOD.index("[[string]]")]


def strung(*start_frets: int) -> Instrument:
    strings = "".join(
        f'[[string]]\nnote = "D4"\ngauge = "0.010in"\nstart_fret = {start_fret}\n' for start_fret in start_frets
    )
    return read_instrument(HEAD + strings, "mine", "mine.toml")


def test_two_to_nine_strings_of_which_two_run_the_whole_length() -> None:
    assert strung(0, 0).numbers == (1, 2)
    assert len(strung(*[0] * 9).strings) == 9
    assert strung(0, 5, 0).bass_string == 3
    for start_frets in ((0, 5), (5, 5), (0, 5, 5)):
        with pytest.raises(InputError) as refused:
            strung(*start_frets)
        told = str(refused.value)
        assert told.startswith("the instrument file mine.toml, line 28: string is [{note = 'D4', ")
        assert told.endswith(": give two or more strings without start_fret, one for each side of the bridge.")


def test_the_outer_strings_stay_on_the_fingerboard_by_a_hair() -> None:
    # Over fret 22 the 42 mm at the bridge and 32 mm at the nut come to 39.19 mm; 2.5 mm aside is 1.80 mm there.
    share = 1.0 - 2.0 ** (-22.0 / 12.0)
    least_mm = 32.0 + 10.0 * share + 2.0 * 2.5 * share
    assert _read('width = "47mm"', f'width = "{least_mm + 0.01:.2f}mm"').neck.width_mm == pytest.approx(
        least_mm, abs=0.02
    )
    with pytest.raises(InputError, match="give a fingerboard of"):
        _read('width = "47mm"', f'width = "{least_mm - 0.01:.2f}mm"')


@pytest.mark.parametrize(
    ("note", "open_hz"),
    [("G#3", 207.6523), ("Ab3", 207.6523), ("G♯3", 207.6523), ("A♭3", 207.6523), ("B3", 246.9417), ("C4", 261.6256)],
)
def test_sharps_and_flats_are_read(note: str, open_hz: float) -> None:
    # ISO 16:1975 and twelve-tone equal temperament.
    string = _read('note = "B3"', f'note = "{note}"').string(2)
    assert (string.note, string.open_hz) == (note, pytest.approx(open_hz, abs=5e-4))


def test_numbers_of_64_bits_are_read_and_longer_ones_told_by_their_line() -> None:
    # TOML 1.0: whole numbers from -2^63 to 2^63 - 1.
    assert toml_table(f"a = {2**63 - 1}\nb = [{-(2**63)}, 3.5]\nc = {{d = true}}") == {
        "a": 2**63 - 1,
        "b": [-(2**63), 3.5],
        "c": {"d": True},
    }
    for value in (2**63, -(2**63) - 1, 10**30, f"[1, {2**63}]", f"{{inner = {2**63}}}", "9" * 5000):
        with pytest.raises(tomllib.TOMLDecodeError) as refused:
            toml_table(f"x = 1\ny = 2\nz = {value}\n")
        assert str(refused.value) == "A whole number has too many digits (at line 3, column 1)"
    with pytest.raises(tomllib.TOMLDecodeError, match="at line 2, column 5"):
        toml_table("x = 1\ny = ?\n")


def test_a_value_is_found_at_the_line_it_begins_on() -> None:
    text = (
        'name = "one"\n'
        "wide = [\n  1,\n  2,\n]\n"
        'long = """\n[not]\na = 1\n"""\n'
        "deep.inner = { one = 1, two = 2 }\n"
        "[[strings]]\nmm = 1\n"
        "[[strings]]\nmm = 2\n"
    )
    for at, line in (
        (("name",), 1),
        (("wide",), 2),
        # Of what lies within a value of several lines the whole value's.
        (("wide", 1), 2),
        (("long",), 6),
        (("deep",), 10),
        (("deep", "inner", "two"), 10),
        (("strings", 0, "mm"), 12),
        (("strings", 1), 13),
        (("strings", 1, "mm"), 14),
        (("strings", 2), None),
        (("not",), None),
        ((), None),
    ):
        assert line_of(text, at) == line


def test_values_are_shown_as_toml_writes_them() -> None:
    shown = as_toml([True, False, 3, 2.5, "D4", [1, 2], {"a": True, "b": date(2026, 11, 25)}, time(7, 30)])
    assert shown == "[true, false, 3, 2.5, 'D4', [1, 2], {a = true, b = 2026-11-25}, 07:30:00]"


def test_a_wound_string_too_stiff_to_be_pressed_is_told_at_its_core() -> None:
    with pytest.raises(InputError) as refused:
        read_instrument(
            GOOD.replace('core = "0.011in"', 'core = "0.020in"').replace('bass = "3.2mm"', 'bass = "8mm"'),
            "mine",
            "mine.toml",
        )
    assert str(refused.value) == (
        "the instrument file mine.toml, line 45: string 4.core is '0.020in': give a string that pressing to its octave "
        "fret sharpens by 100 cents at most, not by 109: a thinner core (with weight_share, if wound), less "
        "action or more afterlength."
    )


def test_a_name_that_no_instrument_has_is_told_with_those_there_are() -> None:
    told = f"there is no instrument named 'lute': choose one of: {', '.join(BUILT_IN_NAMES)}."
    for asked in (BUILT_IN.check, BUILT_IN.named):
        with pytest.raises(UsageError) as refused:
            asked("lute")
        assert str(refused.value) == told
    assert BUILT_IN.names() == BUILT_IN_NAMES
    assert BUILT_IN.named("tenor-17").name == "tenor-17"
    for name in BUILT_IN_NAMES:
        BUILT_IN.check(name)
