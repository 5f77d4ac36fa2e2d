"""What the bench sounds like, measured on the samples by an FFT peak: pitches, the 5th-string trap, beats."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from benches import do, effects, found

from centwise.bench.sound import render_tone, sound_name
from centwise.bench.words import BenchTone, Ring

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.bench.machine import Bench

RATE_HZ = 48_000


def tone_of(bench: Bench, words: str) -> BenchTone:
    ring = effects(bench, words)[0]
    assert isinstance(ring, Ring)
    return ring.tone


def heard(bench: Bench, words: str) -> NDArray[np.float64]:
    single = render_tone(
        tone_of(bench, words), bench.setting.instrument, seed=bench.plan.seed, rate_hz=RATE_HZ, bench_id="b"
    )
    start, end = (round(edge * RATE_HZ) for edge in (single.span.start_s, single.span.end_s))
    return np.asarray(single.sound.samples[start:end], dtype=np.float64)


def peak_hz(samples: NDArray[np.float64], near_hz: float, width_hz: float = 12.0) -> float:
    """Return the strongest component near a frequency: parabola through the log of a Hann-windowed spectrum."""
    late = samples[round(0.3 * RATE_HZ) :]
    size = 1 << (4 * len(late) - 1).bit_length()
    spectrum = np.log(np.abs(np.fft.rfft(late * np.hanning(len(late)), size)) + 1e-30)
    low, high = (int((near_hz + off) * size / RATE_HZ) for off in (-width_hz, width_hz))
    top = low + int(np.argmax(spectrum[low:high]))
    left, middle, right = spectrum[top - 1 : top + 2]
    return float((top + 0.5 * (left - right) / (left - 2 * middle + right)) * RATE_HZ / size)


def cents(frequency_hz: float, reference_hz: float) -> float:
    return float(1200 * np.log2(frequency_hz / reference_hz))


@pytest.mark.parametrize(
    ("number", "octave_hz"), [(1, 587.3295), (2, 493.8833), (3, 391.9954), (4, 293.6648), (5, 783.9909)]
)
def test_in_tune_the_harmonic_is_the_octave_and_the_fretted_note_as_far_off_as_decided(
    number: int, octave_hz: float
) -> None:
    # Octave notes of g D G B D, ISO 16:1975.
    bench = do(found(), "mute", "retune")
    harmonic = peak_hz(heard(bench, f"chime {number}"), octave_hz)
    # Stiffness raises the second mode of these strings by at most 0.2 c (B below 6e-5).
    assert 0.0 <= cents(harmonic, octave_hz) < 0.25
    fretted = peak_hz(heard(bench, f"fret {number}"), octave_hz)
    assert cents(fretted, harmonic) == pytest.approx(tone_of(bench, f"fret {number}").cents, abs=0.01)
    assert cents(peak_hz(heard(bench, f"open {number}"), octave_hz), harmonic) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(("fret", "semitones"), [(5, 5), (7, 7), (19, 19)])
def test_other_frets_sound_their_own_note(fret: int, semitones: int) -> None:
    bench = do(found(), "mute", "retune")
    near_hz = 293.6648 * 2 ** (semitones / 12)
    expected = near_hz * 2 ** (tone_of(bench, f"fret 1 {fret}").cents / 1200)
    assert cents(peak_hz(heard(bench, f"fret 1 {fret}"), near_hz), expected) == pytest.approx(0.0, abs=0.15)


def test_the_5th_string_touched_over_the_12th_fret_rings_its_third() -> None:
    # Derived: it starts at the 5th fret, so fret 12 lies at a third of it; it rings 3 x 391.9954 = 1175.986 Hz, an
    # octave and 1.955 cents over the note fretted there (2 x 587.3295).
    bench = do(found(), "mute", "retune")
    samples = heard(bench, "chime 5 12")
    rung_hz = peak_hz(samples, 1175.986)
    assert cents(rung_hz, 1175.986) == pytest.approx(0.0, abs=0.3)
    assert cents(rung_hz, 2 * 587.3295) == pytest.approx(1.955, abs=0.3)
    # What has no node under the finger is gone: the lowest modes of the open string.
    spectrum = np.abs(np.fft.rfft(samples[round(0.5 * RATE_HZ) :]))
    per_bin = RATE_HZ / len(samples[round(0.5 * RATE_HZ) :])
    level = {hz: spectrum[int((hz - 5) / per_bin) : int((hz + 5) / per_bin)].max() for hz in (392.0, 784.0, 1176.0)}
    assert level[392.0] < 0.01 * level[1176.0]
    assert level[784.0] < 0.01 * level[1176.0]
    assert peak_hz(heard(bench, "chime 5"), 783.991) == pytest.approx(783.991, abs=0.2)


def test_out_of_tune_the_harmonic_is_as_far_off_as_the_open_string() -> None:
    bench = do(found(), "mute", "retune", "bass back 1/8in")
    moved = cents(peak_hz(heard(bench, "chime 4"), 293.6648), 293.6648)
    assert moved == pytest.approx(bench.tuning_cents[4], abs=0.1)


def envelope_dip(samples: NDArray[np.float64], near_hz: float) -> tuple[float, float]:
    """Return how deep the level of one partial swings about its decay, in dB, and how often a second."""
    time_s = np.arange(len(samples)) / RATE_HZ
    kernel = np.hanning(round(RATE_HZ / 12)) / np.hanning(round(RATE_HZ / 12)).sum()
    moved = np.convolve((samples * np.exp(-2j * np.pi * near_hz * time_s))[::40], kernel[::40] * 40, mode="valid")
    level_db = 20 * np.log10(np.abs(moved[round(0.3 * RATE_HZ / 40) :]))
    times_s = np.arange(len(level_db)) * 40 / RATE_HZ
    swing = level_db - np.polyval(np.polyfit(times_s, level_db, 2), times_s)
    rates_hz = np.arange(0.4, 3.0, 0.01)
    strength = [abs(np.sum(swing * np.exp(-2j * np.pi * rate * times_s))) for rate in rates_hz]
    return float(np.ptp(swing)), float(rates_hz[int(np.argmax(strength))])


def test_strings_left_free_beat_with_the_one_that_sounds() -> None:
    # Derived: the 3rd string's third partial, 587.99 Hz, lies 1.955 cents over D5 and beats with it at 0.66 Hz.
    free, still = do(found(), "retune"), do(found(), "mute", "retune")
    samples, quiet = heard(free, "chime 1"), heard(still, "chime 1")
    assert envelope_dip(samples, 587.33)[0] > 4 * envelope_dip(quiet, 587.33)[0]
    assert envelope_dip(samples, 587.33)[1] == pytest.approx(0.66, abs=0.12)


def test_beats_come_from_where_the_neighbours_really_are() -> None:
    # Out of tune by a move, a neighbour rings at the pitch it is really at.
    for words in ((), ("retune",)):
        bench = do(found(), "retune", "treble back 1/8in", *words)
        own_hz = 246.9417 * 2 ** (bench.tuning_cents[2] / 1200)
        assert peak_hz(heard(bench, "chime 4"), own_hz, 4.0) == pytest.approx(own_hz, abs=0.08)
    assert abs(do(found(), "retune", "treble back 1/8in").tuning_cents[2]) > 4.0


def test_the_same_act_of_the_same_rehearsal_sounds_the_same() -> None:
    bench = do(found(), "mute")
    assert np.array_equal(heard(bench, "fret 4"), heard(bench, "fret 4"))
    assert not np.array_equal(heard(bench, "fret 4"), heard(do(bench, "fret 4"), "fret 4"))


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("chime 4", "bench-1f0c9a52-0001-chime-4"),
        ("fret 5 12", "bench-1f0c9a52-0001-fret-5-at-12"),
        ("open 3", "bench-1f0c9a52-0001-open-3"),
    ],
)
def test_names_of_sounds_are_safe_and_say_what_they_are(words: str, name: str) -> None:
    assert sound_name(tone_of(found(), words), "1f0c-9a52/../77") == name


def test_no_tone_is_louder_than_any_other_of_the_program() -> None:
    bench = do(found(difficulty="hard"), "retune")
    for words in ("chime 4", "fret 4", "open 4", "chime 5 12", "fret 1 19", "open 5"):
        assert np.max(np.abs(heard(bench, words))) <= 10 ** (-6 / 20)
