"""Every string of every instrument sounds sane: exact in pitch, within its levels, matched, and telling nothing else.

The voice is the banjo's on all of them, so its envelope and centroid are asked of the five-string alone (test_voice).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pyloudnorm
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import mannwhitneyu
from tone_measures import cut, fft_peak_hz, partial_level_db, phase_fit_hz, tone_of

from banjo import FIVE_STRING, partial_hz
from centwise.model import Condition, PairSpec
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES
from centwise.tones.course import SECOND_SHARE, both_strings
from centwise.tones.loudness import k_weighted_loudness
from centwise.tones.pair import render_pair
from centwise.tones.single import SingleSound, render_single
from centwise.tones.sympathy import sympathetic_modes
from centwise.tones.touch import draw_touch
from centwise.tones.voice import string_modes, voice_of
from centwise.units import cents_between

if TYPE_CHECKING:
    from centwise.model import PairSound, ToneKind

OTHERS = [(name, number) for name in BUILT_IN_NAMES[1:] for number in BUILT_IN.named(name).numbers]
MANDOLIN = BUILT_IN.named("mandolin")
RATE_HZ = 24_000
every_string = pytest.mark.parametrize(("name", "string"), OTHERS)


def single(name: str, string: int, kind: ToneKind, offset_cents: float = 0.0, seed: int = 1) -> SingleSound:
    return render_single(
        kind,
        BUILT_IN.named(name),
        string,
        offset_cents=offset_cents,
        rate_hz=RATE_HZ,
        rng=np.random.default_rng(seed),
        duration_s=1.4,
    )


def pair(name: str, string: int, offset_cents: float, seed: int, *, muted: bool = True) -> PairSound:
    condition = Condition(instrument=name, string=string, muted=muted)
    spec = PairSpec(n=1, condition=condition, offset_cents=offset_cents, first="harmonic")
    return render_pair(spec, BUILT_IN.named(name), rate_hz=RATE_HZ, rng=np.random.default_rng(seed))


@every_string
def test_the_offset_is_the_asked_one(name: str, string: int) -> None:
    spec = BUILT_IN.named(name).string(string)
    harmonic = single(name, string, "harmonic", seed=string)
    true_hz = harmonic.span.frequency_hz
    assert true_hz == pytest.approx(partial_hz(2, spec.open_hz, spec.inharmonicity))
    for number, offset_cents in enumerate((-50.0, -3.7, 50.0)):
        fretted = single(name, string, "fretted", offset_cents, seed=100 * string + number)
        # A low string's first partial may lie beside a mode of the body, which dies within a quarter of a second.
        when = {"window_s": max(0.08, 12.0 / true_hz), "from_s": 0.3 if true_hz < 300.0 else 0.06}
        measured = cents_between(
            phase_fit_hz(tone_of(fretted), RATE_HZ, true_hz * 2.0 ** (offset_cents / 1200.0), **when),
            phase_fit_hz(tone_of(harmonic), RATE_HZ, true_hz, **when),
        )
        assert measured == pytest.approx(offset_cents, abs=0.01)
        peaks = (fft_peak_hz(tone_of(tone), RATE_HZ, tone.span.frequency_hz) for tone in (fretted, harmonic))
        assert cents_between(*peaks) == pytest.approx(offset_cents, abs=0.02 if true_hz > 250.0 else 0.05)


@every_string
def test_levels_hold_and_both_tones_are_as_loud(name: str, string: int) -> None:
    meter = pyloudnorm.Meter(RATE_HZ, block_size=1.4)
    apart = []
    for seed in range(12):
        sounded = pair(name, string, (-1.0) ** seed * 7.0, seed)
        assert max(sounded.peak_dbfs, pair(name, string, 7.0, seed, muted=False).peak_dbfs) <= -6.0
        tones = [cut(sounded.sound, span) for span in (sounded.harmonic, sounded.fretted)]
        for tone in tones:
            assert tone[0] == tone[-1] == 0.0
            assert np.isfinite(tone).all()
        # pyloudnorm's BS.1770 loudness, gated; each tone is roved by up to 2 dB on purpose.
        loudness = [meter.integrated_loudness(tone) for tone in tones]
        assert all(-40.0 < level < -25.0 for level in loudness)
        touches = _levels_db(seed)
        apart.append((loudness[1] - touches[1]) - (loudness[0] - touches[0]))
    assert np.abs(apart).max() < 0.3


def _levels_db(seed: int) -> tuple[float, float]:
    rng = np.random.default_rng(seed)
    return draw_touch(rng).level_db, draw_touch(rng).level_db


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(OTHERS), st.floats(-100.0, 100.0), st.floats(-100.0, 100.0), st.integers(0, 2**32 - 1))
def test_the_offset_changes_the_fretted_pitch_and_nothing_else(
    where: tuple[str, int], one_cents: float, other_cents: float, seed: int
) -> None:
    name, string = where
    one, other = pair(name, string, one_cents, seed), pair(name, string, other_cents, seed)
    np.testing.assert_array_equal(cut(one.sound, one.harmonic), cut(other.sound, other.harmonic))
    assert one.sound.samples.size == other.sound.samples.size
    lengths_and_starts = {(p.fretted.start_s, p.fretted.end_s, p.harmonic.start_s) for p in (one, other)}
    assert len(lengths_and_starts) == 1
    loud = [k_weighted_loudness(cut(p.sound, p.fretted), RATE_HZ) for p in (one, other)]
    # A semitone apart the K weighting itself and the partials' beating against the body differ a little.
    assert loud[0] == pytest.approx(loud[1], abs=0.4)


@pytest.mark.parametrize("name", ["mandolin", "archtop-guitar"])
def test_no_feature_tells_the_side(name: str) -> None:
    # As test_leak does for the five-string: each feature by the Mann-Whitney test, 1 % for the family.
    rng = np.random.default_rng(5)
    sharp = rng.random(160) < 0.5
    rows = []
    for n, side in enumerate(sharp):
        string = 1 + n % len(BUILT_IN.named(name).strings)
        sounded = pair(name, string, rng.uniform(2.0, 20.0) * (1.0 if side else -1.0), 9000 + n)
        tone, first_hz = cut(sounded.sound, sounded.fretted), sounded.fretted.frequency_hz
        partials_db = [partial_level_db(tone, RATE_HZ, m * first_hz, 0.4) for m in range(1, 6)]
        peak = np.max(np.abs(tone))
        rows.append(
            [
                k_weighted_loudness(tone, RATE_HZ),
                peak,
                float(peak / np.sqrt(np.mean(tone**2))),
                float(np.argmax(np.abs(tone) > 0.1 * peak)),
                *(level - partials_db[0] for level in partials_db[1:]),
            ]
        )
    table = np.array(rows)
    p = [mannwhitneyu(column[sharp], column[~sharp]).pvalue for column in table.T]
    assert min(p) * len(p) > 0.01


@pytest.mark.parametrize("string", MANDOLIN.numbers)
def test_both_strings_of_a_course_sound_as_one_pitch(string: int) -> None:
    touch = draw_touch(np.random.default_rng(string))
    spec = MANDOLIN.string(string)
    alone = string_modes("fretted", spec, voice_of("fretted", 0.0), touch, RATE_HZ)
    both = both_strings(alone, touch)
    np.testing.assert_array_equal(both.frequency_hz, alone.frequency_hz)
    np.testing.assert_array_equal(both.decay_per_s, alone.decay_per_s)
    # Two strings, one struck later: the sum of their sounds is what the course sounds.
    share = both.weight[:, 0] / alone.weight[:, 0]
    assert share.min() >= 1.0 - SECOND_SHARE - 1e-9
    assert share.max() <= 1.0 + SECOND_SHARE + 1e-9
    late = np.angle(np.exp(1j * both.phase_rad) * share - np.exp(1j * alone.phase_rad))
    first_s = [np.mod(alone.phase_rad[k] - late[k], 2 * np.pi) / (2 * np.pi * alone.frequency_hz[k]) for k in range(3)]
    delays = {k: {first_s[k] + n / alone.frequency_hz[k] for n in range(40)} for k in range(3)}
    shared = [d for d in delays[0] if all(any(abs(d - e) < 1e-9 for e in delays[k]) for k in (1, 2))]
    assert any(0.0003 <= delay <= 0.001 for delay in shared), "one delay explains all partials"
    tone = tone_of(single("mandolin", string, "fretted", 7.0, seed=string))
    # One pitch, so no beating: the level falls all the way.
    levels = [10 * np.log10(np.mean(part**2)) for part in np.array_split(tone[2400:-2400], 20)]
    assert np.all(np.diff(levels) < 0.5)


def test_strings_that_are_no_courses_are_as_they_were() -> None:
    assert {string.course for string in FIVE_STRING.strings} == {1}


def test_both_strings_of_another_course_ring_along() -> None:
    touch = draw_touch(np.random.default_rng(3))
    plucked = MANDOLIN.string(2)
    tone = string_modes("harmonic", plucked, voice_of("harmonic", 0.0), touch, RATE_HZ)
    ringing = sympathetic_modes(MANDOLIN, plucked, tone, touch, RATE_HZ)
    alone = replace(MANDOLIN, strings=tuple(replace(string, course=1) for string in MANDOLIN.strings))
    np.testing.assert_allclose(
        ringing.weight, 2.0 * sympathetic_modes(alone, plucked, tone, touch, RATE_HZ).weight, rtol=1e-12
    )
