"""What the machine's speed is measured by, for work that has no reference of its own: a sum of sines the plain way."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

RATE_HZ = 48_000
FRAMES = 2 * RATE_HZ
NUMBER = np.arange(1, 41)
TABLE = (NUMBER * 293.66, 1.0 + 0.2 * NUMBER, 1.0 / NUMBER, 0.7 * NUMBER)
LOOP = "the sine loop"
"""What `sine_loop` is called in the table."""


def sine_loop() -> NDArray[np.float64]:
    """Sum 40 partials over 2 s the plain way: a decay and a sine for every partial."""
    times_s = np.arange(FRAMES) / RATE_HZ
    total = np.zeros(FRAMES)
    for frequency_hz, decay, amplitude, phase in zip(*TABLE, strict=True):
        total += amplitude * np.exp(-decay * times_s) * np.sin(2.0 * np.pi * frequency_hz * times_s + phase + np.pi / 2)
    return total


def best_s(call: Callable[[], object], rounds: int = 15) -> float:
    """Return the shortest time of a call, after one to warm up: what else the machine does only ever adds to it."""
    call()
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return min(taken)
