"""Values that scatter, combined; the quantiles it needs."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from centwise.pitch.combine import pool
from centwise.pitch.partials import _window_correlation
from centwise.pitch.quantiles import chi_square_999, student_95


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 7, 10, 30, 200])
def test_the_quantiles_are_those_of_scipy(freedom: int) -> None:
    assert student_95(freedom) == pytest.approx(stats.t.ppf(0.95, freedom), rel=2e-3)
    assert chi_square_999(freedom) == pytest.approx(stats.chi2.ppf(0.999, freedom), rel=0.04)


def test_values_that_agree_count_by_their_own_errors() -> None:
    found = pool(np.array([1.0, 1.1, 0.95]), np.array([0.01, 0.04, 0.01]))
    # The inverse-variance mean and its error, by hand: weights 100, 25, 100.
    assert found.mean == pytest.approx((100.0 + 27.5 + 95.0) / 225.0)
    assert found.std_error == pytest.approx(1.0 / 15.0)
    assert found.excess_sd == 0.0


def test_one_value_is_itself() -> None:
    found = pool(np.array([3.0]), np.array([0.25]))
    assert (found.mean, found.std_error, found.excess_sd) == (3.0, 0.5, 0.0)


def test_one_far_out_value_hardly_moves_the_mean() -> None:
    values = np.array([0.1, -0.1, 0.05, 0.0, -0.05, 30.0])
    found = pool(values, np.full(6, 1e-4))
    assert abs(found.mean) < 0.3  # as against 5 for the plain mean
    assert found.weights[-1] < 0.02
    assert found.std_error > 0.03


def test_many_faint_values_that_agree_do_not_outvote_the_loud_ones() -> None:
    values = np.array([-4.0, -4.02, -3.98, 0.0, 0.01, 0.0, 0.02, -0.01])
    variances = np.array([2e-3, 2e-3, 2e-3, 1e-4, 1e-4, 1e-4, 1e-4, 1e-4])
    loudness = 10.0 ** (np.array([0.0, -3.0, -10.0, -25.0, -30.0, -30.0, -32.0, -32.0]) / 20.0)
    assert pool(values, variances).mean == pytest.approx(0.0, abs=0.2)
    found = pool(values, variances, loudness)
    assert abs(found.mean + 4.0) < 1.645 * found.std_error < 0.5


def test_how_loud_values_are_counts_only_where_they_scatter_and_differ() -> None:
    loudness = np.array([1.0, 0.1, 0.5])
    agree, variances = np.array([1.0, 1.1, 0.95]), np.array([0.01, 0.04, 0.01])
    assert pool(agree, variances, loudness).mean == pool(agree, variances).mean
    scatter = np.array([1.0, 3.0, 0.0])
    alike, without = pool(scatter, variances, np.full(3, 0.3)), pool(scatter, variances)
    assert (alike.mean, alike.std_error, alike.excess_sd) == (without.mean, without.std_error, without.excess_sd)
    assert abs(pool(scatter, variances, loudness).mean) < abs(without.mean)
    # Twice as loud all over is the same.
    assert pool(scatter, variances, 2.0 * loudness).mean == pytest.approx(pool(scatter, variances, loudness).mean)


@pytest.mark.parametrize("count", [2, 3, 5, 10])
def test_the_error_of_scattering_values_covers_as_it_says(count: int) -> None:
    rng = np.random.default_rng(count)
    inside = 0
    for _ in range(2000):
        found = pool(rng.normal(0.0, 1.5, count), np.full(count, 1e-6))
        inside += abs(found.mean) < 1.645 * found.std_error
    # 90 % are promised; 2000 trials have a standard error of 0.7 %.
    assert 0.87 <= inside / 2000 <= 0.93


def test_the_error_of_agreeing_values_covers_as_it_says() -> None:
    rng = np.random.default_rng(7)
    variances = np.array([0.01, 0.04, 0.09, 0.01, 0.25])
    inside = sum(
        abs(found.mean) < 1.645 * found.std_error
        for found in (pool(rng.normal(0.0, np.sqrt(variances)), variances) for _ in range(2000))
    )
    assert 0.87 <= inside / 2000 <= 0.93


def test_neighbouring_windows_are_correlated_as_white_noise_says() -> None:
    noise = np.random.default_rng(3).standard_normal((4000, 1120))
    window = np.hanning(641)[:-1]
    frames = np.stack([noise[:, lag * 160 : lag * 160 + 640] @ window for lag in range(4)])
    measured = (frames @ frames[0]) / (frames[0] @ frames[0])
    np.testing.assert_allclose(_window_correlation(), measured, atol=0.05)
