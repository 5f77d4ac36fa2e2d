"""Real plucked strings, moved by known cents: notes of a sampled five-string banjo, resampled, then measured.

The samples are those of FluidR3 GM (MIT licence; Debian's fluid-soundfont-gm), program 105, rendered by fluidsynth.
Resampling moves every partial by exactly the same cents, whatever the partials of a real string do among themselves.
"""

from __future__ import annotations

import json
import shutil
import struct
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import soundfile
from scipy.signal import resample_poly

from banjo import FIVE_STRING
from centwise.model import TONES
from centwise.pitch.intake import Intake
from centwise.pitch.measure import measure_apart, measure_take
from centwise.pitch.quality import judge_note
from centwise.pitch.records import RefusedNoteError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.pitch.intake import Recording

SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
FLUIDSYNTH = shutil.which("fluidsynth")
BANJO = 105
RATE_HZ = 48_000
OCTAVE_KEYS = {1: 74, 2: 71, 3: 67, 4: 62, 5: 79}
"""MIDI keys of the notes at the octave frets."""
CENTS = (-20.0, -11.3, -4.0, -2.0, -0.5, 0.0, 0.5, 2.0, 4.0, 7.7, 20.0)
NOTE_S, APART_S = 2.0, 3.0
PLUCKED_S = 0.3
TICKS_PER_S = 960

pytestmark = [
    pytest.mark.audio_stack,
    pytest.mark.skipif(FLUIDSYNTH is None, reason="fluidsynth is not installed"),
    pytest.mark.skipif(not SOUNDFONT.exists(), reason="fluid-soundfont-gm is not installed"),
]


def midi_file(keys: list[int]) -> bytes:
    """Return a MIDI file that plucks the keys one after the other."""
    track = bytes([0, 0xC0, BANJO])
    wait = round(PLUCKED_S * TICKS_PER_S)
    for key in keys:
        on, off = round(NOTE_S * TICKS_PER_S), round((APART_S - NOTE_S) * TICKS_PER_S)
        track += quantity(wait) + bytes([0x90, key, 100]) + quantity(on) + bytes([0x80, key, 0])
        wait = off
    track += quantity(TICKS_PER_S) + b"\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480) + b"MTrk" + struct.pack(">I", len(track)) + track


def quantity(ticks: int) -> bytes:
    """Return a MIDI variable-length quantity."""
    parts = [ticks & 127]
    while ticks := ticks >> 7:
        parts.insert(0, ticks & 127 | 128)
    return bytes(parts)


@pytest.fixture(scope="module")
def plucked(tmp_path_factory: pytest.TempPathFactory) -> dict[int, NDArray[np.float64]]:
    """One recorded pluck a string, mono, without reverberation and chorus."""
    folder = tmp_path_factory.mktemp("banjo")
    (folder / "notes.mid").write_bytes(midi_file(list(OCTAVE_KEYS.values())))
    options = ["-ni", "-R", "0", "-C", "0", "-r", str(RATE_HZ), "-g", "0.8", "-O", "s24", "-T", "wav"]
    subprocess.run(
        [str(FLUIDSYNTH), *options, "-F", folder / "notes.wav", SOUNDFONT, folder / "notes.mid"],
        check=True,
        capture_output=True,
        timeout=120,
    )
    sound, rate_hz = soundfile.read(folder / "notes.wav")
    assert rate_hz == RATE_HZ
    long = round(APART_S * RATE_HZ)
    return {string: sound[place * long : (place + 1) * long].mean(axis=1) for place, string in enumerate(OCTAVE_KEYS)}


def moved(note: NDArray[np.float64], cents: float) -> tuple[NDArray[np.float64], float]:
    """Return a note moved by about `cents`, and by how many exactly."""
    ratio = Fraction(2.0 ** (cents / 1200.0)).limit_denominator(3000)
    return resample_poly(note, ratio.denominator, ratio.numerator), 1200.0 * float(np.log2(float(ratio)))


def begun_sharp(note: NDArray[np.float64], cents: float, glide_s: float) -> NDArray[np.float64]:
    """Return a note that is first sharp and settles with a time constant, read between samples eight times as many."""
    after_s = np.maximum(np.arange(note.size) / RATE_HZ - PLUCKED_S, 0.0)
    places = np.concatenate(([0.0], np.cumsum(2.0 ** (cents * np.exp(-after_s[:-1] / glide_s) / 1200.0))))
    fine = resample_poly(note, 8, 1)
    return np.interp(np.minimum(8.0 * places, fine.size - 1.0), np.arange(fine.size), fine)


def recording(samples: NDArray[np.float64]) -> Recording:
    intake = Intake(RATE_HZ, 1, "take")
    intake.add(samples.astype(np.float32))
    return intake.finish()


@pytest.mark.parametrize("string", OCTAVE_KEYS)
def test_a_recorded_note_moved_by_known_cents_is_read_within_a_seventh_of_a_cent(
    plucked: dict[int, NDArray[np.float64]], string: int
) -> None:
    worst = 0.0
    for cents in CENTS:
        noise = np.random.default_rng(round(1000 + 10 * cents))
        fretted, exact = moved(plucked[string], cents)
        take = np.concatenate((plucked[string], 0.7 * fretted))
        take += noise.normal(0.0, 1e-3 * np.abs(take).max(), take.size)
        found = measure_take(recording(take), FIVE_STRING)
        assert found.string == string
        worst = max(worst, abs(found.cents - exact))
    assert worst < 0.15
    print(f"string {string}: worst {worst:.4f} cents")


@pytest.mark.parametrize("string", OCTAVE_KEYS)
@pytest.mark.parametrize("glide_s", [0.15, 0.3, 0.6, 1.0, 1.5])
def test_a_recorded_note_that_begins_sharp_is_refused_or_its_error_says_so(
    plucked: dict[int, NDArray[np.float64]], string: int, glide_s: float
) -> None:
    for cents in (2.0, 3.0, 4.0, 5.0, 8.0, 10.0):
        # In the end both notes are alike.
        take = np.concatenate((plucked[string], begun_sharp(plucked[string], cents, glide_s)))
        take += np.random.default_rng(1).normal(0.0, 1e-4, take.size)
        flaw = None
        try:
            found = measure_take(recording(take), FIVE_STRING)
        except RefusedNoteError as refused:
            flaw = refused.flaw
        if cents >= 8.0:
            assert flaw == "glides"
        elif flaw is None and glide_s <= 1.0:
            assert abs(found.cents) < 1.645 * found.std_error_cents
        assert flaw in {None, "glides"}


@pytest.mark.parametrize("string", OCTAVE_KEYS)
def test_a_recorded_note_as_it_is_does_not_glide(plucked: dict[int, NDArray[np.float64]], string: int) -> None:
    for tone in TONES:
        found = judge_note(recording(plucked[string]), tone, FIVE_STRING, string)
        assert (found.flaw, found.why) == (None, "")


@pytest.mark.parametrize("string", OCTAVE_KEYS)
def test_harmonics_and_fretted_notes_from_a_file_each(plucked: dict[int, NDArray[np.float64]], string: int) -> None:
    fretted, exact = moved(plucked[string], -4.0)
    found = measure_apart(
        recording(np.concatenate([plucked[string]] * 3)), recording(np.concatenate([fretted] * 2)), FIVE_STRING
    )
    assert [row.tone for row in found.plucks] == ["harmonic"] * 3 + ["fretted"] * 2
    assert found.cents == pytest.approx(exact, abs=0.15)


def test_the_command_reads_such_a_file(plucked: dict[int, NDArray[np.float64]], tmp_path: Path) -> None:
    fretted, exact = moved(plucked[4], 3.0)
    path = tmp_path / "take.flac"
    soundfile.write(path, np.concatenate((plucked[4], fretted)), RATE_HZ, subtype="PCM_24")
    run = subprocess.run(
        [sys.executable, "-m", "centwise", "measure", path, "--json"], capture_output=True, check=True, timeout=60
    )
    found = json.loads(run.stdout)
    assert found["cents"] == pytest.approx(exact, abs=0.15)
    assert (found["string"], found["verdict"], found["direction"], found["good_enough"]) == (4, "sharp", "back", False)
