"""The loop's test sound read back from recordings made by the test: planted clocks, noise, delays and gaps.

The planted clock is a cubic spline through the sound (scipy), so nothing of the reading is in it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

from centwise.errors import InputError
from centwise.pitch.loop import CHIRP_PEAK_DBFS, TONE_HZ, loop_sound, read_loop

if TYPE_CHECKING:
    from numpy.typing import NDArray

RATE_HZ = 48_000
QUIET = RATE_HZ // 2
SENT = loop_sound(RATE_HZ)
GAIN = 0.3
TONE_DBFS = -18.0 + 20.0 * math.log10(GAIN)


def come_back(
    *, ppm: float = 0.0, noise_db: float = 60.0, seed: int = 1, rate_hz: int = RATE_HZ, late: int = 0
) -> NDArray[np.float32]:
    """Half a second of quiet, the sound as a player fast by so many ppm gives it, a second of quiet; noise over all."""
    sent = np.concatenate((np.zeros(rate_hz // 2 + late), loop_sound(rate_hz).samples, np.zeros(rate_hz)))
    places = np.arange(int(sent.size / (1.0 + 1e-6 * ppm)) - 8) * (1.0 + 1e-6 * ppm)
    noise = GAIN * 10.0 ** ((-18.0 - noise_db) / 20.0) / math.sqrt(2.0)
    heard = GAIN * CubicSpline(np.arange(sent.size), sent)(places)
    return (heard + np.random.default_rng(seed).normal(0.0, noise, places.size)).astype(np.float32)


def test_the_sound_is_soft_begins_and_ends_with_nothing_and_has_no_step() -> None:
    sound = loop_sound(RATE_HZ).samples
    assert sound.dtype == np.float32
    assert np.max(np.abs(sound)) <= 10.0 ** (CHIRP_PEAK_DBFS / 20.0) + 1e-7
    assert sound[0] == sound[-1] == 0.0
    # A sinusoid of 6 kHz at the peak moves by 2 sin(pi 6/48) = 0.77 of it in a frame; a click would move by more.
    assert np.max(np.abs(np.diff(sound))) < 0.8 * np.max(np.abs(sound))


@pytest.mark.parametrize("ppm", [0.0, -37.0, 2900.0])
def test_a_planted_clock_is_read_as_sure_as_it_says(ppm: float) -> None:
    errors = []
    for seed in range(12):
        found = read_loop(come_back(ppm=ppm, noise_db=40.0, seed=seed), SENT, QUIET)
        errors.append((found.clock_ppm - ppm) / found.clock_error_ppm)
        assert found.clock_error_ppm < 0.01
        assert found.clock_cents == pytest.approx(1200.0 * math.log2(1.0 + 1e-6 * ppm), abs=1e-4)
        assert abs(found.slip_frames) < 0.5
    # Twelve standardised errors: their root mean square lies within 0.6 and 1.5 of 1 with 99 %.
    assert 0.5 < float(np.sqrt(np.mean(np.square(errors)))) < 1.5


@settings(max_examples=8, deadline=None)
@given(ppm=st.floats(-500.0, 500.0), seed=st.integers(0, 1000), late=st.integers(0, 20_000))
def test_any_clock_and_delay(ppm: float, seed: int, late: int) -> None:
    found = read_loop(come_back(ppm=ppm, noise_db=30.0, seed=seed, late=late), SENT, QUIET)
    assert abs(found.clock_ppm - ppm) < 5.0 * found.clock_error_ppm
    # A fast clock brings the sweep up a little sooner: 0.3 s of it count (derived: sweep rate over pitch).
    assert found.first_frame == pytest.approx((QUIET + late) / (1.0 + 1e-6 * ppm), abs=4.0)


@pytest.mark.parametrize("noise_db", [60.0, 40.0, 20.0])
def test_level_and_noise(noise_db: float) -> None:
    found = read_loop(come_back(noise_db=noise_db), SENT, QUIET)
    assert found.level_dbfs == pytest.approx(TONE_DBFS, abs=0.1)
    assert found.noise_dbfs == pytest.approx(TONE_DBFS - noise_db, abs=0.2)
    assert not found.clipped


def test_digital_silence_has_no_level() -> None:
    assert read_loop(come_back(noise_db=300.0), SENT, QUIET).noise_dbfs == -math.inf


@pytest.mark.parametrize(("frames", "slip"), [(480, -480.0), (37, -37.0)])
def test_lost_frames_are_counted(frames: int, slip: float) -> None:
    heard = come_back()
    gap = QUIET + RATE_HZ * 2
    found = read_loop(np.delete(heard, slice(gap, gap + frames)), SENT, QUIET)
    # The jump of the phase moves the tone's reading by half a turn in 3.8 s at most, 130 ppm or 30 frames of distance.
    assert found.slip_frames == pytest.approx(slip, abs=45.0)
    assert abs(found.slip_frames) > 3.0


def test_what_is_sent_along_comes_back_where_it_is_told_and_gaps_in_it_are_counted() -> None:
    along = np.sin(np.arange(2 * RATE_HZ)).astype(np.float32)
    sent = loop_sound(RATE_HZ, along)
    assert np.array_equal(sent.samples[sent.along_frame : sent.along_frame + along.size], along)
    heard = np.concatenate((np.zeros(QUIET, np.float32), 0.5 * sent.samples, np.zeros(RATE_HZ, np.float32)))
    found = read_loop(heard, sent, QUIET)
    assert (found.first_frame, found.slip_frames) == pytest.approx((QUIET, 0.0), abs=0.01)
    gap = QUIET + sent.along_frame + RATE_HZ
    assert read_loop(np.delete(heard, slice(gap, gap + 240)), sent, QUIET).slip_frames == pytest.approx(-240.0, abs=0.1)


def test_a_clock_that_wanders_is_less_sure() -> None:
    sent = np.concatenate((np.zeros(QUIET), loop_sound(RATE_HZ).samples, np.zeros(RATE_HZ)))
    frames = np.arange(sent.size - 200)
    # A swing of 60 ppm over two seconds, whole turns within the tone.
    places = frames + 60e-6 * RATE_HZ / math.pi * np.sin(math.pi * frames / RATE_HZ)
    heard = (GAIN * CubicSpline(np.arange(sent.size), sent)(places)).astype(np.float32)
    found = read_loop(heard, SENT, QUIET)
    assert found.clock_error_ppm > 5.0
    # The swing's quarters of a second each average 60 ppm of a sine over half a turn: by 2/pi, 38 ppm, 0.066 cents.
    assert found.wander_cents > 0.02
    assert abs(found.clock_ppm) < 3.0 * found.clock_error_ppm


def test_a_rate_taken_for_another_is_read_too() -> None:
    found = read_loop(come_back(ppm=1e6 * (44.1 / 48.0 - 1.0)), SENT, QUIET)
    assert found.clock_cents == pytest.approx(1200.0 * math.log2(44.1 / 48.0), abs=0.001)
    assert TONE_HZ * 44.1 / 48.0 > 800.0


@pytest.mark.parametrize("seed", range(8))
def test_noise_alone_silence_and_half_a_sound_are_refused(seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0.0, 0.1, 8 * RATE_HZ).astype(np.float32)
    for nothing in (noise, np.zeros(8 * RATE_HZ, np.float32), np.zeros(10, np.float32), come_back()[: 3 * RATE_HZ]):
        with pytest.raises(InputError, match="did not come back"):
            read_loop(nothing, SENT, QUIET)


def test_a_sound_that_is_clipped_says_so() -> None:
    assert read_loop(np.clip(40.0 * come_back(), -1.0, 1.0), SENT, QUIET).clipped
