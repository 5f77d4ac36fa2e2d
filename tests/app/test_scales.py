"""The two scales, of leaning and of thresholds: exact widths, and places that follow the cents."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_result import RESULT

from centwise.model import JUDGEMENTS, SIGNS, judgement_of
from centwise.tui.lean_scale import column_of, lean_lines
from centwise.tui.threshold_scale import LEAST_CENTS, MOST_CENTS, threshold_lines

WIDTHS = (40, 41, 54, 56, 79, 96, 120)
cents = st.floats(-100.0, 100.0, allow_nan=False)
widths = st.integers(40, 120)


@given(widths, cents | st.none(), st.sampled_from((*JUDGEMENTS, None)))
def test_the_lean_scale_has_exactly_the_width_asked_for(width: int, truth: float | None, answer: str | None) -> None:
    lines = lean_lines(width, truth, answer)  # type: ignore[arg-type]
    assert [len(line) for line in lines] == [width] * 3
    if truth is None:
        assert "◆" not in lines[1]
    else:
        assert lines[1].index("◆") == column_of(truth, width)


@given(widths, cents, cents)
def test_the_place_never_runs_against_the_cents(width: int, one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert column_of(low, width) <= column_of(high, width)
    assert 0 <= column_of(low, width) < width


@given(widths, cents)
def test_flat_lies_left_of_the_middle_and_sharp_right(width: int, offset: float) -> None:
    middle = (width - 1) / 2
    column = column_of(offset, width)
    assert abs((column - middle) + (column_of(-offset, width) - middle)) <= 1
    if abs(offset) >= 1.0:
        assert (column < middle) == (judgement_of(offset) == "flat")


@pytest.mark.parametrize("width", WIDTHS)
def test_words_signs_and_places_agree(width: int) -> None:
    head, line, foot = lean_lines(width, None, None)
    assert head.startswith("♭ flat")
    assert head.endswith("♯ sharp")
    assert abs(head.index("= unison") + 4 - line.index("┼")) <= 1
    for mark in ("40", "10", "2", "0"):
        assert mark in foot
    for answer in JUDGEMENTS:
        marked = lean_lines(width, 0.0, answer)
        assert f"[{SIGNS[answer]} {answer}]" in marked[0]
        assert marked[0].count("[") == 1
        assert "0 cents" in marked[2]


@given(st.integers(40, 120), st.floats(0.2, 200.0), st.floats(1.0, 3.0), st.floats(1.0, 3.0))
def test_the_threshold_lies_in_its_interval(width: int, threshold: float, below: float, above: float) -> None:
    result = replace(RESULT, threshold_cents=threshold, low_cents=threshold / below, high_cents=threshold * above)
    line, foot = threshold_lines(width, result)
    assert len(line) == len(foot) == width
    assert line.count("◆") == 1
    left = line.find("┣")
    right = line.find("┫")
    assert left <= line.index("◆")
    assert right == -1 or line.index("◆") <= right


def test_a_finer_ear_lies_further_left() -> None:
    places = []
    for threshold in (LEAST_CENTS, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, MOST_CENTS):
        result = replace(RESULT, threshold_cents=threshold, low_cents=threshold, high_cents=threshold)
        places.append(threshold_lines(54, result)[0].index("◆"))
    assert places == sorted(places)
    assert len(set(places)) == len(places)
    assert (places[0], places[-1]) == (0, 53)
    # Equal ratios of cents are equal distances.
    steps = [b - a for a, b in pairwise(places[:-1])]
    assert max(steps) - min(steps) <= 1
