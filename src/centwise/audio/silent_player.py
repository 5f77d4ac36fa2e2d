"""A player without a device: it keeps the time a sound takes, or none at all when told to hurry.

Imports ports and below.
"""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING

from centwise.audio.samples import PLAYER_RATE_HZ, levelled

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.model import Sound
    from centwise.ports import Clock

SLICE_S = 0.02
"""How long a wait sleeps before it looks again whether it was stopped: a stop shows within 50 ms (our judgement)."""


class SilentPlayback:
    """A sound nobody hears, running by the clock."""

    path: Path | None = None

    def __init__(self, duration_s: float, clock: Clock, *, hurry: bool) -> None:
        self._duration_s = duration_s
        self._clock = clock
        self._lock = Lock()
        self._started_s = clock.monotonic_s()
        self._over_at_s: float | None = duration_s if hurry else None

    def position_s(self) -> float:
        """Return how much of it has passed, in seconds."""
        with self._lock:
            if self._over_at_s is None:
                passed_s = self._clock.monotonic_s() - self._started_s
                if passed_s < self._duration_s:
                    return passed_s
                self._over_at_s = self._duration_s
            return self._over_at_s

    def wait(self, timeout_s: float | None = None) -> bool:
        """Sleep by the clock until it is over; see ports.Playback."""
        until_s = None if timeout_s is None else self._clock.monotonic_s() + timeout_s
        while True:
            position_s = self.position_s()
            if self._over_at_s is not None:
                return True
            nap_s = min(SLICE_S, self._duration_s - position_s)
            if until_s is not None:
                left_s = until_s - self._clock.monotonic_s()
                if left_s <= 0.0:
                    return False
                nap_s = min(nap_s, left_s)
            self._clock.sleep(nap_s)

    def lost_s(self) -> float:
        """Return 0: nobody hears it."""
        return 0.0

    def stop(self) -> None:
        """End it where it is."""
        position_s = self.position_s()
        with self._lock:
            if self._over_at_s is None:
                self._over_at_s = position_s


class SilentPlayer:
    """Plays nothing, for as long as the sound lasts.

    Args:
        clock: keeps the time.
        hurry: every sound is over as soon as it starts.
        level_db: checked as any player's level, and heard by nobody.
    """

    rate_hz = PLAYER_RATE_HZ

    def __init__(self, clock: Clock, *, hurry: bool = False, level_db: float = 0.0) -> None:
        self.name = "silent:hurry" if hurry else "silent"
        self.level_db = level_db
        self._clock = clock
        self._hurry = hurry
        self._playback: SilentPlayback | None = None

    def play(self, sound: Sound) -> SilentPlayback:
        """Start a sound, ending the one before; see ports.Player."""
        levelled(sound, self.level_db)
        self.close()
        self._playback = SilentPlayback(sound.duration_s, self._clock, hurry=self._hurry)
        return self._playback

    def close(self) -> None:
        """End the sound that runs."""
        if self._playback is not None:
            self._playback.stop()
            self._playback = None
