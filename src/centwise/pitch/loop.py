"""A test sound sent round a loop of player and recorder, and what came back of it: clock, level, noise, delay, gaps.

Between two chirps a steady tone and whatever else is to be sent. The tone's phase gives the clock of the player beside
that of the recorder; the chirps give the delay, and their distance, read independently, tells whether frames were lost
or put in on the way. Imports numpy, units and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from centwise.errors import InputError
from centwise.pitch.combine import pool
from centwise.pitch.intake import FULL_SCALE
from centwise.pitch.partials import PartialFit, fit_partials
from centwise.units import cents_between, ratio_from_cents

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Samples = NDArray[np.float32]

TONE_HZ = 997.0
"""A prime near 1 kHz, so that no whole number of its periods meets a block's length (AES17's custom, recalled)."""
TONE_S, TONE_PEAK_DBFS = 4.0, -18.0
CHIRP_S, CHIRP_HZ, CHIRP_PEAK_DBFS = 0.08, (2000.0, 6000.0), -18.0
"""Above the tone, within what a laptop's speaker and microphone pass; 80 ms of 4 kHz stand 25 dB over equal noise."""
GAP_S, RAMP_S, END_S = 0.2, 0.03, 0.1
SEARCH_HZ = (800.0, 1200.0)
"""Where the tone is looked for: a device that takes 44.1 for 48 kHz moves it to 916 Hz."""
SETTLE_S = 0.1
NOISE_BESIDE_HZ = 1000.0
NOISE_S = 0.5
"""Noise is read so long, right before the sound is sent: a microphone just opened may need a moment to settle."""
SEGMENTS = 4
CHIRP_OVER_NOISE = 8.0
"""A chirp's match stands so many times over the matches' root mean square; noise alone reaches 3.9 (measured)."""
NEAR = 0.12
"""How far from its place the second chirp is looked for, as a share: 44.1 for 48 kHz moves it by 8.8 %."""
LEAST_NOISE = 1e-7


@dataclass(frozen=True, slots=True)
class LoopReading:
    """What came back.

    Attributes:
        first_frame: where the first chirp begins in the recording, to a fraction of a frame.
        clock_cents: how far the tone came back above what was sent; + where the player runs fast beside the recorder.
        clock_error_cents: standard error of it; ±1.645 of it hold 90 %.
        clock_ppm: the same in parts per million.
        clock_error_ppm: standard error.
        wander_cents: how far the quarters of the tone scatter beyond their noise, one standard deviation; 0 where they
            do not.
        slip_frames: frames lost (-) or put in (+) between the chirps, beyond what the clock explains.
        slip_error_frames: standard error that the clock's leaves of it.
        level_dbfs: of the tone, a full-scale sine being 0 dBFS.
        noise_dbfs: before anything was sent, a full-scale sine being 0 dBFS; minus infinity for digital silence.
        peak: the largest sample.
    """

    first_frame: float
    clock_cents: float
    clock_error_cents: float
    clock_ppm: float
    clock_error_ppm: float
    wander_cents: float
    slip_frames: float
    slip_error_frames: float
    level_dbfs: float
    noise_dbfs: float
    peak: float

    @property
    def clipped(self) -> bool:
        """Whether something stood at full scale."""
        return self.peak >= FULL_SCALE


@dataclass(frozen=True, slots=True)
class LoopSound:
    """The test sound.

    Attributes:
        samples: float32, shape (frames,): chirp, gap, tone, gap, what was sent along, gap, chirp, silence.
        rate_hz: frames per second.
        along_frame: where that begins which was sent along.
        last_frame: where the second chirp begins.
    """

    samples: Samples = field(repr=False)
    rate_hz: int
    along_frame: int
    last_frame: int


def loop_sound(rate_hz: int, along: Samples | None = None) -> LoopSound:
    """Return the test sound: soft at both ends, its own parts at -18 dBFS at most.

    Args:
        rate_hz: frames per second, 16 000 or more.
        along: what is sent along between tone and second chirp, float32, shape (frames,).
    """
    chirp, gap = _chirp(rate_hz), np.zeros(round(GAP_S * rate_hz))
    times_s = np.arange(round(TONE_S * rate_hz)) / rate_hz
    tone = 10.0 ** (TONE_PEAK_DBFS / 20.0) * ramped(times_s, RAMP_S) * np.sin(2.0 * np.pi * TONE_HZ * times_s)
    end = np.zeros(round(END_S * rate_hz))
    sent = np.zeros(0) if along is None else along.astype(np.float64)
    parts = (chirp, gap, tone, gap, sent, gap, chirp, end)
    places = np.cumsum([part.size for part in parts])
    return LoopSound(np.concatenate(parts).astype(np.float32), rate_hz, int(places[3]), int(places[5]))


def read_loop(heard: Samples, sound: LoopSound, quiet_frames: int) -> LoopReading:
    """Find the test sound in a recording and read it.

    Args:
        heard: float32, shape (frames,), at the sound's rate: what the recorder gave, from before the sound was sent.
        sound: what was sent.
        quiet_frames: how many frames at its beginning were recorded before anything was sent.

    Raises:
        InputError: the sound is not in it; the sentence says what to do.
    """
    samples = heard.astype(np.float64)
    rate_hz, sent = sound.rate_hz, sound.last_frame
    first, second = _chirps(samples, rate_hz, sent)
    # A wrong rate stretches everything alike.
    stretch = (second - first) / sent
    begin = first + (CHIRP_S + GAP_S + SETTLE_S) * rate_hz * stretch
    end = first + (CHIRP_S + GAP_S + TONE_S - SETTLE_S) * rate_hz * stretch
    tone = heard[round(begin) : round(end)]
    fit = _whole_fit(tone, rate_hz)
    # The tone's parts scatter more than its noise explains where a clock wanders or a stream was mended on the way.
    parts = [_fit(part, rate_hz, fit.frequency_hz) for part in np.array_split(tone, SEGMENTS)]
    cents = np.array([cents_between(part.frequency_hz, TONE_HZ) for part in parts])
    wander = pool(cents, np.array([max(part.std_error_cents, 1e-9) ** 2 for part in parts])).excess_sd
    error = math.hypot(fit.std_error_cents, wander / math.sqrt(SEGMENTS))
    clock = cents_between(fit.frequency_hz, TONE_HZ)
    quiet = samples[max(0, quiet_frames - round(NOISE_S * rate_hz)) : quiet_frames]
    noise = float(np.sqrt(np.mean((quiet - quiet.mean()) ** 2))) if quiet.size else 0.0
    return LoopReading(
        first_frame=first,
        clock_cents=clock,
        clock_error_cents=error,
        clock_ppm=1e6 * (ratio_from_cents(clock) - 1.0),
        clock_error_ppm=1e6 * (ratio_from_cents(error) - 1.0),
        wander_cents=wander,
        slip_frames=(second - first) - sent / ratio_from_cents(clock),
        slip_error_frames=sent * (ratio_from_cents(error) - 1.0),
        level_dbfs=fit.amplitude_db,
        noise_dbfs=20.0 * math.log10(noise * math.sqrt(2.0)) if noise > LEAST_NOISE else -math.inf,
        peak=float(np.max(np.abs(heard))),
    )


def _chirp(rate_hz: int) -> Array:
    times_s = np.arange(round(CHIRP_S * rate_hz)) / rate_hz
    low, high = CHIRP_HZ
    swept = np.sin(2.0 * np.pi * (low + 0.5 * (high - low) * times_s / CHIRP_S) * times_s)
    return np.asarray(10.0 ** (CHIRP_PEAK_DBFS / 20.0) * np.hanning(times_s.size) * swept, dtype=np.float64)


def ramped(times_s: Array, ramp_s: float) -> Array:
    """Return an envelope that rises from nothing in `ramp_s` seconds and falls to nothing in as many.

    Args:
        times_s: shape (frames,), rising from 0.
        ramp_s: above 0.
    """
    inside = np.minimum(times_s, times_s[-1] - times_s) / ramp_s
    return np.asarray(np.sin(0.5 * np.pi * np.minimum(inside, 1.0)) ** 2, dtype=np.float64)


def _chirps(samples: Array, rate_hz: int, sent: int) -> tuple[float, float]:
    """Return where the two chirps begin, in frames, by matching and a parabola through the best match."""
    chirp = _chirp(rate_hz)
    if samples.size < sent + chirp.size:
        raise _not_heard()
    size = 1 << int(np.ceil(np.log2(samples.size + chirp.size)))
    spectrum = np.fft.fft(samples, size) * np.conj(np.fft.fft(chirp, size))
    # Only the positive frequencies, so that the size of the match has no ripple.
    spectrum[size // 2 :] = 0.0
    match = np.abs(np.fft.ifft(spectrum))[: samples.size - chirp.size + 1]
    rest = float(np.sqrt(np.mean(match**2)))
    best = int(np.argmax(match))
    if rest == 0.0 or match[best] < CHIRP_OVER_NOISE * rest:
        raise _not_heard()
    slack = round(NEAR * sent)
    found = [best]
    for low in (best - sent - slack, best + sent - slack):
        part = match[max(low, 0) : max(low + 2 * slack, 0)]
        if part.size and part.max() >= max(CHIRP_OVER_NOISE * rest, 0.3 * match[best]):
            found.append(max(low, 0) + int(np.argmax(part)))
    if len(found) == 1:
        raise _not_heard()
    first, second = sorted(found, key=lambda place: -match[place])[:2]
    low, high = sorted((first, second))
    return _between(match, low), _between(match, high)


def _between(match: Array, place: int) -> float:
    if not 0 < place < match.size - 1:
        return float(place)
    left, top, right = match[place - 1 : place + 2]
    return place + 0.5 * float((left - right) / min(left - 2.0 * top + right, -1e-30))


def _whole_fit(tone: Samples, rate_hz: int) -> PartialFit:
    size = 1 << int(np.ceil(np.log2(max(tone.size, 2)))) + 1
    power = np.abs(np.fft.rfft(tone * np.hanning(tone.size), size))
    low, high = (round(hz * size / rate_hz) for hz in SEARCH_HZ)
    return _fit(tone, rate_hz, (low + int(np.argmax(power[low:high]))) * rate_hz / size)


def _fit(tone: Samples, rate_hz: int, near_hz: float) -> PartialFit:
    (fit,) = fit_partials(tone, rate_hz, np.array([near_hz]), NOISE_BESIDE_HZ, 0.0)
    if fit is None:
        raise InputError(
            "the test tone came back broken or buried in noise", "turn it up, or the noise down, and try again"
        )
    return fit


def _not_heard() -> InputError:
    return InputError(
        "the test sound did not come back",
        "join the output to the input with a cable, or put the microphone by the speaker, and turn it up",
    )
