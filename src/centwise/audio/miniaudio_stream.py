"""One long-lived miniaudio stream: it is fed from opening to closing, so no sound meets a device that still wakes up.

What was found by running miniaudio 1.71 on Linux and is provided for here: without any device it may settle
for its own null backend, which plays to nobody; on a PulseAudio null sink the first second or two pass without a
callback; an exception in the callback ends the feed without a word; a failed opening leaves its context behind;
a stream still running at the interpreter's exit never lets it exit. Imports miniaudio, numpy, ports and below.
"""

from __future__ import annotations

from threading import Event
from typing import TYPE_CHECKING, Any
from weakref import finalize

import numpy as np

from centwise.audio.alsa_messages import alsa_messages
from centwise.audio.feed import Feed
from centwise.audio.miniaudio_device import close_in_time, described, let_go
from centwise.audio.samples import PLAYER_RATE_HZ
from centwise.errors import DeviceError

if TYPE_CHECKING:
    from collections.abc import Generator

    from centwise.ports import Clock

PERIOD_MS = 20
PERIODS = 2
"""The device's buffer. ALSA holds the whole 40 ms, which with a fade of 6 ms keeps a stop within 50 ms. PulseAudio
holds one period: 20 ms came through whole on a busy machine of two cores where 10 ms did not; a stop was heard after 25
to 44 ms, and after up to 80 ms with 30 ms (measured against a null sink)."""

WARM_CALLS = 4
WARM_LIMIT_S = 4.0
"""A stream counts as running after so many blocks. A sound server's idle null sink holds up to 2 s (measured)."""

SILENCE_LIMIT_S = 1.0
"""A device that asks for nothing for so long is gone (our judgement: 25 buffers). A PulseAudio server that is
killed shows in no other way: miniaudio calls nothing and reports nothing (measured)."""

NO_DEVICE_TO_DO = "plug in or switch on headphones or speakers, or use --player silent or --player file:DIR"


class MiniaudioStream:
    """A running stream.

    Args:
        clock: for the watchdog.
        backend: a backend of miniaudio's by name, such as ALSA; None lets it choose any but the null one.
        channels: 1, which the system gives to both sides, or 2, each with its own gain.

    Attributes:
        sides: gains of left and right, 0 to 1, where there are two channels.
        description: what the system says of the device.

    Raises:
        DeviceError: no device takes the stream.
    """

    def __init__(self, clock: Clock, backend: str | None = None, *, channels: int = 1) -> None:
        import miniaudio  # noqa: PLC0415  loaded when its player is chosen

        self.feed = Feed(PLAYER_RATE_HZ, PLAYER_RATE_HZ * PERIOD_MS * PERIODS // 1000)
        self.calls = 0
        self.last_call_s = clock.monotonic_s()
        self.errors: list[Exception] = []
        """What went wrong in the audio thread; looked at by `lost`."""
        self.sides = (1.0, 1.0)
        self._channels = channels
        self._clock = clock
        self._warm = Event()
        self._stopped = False
        # In two steps, so that the context of a failed opening can be let go.
        device: Any = miniaudio.PlaybackDevice.__new__(miniaudio.PlaybackDevice)
        # Also at the interpreter's exit: a stream still running then waits for ever for an interpreter that is gone.
        self._let_go = finalize(self, let_go, device)
        try:
            with alsa_messages():
                device.__init__(
                    output_format=miniaudio.SampleFormat.FLOAT32,
                    nchannels=channels,
                    sample_rate=PLAYER_RATE_HZ,
                    buffersize_msec=PERIOD_MS,
                    callback_periods=PERIODS,
                    backends=None if backend is None else [miniaudio.Backend[backend]],
                    app_name="centwise",
                )
                if backend is None:
                    _refuse_null(device)
                self.description = described(device, capture=False)
                device.stop_callback = self._note_stop
                feeding = self._feeding()
                next(feeding)
                device.start(feeding)
        except miniaudio.MiniaudioError as error:
            self.close()
            raise DeviceError("no sound device could be opened", NO_DEVICE_TO_DO) from error
        except BaseException:
            self.close()
            raise
        self._warm.wait(WARM_LIMIT_S)
        if not self._warm.is_set():
            self.close()
            raise DeviceError("the sound device was opened but takes no sound", NO_DEVICE_TO_DO)

    def lost(self) -> str | None:
        """Return why the device counts as gone, or None while it runs."""
        if self.errors:
            return f"the sound stream broke ({self.errors[0]!r})"
        if self._stopped:
            return "the sound device went away"
        if self._clock.monotonic_s() - self.last_call_s > SILENCE_LIMIT_S:
            return "the sound device has stopped taking sound"
        return None

    def close(self) -> None:
        """Stop and let the device and its context go; may be called twice."""
        close_in_time(self._let_go)

    def _note_stop(self) -> None:
        self._stopped = True

    def _feeding(self) -> Generator[bytes, int, None]:
        # Runs in the audio thread: nothing may be raised here, and nothing may wait.
        handed = 0
        frames = yield b""
        while True:
            try:
                now_s = self._clock.monotonic_s()
                self.last_call_s = now_s
                mono = self.feed.block(frames, now_s - handed / PLAYER_RATE_HZ)
                handed += frames
                block = (mono if self._channels == 1 else np.outer(mono, np.array(self.sides, np.float32))).tobytes()
                self.calls += 1
                if self.calls == WARM_CALLS:
                    self._warm.set()
            except Exception as error:  # noqa: BLE001  collected here, told by lost()
                self.errors.append(error)
                block = b""
            frames = yield block


def _refuse_null(device: Any) -> None:  # noqa: ANN401  untyped library
    if device.backend.casefold() == "null":
        raise DeviceError("no sound device was found", NO_DEVICE_TO_DO)
