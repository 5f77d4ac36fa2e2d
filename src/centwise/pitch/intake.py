"""A recording taken in block by block: brought down to a working rate, its clipping noted, its channels made one.

Ten minutes of stereo at 96 kHz hold 115 million samples; what is kept of them is two float32 channels near 16 kHz.
Imports numpy, errors and below.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from centwise.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

MIN_RATE_HZ = 16_000
MAX_RATE_HZ = 192_000
MOST_CHANNELS = 2
MOST_S = 3600.0
"""An hour: what is kept of it takes less than 500 MB."""

PASS_SHARE = 0.4
"""Kept up to this share of the working rate: 6.4 kHz at 16 kHz, eight partials of the highest string."""
STOP_DB = 90.0
FULL_SCALE = 0.985
"""A run of equal samples from here on is taken for clipping (judgement)."""
FLAT_TOP_S = 80e-6
"""How long such a run must be, three samples at least: a whole tone's crest at 192 kHz and 16 bits is not as long."""
LEAST_OWN_TOP = 0.25
"""A recording is also clipped where runs of equal samples stand at its own maximum, down to this share of full scale
(judgement: below it, 16 bits are too coarse to tell a crest from a cut one, as a hum of 50 Hz shows)."""
LEAST_OWN_RUNS = 3
COARSE_STEPS = 2048
AROUND_TOP = 2000
"""Nor is it told where all samples about the maximum are whole multiples of full scale over so many: 8 bits, say."""
OPPOSED_SHARE = 0.5
"""If the mean of two channels keeps less than this of the louder one's energy, they oppose each other (judgement)."""


@dataclass(frozen=True, slots=True)
class Recording:
    """What a recording holds for measuring.

    Attributes:
        samples: float32, shape (frames,), one channel at the working rate.
        rate_hz: the working rate, 16 000 to 32 000 Hz (exact: the file's rate over a whole number).
        clipped_s: where runs of samples stand at full scale or at the recording's own top, shape (runs,), in seconds.
        peak: the largest sample of any channel as it was recorded, 1 at full scale.
        name: how to speak of it in a sentence.
    """

    samples: NDArray[np.float32] = field(repr=False)
    rate_hz: float
    clipped_s: NDArray[np.float64] = field(repr=False)
    name: str
    peak: float

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate_hz


class Intake:
    """Takes blocks of a recording in their order, then gives the `Recording`.

    Args:
        rate_hz: 16 000 to 192 000.
        channels: 1 or 2.
        name: how to speak of the recording in a sentence.
        frames: how many it is said to hold, None where nobody says.

    Raises:
        InputError: another rate or number of channels, or too long.
    """

    def __init__(self, rate_hz: int, channels: int, name: str, frames: int | None = None) -> None:
        if not MIN_RATE_HZ <= rate_hz <= MAX_RATE_HZ:
            raise InputError(
                f"{name} has a rate of {rate_hz} Hz, outside {MIN_RATE_HZ} to {MAX_RATE_HZ}", "record it at 48000 Hz"
            )
        if not 1 <= channels <= MOST_CHANNELS:
            raise InputError(f"{name} has {channels} channels", "give a recording of one channel or two")
        if frames is not None and frames > MOST_S * rate_hz:
            raise _too_long(name)
        self._name, self._rate_hz, self._channels = name, rate_hz, channels
        self._factor = rate_hz // MIN_RATE_HZ
        self._taps = _low_pass(self._factor)
        # Half the filter's length before the first sample, so that times stay what they are.
        lead = (self._taps.size - self._factor) // 2
        self._kept = np.zeros((channels, lead), dtype=np.float32)
        self._parts: list[NDArray[np.float32]] = []
        self._clipped: list[NDArray[np.float64]] = []
        self._tops = [_OwnTop() for _ in range(channels)]
        self._frames = 0

    def add(self, block: NDArray[np.float32]) -> None:
        """Take the next block, float32, shape (frames,) or (frames, channels).

        Raises:
            InputError: a sample is not a finite number, or the recording is too long.
        """
        channels = np.ascontiguousarray(block.reshape(len(block), self._channels).T)
        if not np.isfinite(channels.sum(dtype=np.float64)):
            raise InputError(f"{self._name} holds samples that are not numbers", "record or export it again")
        self._note_clipping(channels)
        self._frames += len(block)
        if self._frames > MOST_S * self._rate_hz:
            raise _too_long(self._name)
        self._decimate(channels)

    def finish(self) -> Recording:
        """Return the recording; nothing can be added afterwards.

        Raises:
            InputError: there was nothing in it.
        """
        if self._frames == 0:
            raise InputError(f"{self._name} holds no sound at all", "record it again")
        self._decimate(np.zeros((self._channels, self._taps.size), dtype=np.float32))
        both = np.concatenate(self._parts, axis=1)[:, : -(-self._frames // self._factor)]
        self._parts.clear()
        clipped_s = np.sort(np.concatenate([*self._clipped, *(top.runs() / self._rate_hz for top in self._tops)]))
        peak = max(top.level for top in self._tops)
        return Recording(one_channel(both), self._rate_hz / self._factor, clipped_s, self._name, peak)

    def _decimate(self, channels: NDArray[np.float32]) -> None:
        if self._factor == 1:
            self._parts.append(channels)
            return
        self._kept = np.concatenate((self._kept, channels), axis=1)
        factor, spans = self._factor, self._taps.size // self._factor
        rows = self._kept.shape[1] // factor
        outputs = rows - spans + 1
        if outputs < 1:
            return
        # One product for all shifts of the filter by whole rows, then the shifted columns are added up.
        table = self._taps.reshape(spans, factor)
        done = np.zeros((self._channels, outputs), dtype=np.float32)
        for kept, total in zip(self._kept, done, strict=True):
            products = table @ kept[: rows * factor].reshape(rows, factor).T
            for shift in range(spans):
                np.add(total, products[shift, shift : shift + outputs], out=total)
        self._parts.append(done)
        self._kept = self._kept[:, outputs * factor :].copy()

    def _note_clipping(self, channels: NDArray[np.float32]) -> None:
        run = max(3, round(FLAT_TOP_S * self._rate_hz))
        for channel, top in zip(channels, self._tops, strict=True):
            size = np.abs(channel)
            full = np.flatnonzero(size >= FULL_SCALE)
            self._clipped.append((self._frames + full[_flat(full, channel, run)]) / self._rate_hz)
            top.add(channel, size, self._frames, run)


def taken_in(samples: NDArray[np.float32], rate_hz: int, name: str) -> Recording:
    """Return a sound of one channel that is held in memory as a recording.

    Args:
        samples: float32, shape (frames,).
        rate_hz: as for `Intake`.
        name: how to speak of it in a sentence.

    Raises:
        InputError: it cannot be measured: another rate, too long, nothing in it, or what is no number.
    """
    intake = Intake(rate_hz, 1, name, len(samples))
    intake.add(samples)
    return intake.finish()


class _OwnTop:
    """A channel's largest sample so far, and where runs of equal samples stand at it."""

    def __init__(self) -> None:
        self.level = 0.0
        self._runs: list[NDArray[np.intp]] = []
        self._fine = False

    def add(self, channel: NDArray[np.float32], size: NDArray[np.float32], before: int, run: int) -> None:
        level = float(size.max(initial=0.0))
        if level < self.level or level == 0.0:
            return
        at = np.flatnonzero(size == level)
        if level > self.level:
            self.level, self._runs, self._fine = level, [], False
        steps = channel[max(0, at[0] - AROUND_TOP) : at[0] + AROUND_TOP] * COARSE_STEPS
        self._fine = self._fine or bool(np.any(steps != np.round(steps)))
        self._runs.append(before + at[_flat(at, channel, run)])

    def runs(self) -> NDArray[np.intp]:
        """Return the samples at which runs begin, none where they may be chance."""
        found = np.concatenate(self._runs) if self._runs else np.zeros(0, dtype=np.intp)
        told = self._fine and self.level >= LEAST_OWN_TOP and found.size >= LEAST_OWN_RUNS
        return found if told else found[:0]


def _flat(at: NDArray[np.intp], channel: NDArray[np.float32], run: int) -> NDArray[np.intp]:
    """Return which of some places of a channel begin a run of so many equal neighbours among them."""
    if at.size < run:
        return np.zeros(0, dtype=np.intp)
    stays = (np.diff(at) == 1) & (np.diff(channel[at]) == 0.0)
    # A run of n equal neighbours is n - 1 steps that stay.
    steps = np.concatenate(([0], np.cumsum(stays)))
    return np.flatnonzero(steps[run - 1 :] - steps[: 1 - run] == run - 1)


def _too_long(name: str) -> InputError:
    return InputError(f"{name} is longer than an hour", "cut the notes to be measured out of it")


def one_channel(both: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the mean of the channels, or the louder alone where they oppose each other or one is nearly empty.

    Args:
        both: shape (channels, frames), one channel or two.

    Returns:
        Shape (frames,).
    """
    if len(both) == 1:
        return np.array(both[0])
    mean = both.mean(axis=0, dtype=np.float32)
    energies = [float(channel @ channel) for channel in both]
    if float(mean @ mean) >= OPPOSED_SHARE * max(energies):
        return np.asarray(mean, dtype=np.float32)
    return np.array(both[int(np.argmax(energies))])


def _low_pass(factor: int) -> NDArray[np.float32]:
    """Return the taps of a linear-phase low-pass for decimation, a whole multiple of `factor` many.

    A Kaiser window by its published design formulas (J. F. Kaiser 1974; A. V. Oppenheim and R. W. Schafer, Discrete-
    Time Signal Processing, section 7.5; recalled), from 0.4 to 0.6 of the working rate: what folds back stays above.
    """
    if factor == 1:
        return np.ones(1, dtype=np.float32)
    width = 2.0 * np.pi * (1.0 - 2.0 * PASS_SHARE) / factor
    spans = int(np.ceil((STOP_DB - 7.95) / (2.285 * width) / factor)) + 1
    taps = spans * factor
    # The centre falls on a sample: `factor` apart from an even count, half a row on either side.
    offset = np.arange(taps) - (taps - factor) // 2
    window = np.i0(0.1102 * (STOP_DB - 8.7) * np.sqrt(np.maximum(0.0, 1.0 - (offset / (taps / 2.0)) ** 2)))
    kernel = np.sinc(offset / factor) * window
    return np.asarray(kernel / kernel.sum(), dtype=np.float32)
