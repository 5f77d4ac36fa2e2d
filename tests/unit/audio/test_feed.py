from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.audio.feed import FADE_S, Feed
from centwise.audio.miniaudio_stream import PERIOD_MS, PERIODS

RATE_HZ = 48_000
PERIOD = RATE_HZ * PERIOD_MS // 1000
FADE = round(FADE_S * RATE_HZ)


def ones(frames: int) -> np.ndarray:
    return np.ones(frames, np.float32)


def test_silence_until_something_is_started() -> None:
    feed = Feed(RATE_HZ, 2 * PERIOD)
    assert not np.any(feed.block(PERIOD))


def test_a_sound_goes_out_whole_from_its_first_sample() -> None:
    feed = Feed(RATE_HZ, 2 * PERIOD)
    samples = np.linspace(0.1, 0.9, 2500, dtype=np.float32)
    voice = feed.start(samples)
    out = np.concatenate([feed.block(PERIOD) for _ in range(4)])
    np.testing.assert_array_equal(out[:2500], samples)
    assert not np.any(out[2500:])
    assert voice.ended


def test_it_is_over_only_when_the_device_can_hold_nothing_of_it() -> None:
    feed = Feed(RATE_HZ, 2 * PERIOD)
    voice = feed.start(ones(PERIOD))
    feed.block(PERIOD)
    assert voice.ended
    assert not voice.over.is_set()
    feed.block(PERIOD)
    assert not voice.over.is_set()
    feed.block(PERIOD)
    assert voice.over.is_set()


def test_a_stop_leaves_no_more_than_buffer_and_fade_and_so_stays_within_50_ms() -> None:
    feed = Feed(RATE_HZ, PERIODS * PERIOD)
    voice = feed.start(ones(RATE_HZ))
    for _ in range(5):
        feed.block(PERIOD)
    voice.stop()
    after = np.concatenate([feed.block(PERIOD) for _ in range(PERIODS + 1)])
    sounding = np.flatnonzero(after)
    assert len(sounding) == FADE
    assert np.all(np.diff(after[: FADE + 1]) <= 0.0)
    assert np.max(np.abs(np.diff(np.concatenate([ones(1), after])))) < 0.01
    # At worst the device's buffer has just been filled when the stop comes.
    assert (PERIODS * PERIOD + len(sounding)) / RATE_HZ <= 0.050
    assert voice.over.is_set()


def test_a_new_sound_begins_in_the_block_where_the_old_one_has_faded() -> None:
    feed = Feed(RATE_HZ, 2 * PERIOD)
    old = feed.start(ones(RATE_HZ))
    feed.block(PERIOD)
    new = feed.start(-ones(100))
    block = feed.block(PERIOD)
    assert np.all(block[:FADE] > 0.0)
    np.testing.assert_array_equal(block[FADE : FADE + 100], -ones(100))
    assert not np.any(block[FADE + 100 :])
    for _ in range(3):
        feed.block(PERIOD)
    assert old.over.is_set()
    assert new.over.is_set()


def test_a_sound_stopped_before_it_began_is_never_heard() -> None:
    feed = Feed(RATE_HZ, 2 * PERIOD)
    voice = feed.start(ones(100))
    voice.stop()
    assert not np.any(feed.block(PERIOD))
    assert voice.over.is_set()
    assert voice.handed == 0


def test_stopping_what_is_over_changes_nothing() -> None:
    feed = Feed(RATE_HZ, PERIOD)
    voice = feed.start(ones(10))
    feed.block(PERIOD)
    feed.block(PERIOD)
    voice.stop()
    feed.block(PERIOD)
    assert voice.over.is_set()
    assert voice.handed == 10


events = st.lists(
    st.one_of(
        st.tuples(st.just("start"), st.integers(1, 3000), st.floats(0.0, 1.0, width=32)),
        st.tuples(st.just("stop"), st.integers(0, 5), st.just(0.0)),
        st.tuples(st.just("block"), st.integers(1, 1500), st.just(0.0)),
    ),
    max_size=40,
)


@given(events)
def test_no_block_is_ever_louder_than_the_sounds_it_is_from(sequence: list[tuple[str, int, float]]) -> None:
    feed = Feed(RATE_HZ, 2 * PERIOD)
    noise = np.random.default_rng(1)
    ceiling, voices = np.float32(0.0), []
    for kind, number, peak in sequence:
        if kind == "start":
            samples = (noise.uniform(-1.0, 1.0, number) * peak).astype(np.float32)
            ceiling = max(ceiling, np.max(np.abs(samples)))
            voices.append(feed.start(samples))
        elif kind == "stop" and voices:
            voices[number % len(voices)].stop()
        elif kind == "block":
            block = feed.block(number)
            assert block.dtype == np.float32
            assert block.shape == (number,)
            assert np.max(np.abs(block)) <= ceiling
    for _ in range(200):
        feed.block(PERIOD)
    assert all(voice.over.is_set() for voice in voices)


@pytest.mark.parametrize("frames", [1, FADE - 1, FADE, FADE + 1])
def test_a_stop_near_the_end_of_a_sound(frames: int) -> None:
    feed = Feed(RATE_HZ, PERIOD)
    voice = feed.start(ones(PERIOD + frames))
    feed.block(PERIOD)
    voice.stop()
    assert len(np.flatnonzero(feed.block(PERIOD))) == min(frames, FADE)
    feed.block(PERIOD)
    assert voice.over.is_set()
