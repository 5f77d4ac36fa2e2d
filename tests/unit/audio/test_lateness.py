"""Holes told by when a device asks for its blocks, against a device played through frame by frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.audio.feed import Feed
from centwise.audio.lateness import SURE_BLOCKS, Lateness

RATE_HZ = 48_000
BLOCK = 960
BUFFER = 2 * BLOCK
BLOCK_S = BLOCK / RATE_HZ


def read(lates_s: list[float]) -> float:
    lateness = Lateness()
    for late_s in lates_s:
        lateness.asked(late_s)
    return lateness.lost_s


def device(delays_s: list[float], clock: float = 1.0) -> tuple[list[float], float]:
    """Play a device of two blocks that asks as soon as one has room, and is served after a delay.

    Args:
        delays_s: how long each block is waited for.
        clock: how fast the device plays.

    Returns:
        How late each block was asked for, as the stream sees it, and the longest silence.
    """
    rate = RATE_HZ * clock
    now_s, queued, handed, lates_s, longest_s = 0.0, 0.0, 0, [], 0.0
    for number, delay_s in enumerate(delays_s):
        # It asks once there is room for a block.
        wait_s = max(0.0, (queued - (BUFFER - BLOCK)) / rate)
        gone_s = wait_s + delay_s
        if number:
            longest_s = max(longest_s, gone_s - queued / rate)
        now_s += gone_s
        lates_s.append(now_s - handed / RATE_HZ)
        queued = max(0.0, queued - gone_s * rate) + BLOCK
        handed += BLOCK
    return lates_s, max(0.0, longest_s)


def test_exact_values() -> None:
    assert read([]) == 0.0
    assert read([5.0] * 50) == 0.0
    assert read([0.0] * 10 + [0.2] * SURE_BLOCKS) == pytest.approx(0.2)
    assert read([0.0] * 10 + [0.2] * (SURE_BLOCKS - 1)) == 0.0
    # Bridged by the buffer, and caught up with.
    assert read([0.0] * 10 + [0.035, 0.015, 0.0] + [0.0] * 9) == 0.0
    # Two holes: the longer rise from the beginning.
    assert read([0.0] * 9 + [0.02] * 9 + [0.05] * 9) == pytest.approx(0.05)


@given(st.lists(st.floats(0.0, 0.019), min_size=40, max_size=60), st.floats(0.9995, 1.0005), st.floats(-1e4, 1e4))
def test_a_device_that_is_served_in_time_has_no_hole(delays_s: list[float], clock: float, zero_s: float) -> None:
    lates_s, heard_s = device(delays_s, clock)
    assert heard_s == 0.0
    assert read([late_s + zero_s for late_s in lates_s]) < 0.01 + BLOCK_S


@given(
    st.lists(st.floats(0.0, 0.004), min_size=60, max_size=60),
    st.integers(5, 60 - SURE_BLOCKS - 1),
    st.floats(0.06, 1.5),
)
def test_a_hole_is_read_as_long_as_it_was(delays_s: list[float], place: int, held_s: float) -> None:
    delays_s[place] = held_s
    lates_s, heard_s = device(delays_s)
    assert heard_s > 0.015
    assert read(lates_s) == pytest.approx(heard_s, abs=0.006)


def test_only_what_sounds_takes_the_lateness_down() -> None:
    feed = Feed(RATE_HZ, BUFFER)
    feed.block(BLOCK, 0.0)
    voice = feed.start(np.full(BLOCK * 20, 0.5, np.float32))
    # A hole before its first block is none of its own.
    for late_s in [0.5] * 20 + [0.9] * 10:
        feed.block(BLOCK, late_s)
    assert voice.over.is_set()
    assert voice.lateness.lost_s == 0.0
    voice = feed.start(np.full(BLOCK * 20, 0.5, np.float32))
    for late_s in [0.9] * 8 + [1.1] * 12:
        feed.block(BLOCK, late_s)
    assert voice.lateness.lost_s == pytest.approx(0.2)
