"""The notes of a recording, each with its pitch and its partials, or the reason why it cannot be measured.

Imports numpy and nothing outside its package.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.pitch.notes import NoteSpan, find_notes
from centwise.pitch.partials import PartialFit, fit_partials
from centwise.pitch.records import RefusedNoteError
from centwise.pitch.spectrum import Peaks, find_peaks, find_pitch, nearest_peak_hz, on_multiple

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.pitch.intake import Recording

SETTLE_S = 0.05
"""Pick noise and the modes a touch quenches are gone, or nearly, so long after the attack."""
SPECTRUM_S = 0.6
LEAST_SPECTRUM_S = 0.15
LEAST_NOTE_S = 0.4
"""A shorter note is not measured (judgement: half a second of D5 at 40 dB is read within 0.02 cents)."""
MOST_PARTIALS = 8
WORST_PARTIAL_CENTS = 3.0
"""A partial read less well than this says nothing beside the others."""


@dataclass(frozen=True, slots=True)
class HeardNote:
    """A note before anybody has said which it is: harmonic or fretted.

    Attributes:
        span: where it lies.
        pitch_hz: by its spectrum.
        foreign_hz: peaks that belong to none of its partials, largest first.
        foreign_share: of the peaks' amplitude, what each of those has.
        partials: the fits, by partial number.
    """

    span: NoteSpan
    pitch_hz: float
    foreign_hz: NDArray[np.float64]
    foreign_share: NDArray[np.float64]
    partials: dict[int, PartialFit]


def hear_notes(recording: Recording) -> tuple[HeardNote, ...]:
    """Return the notes of a recording in order; knocks and other sounds without a pitch are passed over.

    Raises:
        RefusedNoteError: it is silent or noise, or a note in it is clipped, too short, or cannot be followed.
    """
    spans = find_notes(recording)
    heard = []
    for span in spans:
        pitched = _pitched(recording, span)
        if pitched is None:
            continue
        _check_length(recording, span)
        _check_clipping(recording, span)
        heard.append(_follow(recording, span, *pitched))
    if not heard:
        _refuse_clipped_noise(recording)
        raise RefusedNoteError(
            "noisy",
            f"{recording.name} holds no clear note, only noise or a sound without a steady pitch",
            "record in a quiet room, near the head, one plucked string at a time",
        )
    return tuple(heard)


def _pitched(recording: Recording, span: NoteSpan) -> tuple[Peaks, float] | None:
    end_s = min(span.end_s, span.start_s + SETTLE_S + SPECTRUM_S)
    if end_s - span.start_s - SETTLE_S < LEAST_SPECTRUM_S:
        return None
    peaks = find_peaks(_cut(recording, span.start_s + SETTLE_S, end_s), recording.rate_hz)
    pitch_hz = find_pitch(peaks)
    return None if pitch_hz is None else (peaks, pitch_hz)


def _follow(recording: Recording, span: NoteSpan, peaks: Peaks, pitch_hz: float) -> HeardNote:
    near = {number: nearest_peak_hz(peaks, number * pitch_hz) for number in range(1, MOST_PARTIALS + 1)}
    found = {number: hz for number, hz in near.items() if hz is not None}
    start_s = span.start_s + SETTLE_S
    fits = fit_partials(
        _cut(recording, start_s, span.end_s), recording.rate_hz, np.array(list(found.values())), pitch_hz, start_s
    )
    partials = {
        number: fit
        for number, fit in zip(found, fits, strict=True)
        if fit is not None and fit.std_error_cents < WORST_PARTIAL_CENTS
    }
    if not partials:
        raise RefusedNoteError(
            "noisy",
            f"the note at {span.start_s:.1f} s in {recording.name} fades too fast or is too noisy to be followed",
            "pluck a little harder, nearer the microphone, and let it ring for a second",
        )
    foreign = ~on_multiple(peaks.frequency_hz, pitch_hz)
    share = peaks.amplitude / peaks.amplitude.sum()
    return HeardNote(span, pitch_hz, peaks.frequency_hz[foreign], share[foreign], partials)


def _check_length(recording: Recording, span: NoteSpan) -> None:
    if span.end_s - span.start_s < LEAST_NOTE_S:
        raise RefusedNoteError(
            "too-short",
            f"the note at {span.start_s:.1f} s in {recording.name} is too short, {span.end_s - span.start_s:.2f} s",
            "let every note ring for a second or longer",
        )


def _check_clipping(recording: Recording, span: NoteSpan) -> None:
    if np.any((recording.clipped_s >= span.start_s - SETTLE_S) & (recording.clipped_s < span.end_s)):
        raise RefusedNoteError(
            "clipped",
            f"the note at {span.start_s:.1f} s in {recording.name} is clipped",
            "turn the recording level down, or pluck more softly, and record again",
        )


def _refuse_clipped_noise(recording: Recording) -> None:
    if recording.clipped_s.size:
        raise RefusedNoteError(
            "clipped",
            f"{recording.name} is clipped from {recording.clipped_s[0]:.1f} s on",
            "turn the recording level down and record again",
        )


def _cut(recording: Recording, start_s: float, end_s: float) -> NDArray[np.float32]:
    return recording.samples[round(start_s * recording.rate_hz) : round(end_s * recording.rate_hz)]
