"""Strings left unmuted ring along, and beat with the plucked one where their partials lie close."""

from __future__ import annotations

import numpy as np
import pytest
from tone_measures import STRINGS, level_db, partial_level_db, phase_fit_hz, single, tone_of

from banjo import FIVE_STRING
from centwise.tones.sympathy import sympathetic_modes
from centwise.tones.touch import draw_touch
from centwise.tones.voice import FRETTED_VOICE, string_modes
from centwise.units import cents_between

RATE_HZ = 24_000


def component_frequencies_hz(tone: np.ndarray, near_hz: float, components: int) -> np.ndarray:
    """Return the frequencies of the strongest decaying components near a frequency: matrix pencil on the heterodyned
    tone (Hua and Sarkar 1990, IEEE Trans. ASSP 38:814), the strongest first.
    """
    frames, hop = round(0.1 * RATE_HZ), round(0.02 * RATE_HZ)
    windows = np.lib.stride_tricks.sliding_window_view(tone, frames)[round(0.2 * RATE_HZ) :: hop]
    carrier = np.exp(-2j * np.pi * near_hz * np.arange(frames) / RATE_HZ)
    times_s = np.arange(len(windows)) * hop / RATE_HZ
    slow = windows @ (np.hanning(frames) * carrier) * np.exp(-2j * np.pi * near_hz * times_s)
    hankel = np.lib.stride_tricks.sliding_window_view(slow, len(slow) // 2)
    _, _, right = np.linalg.svd(hankel, full_matrices=False)
    basis = right[:components].T
    poles = np.linalg.eigvals(np.linalg.pinv(basis[:-1]) @ basis[1:])
    strengths = np.linalg.lstsq(poles[None, :] ** np.arange(len(slow))[:, None], slow, rcond=None)[0]
    order = np.argsort(-np.abs(strengths))
    return near_hz + np.angle(poles[order]) / (2.0 * np.pi * 0.02)


@pytest.mark.parametrize("seed", range(10))
def test_the_third_string_beats_with_d5(seed: int) -> None:
    # Partial 3 of G3 is 587.993 Hz; D5 is 587.330 Hz: 1.955 cents, 0.66 beats a second.
    unmuted = tone_of(single("harmonic", 1, seed=seed, muted=False, duration_s=3.0))
    found_hz = component_frequencies_hz(unmuted, 587.66, 4)
    third_hz = found_hz[np.argmin(np.abs(found_hz - 587.993))]
    first_hz = found_hz[np.argmin(np.abs(found_hz - 587.340))]
    # Two components so close are parted the less well the more they lie across each other at first.
    assert third_hz - first_hz == pytest.approx(0.66, abs=0.15)
    assert cents_between(3.0 * FIVE_STRING.string(3).open_hz, FIVE_STRING.string(1).octave_hz) == pytest.approx(
        1.955, abs=5e-4
    )


@pytest.mark.parametrize("seed", range(10))
def test_the_beating_is_heard_unmuted_and_gone_muted(seed: int) -> None:
    def rise_db(muted: bool) -> float:
        # How far the partial's level comes up again after it has been lowest so far: a plain decay never does.
        tone = tone_of(single("harmonic", 1, seed=seed, muted=muted, duration_s=3.0))
        times_s = np.arange(0.2, 2.8, 0.05)
        levels = np.array([partial_level_db(tone[round(t * RATE_HZ) :], RATE_HZ, 587.34, 0.1) for t in times_s])
        return float(np.max(levels - np.minimum.accumulate(levels)))

    assert rise_db(muted=True) < 0.01
    assert rise_db(muted=False) > 1.5


@pytest.mark.parametrize("string", STRINGS)
def test_the_ringing_is_softer_than_the_tone_and_swells_after_it(string: int) -> None:
    spec = FIVE_STRING.string(string)
    touch = draw_touch(np.random.default_rng(string))
    tone = string_modes("fretted", spec, FRETTED_VOICE, touch, RATE_HZ)
    ringing = sympathetic_modes(FIVE_STRING, spec, tone, touch, RATE_HZ)
    lasting, along = tone.render(RATE_HZ, RATE_HZ), ringing.render(RATE_HZ, RATE_HZ)
    assert level_db(along, RATE_HZ, 0.0, 0.5) < level_db(lasting, RATE_HZ, 0.0, 0.5) - 6.0
    assert level_db(along, RATE_HZ, 0.0, 0.005) < level_db(along, RATE_HZ, 0.1, 0.2) - 10.0
    others = {other.open_hz for other in FIVE_STRING.strings if other.number != string}
    assert all(any(abs(hz / one - round(hz / one)) < 1e-9 for one in others) for hz in ringing.frequency_hz)


def test_the_ringing_does_not_depend_on_the_offset() -> None:
    # What is left of a tone without the plucked string's own modes is the same at either offset.
    def rest(offset_cents: float) -> np.ndarray:
        unmuted = single("fretted", 1, seed=2, offset_cents=offset_cents, muted=False)
        return tone_of(unmuted)

    third_open_hz = FIVE_STRING.string(3).open_hz
    low, high = rest(-30.0), rest(30.0)
    # 196 Hz, where the plucked D5 has nothing.
    assert partial_level_db(low, RATE_HZ, third_open_hz, 1.0) == pytest.approx(
        partial_level_db(high, RATE_HZ, third_open_hz, 1.0), abs=0.1
    )
    assert phase_fit_hz(low, RATE_HZ, third_open_hz, window_s=0.15) == pytest.approx(third_open_hz, abs=0.05)
