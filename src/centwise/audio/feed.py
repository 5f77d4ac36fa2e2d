"""What a running stream is fed with: silence, and one sound at a time, faded when it is stopped. No device in here.

The audio thread calls `Feed.block`; other threads call `start` and `Voice.stop`. They meet only in attributes and a
deque that are read and set whole, so the audio thread never waits for a lock. Imports numpy, model and below.
"""

from __future__ import annotations

from collections import deque
from threading import Event
from typing import TYPE_CHECKING

import numpy as np

from centwise.audio.lateness import Lateness

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import Samples

FADE_S = 0.006
"""Length of the fade of a stop: short against the 50 ms allowed, long enough not to click (our judgement)."""


class Voice:
    """One sound in the feed.

    Args:
        samples: float32, shape (frames,), at the level they are to be heard.

    Attributes:
        handed: frames that have been handed to the device.
        last_block: how many of them came with the latest block.
        over: set once its last frame has left the device's buffer, or it was stopped before it began.
        stopped: whether a stop was asked for.
        lateness: tells holes in it.
    """

    def __init__(self, samples: Samples) -> None:
        self.handed = 0
        self.last_block = 0
        self.over = Event()
        self.stopped = False
        self.lateness = Lateness()
        self._source = samples
        self._at = 0
        self._fading = False
        self._tail = 0

    @property
    def ended(self) -> bool:
        """Whether every frame of it has been handed over."""
        return self._at >= len(self._source)

    def stop(self) -> None:
        """Ask for a fade in the next block."""
        self.stopped = True

    def fill(self, block: NDArray[np.float32], ramp: NDArray[np.float32]) -> int:
        """Put its next frames into a silent block; return how many frames that took."""
        if self.stopped and not self._fading:
            self._fading = True
            fade = self._source[self._at : self._at + len(ramp)] if self.handed else self._source[:0]
            self._source, self._at = fade * ramp[: len(fade)], 0
        count = min(len(block), len(self._source) - self._at)
        block[:count] = self._source[self._at : self._at + count]
        self._at += count
        self.handed += count
        self.last_block = count
        return count

    def rest(self, frames: int, buffer_frames: int) -> None:
        """Count the frames handed after its end; it is over when the device's buffer can hold nothing of it."""
        self._tail += frames
        if self._tail >= buffer_frames or not self.handed:
            self.over.set()


class Feed:
    """Blocks for a stream.

    Args:
        rate_hz: frames per second.
        buffer_frames: what the device may hold at once.
    """

    def __init__(self, rate_hz: int, buffer_frames: int) -> None:
        frames = round(FADE_S * rate_hz)
        self._ramp = (np.cos(np.linspace(0.0, np.pi / 2.0, frames + 2)[1:-1]) ** 2).astype(np.float32)
        self._buffer_frames = buffer_frames
        self._waiting: deque[Voice] = deque()
        self._ending: list[Voice] = []
        self._voice: Voice | None = None
        self._latest: Voice | None = None

    def start(self, samples: Samples) -> Voice:
        """Let a sound begin as soon as the one before has faded; not for the audio thread, one caller at a time."""
        voice = Voice(samples)
        if self._latest is not None:
            self._latest.stop()
        self._latest = voice
        self._waiting.append(voice)
        return voice

    def stop(self) -> Event:
        """Fade out whatever sounds; the event is set once the device can hold nothing of it."""
        if self._latest is None:
            silent = Event()
            silent.set()
            return silent
        self._latest.stop()
        return self._latest.over

    def block(self, frames: int, late_s: float = 0.0) -> NDArray[np.float32]:
        """Return the next frames, float32 of shape (frames,), each at most as large as in the sound it is from.

        Args:
            frames: so many.
            late_s: how late they are asked for, against all that was handed over before, from any zero.
        """
        out = np.zeros(frames, np.float32)
        used = 0
        resting = self._ending
        self._ending = []
        for voice in resting:
            self._rest(voice, frames)
        while True:
            if self._voice is None:
                if not self._waiting:
                    return out
                self._voice = self._waiting.popleft()
            self._voice.lateness.asked(late_s)
            used += self._voice.fill(out[used:], self._ramp)
            if not self._voice.ended:
                return out
            self._rest(self._voice, frames - used)
            self._voice = None

    def _rest(self, voice: Voice, frames: int) -> None:
        voice.rest(frames, self._buffer_frames)
        if not voice.over.is_set():
            self._ending.append(voice)
