"""Each flaw of a recorded note is found and named, and a good note is let pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from takes import D5_HZ, RATE_HZ, moved, note, recording, take

from banjo import FIVE_STRING
from centwise.errors import UsageError
from centwise.model import TONES, Tone
from centwise.pitch.measure import measure_pairs, the_note
from centwise.pitch.quality import NoteQuality, judge_note
from centwise.pitch.records import RefusedNoteError
from centwise.tones.single import render_single

if TYPE_CHECKING:
    from centwise.pitch.intake import Recording

G4_HZ = 391.995


def judged(*notes: np.ndarray, tone: Tone = "harmonic", noise: float = 1e-5, string: int = 1) -> NoteQuality:
    return judge_note(recording(take(*notes, noise=noise), name="01.wav"), tone, FIVE_STRING, string)


@pytest.mark.parametrize("tone", TONES)
def test_a_good_note(tone: Tone) -> None:
    found = judged(note(moved(D5_HZ, 17.0)), tone=tone)
    assert (found.good, found.flaw, found.why) == (True, None, "")
    assert found.pitch_hz == pytest.approx(moved(D5_HZ, 17.0), rel=1e-3)
    assert found.error_cents is not None
    assert found.error_cents < 0.01
    # The test's notes reach 0.2 times the sum of some sines: -12 dB or so.
    assert -15.0 < found.peak_dbfs < -8.0


def beating() -> np.ndarray:
    return note(D5_HZ) + 0.7 * note(moved(D5_HZ, 9.0))


FLAWED = {
    "silent": lambda: judged(0.0 * note(D5_HZ), noise=1e-6),
    "too-quiet": lambda: judged(0.01 * note(D5_HZ), noise=1e-7),
    "clipped": lambda: judged(np.clip(12.0 * note(D5_HZ), -1.0, 1.0), noise=0.0),
    "noisy": lambda: judged(0.15 * note(D5_HZ, decay_per_s=3.0), noise=2.5e-2),
    "too-short": lambda: judged(note(D5_HZ, seconds=0.3)),
    "several": lambda: judged(note(D5_HZ), note(D5_HZ)),
    "beats": lambda: judged(beating()),
    "glides": lambda: judged(note(D5_HZ, glide_cents=9.0)),
    "other-string": lambda: judged(note(G4_HZ)),
    "other-note": lambda: judged(note(moved(D5_HZ, 200.0)), tone="fretted"),
}


@pytest.mark.parametrize("tuned_cents", [0.0, 80.0, -80.0])
def test_the_fret_beside_the_octave_fret_is_another_note(tuned_cents: float) -> None:
    """Beside the harmonic of the same take, however the string is tuned."""
    harmonic_hz = moved(D5_HZ, tuned_cents)
    for cents, flaw in ((100.0, "other-note"), (-100.0, "other-note"), (50.0, None), (-50.0, None), (0.0, None)):
        fretted = recording(take(note(moved(harmonic_hz, cents))), name="02.wav")
        assert judge_note(fretted, "fretted", FIVE_STRING, 1, harmonic_hz).flaw == flaw


@pytest.mark.parametrize("flaw", list(FLAWED))
def test_a_flaw_is_named(flaw: str) -> None:
    found = FLAWED[flaw]()
    assert (found.good, found.flaw) == (False, flaw)
    assert "01.wav" in found.why


def test_other_strings_ringing_along_are_found() -> None:
    """The project's own tone of an unmuted fourth string."""
    rng = np.random.default_rng(5)
    tone = render_single("fretted", FIVE_STRING, 4, offset_cents=0.0, rate_hz=RATE_HZ, rng=rng, muted=False)
    found = judge_note(recording(tone.sound.samples), "fretted", FIVE_STRING, 4)
    assert (found.flaw, "string" in found.why) == ("beats", True)


def test_a_string_there_is_not() -> None:
    with pytest.raises(UsageError, match="string 9"):
        judged(note(D5_HZ), string=9)


def one(cents: float, seed: int) -> Recording:
    return recording(take(note(moved(D5_HZ, cents)), noise=1e-4, seed=seed), name=f"{seed:02}.wav")


def test_pairs_from_files_of_one_note_each_are_measured_two_by_two() -> None:
    # The string drifts by 20 cents from take to take; the differences within pairs are what counts.
    pairs = [
        (one(drift, n), one(drift + 4.0 + stray, n + 50))
        for n, (drift, stray) in enumerate(((0, 0.5), (20, 0), (-20, -0.5)))
    ]
    found = measure_pairs(pairs, FIVE_STRING)
    assert found.string == 1
    assert found.paired
    assert found.cents == pytest.approx(4.0, abs=0.02)
    # Three values half a cent apart: their mean is known to 0.29 cents, widened for so few.
    assert 0.25 < found.std_error_cents < 0.8
    assert [row.recording for row in found.plucks] == ["00.wav", "50.wav", "01.wav", "51.wav", "02.wav", "52.wav"]


def test_one_file_holds_one_note() -> None:
    with pytest.raises(
        RefusedNoteError, match=r"two\.wav holds 2 notes, the second at 2\.\d s: record one pluck at a time"
    ):
        the_note(recording(take(note(D5_HZ), note(D5_HZ)), name="two.wav"))
