"""The second player, on simpleaudio: an extra, for Python 3.11 alone. Each sound opens the device for itself.

simpleaudio 1.0.4 brings the interpreter down after playing on Python 3.12 and later (measured). It asks ALSA for a
buffer of 100 ms and cannot drop what is in it, so a stop is heard after 101 to 111 ms here, not 50 (measured through
ALSA's PulseAudio device), and a sound that replaces another begins some 300 ms later, when the device is free again.
Imports numpy, simpleaudio, ports and below.
"""

from __future__ import annotations

import importlib.util
import sys
from contextlib import suppress
from threading import RLock
from typing import TYPE_CHECKING, Any

import numpy as np

from centwise.audio.alsa_messages import alsa_messages
from centwise.audio.feed import FADE_S
from centwise.audio.level import gain_from_db
from centwise.audio.samples import PLAYER_RATE_HZ, levelled, whole_numbers
from centwise.errors import DeviceError, UsageError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from centwise.model import Samples, Sound
    from centwise.ports import Clock

BITS = 16
BUFFER_S = 0.1
"""What simpleaudio holds in the device ahead of the ear (its `SA_LATENCY_US`)."""

LATE_S = 3.0
"""A sound that is not over so long after its time hangs in a device that went away (our judgement)."""

EARLY_S = 0.25
"""A sound that is over so long before its time was broken off: its last buffers are counted in (our judgement)."""

PROBE_S = 0.1
LOOK_S = 0.01
NO_DEVICE_TO_DO = "plug in or switch on headphones or speakers, or use --player silent or --player file:DIR"


class SimpleaudioPlayback:
    """One sound, in memory that simpleaudio reads while it plays, so that a stop can silence what is still to come."""

    path: Path | None = None

    def __init__(
        self,
        clock: Clock,
        numbers: NDArray[np.int16],
        play_object: Any,  # noqa: ANN401  untyped library
        *,
        in_real_time: bool,
    ) -> None:
        self._clock = clock
        self._numbers = numbers
        self._play_object = play_object
        self._duration_s = len(numbers) / PLAYER_RATE_HZ
        self._started_s = clock.monotonic_s()
        self._over_at_s: float | None = None
        self._in_real_time = in_real_time

    def position_s(self) -> float:
        """Return how much has been heard, in seconds, to about the device's buffer; see ports.Playback."""
        if self._over_at_s is None:
            return min(max(0.0, self._clock.monotonic_s() - self._started_s), self._duration_s)
        return self._over_at_s

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until the device has played it; see ports.Playback."""
        until_s = None if timeout_s is None else self._clock.monotonic_s() + timeout_s
        while self._play_object.is_playing():
            now_s = self._clock.monotonic_s()
            if now_s - self._started_s > self._duration_s + LATE_S:
                raise DeviceError("the sound device has stopped taking sound", "check it, then play again")
            if until_s is not None and now_s >= until_s:
                return False
            self._clock.sleep(LOOK_S)
        if self._over_at_s is None:
            passed_s = self._clock.monotonic_s() - self._started_s
            if self._in_real_time and passed_s < self._duration_s - EARLY_S:
                self._over_at_s = passed_s
                raise DeviceError("the sound device went away", "check its plug or the sound server, then play again")
            self._over_at_s = self._duration_s
        return True

    def lost_s(self) -> float:
        """Return 0: simpleaudio tells nothing of its device."""
        return 0.0

    def stop(self) -> None:
        """Fade out what the device has not been given yet and let the rest be silence."""
        if self._over_at_s is not None or not self._play_object.is_playing():
            return
        self._over_at_s = self.position_s()
        begin = min(int((self._over_at_s + BUFFER_S) * PLAYER_RATE_HZ), len(self._numbers))
        frames = round(FADE_S * PLAYER_RATE_HZ)
        fade = self._numbers[begin : begin + frames]
        # Near its end the sound falls by itself: a shorter ramp would be a step.
        fade[:] = fade * np.linspace(1.0, 0.0, frames)[: len(fade)]
        self._numbers[begin + len(fade) :] = 0
        self._play_object.stop()


class SimpleaudioPlayer:
    """Plays through simpleaudio: 48 kHz, mono, 16 bits.

    Args:
        clock: for the positions.
        level_db: gain on every sound, 0 dB at most.

    Raises:
        UsageError: not on Python 3.11, or not installed.
        DeviceError: no device takes a sound.
    """

    name = "simpleaudio"
    rate_hz = PLAYER_RATE_HZ

    def __init__(self, clock: Clock, *, level_db: float = 0.0) -> None:
        gain_from_db(level_db)
        if sys.version_info >= (3, 12):
            version = ".".join(map(str, sys.version_info[:2]))
            raise UsageError(
                f"simpleaudio 1.0.4 brings Python {version} down after playing",
                "use --player miniaudio, or Python 3.11",
            )
        if importlib.util.find_spec("simpleaudio") is None:
            raise UsageError(
                "simpleaudio is not installed", "use --player miniaudio, or run pip install 'centwise[simpleaudio]'"
            )
        import simpleaudio  # noqa: PLC0415  loaded when its player is chosen

        self.level_db = level_db
        self._library = simpleaudio
        self._clock = clock
        self._lock = RLock()
        self._playback: SimpleaudioPlayback | None = None
        # A moment of silence says whether there is a device, and whether it keeps time: one that writes a file does
        # not, and of that one nobody can tell whether a sound was over early because it was broken off.
        self._in_real_time = False
        began_s = clock.monotonic_s()
        self._start(np.zeros(round(PROBE_S * PLAYER_RATE_HZ), np.float32)).wait()
        self._in_real_time = clock.monotonic_s() - began_s > PROBE_S / 2.0

    def play(self, sound: Sound) -> SimpleaudioPlayback:
        """Start a sound after stopping the one before; see ports.Player."""
        samples = levelled(sound, self.level_db, self.rate_hz)
        with self._lock:
            self._end()
            self._playback = self._start(samples)
            return self._playback

    def close(self) -> None:
        """Stop and wait until the device is let go; may be called twice."""
        # A device that hangs is let go as any other: there is nothing more to be heard from it.
        with self._lock, suppress(DeviceError):
            self._end()

    def _end(self) -> None:
        playback, self._playback = self._playback, None
        if playback is not None:
            playback.stop()
            # Its thread reads our memory until it has ended.
            playback.wait(LATE_S)

    def _start(self, samples: Samples) -> SimpleaudioPlayback:
        numbers = whole_numbers(samples, BITS).astype(np.int16)
        try:
            with alsa_messages():
                play_object = self._library.play_buffer(numbers, 1, BITS // 8, PLAYER_RATE_HZ)
        except Exception as error:
            # Its error class is hidden in its C module.
            raise DeviceError("no sound device could be opened", NO_DEVICE_TO_DO) from error
        return SimpleaudioPlayback(self._clock, numbers, play_object, in_real_time=self._in_real_time)
