"""Pairs of recorded notes: the offset is what was asked, and nothing but pitch depends on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from recorded_takes import as_array, plucked, three_pairs
from tone_measures import cut, level_db, partial_level_db, phase_fit_hz

from centwise.errors import InputError, UsageError
from centwise.model import TONES, Condition, PairSpec
from centwise.tones.loudness import k_weighted_loudness
from centwise.tones.recorded import FADE_IN_S, LEAD_S, RecordedVoice

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import PairSound, Tone, Voice

RATE_HZ = 48_000
CEILING = 10.0 ** (-6.0 / 20.0)


@pytest.fixture(scope="module")
def voice() -> RecordedVoice:
    return RecordedVoice(three_pairs(), RATE_HZ)


def pair_of(
    voice: RecordedVoice, offset_cents: float, seed: int = 1, *, first: Tone = "harmonic", kind: Voice = "shifted"
) -> PairSound:
    spec = PairSpec(n=1, condition=Condition(voice=kind), offset_cents=offset_cents, first=first)
    return voice.render_pairs([spec], np.random.default_rng(seed))[0]


def measured_cents(pair: PairSound, partial: int = 1) -> float:
    """Heterodyne and phase fit: a method the resampling knows nothing of."""
    low, high = (
        phase_fit_hz(cut(pair.sound, pair.span(tone)), pair.sound.rate_hz, partial * pair.span(tone).frequency_hz)
        for tone in TONES
    )
    return 1200.0 * float(np.log2(high / low))


@pytest.mark.parametrize("offset_cents", [-100.0, -41.7, -7.3, -0.5, 0.0, 0.01, 2.2, 13.0, 100.0])
def test_the_offset_is_what_was_asked_in_every_partial(voice: RecordedVoice, offset_cents: float) -> None:
    for seed in range(3):
        pair = pair_of(voice, offset_cents, seed)
        for partial in (1, 2, 3):
            assert measured_cents(pair, partial) == pytest.approx(offset_cents, abs=1e-3)
        assert phase_fit_hz(cut(pair.sound, pair.harmonic), RATE_HZ, pair.harmonic.frequency_hz) == pytest.approx(
            pair.harmonic.frequency_hz, rel=5e-6
        )


@pytest.mark.parametrize("rate_hz", [16_000, 44_100, 96_000])
def test_a_take_of_another_rate(rate_hz: int) -> None:
    pair = pair_of(RecordedVoice(three_pairs(rate_hz), RATE_HZ), -11.0)
    assert pair.sound.rate_hz == RATE_HZ
    assert measured_cents(pair) == pytest.approx(-11.0, abs=0.01)


def test_a_pair_as_it_was_played_keeps_its_own_offset(voice: RecordedVoice) -> None:
    for n, own_cents in ((1, 5.7), (2, 5.9), (3, 7.6), (4, 5.7)):
        spec = PairSpec(n=n, condition=Condition(voice="recorded"), offset_cents=own_cents, first="fretted")
        pair = voice.render_pairs([spec], np.random.default_rng(n))[0]
        assert measured_cents(pair) == pytest.approx(own_cents, abs=0.01)
        assert pair.fretted.start_s < pair.harmonic.start_s


OFFSETS = (-30.0, -8.0, -1.0, 0.0, 1.0, 8.0, 30.0)


def features(tone: NDArray[np.float64], first_hz: float) -> dict[str, float]:
    partials = [partial_level_db(tone, RATE_HZ, m * first_hz, 0.4) for m in range(1, 5)]
    windows = ((0.02, 0.1), (0.4, 0.5), (0.9, 1.0), (1.25, 1.35))
    return {
        "loudness_db": k_weighted_loudness(tone, RATE_HZ),
        "peak_db": 20.0 * float(np.log10(np.max(np.abs(tone)))),
        "onset_ms": 1e3 * int(np.argmax(np.abs(tone) > 0.3 * np.max(np.abs(tone)))) / RATE_HZ,
        **{f"partial_{m + 1}_db": partials[m] - partials[0] for m in range(1, 4)},
        **{f"level_at_{low}_db": level_db(tone, RATE_HZ, low, high) for low, high in windows},
        "before_db": level_db(tone, RATE_HZ, FADE_IN_S, LEAD_S - 0.002),
    }


def test_nothing_but_pitch_depends_on_the_offset(voice: RecordedVoice) -> None:
    """Across 60 cents each feature moves by far less than anybody hears, 0.1 dB of level, 0.1 ms of time (trained
    listeners tell levels 0.5 to 1 dB apart, from memory), while the rove alone moves it by up to 4 dB."""
    for seed in range(4):
        pairs = [pair_of(voice, offset, seed) for offset in OFFSETS]
        assert len({len(pair.sound.samples) for pair in pairs}) == 1
        assert len({(pair.harmonic, pair.fretted.start_s, pair.fretted.end_s) for pair in pairs}) == 1
        harmonics = [cut(pair.sound, pair.harmonic) for pair in pairs]
        for other in harmonics[1:]:
            np.testing.assert_array_equal(other, harmonics[0])
        table = [features(cut(pair.sound, pair.fretted), pair.fretted.frequency_hz) for pair in pairs]
        for name in table[0]:
            spread = np.ptp([row[name] for row in table])
            # 6 ms of noise at -100 dB scatter by themselves.
            allowed = {"before_db": 1.5}.get(name, 0.1)
            assert spread < allowed, f"{name} moves by {spread:.3f}"


def test_without_its_own_care_the_dying_away_would_tell(voice: RecordedVoice) -> None:
    """The control: the same notes merely resampled move more than that."""
    source = voice._pairs[0]["fretted"]
    plain = []
    for cents in (-30.0, 30.0):
        places = source.note.attack_s * RATE_HZ + source._times * 2.0 ** (cents / 1200.0)
        plain.append(level_db(source._reader.read(source.note.samples, places), RATE_HZ, 1.25, 1.35))
    assert plain[0] - plain[1] > 1.0


def test_both_tones_are_equally_loud_but_for_the_rove_and_lie_on_one_noise() -> None:
    noisy = RecordedVoice(three_pairs(noise=1e-3), RATE_HZ)
    apart, floors = [], []
    for seed in range(40):
        pair = pair_of(noisy, 0.0, seed)
        tones = [cut(pair.sound, pair.span(tone)) for tone in TONES]
        apart.append(k_weighted_loudness(tones[1], RATE_HZ) - k_weighted_loudness(tones[0], RATE_HZ))
        floors.append([level_db(tone, RATE_HZ, FADE_IN_S, LEAD_S - 0.002) for tone in tones])
    # The difference of two roves of -2 to 2 dB each: a triangle with a standard deviation of 1.63 dB.
    assert np.mean(apart) == pytest.approx(0.0, abs=4 * 1.63 / np.sqrt(40))
    assert np.std(apart) == pytest.approx(1.63, abs=0.6)
    assert np.max(np.abs(apart)) <= 4.1
    # Recorded with the harmonic 8 dB softer, its noise would lie 8 dB higher; on the common noise it is 3 dB at most.
    assert abs(np.mean(np.diff(floors, axis=1))) < 3.5


@settings(max_examples=25, deadline=None)
@given(
    offset_cents=st.floats(-100.0, 100.0),
    seed=st.integers(0, 2**32 - 1),
    first=st.sampled_from(TONES),
    level=st.floats(0.003, 0.9),
    kind=st.sampled_from(["recorded", "shifted"]),
    rate_hz=st.sampled_from([22_050, 44_100, 48_000]),
)
def test_never_too_loud_and_no_click(
    offset_cents: float, seed: int, first: Tone, level: float, kind: Voice, rate_hz: int
) -> None:
    notes = (plucked(0.0, level=level, partials=2), plucked(3.0, level=0.2, decay_per_s=12.0, partials=12))
    pair = pair_of(RecordedVoice([notes], rate_hz), offset_cents, seed, first=first, kind=kind)
    samples = as_array(pair.sound.samples)
    assert pair.sound.samples.dtype == np.float32
    assert np.max(np.abs(samples)) <= CEILING
    assert pair.peak_dbfs == pytest.approx(20.0 * np.log10(np.max(np.abs(samples))))
    for tone in TONES:
        part = cut(pair.sound, pair.span(tone))
        peak = np.max(np.abs(part))
        assert part[0] == part[-1] == 0.0
        assert np.max(np.abs(part[: round(1e-3 * rate_hz)])) < 0.03 * peak
        assert np.max(np.abs(part[-round(1e-3 * rate_hz) :])) < 0.003 * peak


def test_one_place_in_a_block_is_drawn_once(voice: RecordedVoice) -> None:
    specs = [
        PairSpec(n=9, condition=Condition(voice="shifted"), offset_cents=cents, first="harmonic")
        for cents in (-5.0, 0.0, 5.0)
    ]
    together = voice.render_pairs(specs, np.random.default_rng(3))
    for spec, pair in zip(specs, together, strict=True):
        alone = voice.render_pairs([spec], np.random.default_rng(3))[0]
        np.testing.assert_array_equal(alone.sound.samples, pair.sound.samples)
    assert len({pair_of(voice, 0.0, seed).harmonic.frequency_hz for seed in range(8)}) == 8


def test_what_cannot_be_heard_is_refused() -> None:
    short = (plucked(0.0, seconds=0.3), plucked(1.0))
    with pytest.raises(InputError, match=r"can be heard for 0\.3\d s only: record notes that ring for 1 s or longer"):
        RecordedVoice([short], RATE_HZ)
    with pytest.raises(UsageError, match="a rate of 8000 Hz"):
        RecordedVoice(three_pairs(), 8_000)
    with pytest.raises(UsageError, match="an offset of 101 cents is outside"):
        pair_of(RecordedVoice(three_pairs(), RATE_HZ), 101.0)
