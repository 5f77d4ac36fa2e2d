"""A pair of recorded notes written out step by step, and the filter it is read through tap by tap."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import numpy as np
import pytest
from recorded_takes import OCTAVE_HZ, plucked
from scipy.signal import resample

from centwise.errors import InputError, UsageError
from centwise.model import TONES, Condition, PairSpec
from centwise.tones.loudness import k_weighted_loudness
from centwise.tones.recorded import RecordedNote, RecordedVoice
from centwise.tones.resample import Reader

RATE_HZ = 22_050


def short_pairs() -> list[tuple[RecordedNote, RecordedNote]]:
    return [
        (plucked(0.0, seconds=0.9, level=0.1), plucked(6.0, seconds=0.8, level=0.3, decay_per_s=6.0)),
        (plucked(-2.0, seconds=0.9, level=0.2), plucked(3.0, seconds=0.75, level=0.4)),
    ]


@functools.cache
def reader_of(band: float) -> Reader:
    return Reader(band)


def reading(
    note: RecordedNote, pairs: list[tuple[RecordedNote, RecordedNote]], cents: float, frames: int
) -> np.ndarray:
    """One note moved by cents: read at other places, and made as loud there as it was where it would have been."""
    every = [each.cents for pair in pairs for each in pair]
    most_ratio = 2.0 ** ((100.0 + max(every) - min(every) + 5.0) / 1200.0)
    reader = reader_of(0.5 * min(1.0, RATE_HZ / note.rate_hz) / most_ratio)
    times = (np.arange(frames) / RATE_HZ - 0.02) * note.rate_hz
    attack = note.attack_s * note.rate_hz
    still, moved = attack + times, attack + times * 2.0 ** (cents / 1200.0)
    hop = round(0.03 * note.rate_hz)
    levels = [
        0.5 * math.log(max(float(np.mean(note.samples[at : at + hop].astype(float) ** 2)), 1e-20))
        for at in range(0, len(note.samples) - hop + 1, hop)
    ]
    summit = levels.index(max(levels))
    for place in range(len(levels)):
        levels[place] = levels[summit] if place <= summit else min(levels[place], levels[place - 1])
    middles = (np.arange(len(levels)) + 0.5) * hop
    undone = np.interp(still, middles, levels) - np.interp(moved, middles, levels)
    return np.asarray(reader.read(note.samples, moved) * np.exp(undone))


def silence(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * RATE_HZ))


def faded(frames: int) -> np.ndarray:
    fade = np.ones(frames)
    rise, fall = round(0.012 * RATE_HZ), round(0.030 * RATE_HZ)
    for place in range(rise):
        fade[place] = 0.5 - 0.5 * math.cos(math.pi * place / rise)
    for place in range(fall):
        fade[frames - 1 - place] = 0.5 - 0.5 * math.cos(math.pi * place / fall)
    return fade


@pytest.mark.parametrize("kind", ["shifted", "recorded"])
@pytest.mark.parametrize("first", TONES)
def test_a_pair_step_by_step(kind: str, first: str) -> None:
    pairs = short_pairs()
    voice = RecordedVoice(pairs, RATE_HZ)
    every = [note.cents for pair in pairs for note in pair]
    most_ratio = 2.0 ** ((100.0 + max(every) - min(every) + 5.0) / 1200.0)
    shortest_s = min((len(n.samples) / n.rate_hz - n.attack_s) / most_ratio + 0.02 for pair in pairs for n in pair)
    assert voice.tone_s == pytest.approx(shortest_s)
    frames = round(voice.tone_s * RATE_HZ)
    condition = Condition(voice=kind)  # type: ignore[arg-type]
    spec = PairSpec(n=2, condition=condition, offset_cents=-17.0, first=first)  # type: ignore[arg-type]
    drawn = np.random.default_rng(10)
    made = voice.render_pairs([spec], drawn)[0]
    # The draws, in this order for ever: two notes, the common move, two roves, the noise under all; and no more.
    rng = np.random.default_rng(10)
    chosen = {tone: pairs[int(rng.integers(2))][place] for place, tone in enumerate(TONES)}
    common_cents = rng.uniform(-5.0, 5.0)
    roves_db = [rng.uniform(-2.0, 2.0) for _ in TONES]
    bed = np.clip(rng.standard_normal(2 * frames), -4.5, 4.5)
    assert drawn.random() == rng.random()
    assert chosen["harmonic"].cents != 0.0
    apart = chosen["fretted"].cents - chosen["harmonic"].cents
    shifts = [common_cents, common_cents - 17.0 - apart]
    if kind == "recorded":
        chosen, shifts, roves_db = dict(zip(TONES, pairs[1], strict=True)), [0.0, 0.0], [0.0, 0.0]

    def gain_of(note: RecordedNote) -> float:
        # Every note comes to -31 LKFS (ITU-R BS.1770), measured on the note as it was played.
        return float(10.0 ** ((-31.0 - k_weighted_loudness(reading(note, pairs, 0.0, frames), RATE_HZ)) / 20.0))

    def background_of(note: RecordedNote) -> float:
        before = note.samples[: round((note.attack_s - 0.02) * note.rate_hz)].astype(float)
        return float(np.std(before))

    noise = max(gain_of(note) * background_of(note) for pair in pairs for note in pair)
    order = [0, 1] if first == "harmonic" else [1, 0]
    gains = [gain_of(chosen[tone]) * 10.0 ** (roves_db[place] / 20.0) for place, tone in enumerate(TONES)]
    tones = []
    for place, index in enumerate(order):
        under = noise * bed[place * frames : (place + 1) * frames]
        sound = reading(chosen[TONES[index]], pairs, shifts[index], frames)
        tones.append(faded(frames) * (gains[index] * sound + under))
    expected = np.concatenate(
        [
            np.zeros(round(0.12 * RATE_HZ)),
            tones[0],
            np.zeros(round(0.5 * RATE_HZ)),
            tones[1],
            np.zeros(round(0.05 * RATE_HZ)),
        ]
    )
    assert made.sound.samples == pytest.approx(expected, abs=2e-5 * np.max(np.abs(expected)))
    assert (made.sound.name, made.sound.rate_hz) == ("pair-0002", RATE_HZ)
    assert made.first == first
    for index, tone in enumerate(TONES):
        span = made.span(tone)
        start = round(0.12 * RATE_HZ) + (0 if order[0] == index else frames + round(0.5 * RATE_HZ))
        assert (span.start_s, span.end_s) == (start / RATE_HZ, (start + frames) / RATE_HZ)
        assert span.frequency_hz == pytest.approx(chosen[tone].frequency_hz * 2.0 ** (shifts[index] / 1200.0))
    assert made.peak_dbfs == pytest.approx(20.0 * math.log10(np.max(np.abs(made.sound.samples))))


def test_a_note_with_a_high_crest_brings_the_pair_down_together() -> None:
    # A click on a soft tone: at -31 LKFS its crest would pass the ceiling, so both tones are turned down alike.
    soft = plucked(0.0, seconds=0.9, level=0.02, decay_per_s=0.5)
    samples = soft.samples.copy()
    samples[round((soft.attack_s + 0.1) * soft.rate_hz) + 1] += 0.9
    pair = (replace(soft, samples=samples), plucked(3.0, seconds=0.9))
    voice = RecordedVoice([pair], RATE_HZ)
    made = voice.render_pairs([as_played(1)], Quiet())[0]  # type: ignore[arg-type]
    frames = round(voice.tone_s * RATE_HZ)
    plain = [reading(note, [pair], 0.0, frames) for note in pair]
    gains = [10.0 ** ((-31.0 - k_weighted_loudness(sound, RATE_HZ)) / 20.0) for sound in plain]
    # The crest between the samples too, four times as many of them: ITU-R BS.1770, annex 2.
    crests = [float(np.max(np.abs(resample(sound * faded(frames), 4 * frames)))) for sound in plain]
    assert crests[0] > 1.1 * np.max(np.abs(plain[0]))
    noise = max(
        gain * float(np.std(note.samples[: round((note.attack_s - 0.02) * note.rate_hz)].astype(float)))
        for gain, note in zip(gains, pair, strict=True)
    )
    loudest = max(gain * crest for gain, crest in zip(gains, crests, strict=True)) + 4.5 * noise
    # A tenth of a decibel below the ceiling of 6 dB below full scale.
    common = 10.0 ** (-6.1 / 20.0) / loudest
    assert common < 0.9
    start = round(0.12 * RATE_HZ)
    for sound, gain in zip(plain, gains, strict=True):
        tone = made.sound.samples[start : start + frames]
        assert tone == pytest.approx(common * gain * faded(frames) * sound, abs=1e-5)
        start += frames + round(0.5 * RATE_HZ)


class Quiet:
    """Draws the first note and the middle of every range, and one value for all noise."""

    def __init__(self, noise: float = 0.0) -> None:
        self._noise = noise

    def integers(self, _count: int) -> int:
        return 0

    def uniform(self, low: float, high: float) -> float:
        return 0.5 * (low + high)

    def standard_normal(self, frames: int) -> np.ndarray:
        return np.full(frames, self._noise)


def as_played(n: int) -> PairSpec:
    return PairSpec(n=n, condition=Condition(voice="recorded"), offset_cents=0.0, first="harmonic")


@pytest.mark.parametrize(("drawn", "held"), [(4.0, 4.0), (10.0, 4.5), (-10.0, -4.5)])
def test_the_noise_under_a_pair_is_held_within_four_and_a_half_sigmas(drawn: float, held: float) -> None:
    pair = (plucked(0.0, seconds=0.6, noise=1e-3), plucked(3.0, seconds=0.6, noise=2e-3))
    voice = RecordedVoice([pair], RATE_HZ)
    one, other = (
        voice.render_pairs([as_played(1)], Quiet(noise))[0].sound.samples  # type: ignore[arg-type]
        for noise in (1.0, drawn)
    )
    none = voice.render_pairs([as_played(1)], Quiet())[0].sound.samples  # type: ignore[arg-type]
    middle = round(0.5 * RATE_HZ)
    assert one[middle] - none[middle] > 1e-5
    assert (other - none)[middle] == pytest.approx(held * (one - none)[middle], rel=1e-3)


def test_the_background_is_what_moves_before_the_attack() -> None:
    # A constant is no noise, and of a note cut at its very attack nothing is known but one sample.
    still = replace(plucked(0.0, seconds=0.7, noise=0.0), attack_s=0.15)
    moved = replace(still, samples=still.samples + np.float32(0.01))
    cut = replace(still, samples=still.samples[round(0.15 * still.rate_hz) :], attack_s=0.0)
    for note in (moved, cut):
        voice = RecordedVoice([(note, note)], RATE_HZ)
        loud, none = (
            voice.render_pairs([as_played(1)], Quiet(noise))[0].sound.samples  # type: ignore[arg-type]
            for noise in (4.0, 0.0)
        )
        assert loud == pytest.approx(none, abs=1e-6)


def test_pairs_are_played_in_their_order_and_come_round() -> None:
    cents = [0.0, 3.0, -2.0]
    voice = RecordedVoice([(plucked(c, seconds=0.6), plucked(c + 5.0, seconds=0.6)) for c in cents], RATE_HZ)
    made = voice.render_pairs([as_played(n) for n in (1, 2, 3, 4, 5)], np.random.default_rng(1))
    heard = [1200.0 * math.log2(pair.harmonic.frequency_hz / OCTAVE_HZ) for pair in made]
    assert heard == pytest.approx([0.0, 3.0, -2.0, 0.0, 3.0])


def test_a_take_of_a_lower_rate_is_read_up_to_its_own_limit() -> None:
    pair = (plucked(0.0, seconds=0.6, rate_hz=22_050), plucked(3.0, seconds=0.6, rate_hz=22_050))
    voice = RecordedVoice([pair], 44_100)
    tone = voice.render_pairs([as_played(1)], Quiet())[0].sound.samples  # type: ignore[arg-type]
    power = np.abs(np.fft.rfft(tone * np.hanning(tone.size))) ** 2
    hz = np.fft.rfftfreq(tone.size, 1.0 / 44_100)
    assert power[hz > 11_500.0].sum() < 1e-8 * power.sum()


def test_a_take_that_is_too_short_or_empty_is_told() -> None:
    with pytest.raises(InputError) as caught:
        RecordedVoice([(plucked(0.0, seconds=0.4), plucked(1.0))], RATE_HZ)
    told = str(caught.value)
    assert told.startswith("the shortest of the recorded notes can be heard for 0.4")
    assert told.endswith(" s only: record notes that ring for 1 s or longer.")
    late = RecordedNote(np.zeros(100, dtype=np.float32), 48_000, 5.0, 0.0, 587.33)
    with pytest.raises(InputError, match=r"can be heard for 0\.00 s only"):
        RecordedVoice([(late, late)], RATE_HZ)
    silent = RecordedNote(np.zeros(96_000, dtype=np.float32), 48_000, 0.1, 0.0, 587.33)
    with pytest.raises(InputError) as caught:
        RecordedVoice([(silent, silent)], RATE_HZ)
    assert str(caught.value) == "a recorded note holds no sound: record it again."
    # No tone is longer than a rendered one.
    assert RecordedVoice([(plucked(0.0, seconds=4.0), plucked(1.0, seconds=4.0))], RATE_HZ).tone_s == 1.4


@pytest.mark.parametrize("band", [0.5, 0.31, 0.1])
def test_the_filter_tap_by_tap(band: float) -> None:
    # Kaiser's window of 100 dB, falling over 15 % of the band (design formulas of 1974, recalled).
    reader = Reader(band)
    width = 0.15 * band
    half = math.ceil((100.0 - 7.95) / (14.36 * width) / 2.0)
    assert reader.half == half
    samples = np.random.default_rng(1).standard_normal(400)
    places = np.array([200.0, 200.3, 251.9173, 3.25, 398.5, -2.0, 399.0])
    for place, read in zip(places, reader.read(samples, places), strict=True):
        base = math.floor(place)
        at = np.arange(base + 1 - half, base + half + 1)
        offset = at - place
        taps = 2.0 * (band - width / 2.0) * np.sinc(2.0 * (band - width / 2.0) * offset)
        taps *= np.i0(0.1102 * (100.0 - 8.7) * np.sqrt(np.maximum(0.0, 1.0 - (offset / half) ** 2)))
        taps /= taps.sum()
        inside = (at >= 0) & (at < 400)
        assert read == pytest.approx(float(taps[inside] @ samples[at[inside]]), abs=2e-5)
    # Many places at once are read as each by itself.
    many = np.linspace(-40.0, 440.0, 9001)
    assert np.array_equal(reader.read(samples, many)[4090:4110], reader.read(samples, many[4090:4110]))


def test_no_place_at_all_is_read_as_nothing() -> None:
    assert Reader(0.5).read(np.ones(10), np.zeros(0)).shape == (0,)


@pytest.mark.parametrize("band", [0.0, -0.1, 0.51])
def test_a_band_that_cannot_be(band: float) -> None:
    with pytest.raises(UsageError) as caught:
        Reader(band)
    assert str(caught.value) == f"a band of {band:g} cycles a sample cannot be read: choose one above 0, at most 0.5."


def test_a_place_a_hair_below_a_whole_one_can_be_read() -> None:
    samples = np.random.default_rng(2).standard_normal(400)
    read = Reader(0.5).read(samples, np.array([0.0, -1e-20, -1e-17]))
    assert read == pytest.approx(np.full(3, read[0]), abs=1e-5)  # as near as straight lines between phases come
    # In the last of the phases lines run to its own end, where the taps are exact.
    place, reader = 201.0 - 1e-7, Reader(0.5)
    at = np.arange(201 - reader.half, 201 + reader.half)
    taps = np.sinc(2.0 * (0.5 - 0.0375) * (at - place))
    taps *= np.i0(0.1102 * (100.0 - 8.7) * np.sqrt(1.0 - ((at - place) / reader.half) ** 2))
    assert reader.read(samples, np.array([place]))[0] == pytest.approx(float(taps @ samples[at] / taps.sum()), abs=1e-9)
