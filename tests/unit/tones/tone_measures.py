"""Measuring rendered tones by methods the synthesis knows nothing of."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from banjo import FIVE_STRING
from centwise.tones.single import SingleSound, render_single

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import Sound, ToneKind, ToneSpan

STRETCH = 128
STRINGS = (1, 2, 3, 4, 5)


def single(
    kind: ToneKind,
    string: int,
    *,
    seed: int = 1,
    offset_cents: float = 0.0,
    rate_hz: int = 24_000,
    likeness: float = 0.0,
    muted: bool = True,
    duration_s: float = 1.4,
) -> SingleSound:
    return render_single(
        kind,
        FIVE_STRING,
        string,
        offset_cents=offset_cents,
        rate_hz=rate_hz,
        rng=np.random.default_rng(seed),
        likeness=likeness,
        muted=muted,
        duration_s=duration_s,
    )


def cut(sound: Sound, span: ToneSpan) -> NDArray[np.float64]:
    """Return the samples of one tone."""
    start, end = round(span.start_s * sound.rate_hz), round(span.end_s * sound.rate_hz)
    return sound.samples[start:end].astype(np.float64)


def tone_of(rendered: SingleSound) -> NDArray[np.float64]:
    return cut(rendered.sound, rendered.span)


def phase_fit_hz(
    tone: NDArray[np.float64], rate_hz: int, near_hz: float, *, window_s: float = 0.08, from_s: float = 0.06
) -> float:
    """Heterodyne one partial in short Hann windows and fit its phase, weighted by amplitude squared."""
    frames, hop = round(window_s * rate_hz), round(0.01 * rate_hz)
    windows = np.lib.stride_tricks.sliding_window_view(tone, frames)[round(from_s * rate_hz) :: hop]
    window = np.hanning(frames)
    values = windows @ (window * np.exp(-2j * np.pi * near_hz * np.arange(frames) / rate_hz))
    times_s = np.arange(len(windows)) * hop / rate_hz
    phase = np.unwrap(np.angle(values * np.exp(-2j * np.pi * near_hz * times_s)))
    slope, _ = np.polyfit(times_s, phase, 1, w=np.abs(values))
    return near_hz + float(slope) / (2.0 * np.pi)


def fft_peak_hz(tone: NDArray[np.float64], rate_hz: int, near_hz: float) -> float:
    """Return the peak of the Hann spectrum near a frequency, padded four times, by a parabola through its logarithm."""
    size = 1 << int(np.ceil(np.log2(4 * tone.size)))
    spectrum = np.abs(np.fft.rfft(tone * np.hanning(tone.size), size))
    low, high = (round(near_hz * factor * size / rate_hz) for factor in (0.95, 1.05))
    peak = low + int(np.argmax(spectrum[low:high]))
    left, middle, right = np.log(spectrum[peak - 1 : peak + 2])
    return float(peak + 0.5 * (left - right) / (left - 2.0 * middle + right)) * rate_hz / size


def level_db(tone: NDArray[np.float64], rate_hz: int, from_s: float, to_s: float) -> float:
    part = tone[round(from_s * rate_hz) : round(to_s * rate_hz)]
    return 10.0 * float(np.log10(np.mean(part**2)))


def centroid_hz(tone: NDArray[np.float64], rate_hz: int, until_s: float) -> float:
    """Return the power-weighted centroid of the Hann spectrum from the attack on."""
    part = tone[: round(until_s * rate_hz)]
    power = np.abs(np.fft.rfft(part * np.hanning(part.size))) ** 2
    return float(np.fft.rfftfreq(part.size, 1.0 / rate_hz) @ power / power.sum())


def partial_level_db(tone: NDArray[np.float64], rate_hz: int, frequency_hz: float, until_s: float = 0.3) -> float:
    """Return the level of one partial from the attack to `until_s`."""
    return float(partial_levels_db(tone, rate_hz, np.array([frequency_hz]), until_s)[0])


def partial_levels_db(
    tone: NDArray[np.float64], rate_hz: int, frequencies_hz: NDArray[np.float64], until_s: float
) -> NDArray[np.float64]:
    """Return the levels of several partials from the attack to `until_s`.

    A stretch at a time: within one a partial's phase is that of the stretch's start and one short table.
    """
    size = round(until_s * rate_hz)
    part = tone[:size]
    window = hann(part.size)
    rows = -(-part.size // STRETCH)
    weighted = np.zeros(rows * STRETCH)
    weighted[: part.size] = part * window
    turn = -2j * np.pi * frequencies_hz / rate_hz
    within = weighted.reshape(rows, STRETCH) @ np.exp(np.outer(np.arange(STRETCH), turn))
    values = (within * np.exp(np.outer(np.arange(rows) * STRETCH, turn))).sum(axis=0)
    return np.asarray(20.0 * np.log10(2.0 * np.abs(values) / window.sum()))


@cache
def hann(size: int) -> NDArray[np.float64]:
    """Return a Hann window; the same few lengths are wanted thousands of times."""
    return np.hanning(size)
