"""The frequencies of a note's partials by their phase.

Each partial is brought down to 0 Hz, low-passed by Hann windows a quarter of their length apart, and its phase fitted
by a straight line with weights of the squared amplitude: the maximum-likelihood frequency of a sinusoid whose amplitude
changes slowly. It is done again from where it was found, since off its centre the low-pass turns the quick and the
slow part of a two-stage decay by different angles, which costs 0.1 % of the distance (measured).
Imports numpy, units and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.units import CENTS_PER_OCTAVE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Frames = NDArray[np.complex128]

FRAME_S = 0.08
"""Length of a Hann window: its first null lies 25 Hz off, the next partial 250 Hz or more (-85 dB there)."""
HOPS = 4
STRETCH = 8 * HOPS
ROUNDS = 3
LEAST_FRAMES = 10
AUDIBLE = 4.0
"""Frames count while a partial is this many times as large as the noise beside it, so that no phase can slip."""
NOISE_PLACE = 0.3
"""The noise of a partial is read this share of the spacing beside it; quenched modes of the open string lie at 0.5."""
GLIDE_DEPTH = 10.0 ** (-30.0 / 20.0)
"""A glide is looked for while a partial is within 30 dB of its loudest."""
EARLY_SHARE = 4
"""A quarter of that time is early, half of it late: a pluck that begins sharp has mostly settled by then."""
LEAST_EARLY = 5
SMOOTH_FRAMES = 5
SUDDEN = 16.0
"""Partials that together lose 12 dB in 80 ms were stopped: by themselves they lose half as much at most (judgement)."""
CENTS = CENTS_PER_OCTAVE / np.log(2.0)


@dataclass(frozen=True, slots=True)
class PartialFit:
    """One partial of one note.

    Attributes:
        frequency_hz: where it lies.
        std_error_cents: from the noise left over by the fit, never below what the noise beside it allows.
        bound_cents: the Cramer-Rao bound for the noise beside it.
        amplitude_db: its level, at the largest frame, in decibels of full scale.
        glide_cents: its second half beside its first quarter, while it is within 30 dB of its loudest.
        glide_error_cents: standard error of that by the noise beside it.
        noise_level: amplitude of the noise beside it, one standard deviation across the phasor.
        track_s: middles of its frames, shape (frames,), from the start of the recording.
        track_rad: phase beside the straight line, shape (frames,).
        track_level: amplitude, shape (frames,).
    """

    frequency_hz: float
    std_error_cents: float
    bound_cents: float
    amplitude_db: float
    glide_cents: float
    glide_error_cents: float
    noise_level: float
    track_s: Array
    track_rad: Array
    track_level: Array


def fit_partials(
    samples: NDArray[np.float32], rate_hz: float, near_hz: Array, spacing_hz: float, start_s: float
) -> list[PartialFit | None]:
    """Measure the partials near some frequencies.

    Args:
        samples: shape (frames,), one note from after its attack to its end.
        rate_hz: frames per second.
        near_hz: shape (partials,), each within about 10 Hz.
        spacing_hz: how far apart partials lie.
        start_s: when the samples begin, for the tracks.

    Returns:
        One fit each, or None where a partial is too weak or too short to be followed.
    """
    window, times_s, frames = _frames(samples, rate_hz)
    if len(times_s) < LEAST_FRAMES:
        return [None] * len(near_hz)
    beside = np.concatenate((near_hz - NOISE_PLACE * spacing_hz, near_hz + NOISE_PLACE * spacing_hz))
    late = _bring_down(frames, window, beside, rate_hz, times_s)[len(times_s) // 3 :]
    # The median of an exponential distribution is ln 2 of its mean. Half the power lies across the phasor.
    power = np.median(np.abs(late) ** 2, axis=0).reshape(2, -1).min(axis=0) / np.log(2.0)
    noise = np.sqrt(np.maximum(power / 2.0, 1e-24))
    centre = np.array(near_hz, dtype=np.float64)
    moved = _bring_down(frames, window, centre, rate_hz, times_s)
    count = _whole_frames(moved, noise)
    if count < LEAST_FRAMES:
        return [None] * len(near_hz)
    frames, moved, times_s = frames[:count], moved[:count], times_s[:count]
    for _ in range(ROUNDS - 1):
        centre = centre + _slopes_hz(moved, noise, times_s)
        moved = _bring_down(frames, window, centre, rate_hz, times_s)
    correlation = np.zeros(count)
    correlation[:HOPS] = _window_correlation()
    of_lag = correlation[np.abs(np.arange(count)[:, None] - np.arange(count))]
    return [
        _fit(z, float(s), times_s, float(f), start_s, of_lag) if abs(f - n) < 1.0 / FRAME_S else None
        for z, s, f, n in zip(moved.T, noise, centre, near_hz, strict=True)
    ]


def _window_correlation() -> Array:
    """Return how white noise in frames 0, 1, ... hops apart is correlated, shape (HOPS,), for a Hann window."""
    size = 64 * HOPS
    window = np.hanning(size + 1)[:-1]
    lags = np.array([window[: size - lag] @ window[lag:] for lag in range(0, size, 64)])
    return np.asarray(lags / lags[0])


def _frames(samples: NDArray[np.float32], rate_hz: float) -> tuple[Array, Array, Array]:
    size = int(FRAME_S * rate_hz / STRETCH) * STRETCH
    if len(samples) < size:
        return np.zeros(0), np.zeros(0), np.zeros((0, 0))
    window = np.hanning(size + 1)[:-1]
    whole = np.lib.stride_tricks.sliding_window_view(samples.astype(np.float64), size)[:: size // HOPS]
    frames = np.ascontiguousarray(whole)  # BLAS takes no rows that overlap
    times_s = (np.arange(len(frames)) * (size // HOPS) + size / 2.0) / rate_hz
    return np.asarray(window * 2.0 / window.sum(), dtype=np.float64), np.asarray(times_s, dtype=np.float64), frames


def _bring_down(frames: Array, window: Array, at_hz: Array, rate_hz: float, times_s: Array) -> Frames:
    """Return the partials as slow phasors, shape (frames, partials); the phase is that of the middle of each frame."""
    # The turn over a whole window from that over each stretch and within one: far fewer exponentials.
    coarse_s = (np.arange(window.size // STRETCH) * STRETCH - window.size / 2.0) / rate_hz
    fine_s = np.arange(STRETCH) / rate_hz
    coarse, fine = (np.exp(-2j * np.pi * along_s[:, None] * at_hz) for along_s in (coarse_s, fine_s))
    kernel = window[:, None] * (coarse[:, None, :] * fine).reshape(window.size, at_hz.size)
    both = frames @ np.concatenate((kernel.real, kernel.imag), axis=1)
    slow = both[:, : at_hz.size] + 1j * both[:, at_hz.size :]
    return np.asarray(slow * np.exp(-2j * np.pi * times_s[:, None] * at_hz))


def _whole_frames(moved: Frames, noise: Array) -> int:
    """Return how many frames there are before a note is damped or ends suddenly.

    A window that a note does not fill to its end lets its neighbours in.
    """
    power = np.maximum((np.abs(moved) ** 2 - 2.0 * noise**2).sum(axis=1), 0.0)
    falls = np.flatnonzero(power[2 * HOPS :] < power[HOPS:-HOPS] / SUDDEN)
    return HOPS + int(falls[0]) if falls.size else len(moved)


def _slopes_hz(z: Frames, noise: Array, times_s: Array) -> Array:
    """Return how far each phasor of (frames, partials) turns a second: by neighbours, then by a line through it."""
    coarse = np.angle((z[:-1].conj() * z[1:]).sum(axis=0)) / (times_s[1] - times_s[0])
    still = z * np.exp(-1j * coarse * times_s[:, None])
    level = _level(still, noise)
    used = _used(level, noise)
    weight = np.where(used, level**2, 0.0)
    total = np.maximum(weight.sum(axis=0), 1e-30)
    lever = weight * (times_s[:, None] - times_s @ weight / total)
    turn = (lever * _unwrapped(still, used)).sum(axis=0) / np.maximum(times_s @ lever, 1e-30)
    return np.asarray((coarse + turn) / (2.0 * np.pi))


def _used(level: Array, noise: Array | float) -> NDArray[np.bool_]:
    """Return the frames before a partial first sinks into the noise."""
    return np.asarray(np.logical_and.accumulate(level >= AUDIBLE * noise, axis=0))


def _level(z: Frames, noise: Array | float) -> Array:
    """Return amplitudes over frames, the first axis, smoothed and freed of the noise's share."""
    total = np.cumsum(np.abs(z) ** 2, axis=0)
    total = np.concatenate((np.zeros_like(total[:1]), total))
    place = np.arange(len(z))
    first, last = np.maximum(place - SMOOTH_FRAMES // 2, 0), np.minimum(place + SMOOTH_FRAMES // 2 + 1, len(z))
    over = (last - first).reshape(-1, *[1] * (z.ndim - 1))
    return np.asarray(np.sqrt(np.maximum((total[last] - total[first]) / over - 2.0 * noise**2, 0.0)))


def _unwrapped(z: Frames, used: NDArray[np.bool_]) -> Array:
    """Return phases beside their mean, without jumps from frame to frame; 0 where a frame is not used."""
    mean = np.angle(np.where(used, z, 0.0).sum(axis=0))
    return np.where(used, np.unwrap(np.angle(z * np.exp(-1j * mean)), axis=0), 0.0)


def _line(times_s: Array, weight: Array) -> tuple[Array, Array]:
    """Return the linear forms that give slope and height of the weighted line through values at `times_s`."""
    total = float(weight.sum())
    if total <= 0.0:
        return np.zeros(len(times_s)), np.zeros(len(times_s))
    middle = float(weight @ times_s) / total
    lever = weight * (times_s - middle)
    slope = lever / max(float(lever @ (times_s - middle)), 1e-30)
    return slope, weight / total - slope * middle


def _fit(
    z: Frames, noise: float, times_s: Array, frequency_hz: float, start_s: float, of_lag: Array
) -> PartialFit | None:
    count = int(_used(_level(z, noise), noise).sum())
    if count < LEAST_FRAMES or frequency_hz <= 0.0:
        return None
    z, times_s, of_lag = z[:count], times_s[:count], of_lag[:count, :count]
    level = _level(z, noise)
    phase = _unwrapped(z, np.ones(count, dtype=np.bool_))
    weight = level**2
    slope, height = _line(times_s, weight)
    turn, rest = float(slope @ phase), phase - float(slope @ phase) * times_s - float(height @ phase)
    # Noise across the phasor has the same size in every frame, so in phase it is noise / level.
    share = slope / level
    lever_noise = float(share @ of_lag @ share)
    # Degrees of freedom of the weighted rest, correlation of neighbouring frames counted.
    hat = np.outer(np.ones(count), height) + np.outer(times_s, slope)
    keep = (np.eye(count) - hat) * (level[:, None] / level)
    free = float(np.sum((keep @ of_lag) * keep))
    left = float(np.sum((rest * level) ** 2)) / max(free, 1.0)
    per_rad = CENTS / (2.0 * np.pi * frequency_hz)
    bound = float(np.sqrt(noise**2 * lever_noise)) * per_rad
    error = float(np.sqrt(max(left, noise**2) * lever_noise)) * per_rad
    glide, glide_error = _glide(times_s, rest, level, of_lag, noise)
    return PartialFit(
        frequency_hz=frequency_hz + turn / (2.0 * np.pi),
        std_error_cents=error,
        bound_cents=bound,
        amplitude_db=float(20.0 * np.log10(max(level.max(), 1e-12))),
        glide_cents=glide * per_rad,
        glide_error_cents=glide_error * per_rad,
        noise_level=noise,
        track_s=times_s + start_s,
        track_rad=rest,
        track_level=np.abs(z),
    )


def _glide(times_s: Array, rest: Array, level: Array, of_lag: Array, noise: float) -> tuple[float, float]:
    """Return how much faster the phase turns late than early, rad/s, and what noise alone may add to it.

    What is left over by the line is no measure of that: a glide is most of it.
    """
    count = int(np.flatnonzero(level >= GLIDE_DEPTH * level.max())[-1]) + 1
    early = min(count, max(LEAST_EARLY, count // EARLY_SHARE))
    late = count - max(early, count // 2)
    forms = np.zeros(len(times_s))
    forms[late:count] += _line(times_s[late:count], level[late:count] ** 2)[0]
    forms[:early] -= _line(times_s[:early], level[:early] ** 2)[0]
    in_phase = forms / level
    return float(forms @ rest), noise * float(np.sqrt(in_phase @ of_lag @ in_phase))
