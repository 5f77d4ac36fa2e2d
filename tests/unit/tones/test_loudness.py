"""K weighting against ITU-R BS.1770 itself and against pyloudnorm."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import freqz, lfilter
from tone_measures import STRINGS, single, tone_of

from centwise.tones.loudness import k_weighted_loudness, k_weighting_biquads, k_weighting_power

if TYPE_CHECKING:
    from centwise.model import ToneKind

RATES = (22_050, 44_100, 48_000, 96_000, 192_000)


def test_the_filters_are_the_printed_ones_at_48_khz() -> None:
    # Coefficients printed in ITU-R BS.1770-4, annex 1, tables 1 and 2.
    (shelf_b, shelf_a), (pass_b, pass_a) = k_weighting_biquads(48_000)
    assert shelf_b == pytest.approx((1.53512485958697, -2.69169618940638, 1.19839281085285), abs=1e-9)
    assert shelf_a == pytest.approx((1.0, -1.69065929318241, 0.73248077421585), abs=1e-9)
    assert pass_b == (1.0, -2.0, 1.0)
    assert pass_a == pytest.approx((1.0, -1.99004745483398, 0.99007225036621), abs=1e-9)


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_full_scale_sine_of_997_hz_reads_minus_3_01(rate_hz: int) -> None:
    # BS.1770, annex 1: 0 dBFS 997 Hz in one channel is -3.01 LKFS.
    sine = np.sin(2.0 * np.pi * 997.0 * np.arange(4 * rate_hz) / rate_hz)
    assert k_weighted_loudness(sine, rate_hz) == pytest.approx(-3.01, abs=0.01 if rate_hz == 48_000 else 0.05)


@pytest.mark.parametrize("rate_hz", RATES)
def test_the_gain_is_that_of_the_filters(rate_hz: int) -> None:
    frequency_hz = np.geomspace(20.0, 0.49 * rate_hz, 60)
    gain = np.ones(60, dtype=complex)
    for b, a in k_weighting_biquads(rate_hz):
        gain *= freqz(b, a, frequency_hz, fs=rate_hz)[1]
    assert np.allclose(k_weighting_power(frequency_hz, rate_hz), np.abs(gain) ** 2, rtol=1e-9)


def test_the_curve_is_the_same_at_every_rate() -> None:
    frequency_hz = np.geomspace(100.0, 3000.0, 30)
    at_48_khz = 10.0 * np.log10(k_weighting_power(frequency_hz, 48_000))
    for rate_hz in RATES:
        assert np.allclose(10.0 * np.log10(k_weighting_power(frequency_hz, rate_hz)), at_48_khz, atol=0.15)


@pytest.mark.parametrize("rate_hz", RATES)
def test_it_agrees_with_filtering_sample_by_sample(rate_hz: int) -> None:
    noise = np.random.default_rng(5).normal(size=rate_hz)
    filtered = noise
    for b, a in k_weighting_biquads(rate_hz):
        filtered = lfilter(b, a, filtered)
    expected = -0.691 + 10.0 * math.log10(np.mean(filtered**2))
    assert k_weighted_loudness(noise, rate_hz) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_it_agrees_with_pyloudnorm(rate_hz: int) -> None:
    # A steady sound, so that the gate of the integrated measure passes every block.
    noise = 0.1 * np.random.default_rng(6).normal(size=4 * rate_hz)
    meter = pyloudnorm.Meter(rate_hz)
    assert k_weighted_loudness(noise, rate_hz) == pytest.approx(meter.integrated_loudness(noise), abs=0.1)


def test_silence_has_no_loudness() -> None:
    assert k_weighted_loudness(np.zeros(1000), 48_000) == -math.inf
    assert k_weighted_loudness(np.zeros(0), 48_000) == -math.inf


@pytest.mark.parametrize("string", STRINGS)
def test_tones_of_one_touch_have_one_loudness(string: int) -> None:
    # The match is made in closed form, from the modes; here it is read off the samples.
    def loudness(kind: ToneKind, offset_cents: float, likeness: float) -> float:
        rendered = single(kind, string, offset_cents=offset_cents, likeness=likeness, rate_hz=48_000, seed=string)
        return k_weighted_loudness(tone_of(rendered), 48_000)

    harmonic = loudness("harmonic", 0.0, 0.0)
    for offset_cents in (-50.0, -5.0, 0.0, 5.0, 50.0):
        assert loudness("fretted", offset_cents, 0.0) == pytest.approx(harmonic, abs=0.3)
    assert loudness("harmonic", 0.0, 1.0) == pytest.approx(harmonic, abs=0.3)
