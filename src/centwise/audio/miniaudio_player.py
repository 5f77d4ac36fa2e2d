"""The standard player, on miniaudio: one stream from opening to closing, and a watchdog for a device that goes away.

Imports ports and below.
"""

from __future__ import annotations

from threading import RLock
from typing import TYPE_CHECKING

from centwise.audio.level import START_DB, gain_from_db
from centwise.audio.miniaudio_device import DeviceDescription
from centwise.audio.miniaudio_stream import PERIOD_MS, PERIODS, MiniaudioStream
from centwise.audio.samples import PLAYER_RATE_HZ, levelled
from centwise.errors import DeviceError, UsageError

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.audio.feed import Voice
    from centwise.model import Sound
    from centwise.ports import Clock

LOOK_S = 0.05
"""How often a wait looks whether the device is still there (our judgement)."""

FADE_LIMIT_S = 0.2
"""How long closing waits for the fade of what sounds; it and the buffer take some 50 ms."""

LOST_TO_DO = "check its plug or the sound server, then play again"


class MiniaudioPlayback:
    """One sound on its way through the stream."""

    path: Path | None = None

    def __init__(self, player: MiniaudioPlayer, stream: MiniaudioStream, voice: Voice, frames: int) -> None:
        self._player = player
        self._stream = stream
        self._voice = voice
        self._frames = frames

    def position_s(self) -> float:
        """Return how much has been heard, in seconds, to about a period of 20 ms; see ports.Playback."""
        voice = self._voice
        handed, last_block = voice.handed, voice.last_block
        if voice.over.is_set():
            return handed / PLAYER_RATE_HZ
        since_s = self._player.clock.monotonic_s() - self._stream.last_call_s
        begun = handed - last_block + min(since_s * PLAYER_RATE_HZ, last_block)
        return max(0.0, begun / PLAYER_RATE_HZ - PERIOD_MS * (PERIODS - 1) / 1000.0)

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until it has left the device; see ports.Playback."""
        clock = self._player.clock
        until_s = None if timeout_s is None else clock.monotonic_s() + timeout_s
        while not self._voice.over.is_set():
            nap_s = LOOK_S if until_s is None else min(LOOK_S, until_s - clock.monotonic_s())
            if nap_s <= 0.0:
                # Whoever only looks in now and then is told of a lost device all the same.
                self._player.check(self._stream)
                return False
            if not self._voice.over.wait(nap_s):
                self._player.check(self._stream)
        return True

    def lost_s(self) -> float:
        """Return the longest hole in it so far; see ports.Playback."""
        return self._voice.lateness.lost_s

    def stop(self) -> None:
        """Fade it out; silent within 50 ms where the device keeps to the buffer it was asked for."""
        self._voice.stop()


class MiniaudioPlayer:
    """Plays through miniaudio: 48 kHz, mono on every channel the device has.

    A device that went away is told once, by `wait` or by the next `play`; the `play` after that opens a device anew.

    Args:
        clock: for the watchdog.
        level_db: gain on every sound, 0 dB at most.
        backend: a backend of miniaudio's by name; None lets it choose.
        channels: 1 for both sides alike, 2 to set each side's gain by `sides`.

    Attributes:
        sides: gains of left and right, 0 to 1, for the next sound where there are two channels.

    Raises:
        DeviceError: no device takes a stream.
        UsageError: the level is above 0 dB.

    After a device was lost, another one in its place begins at -12 dB at most.
    """

    name = "miniaudio"
    rate_hz = PLAYER_RATE_HZ

    def __init__(self, clock: Clock, *, level_db: float = 0.0, backend: str | None = None, channels: int = 1) -> None:
        gain_from_db(level_db)
        self.level_db = level_db
        self.clock = clock
        self.sides = (1.0, 1.0)
        self._backend = backend
        self._channels = channels
        self._lock = RLock()
        self._stream: MiniaudioStream | None = MiniaudioStream(clock, backend, channels=channels)
        self._device = self._stream.description.name

    @property
    def description(self) -> DeviceDescription:
        """What the system says of the device in use; empty where there is none."""
        stream = self._stream
        return DeviceDescription() if stream is None else stream.description

    def play(self, sound: Sound) -> MiniaudioPlayback:
        """Start a sound once the one before has faded; see ports.Player."""
        levelled(sound, self.level_db, self.rate_hz)
        if not all(0.0 <= gain <= 1.0 for gain in self.sides):
            raise UsageError(f"the gains {self.sides} of left and right are not within 0 to 1", "choose smaller ones")
        with self._lock:
            if self._stream is None:
                self._stream = MiniaudioStream(self.clock, self._backend, channels=self._channels)
                self._begin_quietly(self._stream.description.name)
            stream = self._stream
            samples = levelled(sound, self.level_db, self.rate_hz)
            self.check(stream)
            stream.sides = self.sides
            return MiniaudioPlayback(self, stream, stream.feed.start(samples), len(samples))

    def _begin_quietly(self, device: str) -> None:
        """Start soft on another output than before: a headphone, say, in place of a loudspeaker that was unplugged."""
        if device != self._device:
            self._device = device
            self.level_db = min(self.level_db, START_DB)

    def check(self, stream: MiniaudioStream) -> None:
        """Let a stream go whose device went away.

        Raises:
            DeviceError: it did.
        """
        reason = stream.lost()
        if reason is None:
            return
        with self._lock:
            if self._stream is stream:
                self._stream = None
            stream.close()
        raise DeviceError(reason, LOST_TO_DO)

    def close(self) -> None:
        """Stop and let the device go; may be called twice."""
        with self._lock:
            stream, self._stream = self._stream, None
            if stream is not None:
                _let_fade(stream)
                stream.close()


def _let_fade(stream: MiniaudioStream) -> None:
    """Fade out what sounds before the device is let go: cut off in the middle it would click."""
    if stream.lost() is None:
        stream.feed.stop().wait(FADE_LIMIT_S)
