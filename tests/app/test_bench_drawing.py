"""The head from above: every line as wide as asked, the feet where they were moved, nothing hidden drawn too early."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.strings.bridge import Margins
from centwise.tui.bench_drawing import MM_A_COLUMN, Shown, bench_picture

PLAIN = Shown((1, 2, 3, 4, 5), 4, "bass", False, None, (0.0, 0.0), None, None, None)
OFFSETS = st.floats(-80.0, 80.0)
PAIRS = st.tuples(OFFSETS, OFFSETS)


def column(line: str, mark: str = "█") -> int:
    assert line.count(mark) == 1
    return line.index(mark)


@given(
    width=st.integers(50, 140),
    strings=st.integers(1, 12),
    feet=PAIRS,
    pencil=st.none() | PAIRS,
    right=st.none() | PAIRS,
    margins=st.none() | st.builds(Margins, st.floats(-9.0, 99.0), st.floats(-9.0, 99.0)),
    muted=st.booleans(),
    sounding=st.none() | st.integers(1, 12),
    foot=st.sampled_from(["bass", "treble"]),
)
def test_every_line_is_as_wide_as_asked(width: int, strings: int, **drawn: object) -> None:
    shown = replace(PLAIN, strings=tuple(range(1, strings + 1)), **drawn)  # type: ignore[arg-type]
    lines = bench_picture(width, shown)
    assert len(lines) == strings + 3
    assert {len(line) for line in lines} == {width}
    if shown.right is None:
        assert "░" not in "".join(lines)


@given(feet=st.tuples(st.floats(-8.0, 8.0), st.floats(-8.0, 8.0)))
def test_the_bridge_stands_where_its_feet_were_moved(feet: tuple[float, float]) -> None:
    still, moved = (bench_picture(80, replace(PLAIN, feet=pair)) for pair in ((0.0, 0.0), feet))
    for row, pair in ((0, feet[0]), (6, feet[1])):
        assert column(moved[row]) - column(still[row]) == pytest.approx(pair / MM_A_COLUMN, abs=0.51)
    places = [column(line) for line in moved[:7]]
    assert places in (sorted(places), sorted(places, reverse=True))


def test_a_slide_shows_at_the_edge_it_went_toward() -> None:
    for slid_mm, row, text in ((1.26, 0, "▲ slid 1.3 mm"), (-0.8, 6, "▼ slid 0.8 mm")):
        for width in (50, 96):
            for feet in ((0.0, 0.0), (30.0, 30.0), (-30.0, -30.0)):
                lines = bench_picture(width, replace(PLAIN, slid_mm=slid_mm, feet=feet))
                assert text in lines[row]
                assert "foot" in lines[row]
                assert sum("slid" in line for line in lines) == 1
    assert "slid" not in "".join(bench_picture(80, PLAIN))


def test_forward_is_toward_the_neck_and_the_treble_side_is_on_top() -> None:
    lines = bench_picture(80, replace(PLAIN, feet=(-3.0, 3.0)))
    assert "treble foot" in lines[0]
    assert "▸ bass foot" in lines[6]
    assert lines[1].startswith(" 1")
    assert lines[4].startswith("▸4")
    assert column(lines[0]) < column(lines[6])
    assert lines[7].index("◂ forward") < lines[7].index("back ▸")


def test_what_is_kept_and_what_is_told_at_the_mark() -> None:
    line = bench_picture(80, replace(PLAIN, pencil=(4.0, 4.0)))
    assert "┆ your last line" in line[7]
    assert line[0].count("┆") == 1
    marked = bench_picture(80, replace(PLAIN, right=(4.0, 4.0)))
    assert "░ right place" in marked[7]
    assert all("░" in row for row in marked[:7])


def test_strings_show_what_they_do_without_colour() -> None:
    muted = bench_picture(80, replace(PLAIN, muted=True, sounding=1))
    assert ["≈" in muted[1], "┄" in muted[2], "═" in muted[4]] == [True, True, True]
    assert "┄" not in "".join(bench_picture(80, PLAIN))


def test_margins_stand_at_the_edges_once_seen() -> None:
    lines = bench_picture(80, replace(PLAIN, margins=Margins(bass_mm=3.25, treble_mm=4.5)))
    assert " 4.5 mm " in lines[0]
    assert " 3.2 mm " in lines[6]
