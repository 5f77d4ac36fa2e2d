"""Microphones that hear a session: notes played when they are asked for, made by the test itself from sines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fakes import ManualClock, ScriptedRecorder

if TYPE_CHECKING:
    from numpy.typing import NDArray

RATE_HZ = 48_000
D5_HZ = 587.3295


def pluck(cents: float, *, hz: float = D5_HZ, level: float = 0.15, seconds: float = 3.0) -> NDArray[np.float32]:
    """A pluck with six partials and a pause before it."""
    times_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    first_hz = hz * 2.0 ** (cents / 1200.0)
    sound = sum(
        np.exp(-(2.0 + 0.3 * m) * times_s) * np.sin(2 * np.pi * m * first_hz * times_s + m) / m for m in range(1, 7)
    )
    sound[:40] *= np.linspace(0.0, 1.0, 40)
    return np.concatenate([np.zeros(RATE_HZ // 2), level * sound]).astype(np.float32)


def noise(seconds: float, level: float = 1e-5, seed: int = 1) -> NDArray[np.float32]:
    return (level * np.random.default_rng(seed).standard_normal(round(seconds * RATE_HZ))).astype(np.float32)


class Player:
    """Plays the next of its sounds whenever a note is asked for, into a scripted microphone."""

    def __init__(self, sounds: list[NDArray[np.float32]], *, lost_at_s: float | None = None) -> None:
        self.clock = ManualClock()
        self.recorder = ScriptedRecorder(self.clock, noise(300.0), lost_at_s=lost_at_s)
        self._sounds = iter(sounds)

    def now(self) -> None:
        """The note may be played."""
        sound = next(self._sounds)
        self.recorder.hear(np.concatenate([sound + noise(len(sound) / RATE_HZ, seed=2), noise(60.0, seed=3)]))
