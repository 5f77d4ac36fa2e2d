"""The resampler against formulas and against scipy's, which knows nothing of it."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import resample_poly

from centwise.tones.resample import Reader

RATE_HZ = 48_000


@settings(max_examples=40, deadline=None)
@given(
    cents=st.floats(-110.0, 110.0),
    frequency_hz=st.floats(50.0, 16_000.0),
    phase=st.floats(0.0, 6.28),
    start=st.floats(0.0, 300.0),
)
def test_a_sine_comes_out_as_the_sine_of_the_other_pitch(
    cents: float, frequency_hz: float, phase: float, start: float
) -> None:
    ratio = 2.0 ** (cents / 1200.0)
    reader = Reader(0.5 / 2.0 ** (110.0 / 1200.0))
    samples = np.sin(2 * np.pi * frequency_hz * np.arange(8000) / RATE_HZ + phase)
    places = 200.0 + start + ratio * np.arange(6000)
    error = reader.read(samples, places) - np.sin(2 * np.pi * frequency_hz * places / RATE_HZ + phase)
    # -90 dB of full scale at any place: the filter's ripple and the lines between its phases.
    assert np.max(np.abs(error)) < 3.2e-5


def test_what_would_fold_back_is_stopped() -> None:
    reader = Reader(0.5 / 2.0)  # an octave up: from 12 kHz on all would fold
    samples = np.sin(2 * np.pi * 13_000.0 * np.arange(9000) / RATE_HZ)
    read = reader.read(samples, 300.0 + 2.0 * np.arange(4000))
    assert np.max(np.abs(read)) < 3.2e-5


def test_beside_another_resampler_at_a_rational_ratio() -> None:
    up, down = 160, 161  # 10.8 cents up
    rng = np.random.default_rng(5)
    spectrum = rng.standard_normal(2401) + 1j * rng.standard_normal(2401)
    spectrum[1200:] = 0.0  # nothing above 12 kHz, where the two filters may differ
    samples = np.fft.irfft(spectrum)
    theirs = resample_poly(samples, up, down, window=("kaiser", 12.0))
    ours = Reader(0.45).read(samples, float(Fraction(down, up)) * np.arange(len(theirs)))
    inner = slice(300, -300)
    assert np.max(np.abs(ours[inner] - theirs[inner])) < 2e-3 * np.max(np.abs(theirs))


def test_silence_lies_beyond_both_ends_and_a_constant_stays_one() -> None:
    reader = Reader(0.5)
    read = reader.read(np.ones(1000), np.array([-500.0, 499.25, 500.0, 1600.5]))
    np.testing.assert_allclose(read, [0.0, 1.0, 1.0, 0.0], atol=1e-6)
