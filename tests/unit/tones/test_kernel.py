"""The bank of damped sinusoids against the sum written out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from centwise.tones.kernel import damped_bank

if TYPE_CHECKING:
    from numpy.typing import NDArray


def written_out(table: NDArray[np.float64], frames: int, rate_hz: int) -> NDArray[np.float64]:
    time = np.arange(frames) / rate_hz
    total = np.zeros(frames)
    for frequency, decay, amplitude, phase in table.T:
        total += amplitude * np.exp(-decay * time) * np.cos(2.0 * np.pi * frequency * time + phase)
    return total


@settings(max_examples=40, deadline=None)
@given(
    modes=st.lists(
        st.tuples(st.floats(0.0, 11_000.0), st.floats(0.0, 300.0), st.floats(-1.0, 1.0), st.floats(-10.0, 10.0)),
        max_size=30,
    ),
    frames=st.integers(0, 3000),
    rate_hz=st.sampled_from([22_050, 44_100, 192_000]),
)
def test_any_bank_is_the_sum_of_its_sines(
    modes: list[tuple[float, float, float, float]], frames: int, rate_hz: int
) -> None:
    table = np.array(modes).reshape(-1, 4).T
    assert np.allclose(
        damped_bank(*table, frames=frames, rate_hz=rate_hz), written_out(table, frames, rate_hz), atol=1e-10
    )


def test_two_seconds_of_forty_partials_keep_their_phase() -> None:
    number = np.arange(1, 41)
    table = np.array([number * 293.66, 1.0 + number / 10.0, 1.0 / number, number * 0.7])
    bank = damped_bank(*table, frames=96_000, rate_hz=48_000)
    assert np.max(np.abs(bank - written_out(table, 96_000, 48_000))) < 1e-11


@pytest.mark.parametrize("frames", [0, 1, 15, 16, 17, 255, 256, 257, 4097])
def test_every_length_comes_out_as_asked(frames: int) -> None:
    assert damped_bank([100.0], [1.0], [1.0], [0.0], frames=frames, rate_hz=8000).shape == (frames,)
    assert damped_bank([], [], [], [], frames=frames, rate_hz=8000).tolist() == [0.0] * frames
