"""Whether one recorded note is fit to be measured, judged as soon as it was played. Imports strings and below."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.pitch.checks import TUNING_CENTS, check_fretted, check_muted, check_steady, recognise
from centwise.pitch.measure import the_note
from centwise.pitch.records import Flaw, Note, RefusedNoteError

if TYPE_CHECKING:
    from centwise.model import Tone
    from centwise.pitch.hear import HeardNote
    from centwise.pitch.intake import Recording
    from centwise.strings.instrument import Instrument

QUIETEST_DBFS = -45.0
"""A note whose loudest sample stays below this is too quiet (judgement: a microphone's own noise is not far below)."""
WORST_CENTS = 0.3
"""A note whose pitch is known less well than this by noise alone is too noisy (judgement: three pairs of such notes
give 0.4 cents, 90 % sure, a fifth of what is good enough)."""


@dataclass(frozen=True, slots=True)
class NoteQuality:
    """What was found.

    Attributes:
        flaw: what is wrong with it, None for a good note.
        why: a sentence about it, empty for a good note.
        peak_dbfs: its largest sample in decibels of full scale, minus infinity for silence.
        pitch_hz: its pitch to about a cent, None where it has none.
        error_cents: standard error of its pitch by noise alone, None where it could not be measured.
    """

    flaw: Flaw | None
    why: str
    peak_dbfs: float
    pitch_hz: float | None = None
    error_cents: float | None = None

    @property
    def good(self) -> bool:
        """Whether it can be measured."""
        return self.flaw is None


def judge_note(
    recording: Recording, tone: Tone, instrument: Instrument, string: int, harmonic_hz: float | None = None
) -> NoteQuality:
    """Judge a recording that is to hold one note.

    Args:
        recording: the note with a little before and after it.
        tone: which it is to be.
        instrument: whose.
        string: the string's number.
        harmonic_hz: what a fretted note is compared with; without it, with the string in tune, more widely.

    Raises:
        UsageError: the instrument has no such string.
    """
    spec = instrument.string(string)
    peak_dbfs = 20.0 * math.log10(recording.peak) if recording.peak > 0.0 else -math.inf
    heard: HeardNote | None = None
    try:
        heard = the_note(recording)
        note = Note(tone, recording.name, heard.span.start_s, heard.span.end_s, heard.pitch_hz, heard.partials)
        if tone == "harmonic":
            recognise([note], instrument, string)
        elif harmonic_hz is None:
            check_fretted([note], spec.octave_hz, TUNING_CENTS)
        else:
            check_fretted([note], harmonic_hz)
        if peak_dbfs < QUIETEST_DBFS:
            return _too_quiet(recording, peak_dbfs, heard.pitch_hz)
        check_muted(note, heard.foreign_hz, heard.foreign_share, spec, instrument)
        check_steady(note)
        error_cents = float(sum(fit.std_error_cents**-2 for fit in heard.partials.values()) ** -0.5)
        if error_cents > WORST_CENTS:
            return NoteQuality(
                "noisy",
                f"the noise in {recording.name} leaves its pitch uncertain by {error_cents:.1f} cents",
                peak_dbfs,
                heard.pitch_hz,
                error_cents,
            )
    except RefusedNoteError as refused:
        if refused.flaw in {"noisy", "silent"} and peak_dbfs < QUIETEST_DBFS:
            flaw: Flaw = "silent"
        else:
            flaw = refused.flaw
        return NoteQuality(flaw, refused.what, peak_dbfs, None if heard is None else heard.pitch_hz)
    return NoteQuality(None, "", peak_dbfs, heard.pitch_hz, error_cents)


def _too_quiet(recording: Recording, peak_dbfs: float, pitch_hz: float) -> NoteQuality:
    return NoteQuality("too-quiet", f"{recording.name} reaches {peak_dbfs:.0f} dB of full scale", peak_dbfs, pitch_hz)
