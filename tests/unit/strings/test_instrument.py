"""The five-string banjo as data: pitches (ISO 16:1975), lengths, octave frets, tensions."""

from __future__ import annotations

import math

import pytest

from banjo import FIVE_STRING
from centwise.errors import UsageError
from centwise.strings.geometry import bridge_offset_mm, fret_distance_mm
from centwise.strings.library import BUILT_IN
from centwise.units import note_hz


@pytest.mark.parametrize(
    ("number", "note", "open_hz", "octave_hz", "octave_fret"),
    [
        (5, "G4", 391.9954, 783.9909, 17),
        (4, "D3", 146.8324, 293.6648, 12),
        (3, "G3", 195.9977, 391.9954, 12),
        (2, "B3", 246.9417, 493.8833, 12),
        (1, "D4", 293.6648, 587.3295, 12),
    ],
)
def test_open_g(number: int, note: str, open_hz: float, octave_hz: float, octave_fret: int) -> None:
    string = FIVE_STRING.string(number)
    assert (string.note, string.octave_fret) == (note, octave_fret)
    assert string.open_hz == pytest.approx(open_hz, abs=1e-4)
    assert string.octave_hz == pytest.approx(octave_hz, abs=1e-4)


def test_the_fifth_string_has_its_own_length() -> None:
    fifth = FIVE_STRING.string(5)
    assert fifth.length_mm == pytest.approx(499.50, abs=0.005)
    assert fifth.start_fret == 5
    slope = -1.0 / (bridge_offset_mm(1.0, fifth.length_mm) - bridge_offset_mm(0.0, fifth.length_mm))
    assert slope == pytest.approx(3.466, abs=0.005)


@pytest.mark.parametrize("number", range(1, 6))
def test_the_octave_fret_halves_the_string(number: int) -> None:
    string = FIVE_STRING.string(number)
    from_own_nut_mm = fret_distance_mm(string.octave_fret, 666.75) - fret_distance_mm(string.start_fret, 666.75)
    assert from_own_nut_mm == pytest.approx(string.length_mm / 2.0)


@pytest.mark.parametrize(
    ("number", "tension", "spring_ratio", "b"),
    [
        (1, 61.0, 166, 1.49e-5),
        (2, 52.2, 235, 2.55e-5),
        (3, 45.9, 373, 5.64e-5),
        (4, 56.3, 218, 2.4e-5),
        (5, 61.0, 166, 2.65e-5),
    ],
)
def test_tension_spring_ratio_and_stiffness(number: int, tension: float, spring_ratio: float, b: float) -> None:
    string = FIVE_STRING.string(number)
    assert string.tension_n == pytest.approx(tension, rel=0.005)
    assert string.spring_ratio == pytest.approx(spring_ratio, rel=0.01)
    assert string.inharmonicity == pytest.approx(b, rel=0.02)  # the wound string's is stated to two digits


def test_all_strings_pull_with_about_280_newtons() -> None:
    # Common practice gives 10 to 15 lbf a string.
    tensions = [string.tension_n for string in FIVE_STRING.strings]
    assert sum(tensions) == pytest.approx(280.0, abs=5.0)
    assert all(10.0 <= tension / 4.4482216 <= 15.0 for tension in tensions)


def test_another_scale_keeps_the_pitches_and_changes_the_tension() -> None:
    short = FIVE_STRING.with_scale(600.0)
    for string in short.strings:
        same = FIVE_STRING.string(string.number)
        assert string.open_hz == same.open_hz
        assert string.tension_n / same.tension_n == pytest.approx((600.0 / 666.75) ** 2)
    assert short.string(5).length_mm == pytest.approx(600.0 * math.exp2(-5.0 / 12.0))
    assert short.scale_mm == 600.0


@pytest.mark.parametrize("number", [0, 6, -1])
def test_a_string_that_is_not_there_is_named(number: int) -> None:
    with pytest.raises(UsageError, match=f"five-string banjo has no string {number}: choose one from 1 to 5"):
        FIVE_STRING.string(number)


def test_an_instrument_that_is_not_there_is_named() -> None:
    assert BUILT_IN.named("five-string") is FIVE_STRING
    with pytest.raises(UsageError, match="no instrument named 'kazoo': choose one of: five-string"):
        BUILT_IN.named("kazoo")


@pytest.mark.parametrize("scale_mm", [100.0, 2000.0])
def test_a_scale_out_of_range_is_refused(scale_mm: float) -> None:
    with pytest.raises(UsageError, match="scale length"):
        FIVE_STRING.with_scale(scale_mm)


def test_notes_are_what_they_are_called() -> None:
    letters = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    for string in FIVE_STRING.strings:
        midi = 12 * (int(string.note[1]) + 1) + letters[string.note[0]]
        assert string.open_hz == pytest.approx(note_hz(midi))
