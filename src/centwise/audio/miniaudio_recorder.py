"""The microphone, on miniaudio: one stream from opening to closing, and a watchdog for a device that goes away.

What `miniaudio_stream` says of players holds for it too: without any device miniaudio may settle for its null backend,
a killed sound server shows only in that nothing comes any more, and an exception in the callback ends it unsaid.
Imports miniaudio, numpy, ports and below.
"""

from __future__ import annotations

import math
from collections import deque
from contextlib import suppress
from threading import Event
from typing import TYPE_CHECKING, Any, NoReturn
from weakref import finalize

import numpy as np

from centwise.audio.alsa_messages import alsa_messages
from centwise.audio.miniaudio_device import close_in_time, described, let_go
from centwise.errors import DeviceError, UsageError

if TYPE_CHECKING:
    from collections.abc import Generator

    from centwise.model import Samples
    from centwise.ports import Clock

PERIOD_MS = 20
PERIODS = 3
"""A recording may lag, it must not lose anything: one period more than the player's."""
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 16_000, 192_000
METER_S = 0.1
LAG_S = 0.5
"""The least lag over so long stays within 0.1 ms on a busy machine, and steps by what was lost (measured)."""
MOST_UNREAD_S = 600.0
"""What nobody reads is kept so long; then the oldest goes, so that a forgotten microphone does not fill the memory."""
LOOK_S = 0.05
"""How often a read looks whether the device is still there (judgement)."""
SILENCE_LIMIT_S = 0.8
"""A microphone that hands nothing over for so long is gone (judgement: 40 periods). It is told within a second."""
WARM_LIMIT_S = 4.0
"""A sound server's idle source may take up to two seconds to begin (measured on a null sink's monitor)."""

NO_MICROPHONE_TO_DO = (
    "plug one in and allow its use, or record with another program: centwise measure works on its files"
)
LOST_TO_DO = "check its plug or the sound server, then record again"


class MiniaudioRecorder:
    """Listens to the standard microphone; see ports.Recorder. Several channels are mixed into one.

    Args:
        clock: for the watchdog.
        rate_hz: frames per second to be handed over, 16 000 to 192 000; a device of another rate is converted.
        backend: a backend of miniaudio's by name, such as ALSA; None lets it choose any but the null one.

    Attributes:
        device_rate_hz: the device's own rate as the system tells it, None where it does not.

    Raises:
        UsageError: another rate.
        DeviceError: there is no microphone, or it hands nothing over.
    """

    def __init__(self, clock: Clock, *, rate_hz: int = 48_000, backend: str | None = None) -> None:
        if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
            raise UsageError(
                f"a rate of {rate_hz} Hz is outside {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ}", "choose one such as 48000"
            )
        import miniaudio  # noqa: PLC0415  loaded when a microphone is asked for

        self.rate_hz = rate_hz
        self.dropped_frames = 0
        """Frames that nobody read in time. Written by the audio thread alone, as is what came; what was read, by the
        reader."""
        self._clock = clock
        self._waiting: deque[Samples] = deque()
        self._came_frames = self._read_frames = 0
        self._recent: deque[tuple[float, float]] = deque(maxlen=64)
        self._lags: deque[tuple[float, float]] = deque(maxlen=64)
        self._opened_s = clock.monotonic_s()
        self._came = Event()
        self._last_call_s = clock.monotonic_s()
        self._errors: list[Exception] = []
        self._stopped = False
        self._closed = False
        # In two steps, so that the context of a failed opening can be let go.
        device: Any = miniaudio.CaptureDevice.__new__(miniaudio.CaptureDevice)
        self._let_go = finalize(self, let_go, device)
        try:
            with alsa_messages():
                device.__init__(
                    input_format=miniaudio.SampleFormat.FLOAT32,
                    nchannels=1,
                    sample_rate=rate_hz,
                    buffersize_msec=PERIOD_MS,
                    callback_periods=PERIODS,
                    backends=None if backend is None else [miniaudio.Backend[backend]],
                    app_name="centwise",
                )
                if backend is None and device.backend.casefold() == "null":
                    _refuse("no microphone was found")
                description = described(device, capture=True)
                self.device = description.name or "standard microphone"
                self.device_rate_hz = description.rate_hz
                device.stop_callback = self._note_stop
                taking = self._taking()
                next(taking)
                device.start(taking)
            if not self._came.wait(WARM_LIMIT_S):
                _refuse("the microphone was opened but hands nothing over")
        except miniaudio.MiniaudioError as error:
            self.close()
            raise DeviceError("no microphone could be opened", NO_MICROPHONE_TO_DO) from error
        except BaseException:
            self.close()
            raise

    def read(self, timeout_s: float) -> Samples:
        """Return what has come in since the last call; see ports.Recorder."""
        until_s = self._clock.monotonic_s() + timeout_s
        while True:
            self._came.clear()
            parts = []
            with suppress(IndexError):
                while True:
                    parts.append(self._waiting.popleft())
            if parts:
                whole = np.concatenate(parts)
                self._read_frames += len(whole)
                return whole
            reason = self._lost()
            if reason is not None:
                self.close()
                raise DeviceError(reason, LOST_TO_DO)
            left_s = until_s - self._clock.monotonic_s()
            if left_s <= 0.0:
                return np.zeros(0, np.float32)
            self._came.wait(min(LOOK_S, left_s))

    def level_dbfs(self) -> float:
        """Return the largest sample of the last tenth of a second; see ports.Recorder."""
        since_s = self._clock.monotonic_s() - METER_S
        peak = max((peak for at_s, peak in tuple(self._recent) if at_s >= since_s), default=0.0)
        return 20.0 * math.log10(peak) if peak > 0.0 else -math.inf

    def lag_s(self) -> float:
        """Return by how much what came in lags behind the clock; see ports.Recorder."""
        since_s = self._clock.monotonic_s() - LAG_S
        lags = tuple(self._lags)
        return min((lag_s for at_s, lag_s in lags if at_s >= since_s), default=lags[-1][1] if lags else 0.0)

    def close(self) -> None:
        """Let the device go; may be called twice."""
        self._closed = True
        close_in_time(self._let_go)

    def _lost(self) -> str | None:
        if self._errors:
            return f"the microphone's stream broke ({self._errors[0]!r})"
        if self._closed:
            return "the microphone is closed"
        if self._stopped:
            return "the microphone went away"
        if self._clock.monotonic_s() - self._last_call_s > SILENCE_LIMIT_S:
            return "the microphone has stopped handing over sound"
        return None

    def _note_stop(self) -> None:
        self._stopped = True

    def _taking(self) -> Generator[None, bytes, None]:
        # Runs in the audio thread: nothing may be raised here, and nothing may wait.
        while True:
            data = yield
            try:
                block = np.frombuffer(data, np.float32)
                now_s = self._clock.monotonic_s()
                self._last_call_s = now_s
                self._recent.append((now_s, float(np.max(np.abs(block), initial=0.0))))
                self._waiting.append(block)
                self._came_frames += len(block)
                self._lags.append((now_s, now_s - self._opened_s - self._came_frames / self.rate_hz))
                while self._came_frames - self._read_frames - self.dropped_frames > MOST_UNREAD_S * self.rate_hz:
                    self.dropped_frames += len(self._waiting.popleft())
                self._came.set()
            except Exception as error:  # noqa: BLE001  collected here, told by read()
                self._errors.append(error)


def _refuse(what: str) -> NoReturn:
    raise DeviceError(what, NO_MICROPHONE_TO_DO)
