"""The picture of the string: exact widths, and everything where physics puts it."""

from __future__ import annotations

import inspect

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.model import TONES
from centwise.tui.drawing import DotCanvas, string_picture

WIDTHS = range(40, 121)
SOME_WIDTHS = (40, 41, 54, 56, 79, 96, 120)
DIRECTIONS = ("forward", "back", "leave", None)


@pytest.mark.parametrize("direction", DIRECTIONS)
@pytest.mark.parametrize("tone", [*TONES, None])
def test_every_line_has_exactly_the_width_asked_for(tone: str, direction: str) -> None:
    for width in WIDTHS:
        for swing in (0.0, 0.3, 1.0):
            lines = string_picture(width, tone, swing, direction)  # type: ignore[arg-type]
            assert [len(line) for line in lines] == [width] * 6


@pytest.mark.parametrize("width", SOME_WIDTHS)
def test_frets_lie_where_twelve_tone_equal_temperament_puts_them(width: int) -> None:
    lines = string_picture(width, None, 0.0, None)
    neck = lines[4]
    nut = neck.index("┗") + 1
    bridge = neck.index("█")
    length = bridge - nut
    # Distance of fret n from the nut: 1 - 2^(-n/12) of the open length (twelve-tone equal temperament).
    wanted = {nut + round((1.0 - 2.0 ** (-fret / 12.0)) * length) for fret in range(1, 20)}
    assert {column for column, cell in enumerate(neck) if cell == "┷"} == wanted
    assert lines[2].index("╿") == bridge


@pytest.mark.parametrize("width", SOME_WIDTHS)
def test_the_node_is_the_middle_of_the_string_and_the_octave_fret(width: int) -> None:
    lines = string_picture(width, None, 0.0, None)
    node = lines[2].index("○")
    nut, bridge = lines[4].index("┗") + 1, lines[4].index("█")
    assert abs(2 * node - nut - bridge) <= 1
    assert lines[4][node] == "┷"
    for tone, sign in (("harmonic", "●"), ("fretted", "▼")):
        assert string_picture(width, tone, 1.0, None)[2].index(sign) == node  # type: ignore[arg-type]


def dots(lines: list[str], columns: range) -> int:
    """Count the braille dots of the outer rows in some columns."""
    cells = [lines[row][column] for row in (1, 3) for column in columns]
    return sum((ord(cell) - 0x2800).bit_count() for cell in cells if 0x2800 < ord(cell) < 0x2900)


@pytest.mark.parametrize("width", SOME_WIDTHS)
def test_a_harmonic_swings_in_two_equal_halves_and_a_fretted_note_in_one(width: int) -> None:
    lines = string_picture(width, "harmonic", 1.0, None)
    node, bridge = lines[2].index("●"), lines[4].index("█")
    nut = lines[4].index("┗") + 1
    left, right = dots(lines, range(nut, node)), dots(lines, range(node + 1, bridge + 1))
    assert left > 0
    assert abs(left - right) <= 0.15 * left
    assert dots(lines, range(node, node + 1)) == 0
    fretted = string_picture(width, "fretted", 1.0, None)
    assert dots(fretted, range(nut, node)) == 0
    assert dots(fretted, range(node + 1, bridge + 1)) > 0


def test_a_wider_swing_reaches_further_and_silence_lies_still() -> None:
    counts = [dots(string_picture(80, "harmonic", swing, None), range(80)) for swing in (0.0, 0.5, 1.0)]
    assert counts[0] == 0
    assert counts[0] < counts[1] < counts[2]
    assert string_picture(80, None, 0.0, None)[1:4] == string_picture(80, None, 1.0, None)[1:4]


@pytest.mark.parametrize("width", SOME_WIDTHS)
def test_the_move_is_written_on_its_own_side_of_the_bridge(width: int) -> None:
    bridge = string_picture(width, None, 0.0, None)[4].index("█")
    forward = string_picture(width, None, 0.0, "forward")[5]
    assert forward.rstrip().endswith("◀── forward")
    assert len(forward.rstrip()) <= bridge
    back = string_picture(width, None, 0.0, "back")[5]
    assert back.rstrip().endswith("back ──▶")
    assert back.index("▶") > bridge
    assert "leave it" in string_picture(width, None, 0.0, "leave")[5]
    assert string_picture(width, None, 0.0, None)[5].strip() == ""


def test_the_drawing_is_never_given_an_offset() -> None:
    assert [*inspect.signature(string_picture).parameters] == ["width", "sounding", "swing", "direction"]


@given(st.integers(-20, 100), st.integers(-20, 100))
def test_a_dot_is_set_inside_and_left_out_outside(x: int, y: int) -> None:
    canvas = DotCanvas(10, 3)
    canvas.dot(x, y)
    lines = canvas.lines()
    assert [len(line) for line in lines] == [10] * 3
    inside = 0 <= x < 20 and 0 <= y < 12
    assert lines[y // 4][x // 2] != " " if inside else set("".join(lines)) == {" "}
