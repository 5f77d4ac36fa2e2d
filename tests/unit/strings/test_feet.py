"""The bridge on its feet: pivot, slant, alternation, slide; factors rederived from levers and triangles."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from banjo import FIVE_STRING, alternation_factor
from centwise.strings.bridge import (
    Feet,
    bridge_place_mm,
    contact_mm,
    contacts_mm,
    feet_through,
    foot_shares,
    margins_mm,
    move_foot,
    sideways_cents,
    slide,
    string_place_mm,
)
from centwise.strings.geometry import cents_at_bridge, fret_distance_mm
from centwise.units import cents_between

feet_mm = st.floats(-10.0, 10.0)
numbers = st.sampled_from(FIVE_STRING.numbers)


@pytest.mark.parametrize(("number", "bass", "treble"), [(4, 0.65, 0.35), (1, 0.20, 0.80), (3, 0.5, 0.5)])
def test_a_foot_moves_each_string_by_its_lever(number: int, bass: float, treble: float) -> None:
    # 70 mm from foot to foot, 42 mm from outer string to outer string: the 4th stands 10.5 mm from the middle.
    assert foot_shares(FIVE_STRING, number) == pytest.approx((bass, treble), abs=1e-12)
    moved = move_foot(Feet(), "bass", 1.0)
    assert contact_mm(FIVE_STRING, number, moved) == pytest.approx(bass, abs=1e-12)


@given(feet_mm, feet_mm, numbers)
def test_contacts_lie_on_the_line_between_the_feet(bass_mm: float, treble_mm: float, number: int) -> None:
    contact = contact_mm(FIVE_STRING, number, Feet(bass_mm, treble_mm))
    slope = (treble_mm - bass_mm) / 70.0
    assert contact == pytest.approx((bass_mm + treble_mm) / 2.0 + slope * bridge_place_mm(FIVE_STRING, number))


@given(feet_mm, feet_mm)
def test_setting_bass_and_treble_by_turns_leaves_0_135_of_the_error(bass_mm: float, treble_mm: float) -> None:
    feet = Feet(bass_mm, treble_mm)
    left = []
    for _ in range(3):
        # Each foot goes just as far as brings its own string to zero.
        feet = move_foot(feet, "bass", -contact_mm(FIVE_STRING, 4, feet) / foot_shares(FIVE_STRING, 4)[0])
        feet = move_foot(feet, "treble", -contact_mm(FIVE_STRING, 1, feet) / foot_shares(FIVE_STRING, 1)[1])
        left.append(contact_mm(FIVE_STRING, 4, feet))
    assert left[1] == pytest.approx(7.0 / 52.0 * left[0], abs=1e-9)
    assert left[2] == pytest.approx(7.0 / 52.0 * left[1], abs=1e-9)
    assert alternation_factor(FIVE_STRING) == pytest.approx(0.135, abs=0.0005)


@given(feet_mm, feet_mm)
def test_feet_are_found_from_two_contacts(bass_mm: float, treble_mm: float) -> None:
    for kind in ("straight", "compensated"):
        instrument = FIVE_STRING.with_bridge(kind)
        contacts = contacts_mm(instrument, Feet(bass_mm, treble_mm))
        found = feet_through(instrument, {4: contacts[4], 1: contacts[1]})
        assert (found.bass_mm, found.treble_mm) == pytest.approx((bass_mm, treble_mm), abs=1e-9)


@given(feet_mm, feet_mm)
def test_a_compensated_bridge_sets_the_third_string_back_2_to_3_mm(bass_mm: float, treble_mm: float) -> None:
    # 2 to 3 mm is common practice, no source.
    feet = Feet(bass_mm, treble_mm)
    straight = contacts_mm(FIVE_STRING, feet)
    compensated = contacts_mm(FIVE_STRING.with_bridge("compensated"), feet)
    assert 2.0 <= compensated[3] - straight[3] <= 3.0
    assert (compensated[4], compensated[1]) == (straight[4], straight[1])


def test_a_foot_goes_by_itself_and_a_slide_takes_both_aside() -> None:
    assert move_foot(Feet(1.0, 2.0, 3.0), "treble", 2.0) == Feet(1.0, 4.0, 3.0)
    assert move_foot(Feet(1.0, 2.0, 3.0), "bass", -2.0) == Feet(-1.0, 2.0, 3.0)
    assert slide(slide(Feet(1.0, 2.0), "bass", 1.5), "treble", 0.5) == Feet(1.0, 2.0, -1.0)


def test_a_string_follows_a_slide_by_where_it_is_looked_at() -> None:
    for fret, share in ((12, 0.5), (22, 0.72)):
        for number in (1, 2, 3, 4):
            moved = string_place_mm(FIVE_STRING, number, fret, 1.0) - string_place_mm(FIVE_STRING, number, fret)
            assert moved == pytest.approx(share, abs=0.001)
    # The 5th turns about its own nut, so it follows less: at fret 17, half its length, half as far.
    assert string_place_mm(FIVE_STRING, 5, 17, 1.0) - string_place_mm(FIVE_STRING, 5, 17) == pytest.approx(0.5)


@given(st.floats(-10.0, 10.0))
def test_margins_are_equal_only_in_the_middle(side_mm: float) -> None:
    margins = margins_mm(FIVE_STRING, side_mm)
    middle = margins_mm(FIVE_STRING, 0.0)
    assert middle.bass_mm == pytest.approx(middle.treble_mm)
    assert middle.bass_mm > 0.0
    assert margins.treble_mm == pytest.approx(middle.treble_mm - side_mm * (1.0 - 2.0 ** (-22.0 / 12.0)))
    assert margins.bass_mm - middle.bass_mm == pytest.approx(side_mm * 0.6255, abs=1e-3)


@pytest.mark.parametrize("number", FIVE_STRING.numbers)
def test_a_millimetre_sideways_costs_a_twentieth_of_a_cent_at_most(number: int) -> None:
    assert abs(sideways_cents(FIVE_STRING, number, 1.0)) <= 0.05
    assert abs(sideways_cents(FIVE_STRING, number, -1.0)) <= 0.05


@given(numbers, st.floats(-10.0, 10.0), st.floats(-5.0, 5.0))
def test_a_slide_leaves_the_comparison_as_it_was(number: int, side_mm: float, offset_mm: float) -> None:
    # In the plane of the frets: the fret cuts the string where it crosses, so lengths stay in proportion.
    string = FIVE_STRING.string(number)
    own_nut_mm = fret_distance_mm(string.start_fret, FIVE_STRING.scale_mm)
    nut = (own_nut_mm, bridge_place_mm(FIVE_STRING, number) * 32.0 / 42.0)
    bridge = (FIVE_STRING.scale_mm + offset_mm, bridge_place_mm(FIVE_STRING, number) + side_mm)
    fret_x = fret_distance_mm(string.octave_fret, FIVE_STRING.scale_mm)
    share = (fret_x - nut[0]) / (bridge[0] - nut[0])
    crossing = (fret_x, nut[1] + share * (bridge[1] - nut[1]))
    ratio = math.dist(nut, bridge) / (2.0 * math.dist(crossing, bridge))
    assert cents_between(ratio, 1.0) == pytest.approx(cents_at_bridge(offset_mm, string.length_mm), abs=1e-6)
