"""Recordings taken in block by block."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import resample_poly
from takes import RATE_HZ, recording, silence

from centwise.errors import InputError
from centwise.pitch.intake import Intake

RATES_HZ = (16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


def sine(rate_hz: int, at_hz: float, seconds: float = 0.5) -> np.ndarray:
    return 0.5 * np.sin(2.0 * np.pi * at_hz * np.arange(round(seconds * rate_hz)) / rate_hz)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_what_lies_below_the_pass_band_comes_through_in_place_and_size(rate_hz: int) -> None:
    taken = recording(sine(rate_hz, 440.0) + sine(rate_hz, 6000.0), rate_hz)
    assert 16_000 <= taken.rate_hz < 32_001
    assert taken.rate_hz * round(rate_hz / taken.rate_hz) == pytest.approx(rate_hz)
    assert taken.duration_s == pytest.approx(0.5, abs=1e-3)
    times_s = np.arange(taken.samples.size) / taken.rate_hz
    wanted = 0.5 * np.sin(2.0 * np.pi * 440.0 * times_s) + 0.5 * np.sin(2.0 * np.pi * 6000.0 * times_s)
    inner = slice(200, -200)
    np.testing.assert_allclose(taken.samples[inner], wanted[inner], atol=2e-4)


@pytest.mark.parametrize("rate_hz", [48_000, 96_000, 192_000])
def test_what_would_fold_back_into_the_pass_band_is_gone(rate_hz: int) -> None:
    for at_hz in (9_700.0, 12_000.0, 15_560.0, 16_440.0, 20_000.0):
        taken = recording(sine(rate_hz, at_hz), rate_hz)
        # -80 dB of the sine, away from the ends where it starts and stops.
        assert np.abs(taken.samples[200:-200]).max() < 0.5 * 1e-4


def test_blocks_of_any_length_give_the_same_samples() -> None:
    sound = np.random.default_rng(2).uniform(-0.5, 0.5, 30_000).astype(np.float32)
    whole = Intake(RATE_HZ, 1, "x")
    whole.add(sound)
    pieces = Intake(RATE_HZ, 1, "x")
    for start, stop in ((0, 1), (1, 2), (2, 50), (50, 51), (51, 20_000), (20_000, 30_000)):
        pieces.add(sound[start:stop])
    np.testing.assert_allclose(pieces.finish().samples, whole.finish().samples, atol=1e-6)


def test_it_is_no_worse_than_an_outside_resampler() -> None:
    # scipy's resample_poly with its own filter, on a sound within the pass band of both.
    sound = sine(RATE_HZ, 293.66) + 0.3 * sine(RATE_HZ, 2349.3)
    np.testing.assert_allclose(recording(sound).samples[200:-200], resample_poly(sound, 1, 3)[200:-200], atol=2e-3)


def test_two_channels_become_their_mean_unless_they_oppose_each_other() -> None:
    left = sine(RATE_HZ, 440.0)
    alone = recording(left).samples
    both = recording(np.stack((left, left), axis=1)).samples
    np.testing.assert_allclose(both, alone, atol=1e-6)
    opposed = recording(np.stack((left, -0.9 * left), axis=1)).samples
    np.testing.assert_allclose(opposed, alone, atol=1e-6)
    one_empty = recording(np.stack((np.zeros_like(left), left), axis=1)).samples
    np.testing.assert_allclose(one_empty, alone, atol=1e-6)


def test_clipping_is_placed() -> None:
    sound = 1.5 * sine(RATE_HZ, 200.0)
    sound[: RATE_HZ // 4] *= 0.5
    assert recording(sound).clipped_s.size == 0
    clipped = recording(np.clip(2.0 * sound, -1.0, 1.0)).clipped_s
    assert clipped.size > 10
    assert 0.25 <= clipped.min() < 0.26
    # A whole tone at full scale, not clipped, at the rate and depth where neighbours are most alike.
    crest = np.round(0.9999 * 2.0 * sine(192_000, 250.0) * 32767.0) / 32767.0
    assert recording(crest, 192_000).clipped_s.size == 0


@pytest.mark.parametrize("top", [0.97, 0.5, 0.3])
@pytest.mark.parametrize("bits", [16, 24])
def test_a_top_cut_off_before_it_was_turned_down_is_clipped_too(top: float, bits: int) -> None:
    steps = 2.0 ** (bits - 1)
    sound = np.concatenate((sine(RATE_HZ, 587.33), silence()))
    cut = np.round(np.clip(3.0 * sound, -1.0, 1.0) * top * steps) / steps
    for samples in (cut, np.stack((0.1 * sound, cut), axis=1)):
        assert recording(samples).clipped_s.size > 10
    # Not cut: a tone, a hum, and the same in 8 bits, where crests are flat by themselves.
    assert recording(np.round(sound * steps) / steps).clipped_s.size == 0
    assert recording(np.round(sine(RATE_HZ, 100.0) * steps) / steps).clipped_s.size == 0
    assert recording(np.round(sound * 128.0) / 128.0).clipped_s.size == 0


def test_the_peak_is_that_of_the_samples_as_they_were_recorded() -> None:
    for at_hz in (587.33, 12_000.0, 20_000.0):  # the low-pass takes the latter two
        assert recording(sine(RATE_HZ, at_hz) * 1.6).peak == pytest.approx(0.8, rel=0.01)
    assert recording(np.stack((0.2 * sine(RATE_HZ, 440.0), -sine(RATE_HZ, 440.0)), axis=1)).peak == pytest.approx(0.5)
    assert recording(silence()).peak == 0.0
    # A cut top overshoots once its high partials are taken away; full scale is still the most there is.
    assert recording(np.clip(9.0 * sine(RATE_HZ, 587.33), -1.0, 1.0)).peak == 1.0


@pytest.mark.parametrize(
    ("rate_hz", "channels", "frames", "words"),
    [
        (15_999, 1, None, "a rate of 15999 Hz"),
        (192_001, 1, None, "a rate of 192001 Hz"),
        (48_000, 64, None, "64 channels"),
        (48_000, 0, None, "0 channels"),
        (48_000, 1, 48_000 * 3601, "longer than an hour"),
    ],
)
def test_what_cannot_be_taken_in_is_refused(rate_hz: int, channels: int, frames: int | None, words: str) -> None:
    with pytest.raises(InputError, match=words):
        Intake(rate_hz, channels, "x.wav", frames)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_samples_that_are_no_numbers_are_refused(value: float) -> None:
    sound = silence()
    sound[5000] = value
    with pytest.raises(InputError, match=r"take\.wav holds samples that are not numbers"):
        recording(sound)


def test_nothing_at_all_is_refused() -> None:
    with pytest.raises(InputError, match="holds no sound at all"):
        recording(np.zeros(0))
