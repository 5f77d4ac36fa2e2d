from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from centwise.ear.normal import Z_75, Z_90_TWO_SIDED, normal_cdf, normal_density
from centwise.ear.observer import response_probabilities
from centwise.errors import InputError

# Offset, sigma, bias, window, lapse rate, then flat, unison, sharp: worked out once with an independent normal cdf.
CELLS = [
    ((0, 1, 0, 1, 0), (0.158655, 0.682689, 0.158655)),
    ((1, 1, 0, 1, 0), (0.022750, 0.477250, 0.500000)),
    ((10, 8, 0, 6, 0.02), (0.028962, 0.286738, 0.684300)),
    ((-5, 5, 2, 5, 0.03), (0.344241, 0.592604, 0.063155)),
]

offsets = st.floats(-100, 100)
sigmas = st.floats(0.3, 120)
biases = st.floats(-60, 60)
windows = st.floats(0, 120)
lapses = st.floats(0, 1)


def test_the_normal_function_against_scipy() -> None:
    x = np.concatenate((np.linspace(-36, 36, 30_001), [-np.inf, np.inf, 7.0710678118654755, -7.0710678118654755]))
    assert np.abs(normal_cdf(x) - stats.norm.cdf(x)).max() < 1e-15
    below = x[(x < 0) & np.isfinite(x)]
    assert np.abs(normal_cdf(below) / stats.norm.cdf(below) - 1).max() < 1e-8
    assert np.abs(normal_density(x) - stats.norm.pdf(x)).max() < 1e-16
    assert stats.norm.ppf(0.75) == pytest.approx(Z_75, abs=1e-15)
    assert stats.norm.ppf(0.95) == pytest.approx(Z_90_TWO_SIDED, abs=1e-15)


@pytest.mark.parametrize(("parameters", "expected"), CELLS)
def test_the_check_cells(parameters: tuple[float, ...], expected: tuple[float, ...]) -> None:
    assert response_probabilities(*parameters) == pytest.approx(expected, abs=1e-6)


@given(offsets, sigmas, biases, windows, lapses)
def test_against_scipy(offset: float, sigma: float, bias: float, window: float, lapse: float) -> None:
    flat = (1 - lapse) * stats.norm.cdf(-window, loc=offset + bias, scale=sigma) + lapse / 3
    sharp = (1 - lapse) * stats.norm.sf(window, loc=offset + bias, scale=sigma) + lapse / 3
    found = response_probabilities(offset, sigma, bias, window, lapse)
    assert found == pytest.approx([flat, 1 - flat - sharp, sharp], abs=1e-12)


@given(offsets, sigmas, biases, windows, lapses)
def test_chances_sum_to_one_and_mirror(offset: float, sigma: float, bias: float, window: float, lapse: float) -> None:
    chances = response_probabilities(offset, sigma, bias, window, lapse)
    assert chances.sum() == pytest.approx(1.0, abs=1e-12)
    assert np.all(chances >= 0)
    mirrored = response_probabilities(-offset, sigma, -bias, window, lapse)
    assert mirrored == pytest.approx(chances[::-1], abs=1e-15)


def test_unison_at_no_offset_is_what_the_window_makes_of_it() -> None:
    # 2 Phi(c / sigma) - 1, derived: .38, .50, .68, .87, .95.
    chances = response_probabilities(0.0, 1.0, 0.0, np.array([0.5, Z_75, 1.0, 1.5, 2.0]), 0.0)[:, 1]
    assert chances == pytest.approx([0.38, 0.50, 0.68, 0.87, 0.95], abs=0.006)


def test_arguments_broadcast() -> None:
    assert response_probabilities(np.zeros((4, 1)), np.ones(3), 0.0, 1.0, 0.02).shape == (4, 3, 3)


@pytest.mark.parametrize(
    ("parameters", "message"),
    [
        ((0, 0, 0, 1, 0), "a sigma of 0 is not possible in the observer: give a value above 0"),
        ((0, [1, -2], 0, 1, 0), "a sigma of -2"),
        ((np.nan, 1, 0, 1, 0), "an? offset of nan"),
        ((0, 1, np.inf, 1, 0), "a bias of inf"),
        ((0, 1, 0, -0.5, 0), "a window of -0.5 .* of 0 or more"),
        ((0, 1, 0, 1, 1.5), "a lapse rate of 1.5 .* from 0 to 1"),
    ],
)
def test_impossible_parameters(parameters: tuple[float, ...], message: str) -> None:
    with pytest.raises(InputError, match=message):
        response_probabilities(*parameters)
