"""The voice is a banjo's: how it dies away, how bright it starts, where its formants lie.

The ranges come from recorded banjo tones (measured). They are asked of every string and every kind of tone, over many
touches, and read off the samples. Level: root mean square over 50 ms round the instant, against the first 50 ms.
Centroid: power-weighted, Hann, over the first 50 or 100 ms.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from tone_measures import STRINGS, centroid_hz, level_db, partial_level_db, single, tone_of

from banjo import FIVE_STRING, partial_hz
from centwise.tones.touch import draw_touch
from centwise.tones.voice import FRETTED_VOICE, HARMONIC_VOICE, sounding_numbers, voice_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import ToneKind

KINDS: tuple[ToneKind, ...] = ("harmonic", "fretted", "open")
RATE_HZ = 24_000
TOUCHES = 25


def tones(kind: ToneKind, string: int, likeness: float = 0.0) -> list[NDArray[np.float64]]:
    return [tone_of(single(kind, string, seed=seed, likeness=likeness)) for seed in range(TOUCHES)]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("string", STRINGS)
def test_it_dies_away_and_starts_as_bright_as_a_banjo(kind: ToneKind, string: int) -> None:
    for tone in tones(kind, string):
        onset_db = level_db(tone, RATE_HZ, 0.0, 0.05)
        assert -19.0 <= level_db(tone, RATE_HZ, 0.425, 0.475) - onset_db <= -12.0
        assert -25.0 <= level_db(tone, RATE_HZ, 0.725, 0.775) - onset_db <= -17.0
        assert 670.0 <= centroid_hz(tone, RATE_HZ, 0.05) <= 1100.0
        assert 670.0 <= centroid_hz(tone, RATE_HZ, 0.10) <= 1100.0


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("string", STRINGS)
def test_the_decay_has_two_stages(kind: ToneKind, string: int) -> None:
    tone = tone_of(single(kind, string, duration_s=2.0))
    early = (level_db(tone, RATE_HZ, 0.30, 0.35) - level_db(tone, RATE_HZ, 0.05, 0.10)) / 0.25
    late = (level_db(tone, RATE_HZ, 1.50, 1.60) - level_db(tone, RATE_HZ, 1.00, 1.10)) / 0.5
    assert early < 2.0 * late < 0.0


@pytest.mark.parametrize("string", STRINGS)
def test_the_harmonic_is_rounder_than_the_fretted_note(string: int) -> None:
    # The same touches, so that only the voice differs.
    for harmonic, fretted in zip(tones("harmonic", string), tones("fretted", string), strict=True):
        assert centroid_hz(harmonic, RATE_HZ, 0.1) < centroid_hz(fretted, RATE_HZ, 0.1)
    mean = {kind: np.mean([centroid_hz(tone, RATE_HZ, 0.1) for tone in tones(kind, string)]) for kind in KINDS[:2]}
    assert mean["harmonic"] < 0.995 * mean["fretted"]


@pytest.mark.parametrize("string", STRINGS)
def test_at_likeness_one_both_tones_have_one_voice(string: int) -> None:
    for seed in range(5):
        harmonic = single("harmonic", string, seed=seed, likeness=1.0).sound.samples
        fretted = single("fretted", string, seed=seed).sound.samples
        assert np.allclose(harmonic, fretted, atol=1e-6)
        assert not np.allclose(single("harmonic", string, seed=seed).sound.samples, fretted, atol=1e-2)


def test_likeness_blends_evenly() -> None:
    half = voice_of("harmonic", 0.5)
    assert half.open_onset == pytest.approx(0.25)
    assert half.fast_excess == pytest.approx(0.9)
    assert voice_of("harmonic", 0.0) == HARMONIC_VOICE
    assert voice_of("harmonic", 1.0) == FRETTED_VOICE == voice_of("fretted", 0.3) == voice_of("open", 0.0)


def test_formants_lie_near_650_and_2900_hz() -> None:
    # Each partial's level over many touches and strings, against what a pluck alone would give it (|sin| / m), shows
    # the gain of head and bridge, roll-off included: one curve in bands of a quarter octave, and one level a tone,
    # fitted together by least squares.
    edges_hz = 280.0 * 2.0 ** np.arange(0.0, 4.01, 0.25)
    rows: list[NDArray[np.float64]] = []
    levels_db: list[float] = []
    touches = 12
    for place, string in enumerate(STRINGS):
        spec = FIVE_STRING.string(string)
        for seed in range(touches):
            tone = tone_of(single("open", string, seed=seed))
            touch = draw_touch(np.random.default_rng(seed))
            for number in sounding_numbers("open", spec, RATE_HZ, 40, 2):
                frequency_hz = partial_hz(int(number), spec.open_hz, spec.inharmonicity)
                shape = abs(np.sin(np.pi * number * touch.point_mm / spec.length_mm)) / number
                if edges_hz[0] < frequency_hz < edges_hz[-1] and shape * number > 0.3:
                    row = np.zeros(edges_hz.size - 1 + len(STRINGS) * touches)
                    row[np.searchsorted(edges_hz, frequency_hz) - 1] = 1.0
                    row[edges_hz.size - 1 + place * touches + seed] = 1.0
                    rows.append(row)
                    levels_db.append(partial_level_db(tone, RATE_HZ, frequency_hz, 0.15) - 20.0 * np.log10(shape))
    fitted, *_ = np.linalg.lstsq(np.array(rows), np.array(levels_db), rcond=None)
    curve_db = fitted[: edges_hz.size - 1]
    centres_hz = np.sqrt(edges_hz[1:] * edges_hz[:-1])
    low, high = centres_hz < 1400.0, centres_hz > 2100.0
    assert centres_hz[low][np.argmax(curve_db[low])] == pytest.approx(650.0, rel=0.15)
    assert centres_hz[high][np.argmax(curve_db[high])] == pytest.approx(2900.0, rel=0.15)
    assert np.max(curve_db[high]) > np.min(curve_db[(centres_hz > 1400.0) & (centres_hz < 2900.0)]) + 1.5


@pytest.mark.parametrize("rate_hz", [22_050, 32_000, 48_000, 192_000])
@pytest.mark.parametrize("string", STRINGS)
def test_no_partial_comes_near_half_the_rate_even_a_semitone_up(string: int, rate_hz: int) -> None:
    spec = FIVE_STRING.string(string)
    for kind in KINDS:
        number = sounding_numbers(kind, spec, rate_hz, 256, 2)[-1]
        assert partial_hz(int(number), spec.open_hz, spec.inharmonicity) * 2.0 ** (1.0 / 12.0) < 0.48 * rate_hz


def test_the_harmonics_odd_open_modes_are_gone_after_a_tenth_of_a_second() -> None:
    spec = FIVE_STRING.string(3)
    third_hz = partial_hz(3, spec.open_hz, spec.inharmonicity)
    tone = tone_of(single("harmonic", 3))
    assert (
        partial_level_db(tone, RATE_HZ, third_hz, 0.05)
        > partial_level_db(tone[RATE_HZ // 10 :], RATE_HZ, third_hz) + 30
    )
