"""What a pair is made of, and that an offset changes nothing in it but the fretted note's pitch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from tone_measures import STRINGS, cut, single

from banjo import FIVE_STRING
from centwise.errors import UsageError
from centwise.model import Condition, PairSpec
from centwise.tones.pair import render_pair, render_pairs, tone_alone
from centwise.tones.touch import draw_touch

if TYPE_CHECKING:
    from centwise.model import PairSound, Tone

RATE_HZ = 44_100


def spec_of(offset_cents: float = 5.0, first: Tone = "harmonic", n: int = 7, **condition: object) -> PairSpec:
    return PairSpec(n=n, condition=Condition(**condition), offset_cents=offset_cents, first=first)  # type: ignore[arg-type]


def rendered(spec: PairSpec, seed: int = 1, rate_hz: int = RATE_HZ) -> PairSound:
    return render_pair(spec, FIVE_STRING, rate_hz=rate_hz, rng=np.random.default_rng(seed))


@pytest.mark.parametrize("first", ["harmonic", "fretted"])
@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000])
def test_silence_tone_silence_tone_silence(first: Tone, rate_hz: int) -> None:
    pair = rendered(spec_of(first=first), rate_hz=rate_hz)
    spans = [pair.span(first), pair.span("fretted" if first == "harmonic" else "harmonic")]
    samples = pair.sound.samples
    edges = [round(time * rate_hz) for span in spans for time in (span.start_s, span.end_s)]
    assert edges == sorted(edges)
    for silence in (samples[: edges[0]], samples[edges[1] : edges[2]], samples[edges[3] :]):
        assert not silence.any()
        assert silence.size > 0
    assert 0.1 <= spans[0].start_s <= 0.2
    assert 0.4 <= spans[1].start_s - spans[0].end_s <= 0.8
    assert edges[1] - edges[0] == edges[3] - edges[2] >= 0.5 * rate_hz
    assert pair.first == first
    assert pair.sound.name == "pair-0007"
    assert samples.dtype == np.float32


@pytest.mark.parametrize("first", ["harmonic", "fretted"])
@pytest.mark.parametrize("tone", ["harmonic", "fretted"])
def test_a_tone_alone_is_the_very_same(first: Tone, tone: Tone) -> None:
    pair = rendered(spec_of(first=first))
    alone = tone_alone(pair, tone)
    heard = cut(pair.sound, pair.span(tone))
    lead = round(0.12 * RATE_HZ)
    assert alone.name == f"pair-0007-{tone}"
    assert not alone.samples[:lead].any()
    assert np.array_equal(alone.samples[lead : lead + heard.size], heard.astype(np.float32))
    assert not alone.samples[lead + heard.size :].any()
    assert alone.samples.size == lead + heard.size + round(0.05 * RATE_HZ)


@pytest.mark.parametrize("muted", [True, False])
def test_the_harmonic_is_the_same_to_the_last_bit_whatever_the_offset(muted: bool) -> None:
    pairs = [rendered(spec_of(offset, muted=muted)) for offset in (-20.0, 0.0, 20.0)]
    harmonics = [cut(pair.sound, pair.harmonic) for pair in pairs]
    assert np.array_equal(harmonics[0], harmonics[1])
    assert np.array_equal(harmonics[0], harmonics[2])
    fretted = [cut(pair.sound, pair.fretted) for pair in pairs]
    assert not np.array_equal(fretted[0], fretted[2])


def test_the_order_of_the_tones_changes_neither() -> None:
    one, other = (rendered(spec_of(first=first)) for first in ("harmonic", "fretted"))
    for tone in ("harmonic", "fretted"):
        assert np.array_equal(cut(one.sound, one.span(tone)), cut(other.sound, other.span(tone)))


def test_an_offset_leaves_onset_noise_and_phase_of_the_fretted_tone() -> None:
    # In the first 0.3 ms 40 cents have hardly turned any partial, and all else must be equal.
    low, high = (cut(pair.sound, pair.fretted) for pair in map(rendered, (spec_of(-20.0), spec_of(20.0))))
    first = round(0.0003 * RATE_HZ)
    assert np.max(np.abs(low[:first] - high[:first])) < 0.05 * np.max(np.abs(low[:first]))


def test_draws_are_as_many_whatever_is_asked() -> None:
    states = []
    for spec, rate_hz in [
        (spec_of(-50.0), 22_050),
        (spec_of(50.0, first="fretted", string=1, muted=False), 192_000),
        (spec_of(0.0, string=5, likeness=1.0), 48_000),
    ]:
        rng = np.random.default_rng(3)
        render_pair(spec, FIVE_STRING, rate_hz=rate_hz, rng=rng)
        states.append(rng.bit_generator.state["state"])
    assert states[0] == states[1] == states[2]


def test_the_two_tones_of_a_pair_are_two_touches() -> None:
    rng = np.random.default_rng(1)
    one, other = draw_touch(rng), draw_touch(rng)
    assert one.level_db != other.level_db
    assert not np.array_equal(one.phases_rad, other.phases_rad)
    assert not np.array_equal(one.pick, other.pick)


def test_candidates_rendered_together_are_those_rendered_one_by_one() -> None:
    specs = [
        spec_of(-8.0),
        spec_of(8.0, first="fretted"),
        spec_of(0.0),
        spec_of(8.0, string=1),
        spec_of(8.0, muted=False),
    ]
    together = render_pairs(specs, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng(1))
    for spec, pair in zip(specs, together, strict=True):
        alone = rendered(spec)
        assert np.array_equal(pair.sound.samples, alone.sound.samples)
        assert (pair.harmonic, pair.fretted, pair.first) == (alone.harmonic, alone.fretted, alone.first)


def test_the_same_seed_makes_the_same_pair_and_another_seed_another() -> None:
    spec = spec_of()
    assert np.array_equal(rendered(spec, 5).sound.samples, rendered(spec, 5).sound.samples)
    assert not np.array_equal(rendered(spec, 5).sound.samples, rendered(spec, 6).sound.samples)


@pytest.mark.parametrize("string", STRINGS)
def test_the_spans_carry_the_pitches(string: int) -> None:
    pair = rendered(spec_of(12.0, string=string))
    assert pair.fretted.frequency_hz / pair.harmonic.frequency_hz == pytest.approx(2.0 ** (12.0 / 1200.0))
    octave_hz = FIVE_STRING.string(string).octave_hz
    # Stiffness raises the first partial by up to 2B n^2 / 4, well under a fifth of a cent.
    assert 1.0 < pair.harmonic.frequency_hz / octave_hz < 1.00012


@pytest.mark.parametrize(
    ("spec", "rate_hz", "message"),
    [
        (spec_of(100.5), 48_000, "an offset of 100.5 cents is outside -100 to 100"),
        (spec_of(-101.0), 48_000, "an offset of -101 cents"),
        (spec_of(float("nan")), 48_000, "an offset of nan cents"),
        (spec_of(), 22_049, "a rate of 22049 Hz is outside 22050 to 192000"),
        (spec_of(), 192_001, "a rate of 192001 Hz"),
        (spec_of(likeness=1.5), 48_000, "a likeness of 1.5 is outside 0 to 1"),
        (spec_of(likeness=-0.1), 48_000, "a likeness of -0.1"),
        (spec_of(string=6), 48_000, "has no string 6"),
    ],
)
def test_what_cannot_be_rendered_is_named(spec: PairSpec, rate_hz: int, message: str) -> None:
    with pytest.raises(UsageError, match=message):
        rendered(spec, rate_hz=rate_hz)
    with pytest.raises(UsageError, match=message):
        single(
            "fretted",
            spec.condition.string,
            offset_cents=spec.offset_cents,
            rate_hz=rate_hz,
            likeness=spec.condition.likeness,
        )
