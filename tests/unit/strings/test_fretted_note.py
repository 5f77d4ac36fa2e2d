"""The fretted note over the harmonic, with stretch, stiffness and quirk: stated sums, what a straight bridge leaves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from banjo import FIVE_STRING
from centwise.errors import UsageError
from centwise.strings.bridge import contact_mm, feet_through
from centwise.strings.fretted import (
    fretted_cents_over_harmonic,
    fretted_hz,
    null_contact_mm,
    press_height_mm,
    pressing_cents,
    touched_mode,
)
from centwise.strings.geometry import cents_at_bridge, fret_cents_at_bridge, retuning_cents
from centwise.units import cents_between

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument

numbers = st.sampled_from(FIVE_STRING.numbers)


@pytest.mark.parametrize(
    ("number", "cents", "null_mm"), [(1, 7.6, 2.9), (2, 10.5, 4.1), (3, 16.4, 6.3), (4, 9.8, 3.8), (5, 12.0, 3.5)]
)
def test_what_pressing_adds_and_where_the_string_comes_right(number: int, cents: float, null_mm: float) -> None:
    # Sums derived for an action of 3.2 mm, stated to a tenth; the nulls are certain to a third only, their ratios firm.
    assert FIVE_STRING.action_bass_mm == FIVE_STRING.action_treble_mm == 3.2
    assert pressing_cents(FIVE_STRING, number) == pytest.approx(cents, rel=0.015)
    assert null_contact_mm(FIVE_STRING, number) == pytest.approx(null_mm, abs=0.15)


def left_on(instrument: Instrument) -> dict[int, float]:
    feet = feet_through(instrument, {number: null_contact_mm(instrument, number) for number in (4, 1)})
    return {
        number: fretted_cents_over_harmonic(instrument, number, contact_mm(instrument, number, feet))
        for number in instrument.numbers
    }


def test_a_straight_bridge_set_by_the_outer_strings_leaves_the_third_sharp() -> None:
    left = left_on(FIVE_STRING.with_bridge("straight"))
    assert (left[4], left[1]) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert 5.0 <= left[3] <= 7.5
    assert left[2] == pytest.approx(2.0, abs=0.5)


def test_a_compensated_bridge_leaves_less_than_two_cents() -> None:
    left = left_on(FIVE_STRING.with_bridge("compensated"))
    assert all(abs(left[number]) < 2.0 for number in (1, 2, 3, 4))


def test_the_bass_side_wants_more_than_the_treble() -> None:
    # The slant: 0.6 to 1.6 mm over the 31.5 mm from the 4th string to the 1st (common practice, no source).
    assert 0.6 <= null_contact_mm(FIVE_STRING, 4) - null_contact_mm(FIVE_STRING, 1) <= 1.6


@given(numbers, st.floats(-8.0, 8.0), st.floats(-5.0, 5.0))
def test_the_quirk_is_added_and_the_null_undoes_it_all(number: int, contact: float, quirk_cents: float) -> None:
    plain = fretted_cents_over_harmonic(FIVE_STRING, number, contact)
    length_mm = FIVE_STRING.string(number).length_mm
    assert plain - pressing_cents(FIVE_STRING, number) == pytest.approx(cents_at_bridge(contact, length_mm), abs=1e-9)
    quirky = fretted_cents_over_harmonic(FIVE_STRING, number, contact, quirk_cents=quirk_cents)
    assert quirky - plain == pytest.approx(quirk_cents, abs=1e-9)
    null_mm = null_contact_mm(FIVE_STRING, number, quirk_cents=quirk_cents)
    at_null = fretted_cents_over_harmonic(FIVE_STRING, number, null_mm, quirk_cents=quirk_cents)
    assert at_null == pytest.approx(0.0, abs=1e-9)


@given(st.integers(1, 22), st.floats(-8.0, 8.0), st.floats(100.0, 400.0))
def test_any_fret_follows_from_two_lengths(fret: int, offset_mm: float, wave_speed_m_s: float) -> None:
    # The fret stands at S(1 - 2^(-n/12)); what it cuts off sounds c/(2 l), the open string c/(2 (S + d)).
    scale_mm = 666.75
    open_hz = wave_speed_m_s / (2.0 * (scale_mm + offset_mm) / 1000.0)
    fretted = wave_speed_m_s / (2.0 * (scale_mm + offset_mm - scale_mm * (1.0 - 2.0 ** (-fret / 12.0))) / 1000.0)
    away = cents_between(fretted, open_hz) - 100.0 * fret
    assert fret_cents_at_bridge(offset_mm, scale_mm, fret) == pytest.approx(away, abs=1e-7)


@given(st.floats(-8.0, 8.0))
def test_the_octave_fret_is_the_law_of_the_octave(offset_mm: float) -> None:
    assert fret_cents_at_bridge(offset_mm, 666.75, 12) == pytest.approx(cents_at_bridge(offset_mm, 666.75), abs=1e-9)


def test_the_fifth_string_has_its_octave_at_fret_17() -> None:
    asked = fretted_cents_over_harmonic(FIVE_STRING, 5, 1.0, fret=17)
    assert asked == fretted_cents_over_harmonic(FIVE_STRING, 5, 1.0)
    assert fretted_hz(FIVE_STRING, 5, 0.0, fret=17) == pytest.approx(783.9909, abs=1e-4)
    assert asked - fretted_cents_over_harmonic(FIVE_STRING, 5, 0.0) == pytest.approx(-3.466, abs=0.02)


def test_the_fifth_string_touched_over_the_twelfth_rings_its_third_mode() -> None:
    assert touched_mode(FIVE_STRING, 5, 12) == 3
    assert 3.0 * FIVE_STRING.string(5).open_hz == pytest.approx(1175.986, abs=5e-4)
    fretted_octave_hz = 2.0 * fretted_hz(FIVE_STRING, 5, 0.0, fret=12)
    assert fretted_octave_hz == pytest.approx(1174.659, abs=5e-4)
    assert cents_between(1175.986, fretted_octave_hz) == pytest.approx(1.955, abs=1e-3)
    assert touched_mode(FIVE_STRING, 5, 17) == touched_mode(FIVE_STRING, 4, 12) == 2


def test_nodes_lie_over_the_frets_players_know() -> None:
    # Harmonics ring over frets 5, 7, 9, 12, 16 and 19 (common practice, no source).
    ringing = {fret: touched_mode(FIVE_STRING, 4, fret) for fret in range(1, 23)}
    assert {fret: mode for fret, mode in ringing.items() if mode} == {5: 4, 7: 3, 9: 5, 12: 2, 16: 5, 19: 3}


def test_moving_back_a_millimetre_flattens_the_open_string_too() -> None:
    # Worked values: open and harmonic -2.595 c, fretted -5.185 c, the difference -2.591 c.
    open_cents = retuning_cents(0.0, 1.0, 666.75)
    assert open_cents == pytest.approx(-2.595, abs=5e-4)
    assert cents_at_bridge(1.0, 666.75) == pytest.approx(-2.591, abs=5e-4)
    assert open_cents + cents_at_bridge(1.0, 666.75) == pytest.approx(-5.185, abs=1e-3)


def test_a_higher_nut_and_a_higher_fret_press_further() -> None:
    assert press_height_mm(FIVE_STRING, 5) == pytest.approx(3.2)
    assert press_height_mm(FIVE_STRING, 5, nut_rise_mm=1.0) == pytest.approx(3.7)
    assert (
        press_height_mm(FIVE_STRING, 4, 22) > press_height_mm(FIVE_STRING, 4, 12) > press_height_mm(FIVE_STRING, 4, 1)
    )
    assert pressing_cents(FIVE_STRING, 5, nut_rise_mm=0.5) > pressing_cents(FIVE_STRING, 5)


@pytest.mark.parametrize(("number", "fret"), [(5, 5), (5, 0), (4, 0), (4, 23), (1, -1)])
def test_a_fret_that_is_not_there_is_named(number: int, fret: int) -> None:
    first = FIVE_STRING.string(number).start_fret + 1
    with pytest.raises(UsageError, match=f"string {number} of .* has no fret {fret}: choose one from {first} to 22"):
        fretted_cents_over_harmonic(FIVE_STRING, number, 0.0, fret=fret)


def test_everything_is_finite_at_every_fret() -> None:
    for number in FIVE_STRING.numbers:
        for fret in range(FIVE_STRING.string(number).start_fret + 1, 23):
            assert math.isfinite(fretted_cents_over_harmonic(FIVE_STRING, number, -5.0, fret=fret))
