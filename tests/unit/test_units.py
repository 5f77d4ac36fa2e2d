"""Conversions of units.py. Sources: ISO 16:1975 (A4 = 440 Hz), the international inch of 25.4 mm (1959)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.errors import UsageError
from centwise.units import (
    cents_between,
    inches_64ths_text,
    nearest_64ths,
    note_hz,
    number_text,
    parse_length_mm,
    ratio_from_cents,
)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("26.25in", 666.75),
        ("26 1/4in", 666.75),
        ("26-1/4 in", 666.75),
        ('26 1/4"', 666.75),
        ("26.25 inches", 666.75),
        ("1 inch", 25.4),
        ("667mm", 667.0),
        (" 66.7 cm ", 667.0),
        ("1/16 in", 1.5875),
        ("1 / 64 in", 0.396875),
        (".5in", 12.7),
        ("27.in", 685.8),
    ],
)
def test_a_length_is_read_as_players_write_it(text: str, millimetres: float) -> None:
    assert parse_length_mm(text) == pytest.approx(millimetres, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "26.25",
        "in",
        "-3mm",
        "1/0in",
        "0mm",
        "0/4 in",
        "26 1/4",
        "1e3mm",
        "3 km",
        "2.5 1/4in",
        "nan mm",
        "9" * 400 + "in",
    ],
)
def test_what_is_no_length_is_named_and_refused(text: str) -> None:
    with pytest.raises(UsageError, match="not a length") as refusal:
        parse_length_mm(text)
    assert repr(text) in str(refusal.value)


@pytest.mark.parametrize("digits", [7, 400, 5000])
def test_a_fraction_beyond_all_numbers_is_refused_too(digits: int) -> None:
    for text in ("9" * digits + "/1 in", "1/" + "9" * digits + " in", "9" * digits + " 1/2 in"):
        with pytest.raises(UsageError, match="not a length"):
            parse_length_mm(text)


@given(st.integers(1, 64 * 60))
def test_64ths_survive_being_written_and_read(sixty_fourths: int) -> None:
    assert nearest_64ths(parse_length_mm(inches_64ths_text(sixty_fourths))) == sixty_fourths


@given(st.floats(0.001, 2000.0))
def test_a_decimal_length_survives_being_written_and_read(millimetres: float) -> None:
    assert parse_length_mm(f"{millimetres:.6f}mm") == pytest.approx(millimetres, abs=1e-6)


@given(st.floats(-3000.0, 3000.0))
def test_the_nearest_64th_is_within_half_of_one(millimetres: float) -> None:
    sixty_fourths = nearest_64ths(millimetres)
    assert abs(millimetres - sixty_fourths * 25.4 / 64.0) <= 25.4 / 128.0 + 1e-9
    assert nearest_64ths(-millimetres) == -sixty_fourths


@pytest.mark.parametrize(("millimetres", "away"), [(0.1984375, 1), (-0.1984375, -1)])
def test_ties_go_away_from_zero(millimetres: float, away: int) -> None:
    assert nearest_64ths(millimetres) == away


@pytest.mark.parametrize(
    ("sixty_fourths", "text"),
    [(0, "0 in"), (3, "3/64 in"), (4, "1/16 in"), (64, "1 in"), (72, "1 1/8 in"), (-3, "-3/64 in"), (-96, "-1 1/2 in")],
)
def test_64ths_are_told_as_the_ruler_says_them(sixty_fourths: int, text: str) -> None:
    assert inches_64ths_text(sixty_fourths) == text


@pytest.mark.parametrize(
    ("midi", "hertz"),
    # ISO 16:1975 for A4; the rest is twelve-tone equal temperament, as printed to 4 places in any table of it.
    [(69, 440.0), (50, 146.8324), (55, 195.9977), (59, 246.9417), (62, 293.6648), (67, 391.9954), (60, 261.6256)],
)
def test_notes_of_twelve_tone_equal_temperament(midi: int, hertz: float) -> None:
    assert note_hz(midi) == pytest.approx(hertz, abs=5e-5)


@given(st.floats(-2400.0, 2400.0), st.floats(20.0, 5000.0))
def test_cents_and_ratios_are_inverse(cents: float, reference_hz: float) -> None:
    assert cents_between(reference_hz * ratio_from_cents(cents), reference_hz) == pytest.approx(cents, abs=1e-9)


def test_known_intervals() -> None:
    assert ratio_from_cents(1200.0) == 2.0
    assert cents_between(3.0, 2.0) == pytest.approx(701.955, abs=5e-4)  # the just fifth
    assert cents_between(1.001, 1.0) == pytest.approx(1.7304, abs=5e-4)
    assert cents_between(1.01, 1.0) == pytest.approx(1200.0 * math.log2(1.01))


@given(st.floats(allow_nan=False))
def test_a_number_is_never_written_as_another(value: float) -> None:
    assert float(number_text(value)) == value
    assert number_text(-100.0001) == "-100.0001"
    assert number_text(120.0) == "120"
