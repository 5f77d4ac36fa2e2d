"""Which string a take is of, and whether its notes are what they should be: each refusal with its reason.

Imports numpy, strings and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.pitch.records import RefusedNoteError
from centwise.units import CENTS_PER_OCTAVE, cents_between, counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from centwise.pitch.records import Note
    from centwise.strings.instrument import Instrument, StringSpec

    Array = NDArray[np.float64]

TUNING_CENTS = 110.0
"""Strings are looked for within a semitone of open G, and a tenth of one more for a string out of tune."""
TAKE_CENTS = 110.0
"""Harmonics of one take lie no further from their middle."""
APART_CENTS = 60.0
"""A fretted note further from its harmonic is another fret or string (judgement: 20 mm of bridge move it by 50 cents on
the longest string, and the next fret lies 100 away)."""
MOST_GLIDE_CENTS = 2.4
"""A note whose first quarter and second half lie further apart than this is refused (judgement; the recorded notes of a
real instrument stay within 2.2, and one of them that begins 8 cents sharp reaches 2.5 to 5.7, however long it takes to
settle, 0.15 to 1.5 s; measured)."""
GLIDE_NOISE = 3.0
"""So many standard errors of a glide are noise's doing; what is more is a glide."""
OWN_SHARE = 0.94
LEAST_FOREIGN = 3
"""Other strings ring along when so many foreign peaks leave less than this share of the spectrum to the note itself
(measured: muted tones 1.00, recorded ones 0.955 and up, unmuted 0.80 to 0.93)."""
NEAR_OPEN_CENTS = 60.0
OWN_OPEN_CENTS = 20.0
OPEN_PARTIALS = 12
CLEAR = 10.0
SWELL_DB = 3.5
"""A note only dies away. One that swells again by so much, by the weighted median of its partials, beats with something
(judgement; the recorded notes of a real instrument stay below 1.9, measured)."""


def recognise(notes: Sequence[Note], instrument: Instrument, number: int | None) -> StringSpec:
    """Return the string whose octave the harmonics are.

    Args:
        notes: all notes of the take, one harmonic at least.
        instrument: whose strings may be meant.
        number: the string if it was told.

    Raises:
        RefusedNoteError: no string has such an octave, or another than the one told, or the harmonics differ.
        UsageError: the instrument has no such string.
    """
    harmonics = [note for note in notes if note.tone == "harmonic"]
    pitch_hz = float(np.median([note.pitch_hz for note in harmonics]))
    for note in harmonics:
        if abs(cents_between(note.pitch_hz, pitch_hz)) > TAKE_CENTS:
            raise RefusedNoteError(
                "other-string",
                f"the harmonics are not of one string: {pitch_hz:.1f} Hz, and {note.pitch_hz:.1f} Hz {_where(note)}",
                "record one string at a time, harmonic first, then the fretted note",
            )
    nearest = min(instrument.strings, key=lambda string: abs(cents_between(pitch_hz, string.octave_hz)))
    meant = nearest if number is None else instrument.string(number)
    if abs(cents_between(pitch_hz, meant.octave_hz)) <= TUNING_CENTS:
        return meant
    raise RefusedNoteError(
        "other-string",
        f"the harmonic {_where(harmonics[0])} is at {pitch_hz:.1f} Hz, {_else(pitch_hz, meant, instrument)}",
        _advice(meant),
    )


def check_fretted(notes: Sequence[Note], harmonic_hz: float, most_cents: float = APART_CENTS) -> None:
    """Refuse fretted notes that are no octave of the open string.

    Args:
        notes: those of the take; its harmonics are passed over.
        harmonic_hz: what they are compared with.
        most_cents: how far from it they may lie.

    Raises:
        RefusedNoteError: one lies further away.
    """
    for note in notes:
        apart = cents_between(note.pitch_hz, harmonic_hz)
        if note.tone == "fretted" and abs(apart) > most_cents:
            octaves = apart / CENTS_PER_OCTAVE
            if round(octaves) and abs(octaves - round(octaves)) * CENTS_PER_OCTAVE < TUNING_CENTS:
                what = counted(abs(round(octaves)), "octave")
            else:
                what = f"{abs(apart) / 100.0:.1f} semitones"
            raise RefusedNoteError(
                "other-note",
                f"the fretted note {_where(note)} lies {what} {'above' if apart > 0 else 'below'} the harmonic: "
                "another fret, string or octave",
                "touch and fret the same string at its octave fret, one after the other",
            )


def check_steady(note: Note) -> None:
    """Refuse a note whose pitch glides, or that beats.

    Raises:
        RefusedNoteError: the reason, and what to do.
    """
    level = np.array([10.0 ** (fit.amplitude_db / 20.0) for fit in note.partials.values()])
    swells = np.array([_swell_db(fit.track_level, fit.noise_level) for fit in note.partials.values()])
    if _median(swells, level) > SWELL_DB:
        raise RefusedNoteError(
            "beats",
            f"the {note.tone} note {_where(note)} swells and fades: it beats with a string that rings along",
            "mute every other string and record again",
        )
    glide, error = glide_cents(note)
    if abs(glide) > max(MOST_GLIDE_CENTS, GLIDE_NOISE * error):
        raise RefusedNoteError(
            "glides",
            f"the {note.tone} note {_where(note)} glides {'up' if glide > 0 else 'down'} by {abs(glide):.1f} cents",
            "pluck more softly, press without bending, and record again",
        )


def glide_cents(note: Note) -> tuple[float, float]:
    """Return how far a note's pitch moves, by the weighted median of its partials, and what noise may add to it."""
    level = np.array([10.0 ** (fit.amplitude_db / 20.0) for fit in note.partials.values()])
    glides = np.array([fit.glide_cents for fit in note.partials.values()])
    errors = np.array([fit.glide_error_cents for fit in note.partials.values()])
    weights = level / (1.0 + errors**2)
    return _median(glides, weights), _median(errors, weights)


def check_muted(
    note: Note, foreign_hz: Array, foreign_share: Array, string: StringSpec, instrument: Instrument
) -> None:
    """Refuse a note that other strings ring along with: they beat with it.

    Args:
        note: the note.
        foreign_hz: peaks of its spectrum that are none of its partials.
        foreign_share: of the amplitude of all peaks, what each of those has.
        string: the one plucked; what a light touch leaves of its open partials is no other string.
        instrument: whose strings may ring.
    """
    others = [other for other in instrument.strings if other.number != string.number]
    heard = [
        (float(hz), float(share))
        for hz, share in zip(foreign_hz, foreign_share, strict=True)
        if not _rings(string, float(hz), OWN_OPEN_CENTS) and any(_rings(other, float(hz)) for other in others)
    ]
    heard = _one_a_partial(heard, others)
    if len(heard) < LEAST_FOREIGN or sum(share for _, share in heard) <= 1.0 - OWN_SHARE:
        return
    names = " and ".join(str(other.number) for other in others if any(_rings(other, hz) for hz, _ in heard))
    raise RefusedNoteError(
        "beats",
        f"other strings ring along with the {note.tone} note {_where(note)} (string {names}): they beat with it",
        "mute every other string with a cloth and record again",
    )


def _one_a_partial(heard: list[tuple[float, float]], others: list[StringSpec]) -> list[tuple[float, float]]:
    """Return the largest peak at each partial of the other strings.

    A string rings with one line at each of its partials, many of them. What a codec leaves lies thick beside the note.
    """
    taken: set[tuple[int, int]] = set()
    kept = []
    for hz, share in heard:
        meant = {(other.number, max(1, round(hz / other.open_hz))) for other in others if _rings(other, hz)}
        if meant - taken:
            kept.append((hz, share))
        taken |= meant
    return kept


def _rings(string: StringSpec, heard_hz: float, near_cents: float = NEAR_OPEN_CENTS) -> bool:
    number = max(1, round(heard_hz / string.open_hz))
    return number <= OPEN_PARTIALS and abs(cents_between(heard_hz, number * string.open_hz)) < near_cents


def _swell_db(level: Array, noise: float) -> float:
    """Return by how much a level rises again after it has fallen, while it is loud and clear of the noise."""
    loud = level[: np.flatnonzero(level >= min(level.max(), max(level.max() / 30.0, CLEAR * noise)))[-1] + 1]
    shown = 20.0 * np.log10(np.maximum(loud, 1e-12))
    return float((shown - np.minimum.accumulate(shown)).max())


def _median(
    values: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    weights: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> float:
    order = np.argsort(values)
    place = int(np.searchsorted(np.cumsum(weights[order]), 0.5 * weights.sum()))
    return float(values[order][place])


def _where(note: Note) -> str:
    return f"at {note.start_s:.1f} s in {note.recording}"


def _else(pitch_hz: float, meant: StringSpec, instrument: Instrument) -> str:
    if abs(cents_between(2.0 * pitch_hz, meant.octave_hz)) <= TUNING_CENTS:
        return f"an octave below that of string {meant.number}: the open string, not its harmonic"
    for string in instrument.strings:
        if abs(cents_between(pitch_hz, string.octave_hz)) <= TUNING_CENTS:
            return f"the octave of string {string.number}, not of string {meant.number} ({meant.octave_hz:.1f} Hz)"
    if meant.start_fret and abs(cents_between(pitch_hz, 1.5 * meant.octave_hz)) <= TUNING_CENTS:
        return f"what string {meant.number} rings when it is touched over fret 12, a third of its length"
    if abs(cents_between(pitch_hz, 2.0 * meant.octave_hz)) <= TUNING_CENTS:
        return f"an octave above that of string {meant.number}"
    for string in instrument.strings:
        if abs(cents_between(pitch_hz, string.open_hz)) <= NEAR_OPEN_CENTS:
            return f"the pitch of the open string {string.number}, which rings along or was not touched"
    return f"further than a semitone from the octave of string {meant.number} ({meant.octave_hz:.1f} Hz)"


def _advice(meant: StringSpec) -> str:
    return (
        f"touch string {meant.number} over fret {meant.octave_fret}, where it is halved, or name another with --string"
    )
