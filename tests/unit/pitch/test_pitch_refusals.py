"""Every refusal of a recorded note, whole, and what is just let pass: notes made of numbers, with no sound in them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from takes import D5_HZ, moved, note, recording, silence, take

from banjo import FIVE_STRING
from centwise.errors import InputError
from centwise.pitch import intake
from centwise.pitch.checks import check_fretted, check_muted, check_steady, glide_cents, recognise
from centwise.pitch.hear import _pitched, hear_notes
from centwise.pitch.intake import Intake
from centwise.pitch.loop import loop_sound, read_loop
from centwise.pitch.measure import measure_apart, measure_take, the_note
from centwise.pitch.notes import NoteSpan
from centwise.pitch.partials import PartialFit
from centwise.pitch.quality import NoteQuality, judge_note
from centwise.pitch.records import Note, RefusedNoteError
from centwise.pitch.spectrum import find_peaks
from centwise.units import cents_between

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from centwise.model import Tone

FALLING = 10.0 ** (-np.arange(30) / 20.0)


def partial(
    number_hz: float,
    level_db: float = -20.0,
    glide: float = 0.0,
    error: float = 0.01,
    track: np.ndarray = FALLING,
    noise: float = 1e-4,
) -> PartialFit:
    return PartialFit(
        frequency_hz=number_hz,
        std_error_cents=0.01,
        bound_cents=0.01,
        amplitude_db=level_db,
        glide_cents=glide,
        glide_error_cents=error,
        noise_level=noise,
        track_s=0.02 * np.arange(len(track)),
        track_rad=np.zeros(len(track)),
        track_level=track,
    )


def heard(tone: Tone, pitch_hz: float, start_s: float = 0.5, partials: Sequence[PartialFit] = ()) -> Note:
    fits = partials or (partial(pitch_hz),)
    return Note(tone, "take.wav", start_s, start_s + 2.0, pitch_hz, dict(enumerate(fits, 1)))


def told(refused: Callable[[], object]) -> tuple[str, str]:
    with pytest.raises(RefusedNoteError) as caught:
        refused()
    return caught.value.flaw, str(caught.value)


@pytest.mark.parametrize(
    ("pitch_hz", "number", "what", "string"),
    [
        (293.66, 1, "an octave below that of string 1: the open string, not its harmonic", 1),
        (391.995, 2, "the octave of string 3, not of string 2 (493.9 Hz)", 2),
        (1175.986, None, "what string 5 rings when it is touched over fret 12, a third of its length", 5),
        (987.77, 2, "an octave above that of string 2", 2),
        (146.83, 1, "the pitch of the open string 4, which rings along or was not touched", 1),
        (
            146.83 * 2.0 ** (-59.0 / 1200.0),
            1,
            "the pitch of the open string 4, which rings along or was not touched",
            1,
        ),
        (146.83 * 2.0 ** (-61.0 / 1200.0), 1, "further than a semitone from the octave of string 1 (587.3 Hz)", 1),
        (700.0, None, "further than a semitone from the octave of string 5 (784.0 Hz)", 5),
        (moved(293.66, -109.0), 1, "an octave below that of string 1: the open string, not its harmonic", 1),
        (moved(493.88, 109.0), 1, "the octave of string 2, not of string 1 (587.3 Hz)", 1),
        (moved(1175.986, 109.0), 5, "what string 5 rings when it is touched over fret 12, a third of its length", 5),
        (moved(987.77, 109.0), 2, "an octave above that of string 2", 2),
    ],
)
def test_a_harmonic_of_something_else_is_told_for_what_it_is(
    pitch_hz: float, number: int | None, what: str, string: int
) -> None:
    flaw, sentence = told(lambda: recognise([heard("harmonic", pitch_hz)], FIVE_STRING, number))
    fret = 17 if string == 5 else 12
    assert flaw == "other-string"
    assert sentence == (
        f"the harmonic at 0.5 s in take.wav is at {pitch_hz:.1f} Hz, {what}: touch string {string} over fret {fret}, "
        "where it is halved, or name another with --string."
    )


def test_harmonics_of_two_strings_are_told_apart_at_110_cents() -> None:
    fretted = heard("fretted", 440.0)
    row = [
        heard("harmonic", D5_HZ, 0.5),
        fretted,
        heard("harmonic", moved(D5_HZ, -109.0), 4.0),
        heard("harmonic", D5_HZ),
    ]
    assert recognise(row, FIVE_STRING, None).number == 1
    row[2] = heard("harmonic", moved(D5_HZ, -111.0), 4.0)
    assert told(lambda: recognise(row, FIVE_STRING, None)) == (
        "other-string",
        (
            "the harmonics are not of one string: 587.3 Hz, and 550.9 Hz at 4.0 s in take.wav: record one string at a "
            "time, harmonic first, then the fretted note."
        ),
    )
    row[2] = heard("harmonic", moved(D5_HZ, 111.0), 4.0)
    assert told(lambda: recognise(row, FIVE_STRING, None))[0] == "other-string"


@pytest.mark.parametrize("cents", [109.0, -109.0])
def test_a_string_is_looked_for_within_110_cents(cents: float) -> None:
    for number in (None, 1):
        assert recognise([heard("harmonic", moved(D5_HZ, cents))], FIVE_STRING, number).number == 1
    with pytest.raises(RefusedNoteError):
        recognise([heard("harmonic", moved(D5_HZ, np.sign(cents) * 111.0))], FIVE_STRING, 1)


@pytest.mark.parametrize(
    ("cents", "what"),
    [
        (61.0, "0.6 semitones above"),
        (-200.0, "2.0 semitones below"),
        (1200.0, "1 octave above"),
        (-1309.0, "1 octave below"),
        (-1311.0, "13.1 semitones below"),
        (2400.0, "2 octaves above"),
        (-2400.0, "2 octaves below"),
        (600.0, "6.0 semitones above"),
    ],
)
def test_a_fretted_note_elsewhere_is_told_by_how_far(cents: float, what: str) -> None:
    notes = [heard("harmonic", 100.0), heard("fretted", D5_HZ), heard("fretted", moved(D5_HZ, cents), 3.25)]
    assert told(lambda: check_fretted(notes, D5_HZ)) == (
        "other-note",
        (
            f"the fretted note at 3.2 s in take.wav lies {what} the harmonic: another fret, string or octave: touch "
            "and fret the same string at its octave fret, one after the other."
        ),
    )


def test_a_fretted_note_may_lie_60_cents_away_or_as_far_as_is_asked() -> None:
    for cents in (59.9, -59.9):
        check_fretted([heard("fretted", moved(D5_HZ, cents))], D5_HZ)
        check_fretted([heard("fretted", moved(D5_HZ, 1.8 * cents))], D5_HZ, 110.0)
    with pytest.raises(RefusedNoteError):
        check_fretted([heard("fretted", moved(D5_HZ, 20.0))], D5_HZ, 19.0)


@pytest.mark.parametrize(("glide", "way"), [(2.5, "up"), (-2.5, "down")])
def test_a_glide_is_told_with_its_way_and_size(glide: float, way: str) -> None:
    assert told(lambda: check_steady(heard("fretted", D5_HZ, 1.75, [partial(D5_HZ, glide=glide)]))) == (
        "glides",
        (
            f"the fretted note at 1.8 s in take.wav glides {way} by 2.5 cents: pluck more softly, press without "
            "bending, and record again."
        ),
    )
    check_steady(heard("fretted", D5_HZ, 1.75, [partial(D5_HZ, glide=0.95 * glide)]))


def test_what_noise_may_do_to_a_pitch_is_no_glide() -> None:
    check_steady(heard("fretted", D5_HZ, 1.75, [partial(D5_HZ, glide=2.95, error=1.0)]))
    with pytest.raises(RefusedNoteError):
        check_steady(heard("fretted", D5_HZ, 1.75, [partial(D5_HZ, glide=3.05, error=1.0)]))


def test_glide_is_the_weighted_median_of_the_partials() -> None:
    # Weights: amplitude over 1 + error squared, by hand 1, 1, 0.1 / 1.25; half of 2.08 is reached at the second.
    fits = [partial(1.0, 0.0, 5.0, 0.0), partial(2.0, 0.0, -1.0, 0.0), partial(3.0, -20.0, -3.0, 0.5)]
    assert glide_cents(heard("harmonic", 1.0, partials=fits)) == (-1.0, 0.0)
    # A loud partial outweighs any number of soft ones.
    fits = [partial(1.0, 0.0, 2.0, 0.1), *(partial(n, -20.0, -1.0, 0.2) for n in (2.0, 3.0, 4.0))]
    assert glide_cents(heard("harmonic", 1.0, partials=fits)) == (2.0, 0.1)
    # Two of less than half the size are outweighed, and so are two of 0.6 of it that are known to half a cent: 0.48.
    for level_db, error, glide in (
        (-6.1, 0.0, 2.0),
        (-5.95, 0.0, -1.0),
        (20.0 * np.log10(0.6), 0.5, 2.0),
        (20.0 * np.log10(0.7), 0.5, -1.0),
    ):
        fits = [partial(1.0, 0.0, 2.0, 0.0), *(partial(n, level_db, -1.0, error) for n in (2.0, 3.0))]
        assert glide_cents(heard("harmonic", 1.0, partials=fits))[0] == glide
    # And one that noise hides says little, however loud.
    fits = [partial(1.0, 0.0, 2.0, 5.0), partial(2.0, -20.0, -1.0, 0.0)]
    assert glide_cents(heard("harmonic", 1.0, partials=fits))[0] == -1.0


def swelling(by_db: float, from_db: float = -10.0) -> np.ndarray:
    track_db = np.concatenate((np.linspace(0.0, from_db, 10), np.linspace(from_db, from_db + by_db, 5)))
    return np.asarray(10.0 ** (track_db / 20.0))


def test_a_note_that_swells_again_beats() -> None:
    def swells(*tracks: np.ndarray, noise: float = 1e-4) -> None:
        check_steady(heard("harmonic", D5_HZ, 0.5, [partial(D5_HZ, track=track, noise=noise) for track in tracks]))

    swells(FALLING)
    swells(swelling(3.4))
    assert told(lambda: swells(swelling(3.6))) == (
        "beats",
        (
            "the harmonic note at 0.5 s in take.wav swells and fades: it beats with a string that rings along: mute "
            "every other string and record again."
        ),
    )
    # The middle one of three partials tells.
    swells(FALLING, FALLING, swelling(9.0))
    with pytest.raises(RefusedNoteError):
        swells(FALLING, swelling(9.0), swelling(9.0))
    # Two at half the size of a third weigh as much as it: a little less and it tells, a little more and they do.
    for level_db, beats in ((-6.1, False), (-5.95, True)):
        fits = [partial(D5_HZ)] + [partial(D5_HZ, level_db - 20.0, track=swelling(9.0))] * 2
        if beats:
            with pytest.raises(RefusedNoteError):
                check_steady(heard("harmonic", D5_HZ, 0.5, fits))
        else:
            check_steady(heard("harmonic", D5_HZ, 0.5, fits))
    # What is 30 dB down, or within 20 dB of the noise, is not looked at; a dip between two loud places is.
    swells(swelling(5.0, -40.0))
    swells(swelling(10.3, -40.0))
    swells(swelling(8.0, -25.0), noise=0.03)
    with pytest.raises(RefusedNoteError):
        swells(swelling(8.0, -25.0), noise=0.003)
    with pytest.raises(RefusedNoteError):
        swells(np.concatenate((FALLING[:40], [0.5])))


def test_other_strings_that_ring_along_are_named() -> None:
    first = FIVE_STRING.string(1)

    def muted(foreign_hz: list[float], shares: list[float]) -> None:
        check_muted(heard("fretted", D5_HZ), np.array(foreign_hz), np.array(shares), first, FIVE_STRING)

    # Open partials 1, 2, 4 of the 3rd string and 1 of the 2nd: 196.0, 392.0, 784.0, 246.9 Hz.
    assert told(lambda: muted([246.9, 196.0, 392.0], [0.03, 0.02, 0.02])) == (
        "beats",
        (
            "other strings ring along with the fretted note at 0.5 s in take.wav (string 2 and 3 and 5): they beat "
            "with it: mute every other string with a cloth and record again."
        ),
    )
    # The 2nd string's third partial, 740.8 Hz, lies within reach of the 4th's fifth, 734.2 Hz.
    assert told(lambda: muted([246.9, 493.9, 740.8], [0.03, 0.02, 0.02]))[1].startswith(
        "other strings ring along with the fretted note at 0.5 s in take.wav (string 2 and 4): "
    )
    # Two are too few, and so is a share of 6 %; several lines at one partial are one.
    muted([196.0, 392.0], [0.3, 0.3])
    muted([246.9, 493.9, 740.8], [0.02, 0.02, 0.0199])
    muted([246.9, 247.5, 246.0, 493.9], [0.1, 0.1, 0.1, 0.1])
    muted([246.9, 493.9, 247.5], [0.1, 0.1, 0.1])
    # Partials of the plucked string's own open length are what a light touch leaves.
    own = [first.open_hz * n * 2.0 ** (19.0 / 1200.0) for n in (1, 3, 5)]
    muted(own, [0.1, 0.1, 0.1])
    # And what lies on no string's partial, or above the twelfth, is something else.
    muted([220.0, 440.0, 710.0], [0.2, 0.2, 0.2])
    muted([13 * 246.94, 14 * 246.94, 15 * 246.94], [0.2, 0.2, 0.2])
    muted([moved(246.94, 61.0), moved(493.88, 61.0), moved(740.8, 61.0)], [0.2, 0.2, 0.2])
    for twelfth in (11, 12):
        with pytest.raises(RefusedNoteError):
            muted([moved(246.94, 59.0), moved(493.88, 59.0), moved(twelfth * 246.94, 10.0)], [0.2, 0.2, 0.2])


def test_strings_that_ring_along_with_a_recorded_note_are_told() -> None:
    times_s = np.arange(48_000 * 3 // 2) / 48_000
    along = sum(0.01 * np.exp(-times_s) * np.sin(2.0 * np.pi * hz * times_s) for hz in (246.94, 196.0, 392.0))
    sound = take(note(D5_HZ) + along, note(moved(D5_HZ, 4.0)))
    assert told(lambda: measure_take(recording(sound), FIVE_STRING))[1].startswith(
        "other strings ring along with the harmonic note at 0.4 s in take.wav (string 2 and 3 and 5): "
    )
    alone = judged(take(note(D5_HZ) + along))
    assert (alone.flaw, alone.why) == (
        "beats",
        "other strings ring along with the harmonic note at 0.4 s in 01.wav (string 2 and 3 and 5): they beat with it",
    )


@pytest.mark.parametrize(
    ("sound", "flaw", "told_as"),
    [
        (
            np.zeros(48_000),
            "silent",
            "take.wav is silent: check the microphone and its level, then record harmonic and fretted note.",
        ),
        (
            0.1 * np.random.default_rng(1).standard_normal(48_000),
            "noisy",
            (
                "take.wav holds no clear note, only noise or a sound without a steady pitch: record in a quiet room, "
                "near the head, one plucked string at a time."
            ),
        ),
        (
            take(note(D5_HZ, decay_per_s=18.0, partials=1), noise=3e-4),
            "noisy",
            (
                "the note at 0.4 s in take.wav fades too fast or is too noisy to be followed: pluck a little harder, "
                "nearer the microphone, and let it ring for a second."
            ),
        ),
        (
            take(note(D5_HZ, seconds=0.3)),
            "too-short",
            "the note at 0.4 s in take.wav is too short, 0.30 s: let every note ring for a second or longer.",
        ),
        (
            np.clip(8.0 * take(note(D5_HZ)), -1.0, 1.0),
            "clipped",
            (
                "the note at 0.4 s in take.wav is clipped: turn the recording level down, or pluck more softly, and "
                "record again."
            ),
        ),
        (
            np.clip(9.0 * np.random.default_rng(1).standard_normal(48_000), -1.0, 1.0),
            "clipped",
            "take.wav is clipped from 0.0 s on: turn the recording level down and record again.",
        ),
    ],
    ids=["silence", "noise", "fading", "short", "clipped", "clipped noise"],
)
def test_what_holds_no_note_is_refused_with_what_to_do(sound: np.ndarray, flaw: str, told_as: str) -> None:
    assert told(lambda: hear_notes(recording(sound))) == (flaw, told_as)


def test_takes_of_one_note_or_an_odd_number_say_where_they_are() -> None:
    with pytest.raises(InputError) as caught:
        measure_take(recording(take(note(D5_HZ))), FIVE_STRING)
    assert str(caught.value) == (
        "take.wav holds one note only, at 0.4 s: record the harmonic and then the fretted note, in quiet (noise hides "
        "where a note begins), or give --harmonic and --fretted a file each."
    )
    with pytest.raises(InputError) as caught:
        measure_take(recording(take(*[note(D5_HZ, seconds=0.6)] * 11)), FIVE_STRING)
    assert str(caught.value) == (
        "take.wav holds 11 notes (at 0.4, 1.4, 2.4, 3.4, 4.4, 5.4, 6.4, 7.4, 8.4 … s), so one has no partner: record "
        "harmonic and fretted note by turns, or give --harmonic and --fretted a file each."
    )
    with pytest.raises(InputError) as caught:
        measure_take(recording(take(*[note(D5_HZ, seconds=0.6)] * 9)), FIVE_STRING)
    assert "7.4, 8.4 s), so one" in str(caught.value)


def test_the_string_that_is_told_is_the_one_that_is_measured() -> None:
    both = [note(D5_HZ, seconds=0.6), note(moved(D5_HZ, 80.0), seconds=0.6)]
    for measured in (
        lambda string: measure_take(recording(take(*both)), FIVE_STRING, string),
        lambda string: measure_apart(recording(take(both[0])), recording(take(both[1])), FIVE_STRING, string),
    ):
        assert "not of string 2" in told(lambda measured=measured: measured(2))[1]
        # And the fretted note is held against the harmonic.
        assert "lies 0.8 semitones above the harmonic" in told(lambda measured=measured: measured(1))[1]


def test_what_is_clipped_outside_a_note_is_let_pass() -> None:
    sound = recording(take(note(D5_HZ, seconds=0.6)))
    for clipped_s, clipped in ((0.1, False), (0.33, False), (0.36, True), (0.42, True), (0.9, True), (1.3, False)):
        given = replace(sound, clipped_s=np.array([clipped_s]))
        if clipped:
            assert told(lambda given=given: hear_notes(given))[0] == "clipped"
        else:
            assert len(hear_notes(given)) == 1
    hiss = recording(0.1 * np.random.default_rng(1).standard_normal(48_000))
    assert told(lambda: hear_notes(replace(hiss, clipped_s=np.array([0.3, 0.9]))))[1].startswith(
        "take.wav is clipped from 0.3 s on: "
    )


def test_a_knock_before_a_note_is_passed_over() -> None:
    knock = 0.2 * np.random.default_rng(1).standard_normal(240) * np.linspace(1.0, 0.0, 240)
    (found,) = hear_notes(recording(take(knock, note(D5_HZ, seconds=0.6))))
    assert found.span.start_s == pytest.approx(0.8, abs=0.02)


def test_the_spectrum_is_read_from_50_to_650_milliseconds_after_the_attack() -> None:
    sound = recording(take(note(D5_HZ)))
    for end_s, read_to_s in ((1.9, 1.05), (0.9, 0.9), (0.601, 0.601)):
        pitched = _pitched(sound, NoteSpan(0.4, end_s))
        assert pitched is not None
        peaks = find_peaks(sound.samples[round(0.45 * sound.rate_hz) : round(read_to_s * sound.rate_hz)], sound.rate_hz)
        assert np.array_equal(pitched[0].frequency_hz, peaks.frequency_hz)
    # A hundred and fifty milliseconds of it are needed.
    assert _pitched(sound, NoteSpan(0.4, 0.599)) is None


def test_what_is_foreign_to_a_note_is_told_with_its_share() -> None:
    times_s = np.arange(48_000 * 3 // 2) / 48_000
    stranger = 0.05 * np.exp(-2.3 * times_s) * np.sin(2.0 * np.pi * 1000.0 * times_s)
    found = the_note(recording(take(note(D5_HZ, partials=1) + stranger)))
    assert found.foreign_hz[0] == pytest.approx(1000.0, abs=0.5)
    # A quarter of the note's own size: a fifth of both.
    assert found.foreign_share[0] == pytest.approx(0.2, abs=0.01)


def test_a_note_is_followed_in_its_first_eight_partials() -> None:
    assert sorted(the_note(recording(take(note(D5_HZ, partials=10, seconds=0.6)))).partials) == list(range(1, 9))
    # What is too short to have a level is silent.
    assert told(lambda: hear_notes(recording(np.full(300, 0.5))))[0] == "silent"


def test_a_file_of_two_notes_is_not_one() -> None:
    assert told(lambda: the_note(recording(take(note(D5_HZ), note(D5_HZ))))) == (
        "several",
        "take.wav holds 2 notes, the second at 2.3 s: record one pluck at a time and let it ring.",
    )


def test_tones_without_a_partial_in_common_are_refused() -> None:
    times_s = np.arange(48_000 * 3 // 2) / 48_000
    even = sum(np.exp(-2.0 * times_s) * np.sin(2.0 * np.pi * n * D5_HZ * times_s) / n for n in (2, 3))
    even[:20] *= np.linspace(0.0, 1.0, 20)
    with pytest.raises(InputError) as caught:
        measure_take(recording(take(note(D5_HZ, partials=1), 0.2 * even)), FIVE_STRING)
    assert str(caught.value) == (
        "harmonic and fretted note have no partial in common that can be measured: pluck both at the same place, "
        "nearer the microphone."
    )


def wavering(depth_rad: float) -> np.ndarray:
    times_s = np.arange(72_000) / 48_000
    phase = 2.0 * np.pi * D5_HZ * times_s + depth_rad * np.sin(2.0 * np.pi * 5.0 * times_s)
    sound = 0.2 * np.exp(-2.0 * times_s) * np.sin(phase)
    sound[:20] *= np.linspace(0.0, 1.0, 20)
    return np.asarray(sound)


def judged(sound: np.ndarray, tone: Tone = "harmonic", harmonic_hz: float | None = None) -> NoteQuality:
    return judge_note(recording(sound, name="01.wav"), tone, FIVE_STRING, 1, harmonic_hz)


def test_a_judged_note_keeps_what_is_known_of_it() -> None:
    quiet = judged(take(0.01 * note(D5_HZ), noise=1e-7))
    assert quiet.flaw == "too-quiet"
    assert quiet.why == f"01.wav reaches {quiet.peak_dbfs:.0f} dB of full scale"
    assert -60.0 < quiet.peak_dbfs < -45.0
    assert quiet.pitch_hz == pytest.approx(D5_HZ, rel=1e-3)
    assert quiet.error_cents is None
    # A wavering hand, five times a second: the line through its phase leaves much over.
    noisy, steadier = judged(take(wavering(2.0))), judged(take(wavering(1.0)))
    assert noisy.error_cents is not None
    assert 0.4 < noisy.error_cents < 0.6
    assert (noisy.flaw, noisy.why) == (
        "noisy",
        f"the noise in 01.wav leaves its pitch uncertain by {noisy.error_cents:.1f} cents",
    )
    assert noisy.pitch_hz == pytest.approx(D5_HZ, rel=1e-2)
    assert noisy.peak_dbfs == pytest.approx(-14.0, abs=0.5)
    assert steadier.flaw is None
    assert steadier.error_cents == pytest.approx(noisy.error_cents / 2.0, rel=0.05)
    nothing = judged(np.zeros(48_000))
    assert (nothing.flaw, nothing.peak_dbfs, nothing.pitch_hz, nothing.error_cents) == ("silent", -np.inf, None, None)
    assert nothing.why == "01.wav is silent"
    # Noise so soft is silence, noise so loud is noise; both are without a pitch.
    hiss = np.random.default_rng(1).standard_normal(48_000)
    assert [judged(level * hiss).flaw for level in (1e-3, 1e-2)] == ["silent", "noisy"]
    assert judged(1e-2 * hiss).why == "01.wav holds no clear note, only noise or a sound without a steady pitch"
    gliding = judged(take(note(D5_HZ, glide_cents=9.0)))
    assert gliding.flaw == "glides"
    assert gliding.pitch_hz == pytest.approx(D5_HZ, rel=1e-2)
    assert gliding.peak_dbfs == pytest.approx(20.0 * np.log10(recording(take(note(D5_HZ, glide_cents=9.0))).peak))
    # Without a harmonic to be compared with, a fretted note is looked for as widely as a string is.
    assert judged(take(note(moved(D5_HZ, 100.0))), "fretted").flaw is None
    assert judged(take(note(moved(D5_HZ, 115.0))), "fretted").flaw == "other-note"
    assert judged(take(note(moved(D5_HZ, 100.0))), "fretted", D5_HZ).flaw == "other-note"
    assert judged(take(note(moved(D5_HZ, 100.0))), "fretted", moved(D5_HZ, 60.0)).flaw is None
    good = judged(take(note(D5_HZ)))
    assert (good.flaw, good.why, good.good) == (None, "", True)
    assert good.pitch_hz is not None
    assert good.peak_dbfs == pytest.approx(20.0 * np.log10(recording(take(note(D5_HZ))).peak))
    # The octave of string 2 is not that of string 1.
    other = judged(take(note(493.88)))
    assert other.flaw == "other-string"
    assert other.why.startswith("the harmonic at 0.4 s in 01.wav is at 493.")
    assert abs(cents_between(good.pitch_hz, D5_HZ)) < 2.0


@pytest.mark.parametrize(
    ("rate_hz", "channels", "frames", "told_as"),
    [
        (15_999, 1, None, "x.wav has a rate of 15999 Hz, outside 16000 to 192000: record it at 48000 Hz."),
        (192_001, 1, None, "x.wav has a rate of 192001 Hz, outside 16000 to 192000: record it at 48000 Hz."),
        (48_000, 3, None, "x.wav has 3 channels: give a recording of one channel or two."),
        (48_000, 0, None, "x.wav has 0 channels: give a recording of one channel or two."),
        (16_000, 1, 16_000 * 3600 + 1, "x.wav is longer than an hour: cut the notes to be measured out of it."),
    ],
)
def test_what_cannot_be_taken_in_is_told(rate_hz: int, channels: int, frames: int | None, told_as: str) -> None:
    with pytest.raises(InputError) as caught:
        Intake(rate_hz, channels, "x.wav", frames)
    assert str(caught.value) == told_as


def test_a_recording_that_is_longer_than_it_said_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(intake, "MOST_S", 0.01)
    taking = Intake(16_000, 1, "x.wav")
    taking.add(np.zeros(160, dtype=np.float32))
    with pytest.raises(InputError) as caught:
        taking.add(np.zeros(1, dtype=np.float32))
    assert str(caught.value) == "x.wav is longer than an hour: cut the notes to be measured out of it."


def test_the_ends_of_what_is_taken_in_belong_to_it() -> None:
    Intake(16_000, 1, "x.wav", 16_000 * 3600)
    Intake(192_000, 2, "x.wav")
    # Numbers, however large: their sum in single precision is none.
    Intake(16_000, 1, "x.wav").add(np.full(50_000, 1e34, dtype=np.float32))
    with pytest.raises(InputError) as caught:
        Intake(16_000, 1, "x.wav").finish()
    assert str(caught.value) == "x.wav holds no sound at all: record it again."
    with pytest.raises(InputError) as caught:
        Intake(16_000, 1, "x.wav").add(np.array([0.0, np.nan], dtype=np.float32))
    assert str(caught.value) == "x.wav holds samples that are not numbers: record or export it again."


def test_a_loop_that_gives_nothing_back_says_what_to_do() -> None:
    sound = loop_sound(16_000)
    for given in (np.zeros(16_000 * 8, dtype=np.float32), silence(1.0).astype(np.float32)):
        with pytest.raises(InputError) as caught:
            read_loop(given, sound, 8000)
        assert str(caught.value) == (
            "the test sound did not come back: join the output to the input with a cable, or put the microphone by the "
            "speaker, and turn it up."
        )
    # Both chirps came back, and no tone between them.
    hollow = sound.samples.copy()
    hollow[2000 : sound.last_frame - 2000] = 0.0
    with pytest.raises(InputError) as caught:
        read_loop(np.concatenate((np.zeros(8000, dtype=np.float32), hollow)), sound, 8000)
    assert str(caught.value) == (
        "the test tone came back broken or buried in noise: turn it up, or the noise down, and try again."
    )
