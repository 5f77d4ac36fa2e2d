"""Whole takes: what is found in them, and which are refused, with the reason and what to do."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from contextlib import suppress

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import resample_poly
from takes import D5_HZ, RATE_HZ, glided, moved, note, recording, silence, take

from banjo import FIVE_STRING
from centwise.draws import Draws, Purpose
from centwise.errors import InputError, UsageError
from centwise.model import Condition, PairSpec
from centwise.pitch.measure import measure_apart, measure_take
from centwise.pitch.records import RefusedNoteError
from centwise.tones.pair import render_pair

STRINGS = {1: 587.3295, 2: 493.8833, 3: 391.9954, 4: 293.6648, 5: 783.9909}
"""Octave notes of open G, g D G B D: twelve-tone equal temperament, A4 = 440 Hz (ISO 16:1975)."""


def refused(samples: np.ndarray, words: str, string: int | None = None, name: str = "take.wav") -> None:
    with pytest.raises(InputError, match=words) as caught:
        measure_take(recording(samples, name=name), FIVE_STRING, string)
    assert re.fullmatch(r"[^\n]+: [^\n]+\.", str(caught.value))


@given(
    string=st.sampled_from(sorted(STRINGS)),
    tuning_cents=st.floats(-90.0, 90.0),
    cents=st.floats(-55.0, 55.0),
    partials=st.integers(1, 8),
    decay=st.floats(0.5, 5.0),
)
@settings(max_examples=30, deadline=None)
def test_any_pair_of_any_string_is_read(
    string: int, tuning_cents: float, cents: float, partials: int, decay: float
) -> None:
    harmonic_hz = moved(STRINGS[string], tuning_cents)
    first, second = (note(hz, partials=partials, decay_per_s=decay) for hz in (harmonic_hz, moved(harmonic_hz, cents)))
    found = measure_take(recording(take(first, second)), FIVE_STRING)
    assert found.string == string
    assert found.cents == pytest.approx(cents, abs=0.005)
    assert found.harmonic_hz == pytest.approx(harmonic_hz, rel=1e-5)
    assert found.fretted_hz == pytest.approx(moved(harmonic_hz, cents), rel=1e-5)
    assert found.std_error_cents >= found.bound_cents > 0.0


@pytest.mark.parametrize("rate_hz", [16_000, 22_050, 32_000, 44_100, 88_200, 96_000, 176_400, 192_000])
def test_at_every_rate_and_in_stereo(rate_hz: int) -> None:
    mono = take(note(D5_HZ, rate_hz=rate_hz), note(moved(D5_HZ, 3.0), rate_hz=rate_hz), rate_hz=rate_hz)
    for samples in (mono, np.stack((mono, 0.4 * mono), axis=1)):
        assert measure_take(recording(samples, rate_hz), FIVE_STRING).cents == pytest.approx(3.0, abs=0.002)


@pytest.mark.parametrize(("cents", "verdict"), [(-4.0, "flat"), (0.0, "unison"), (0.05, "unison"), (1.5, "sharp")])
def test_the_verdict(cents: float, verdict: str) -> None:
    found = measure_take(recording(take(note(D5_HZ), note(moved(D5_HZ, cents)))), FIVE_STRING)
    assert found.verdict == verdict


def test_several_plucks_are_combined_by_their_scatter() -> None:
    rng = np.random.default_rng(4)
    scatter = rng.normal(0.0, 1.5, (6, 2))
    notes = [note(moved(D5_HZ, cents)) for pair in scatter + np.array([0.0, -4.0]) for cents in pair]
    found = measure_take(recording(take(*notes)), FIVE_STRING)
    apart = scatter[:, 1] - scatter[:, 0] - 4.0
    assert found.cents == pytest.approx(apart.mean(), abs=0.5)  # Huber's weights are not the plain mean's
    # The standard error of a mean of six, widened by Student's t at 5 degrees of freedom: 2.015 / 1.645.
    assert found.std_error_cents == pytest.approx(apart.std(ddof=1) / np.sqrt(6) * 2.015 / 1.645, rel=0.4)
    assert found.pluck_scatter_cents == pytest.approx(apart.std(ddof=1), rel=0.4)
    assert [row.tone for row in found.plucks] == ["harmonic", "fretted"] * 6
    shown = [row.cents for row in found.plucks]
    np.testing.assert_allclose(np.subtract(shown[1::2], shown[::2]), apart, atol=0.01)


def test_a_slow_drift_of_the_tuning_cancels_out_of_pairs() -> None:
    notes = [note(moved(D5_HZ, -0.8 * place + (-4.0 if place % 2 else 0.0))) for place in range(8)]
    found = measure_take(recording(take(*notes)), FIVE_STRING)
    assert found.cents == pytest.approx(-4.8, abs=0.005)
    assert found.std_error_cents < 0.02


def test_partials_that_do_not_agree_widen_the_error() -> None:
    times_s = np.arange(RATE_HZ * 3 // 2) / RATE_HZ
    cents = np.array([-4.0, -3.0, -5.5, -4.5, -2.5, -4.2])
    strings = sum(
        np.exp(-2.0 * times_s) * np.sin(2.0 * np.pi * number * moved(D5_HZ, off) * times_s) / number
        for number, off in enumerate(cents, 1)
    )
    strings[:20] *= np.linspace(0.0, 1.0, 20)
    found = measure_take(recording(take(note(D5_HZ), 0.2 * strings)), FIVE_STRING)
    np.testing.assert_allclose([row.cents for row in found.partials], cents, atol=0.01)
    assert found.cents == pytest.approx(cents.mean(), abs=0.3)
    assert found.std_error_cents == pytest.approx(cents.std(ddof=1) / np.sqrt(6) * 2.015 / 1.645, rel=0.3)


def test_knocks_and_hum_are_passed_over() -> None:
    rng = np.random.default_rng(1)
    knock = 0.1 * rng.standard_normal(1500) * np.exp(-np.arange(1500) / 300.0)
    samples = take(knock, note(D5_HZ), knock, note(moved(D5_HZ, -4.0)), knock)
    samples += 0.01 * np.sin(2.0 * np.pi * 50.0 * np.arange(samples.size) / RATE_HZ) + 0.05
    found = measure_take(recording(samples), FIVE_STRING)
    assert found.cents == pytest.approx(-4.0, abs=0.01)


@pytest.mark.parametrize("seconds", [0.5, 1.0, 3.0, 6.0])
def test_notes_cut_tight_and_notes_of_any_length(seconds: float) -> None:
    samples = np.concatenate((note(D5_HZ, seconds=seconds), note(moved(D5_HZ, -4.0), seconds=seconds)))
    found = measure_take(
        recording(samples + 1e-6 * np.random.default_rng(1).standard_normal(samples.size)), FIVE_STRING
    )
    assert found.cents == pytest.approx(-4.0, abs=0.02)


def test_harmonics_and_fretted_notes_told_apart_by_their_files() -> None:
    harmonics = recording(take(*[note(D5_HZ)] * 3), name="h.wav")
    fretted = recording(take(*[note(moved(D5_HZ, 5.0))] * 2), name="f.wav")
    found = measure_apart(harmonics, fretted, FIVE_STRING)
    assert found.cents == pytest.approx(5.0, abs=0.005)
    assert not found.paired
    assert [(row.tone, row.recording) for row in found.plucks] == [("harmonic", "h.wav")] * 3 + [
        ("fretted", "f.wav")
    ] * 2
    assert measure_apart(fretted, harmonics, FIVE_STRING).cents == pytest.approx(-5.0, abs=0.005)


def test_silence_noise_and_clipping_are_refused() -> None:
    rng = np.random.default_rng(1)
    refused(np.zeros(RATE_HZ), "take.wav is silent")
    refused(1e-5 * rng.standard_normal(RATE_HZ), "take.wav is silent")
    refused(0.1 * rng.standard_normal(3 * RATE_HZ), "no clear note, only noise")
    refused(np.clip(8.0 * take(note(D5_HZ), note(D5_HZ)), -1.0, 1.0), "the note at 0.4 s in take.wav is clipped")


def test_one_note_and_an_odd_number_are_refused() -> None:
    refused(take(note(D5_HZ)), "holds one note only, at 0.4 s")
    refused(take(*[note(D5_HZ)] * 3), r"holds 3 notes \(at 0.4, 2.3, 4.2 s\), so one has no partner")


@pytest.mark.parametrize(
    ("harmonic_hz", "fretted_hz", "string", "words"),
    [
        (D5_HZ, D5_HZ / 2.0, None, "the fretted note at 2.3 s in take.wav lies 1 octave below"),
        (D5_HZ, D5_HZ * 2.0, None, "1 octave above"),
        (D5_HZ, moved(D5_HZ, 200.0), None, "2.0 semitones above"),
        # A neighbouring fret: equal temperament.
        (D5_HZ, moved(D5_HZ, 100.0), None, "1.0 semitones above the harmonic: another fret"),
        (D5_HZ, moved(D5_HZ, -100.0), None, "1.0 semitones below the harmonic: another fret"),
        (D5_HZ, moved(D5_HZ, -95.0), None, "another fret"),
        (moved(D5_HZ, 80.0), moved(D5_HZ, -20.0), 1, "another fret"),
        (D5_HZ, STRINGS[2], None, "3.0 semitones below"),
        (D5_HZ, D5_HZ, 4, "the octave of string 1, not of string 4|an octave above"),
        (D5_HZ / 2.0, D5_HZ / 2.0, 1, "an octave below that of string 1: the open string"),
        (650.0, 650.0, None, "further than a semitone from the octave of string 1"),
        # Touched over fret 12 the short fifth string rings a third of its length, D6 + 1.955 cents: 3/2 of G5.
        (1175.986, 1174.659, None, "what string 5 rings when it is touched over fret 12.*over fret 17"),
        (1175.986, 1174.659, 5, "what string 5 rings when it is touched over fret 12.*over fret 17"),
    ],
)
def test_the_wrong_string_fret_or_octave_is_refused(
    harmonic_hz: float, fretted_hz: float, string: int | None, words: str
) -> None:
    refused(take(note(harmonic_hz), note(fretted_hz)), words, string)


def test_harmonics_of_two_strings_are_refused() -> None:
    refused(take(note(D5_HZ), note(D5_HZ), note(STRINGS[4]), note(STRINGS[4])), "the harmonics are not of one string")


def test_an_instrument_has_the_strings_it_has() -> None:
    with pytest.raises(UsageError, match="no string 6"):
        measure_take(recording(take(note(D5_HZ), note(D5_HZ))), FIVE_STRING, 6)


def test_notes_that_are_too_short_are_refused() -> None:
    refused(take(note(D5_HZ, seconds=0.3), note(D5_HZ, seconds=0.3)), "is too short, 0.3")


@pytest.mark.parametrize("glide_s", [0.3, 0.6, 1.0])
@pytest.mark.parametrize("glide_cents", [8.0, 10.0, 15.0, 30.0, -12.0])
def test_a_glide_is_refused(glide_cents: float, glide_s: float) -> None:
    gliding = note(D5_HZ, glide_cents=glide_cents, glide_s=glide_s)
    refused(take(note(D5_HZ), gliding), "the fretted note at 2.3 s in take.wav glides")


@pytest.mark.parametrize("glide_s", [0.15, 0.3, 0.6, 1.0])
@pytest.mark.parametrize("glide_cents", [0.3, 1.0, 2.0, 3.0])
def test_a_small_glide_is_counted_into_the_error(glide_cents: float, glide_s: float) -> None:
    gliding = note(D5_HZ, glide_cents=glide_cents, glide_s=glide_s)
    found = measure_take(recording(take(note(D5_HZ), gliding)), FIVE_STRING)
    # In the end both notes are alike: what is read is the glide's doing.
    assert 0.0 < found.cents < 1.645 * found.std_error_cents


@pytest.mark.parametrize("string", STRINGS)
@pytest.mark.parametrize("glide_cents", [3.0, 5.0, 8.0, 10.0])
def test_a_glide_of_the_projects_own_tone_is_refused_or_counted(string: int, glide_cents: float) -> None:
    spec = PairSpec(n=1, condition=Condition(string=string), offset_cents=-4.0, first="harmonic")
    pair = render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=Draws(3).stream(Purpose.TONES, 1))
    for glide_s in (0.3, 0.6, 1.0, 1.5):
        samples = glided(pair.sound.samples.astype(np.float64), glide_cents, glide_s, pair.fretted.start_s)
        if glide_cents >= 8.0:
            refused(samples, "the fretted note at .* glides down")
            continue
        with suppress(RefusedNoteError):
            found = measure_take(recording(samples), FIVE_STRING)
            assert abs(found.cents + 4.0) < 1.645 * found.std_error_cents


@pytest.mark.parametrize(("apart_hz", "share"), [(1.5, 0.3), (2.0, 0.5), (3.0, 0.8), (4.0, 0.7)])
@pytest.mark.parametrize("partials", [1, 5])
def test_beats_are_refused(apart_hz: float, share: float, partials: int) -> None:
    beating = note(D5_HZ, partials=partials) + share * note(D5_HZ + apart_hz, decay_per_s=1.5, partials=partials)
    refused(take(beating, beating), "swells and fades: it beats")


@pytest.mark.parametrize(("string", "neighbour_hz"), [(4, 293.6648), (3, 391.9954)])
@pytest.mark.parametrize("level_db", [-20.0, -14.0])
def test_an_open_string_at_the_same_pitch_is_refused_or_does_not_draw_the_reading_to_itself(
    string: int, neighbour_hz: float, level_db: float
) -> None:
    # The 1st string, open, is the octave note of the 4th; the 5th that of the 3rd. It is as loud in every partial over
    # its number, the note itself is not: what is faint in the note is the neighbour's.
    spec = PairSpec(n=1, condition=Condition(string=string), offset_cents=-4.0, first="harmonic")
    pair = render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=Draws(5).stream(Purpose.TONES, 1))
    samples = pair.sound.samples.astype(np.float64)
    samples += np.random.default_rng(2).normal(0.0, 1e-5, samples.size)
    for detuned_cents, decay_per_s in ((0.0, 1.0), (2.0, 3.0), (-8.0, 3.0)):
        both = samples.copy()
        for span in (pair.harmonic, pair.fretted):
            start, stop = round(span.start_s * RATE_HZ), round(span.end_s * RATE_HZ)
            other = note(moved(neighbour_hz, detuned_cents), seconds=3.0, decay_per_s=decay_per_s, partials=8)
            other = other[: stop - start]
            loud = round(0.3 * RATE_HZ)
            share = np.std(samples[start : start + loud]) / np.std(other[:loud]) * 10.0 ** (level_db / 20.0)
            both[start : start + other.size] += share * other
        with suppress(RefusedNoteError):
            found = measure_take(recording(both), FIVE_STRING)
            assert abs(found.cents + 4.0) <= max(1.645 * found.std_error_cents, 0.1)


@pytest.mark.parametrize("string", STRINGS)
def test_strings_left_unmuted_are_heard_and_named(string: int) -> None:
    for seed in range(3):
        spec = PairSpec(n=1, condition=Condition(string=string, muted=False), offset_cents=2.0, first="harmonic")
        pair = render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=Draws(seed).stream(Purpose.TONES, 1))
        samples = np.concatenate((silence(), pair.sound.samples.astype(np.float64)))
        refused(
            samples,
            "other strings ring along|swells and fades|octave below|the open string 3, which rings along",
            string,
        )


@pytest.mark.parametrize("rate_hz", [16_000, 22_050, 48_000])
@pytest.mark.parametrize("string", STRINGS)
def test_what_a_codec_leaves_beside_a_note_is_no_other_string(string: int, rate_hz: int) -> None:
    for seed in range(3):
        spec = PairSpec(n=1, condition=Condition(string=string), offset_cents=-4.0, first="harmonic")
        pair = render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=Draws(seed).stream(Purpose.TONES, 1))
        coded = io.BytesIO()
        samples = resample_poly(pair.sound.samples.astype(np.float64), rate_hz, RATE_HZ)
        soundfile.write(coded, samples, rate_hz, format="OGG", subtype="VORBIS")
        coded.seek(0)
        found = measure_take(recording(soundfile.read(coded)[0], rate_hz), FIVE_STRING, string)
        assert found.cents == pytest.approx(-4.0, abs=0.3)


@pytest.mark.parametrize("string", STRINGS)
def test_what_a_light_touch_leaves_of_the_open_string_is_no_other_string(string: int) -> None:
    octave_hz = STRINGS[string]
    times_s = np.arange(RATE_HZ * 3 // 2) / RATE_HZ
    odd = sum(
        0.03 * np.exp(-2.0 * times_s) * np.sin(np.pi * number * octave_hz * times_s) / number for number in (1, 3, 5, 7)
    )
    found = measure_take(recording(take(note(octave_hz) + odd, note(moved(octave_hz, -4.0)))), FIVE_STRING)
    assert (found.string, found.cents) == (string, pytest.approx(-4.0, abs=0.005))


@pytest.mark.parametrize("bits", [8, 16])
def test_quiet_recordings_of_few_bits(bits: int) -> None:
    loud = 0.5 if bits == 8 else 0.003
    steps = 2.0 ** (bits - 1)
    samples = np.round(loud * 5.0 * take(note(D5_HZ), note(moved(D5_HZ, -4.0))) * steps) / steps
    found = measure_take(recording(samples), FIVE_STRING)
    assert abs(found.cents + 4.0) < max(0.01, 2.6 * found.std_error_cents)
    assert found.std_error_cents < 0.1


def test_a_note_plucked_into_the_one_before() -> None:
    samples = np.concatenate((silence(), note(D5_HZ, seconds=1.0), note(moved(D5_HZ, -4.0), seconds=1.0)))
    found = measure_take(recording(samples), FIVE_STRING)
    assert found.cents == pytest.approx(-4.0, abs=0.002)


def test_it_needs_no_more_than_numpy() -> None:
    code = "import sys, centwise.pitch.measure; print({'scipy', 'soundfile', 'matplotlib', 'click'} & set(sys.modules))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert run.stdout.strip() == "set()"
