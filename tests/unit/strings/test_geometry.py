"""The law between cents and bridge travel, held against its derivation and worked values."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from banjo import FIVE_STRING
from centwise.errors import UsageError
from centwise.strings.geometry import (
    bridge_offset_mm,
    cents_at_bridge,
    check_scale_mm,
    fret_distance_mm,
    travel_for,
)
from centwise.units import cents_between

SCALE_MM = 666.75

scales = st.floats(200.0, 1500.0)


@given(st.floats(-20.0, 20.0), scales, st.floats(50.0, 500.0))
def test_the_law_follows_from_two_vibrating_lengths(offset_mm: float, scale_mm: float, wave_speed_m_s: float) -> None:
    # Touched at mid length the open string sounds its second mode, c/L; the fretted rest of it its first, c/(2(L-S/2)).
    length_m = (scale_mm + offset_mm) / 1000.0
    harmonic_hz = wave_speed_m_s / length_m
    fretted_hz = wave_speed_m_s / (2.0 * (length_m - scale_mm / 2000.0))
    assert cents_at_bridge(offset_mm, scale_mm) == pytest.approx(cents_between(fretted_hz, harmonic_hz), abs=1e-7)


@given(st.floats(-100.0, 100.0), scales)
def test_the_inverse_is_exact(cents: float, scale_mm: float) -> None:
    assert cents_at_bridge(bridge_offset_mm(cents, scale_mm), scale_mm) == pytest.approx(cents, abs=1e-9)


@pytest.mark.parametrize(
    ("offset_mm", "cents"), [(1.5875, -4.1073), (-1.5875, 4.1368), (3.175, -8.1855), (-3.175, 8.3033), (0.0, 0.0)]
)
def test_worked_values_at_the_usual_scale(offset_mm: float, cents: float) -> None:
    assert cents_at_bridge(offset_mm, SCALE_MM) == pytest.approx(cents, abs=5e-5)


@pytest.mark.parametrize(
    ("inches", "mm_per_cent"),
    [(22.5, 0.33011), (24.0, 0.3521), (25.5, 0.3741), (26.25, 0.38513), (26.5, 0.3888), (27.0, 0.39613)],
)
def test_millimetres_per_cent_near_unison(inches: float, mm_per_cent: float) -> None:
    scale_mm = inches * 25.4
    slope = (bridge_offset_mm(-0.001, scale_mm) - bridge_offset_mm(0.001, scale_mm)) / 0.002
    assert slope == pytest.approx(mm_per_cent, abs=5e-5)
    assert slope == pytest.approx(scale_mm * math.log(2.0) / 1200.0, rel=1e-6)


@pytest.mark.parametrize(("cents", "direction"), [(-4.0, "forward"), (4.0, "back"), (0.0, "leave")])
def test_flat_goes_forward_and_sharp_goes_back(cents: float, direction: str) -> None:
    travel = travel_for(cents, SCALE_MM)
    assert travel.direction == direction
    assert travel.travel_mm >= 0.0


@given(st.floats(-60.0, 60.0).filter(lambda cents: abs(cents) > 0.01), scales)
def test_the_move_brings_the_pair_into_unison(cents: float, scale_mm: float) -> None:
    stands_mm = bridge_offset_mm(cents, scale_mm)
    travel = travel_for(cents, scale_mm)
    moved_mm = stands_mm + (travel.travel_mm if travel.direction == "back" else -travel.travel_mm)
    assert cents_at_bridge(moved_mm, scale_mm) == pytest.approx(0.0, abs=1e-9)


def test_a_64th_of_an_inch_is_about_a_cent() -> None:
    assert travel_for(-1.03, SCALE_MM).sixty_fourths == 1
    assert travel_for(4.1368, SCALE_MM).sixty_fourths == 4


def test_fret_distances() -> None:
    assert fret_distance_mm(12, SCALE_MM) == pytest.approx(333.375)
    assert fret_distance_mm(17, SCALE_MM) == pytest.approx(417.00, abs=0.005)
    # Makers lay frets out with one divisor: each fret takes 1/17.8172 of what is left (common practice, no source).
    first_mm = fret_distance_mm(1, SCALE_MM)
    assert SCALE_MM / first_mm == pytest.approx(17.8172, abs=5e-5)


def test_the_fifth_string_over_the_twelfth_fret_is_no_octave() -> None:
    fifth = FIVE_STRING.string(5)
    own_nut_mm = fret_distance_mm(fifth.start_fret, SCALE_MM)
    touched = (fret_distance_mm(12, SCALE_MM) - own_nut_mm) / fifth.length_mm
    assert touched == pytest.approx(1.0 / 3.0, abs=1e-3)
    rings_hz = 3.0 * fifth.open_hz
    fretted_hz = fifth.open_hz * fifth.length_mm / (SCALE_MM - fret_distance_mm(12, SCALE_MM))
    assert rings_hz == pytest.approx(1175.986, abs=5e-4)
    assert 2.0 * fretted_hz == pytest.approx(1174.659, abs=5e-4)
    assert cents_between(rings_hz, 2.0 * fretted_hz) == pytest.approx(1.955, abs=5e-4)


@pytest.mark.parametrize("scale_mm", [199.9, 1500.1, -1.0, math.nan, math.inf])
def test_a_scale_no_instrument_has_is_refused(scale_mm: float) -> None:
    with pytest.raises(UsageError, match=f"scale length of {scale_mm:g} mm"):
        check_scale_mm(scale_mm)
