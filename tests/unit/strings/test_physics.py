"""Tension, stiffness and stretch against the beam equation, worked values and ASTM A228's wire."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from banjo import FIVE_STRING, partial_hz
from centwise.strings.physics import (
    N_PER_LBF,
    STEEL_DENSITY_KG_M3,
    STEEL_MODULUS_PA,
    inharmonicity,
    linear_density_kg_m,
    pressed_cents,
    tension_n,
)
from centwise.units import note_hz

SCALE_MM = 666.75
TEN_THOU_MM = 0.254


def stretch_cents(height_mm: float, spring_ratio: float, afterlength_mm: float = 0.0) -> float:
    """Return how much pressing a string at mid length sharpens it."""
    return pressed_cents(height_mm, SCALE_MM / 2.0, SCALE_MM / 2.0, spring_ratio, afterlength_mm)


def test_ten_thousandths_wire_at_d4() -> None:
    tension = tension_n(note_hz(62), SCALE_MM, linear_density_kg_m(TEN_THOU_MM))
    assert tension == pytest.approx(61.00, rel=0.005)
    assert tension / N_PER_LBF == pytest.approx(13.71, rel=0.005)
    assert inharmonicity(TEN_THOU_MM, tension, SCALE_MM) == pytest.approx(1.487e-5, rel=0.005)


def test_the_wire_is_music_wire() -> None:
    # ASTM A228: E 190 to 207 GPa, 7.8 g/cm3.
    assert 190e9 <= STEEL_MODULUS_PA <= 207e9
    assert pytest.approx(7800.0, rel=0.01) == STEEL_DENSITY_KG_M3


def test_stiff_partials_solve_the_beam_equation() -> None:
    # mu y_tt = T y_xx - E I y_xxxx, pinned ends, by finite differences; a thick string, so that stiffness is plain.
    diameter_mm, length_mm, fundamental_hz, points = 1.2, 400.0, 150.0, 500
    mass = linear_density_kg_m(diameter_mm)
    tension = tension_n(fundamental_hz, length_mm, mass)
    step_m = length_mm / 1000.0 / (points + 1)
    second = (np.diag(np.full(points, -2.0)) + np.eye(points, k=1) + np.eye(points, k=-1)) / step_m**2
    stiffness = STEEL_MODULUS_PA * math.pi * (diameter_mm / 1000.0) ** 4 / 64.0
    squares = np.linalg.eigvalsh((-tension * second + stiffness * second @ second) / mass)
    solved_hz = np.sqrt(squares[:8]) / (2.0 * math.pi)
    b = inharmonicity(diameter_mm, tension, length_mm)
    assert b * 8**2 > 0.05
    formula_hz = [partial_hz(n, fundamental_hz, b) for n in range(1, 9)]
    assert np.allclose(solved_hz, formula_hz, rtol=5e-4)


@given(st.floats(0.15, 1.5), st.floats(20.0, 200.0), st.floats(300.0, 1200.0))
def test_half_the_length_has_four_times_the_b(diameter_mm: float, tension: float, length_mm: float) -> None:
    whole = inharmonicity(diameter_mm, tension, length_mm)
    assert inharmonicity(diameter_mm, tension, length_mm / 2.0) == pytest.approx(4.0 * whole, rel=1e-12)


@given(st.integers(1, 40), st.floats(50.0, 500.0), st.floats(0.0, 1e-3))
def test_harmonic_and_fretted_partials_coincide(m: int, open_hz: float, b: float) -> None:
    # Mode 2m of the open string is partial m of its half: no timbre can tell the two apart.
    assert partial_hz(2 * m, open_hz, b) == pytest.approx(partial_hz(m, 2.0 * open_hz, 4.0 * b), rel=1e-12)


@pytest.mark.parametrize(("number", "cents"), [(1, 6.60), (2, 9.32), (3, 14.75)])
def test_pressing_sharpens_plain_strings_as_one_over_frequency_squared(number: int, cents: float) -> None:
    string = FIVE_STRING.string(number)
    assert stretch_cents(3.2, string.spring_ratio) == pytest.approx(cents, rel=0.01)


@given(st.floats(0.2, 0.5), st.floats(0.2, 0.5))
def test_the_gauge_cancels_in_the_stretch_of_plain_wire(one_mm: float, other_mm: float) -> None:
    def stretch(gauge_mm: float) -> float:
        tension = tension_n(200.0, SCALE_MM, linear_density_kg_m(gauge_mm))
        spring = STEEL_MODULUS_PA * math.pi * gauge_mm**2 / 4e6 / tension
        return stretch_cents(3.2, spring)

    assert stretch(one_mm) == pytest.approx(stretch(other_mm), rel=1e-9)


@given(st.floats(0.5, 5.0), st.floats(0.0, 300.0))
def test_string_beyond_the_ends_softens_the_stretch(height_mm: float, afterlength_mm: float) -> None:
    short = stretch_cents(height_mm, 200.0)
    assert 0.0 < stretch_cents(height_mm, 200.0, afterlength_mm) <= short
