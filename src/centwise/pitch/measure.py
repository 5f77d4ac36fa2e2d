"""The measurement: notes told apart, partials compared one by one, partials and plucks combined.

Imports numpy, strings and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.errors import InputError
from centwise.model import TONES, Judgement, Tone, judgement_of
from centwise.pitch.checks import GLIDE_NOISE, check_fretted, check_muted, check_steady, glide_cents, recognise
from centwise.pitch.combine import Pooled, pool
from centwise.pitch.hear import HeardNote, hear_notes
from centwise.pitch.quantiles import NORMAL_95
from centwise.pitch.records import Measurement, Note, PartialRow, PluckRow, RefusedNoteError
from centwise.units import ratio_from_cents

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from centwise.pitch.intake import Recording
    from centwise.strings.instrument import Instrument

    Array = NDArray[np.float64]

UNISON_CENTS = 0.1
"""What counts as unison: 0.04 mm of bridge, a tenth of what a hand can place (judgement)."""
GLIDE_READS = 2.5
"""So many times its glide is the error of a gliding note: +-1.645 of it hold how much too high it is read (measured on
recorded notes; 0.4 to 1.2 times the glide where it settles in 0.15 to 0.3 s, 1 to 2 in 0.6 s, 1.5 to 3.8 in 1 s)."""
LEAST_ERROR_CENTS = 1e-6
"""No error is stated below this: what 24 bits and float32 leave of a phase."""


def measure_take(recording: Recording, instrument: Instrument, string: int | None = None) -> Measurement:
    """Measure a take in which harmonic and fretted note alternate, the harmonic first.

    Args:
        recording: two notes, or any even number.
        instrument: whose string it is.
        string: its number, or None to recognise it from the pitch.

    Raises:
        InputError: it cannot be measured; the sentence says why and what to do.
        UsageError: the instrument has no such string.
    """
    heard = hear_notes(recording)
    if len(heard) == 1:
        raise InputError(
            f"{recording.name} holds one note only, at {heard[0].span.start_s:.1f} s",
            "record the harmonic and then the fretted note, in quiet (noise hides where a note begins), or give "
            "--harmonic and --fretted a file each",
        )
    if len(heard) % 2:
        places = ", ".join(f"{note.span.start_s:.1f}" for note in heard[:9])
        raise InputError(
            f"{recording.name} holds {len(heard)} notes (at {places}{' …' if len(heard) > 9 else ''} s), "
            "so one has no partner",
            "record harmonic and fretted note by turns, or give --harmonic and --fretted a file each",
        )
    tones = [TONES[place % 2] for place in range(len(heard))]
    return _measured(
        list(zip(tones, heard, [recording.name] * len(heard), strict=True)), instrument, string, paired=True
    )


def measure_apart(
    harmonic: Recording, fretted: Recording, instrument: Instrument, string: int | None = None
) -> Measurement:
    """Measure harmonics and fretted notes from a recording each, any number in either.

    Args:
        harmonic: harmonics only.
        fretted: fretted notes only.
        instrument: whose string it is.
        string: its number, or None to recognise it from the pitch.

    Raises:
        InputError: as `measure_take`.
        UsageError: as `measure_take`.
    """
    told: list[tuple[Tone, HeardNote, str]] = [("harmonic", note, harmonic.name) for note in hear_notes(harmonic)]
    told += [("fretted", note, fretted.name) for note in hear_notes(fretted)]
    return _measured(told, instrument, string, paired=False)


def measure_pairs(
    pairs: Sequence[tuple[Recording, Recording]], instrument: Instrument, string: int | None = None
) -> Measurement:
    """Measure pairs of recordings that hold one note each: a harmonic, and the fretted note played after it.

    Args:
        pairs: one or more.
        instrument: whose string it is.
        string: its number, or None to recognise it from the pitch.

    Raises:
        InputError: as `measure_take`, and for a recording of several notes.
        UsageError: as `measure_take`.
    """
    told: list[tuple[Tone, HeardNote, str]] = []
    for pair in pairs:
        for tone, recording in zip(TONES, pair, strict=True):
            told.append((tone, the_note(recording), recording.name))
    return _measured(told, instrument, string, paired=True)


def the_note(recording: Recording) -> HeardNote:
    """Return the only note of a recording.

    Raises:
        RefusedNoteError: it holds several, or none that can be measured.
    """
    heard = hear_notes(recording)
    if len(heard) > 1:
        raise RefusedNoteError(
            "several",
            f"{recording.name} holds {len(heard)} notes, the second at {heard[1].span.start_s:.1f} s",
            "record one pluck at a time and let it ring",
        )
    return heard[0]


def _measured(
    told: Sequence[tuple[Tone, HeardNote, str]], instrument: Instrument, string: int | None, *, paired: bool
) -> Measurement:
    notes = tuple(
        Note(tone, name, heard.span.start_s, heard.span.end_s, heard.pitch_hz, heard.partials)
        for tone, heard, name in told
    )
    spec = recognise(notes, instrument, string)
    harmonics = [note for note in notes if note.tone == "harmonic"]
    check_fretted(notes, float(np.median([note.pitch_hz for note in harmonics])))
    for note, (_tone, heard, _name) in zip(notes, told, strict=True):
        check_muted(note, heard.foreign_hz, heard.foreign_share, spec, instrument)
        check_steady(note)
    numbers = sorted(set.intersection(*(set(note.partials) for note in notes)))
    if not numbers:
        raise InputError(
            "harmonic and fretted note have no partial in common that can be measured",
            "pluck both at the same place, nearer the microphone",
        )
    return _compared(notes, numbers, spec.number, paired=paired)


def _compared(notes: tuple[Note, ...], numbers: list[int], string: int, *, paired: bool) -> Measurement:
    hertz = np.array([[note.partials[n].frequency_hz for n in numbers] for note in notes])
    errors = np.array([[note.partials[n].std_error_cents for n in numbers] for note in notes])
    bounds = np.array([[note.partials[n].bound_cents for n in numbers] for note in notes])
    fretted = np.array([note.tone == "fretted" for note in notes])
    reference = np.exp(np.log(hertz[~fretted]).mean(axis=0))
    cents = 1200.0 * np.log2(hertz / reference)
    variances = np.maximum(errors, LEAST_ERROR_CENTS) ** 2
    apart = cents[fretted].mean(axis=0) - cents[~fretted].mean(axis=0)
    apart_variance = _of_mean(variances[fretted]) + _of_mean(variances[~fretted])
    level_db = np.array([[note.partials[n].amplitude_db for n in numbers] for note in notes])
    loudness = 10.0 ** ((level_db - level_db.max(axis=1, keepdims=True)).min(axis=0) / 20.0)
    # Another string that rings at the same pitch tells most in the partials that are faint in the note itself.
    partials = pool(apart, apart_variance, loudness)
    weights = partials.weights
    # Every pluck is read by the same weights, so where a partial lies beside the others' multiples cancels out.
    level, level_variance = cents @ weights, variances @ weights**2
    plucks = _of_plucks(level, level_variance, fretted, paired=paired)
    between = partials.std_error**2 - float(weights**2 @ apart_variance)
    bound = float(np.sqrt(_of_mean((bounds**2 @ weights**2)[fretted]) + _of_mean((bounds**2 @ weights**2)[~fretted])))
    glide = glide_apart_cents(notes)
    error = max(float(np.sqrt(plucks.std_error**2 + max(between, 0.0) + glide**2)), bound, LEAST_ERROR_CENTS)
    harmonic_hz = _first_hz(reference, numbers)
    return Measurement(
        string=string,
        cents=plucks.mean,
        std_error_cents=error,
        bound_cents=bound,
        verdict=_verdict(plucks.mean, error),
        harmonic_hz=harmonic_hz,
        fretted_hz=harmonic_hz * ratio_from_cents(plucks.mean),
        paired=paired,
        partial_scatter_cents=partials.excess_sd,
        pluck_scatter_cents=plucks.excess_sd,
        plucks=tuple(
            PluckRow(
                tone=note.tone,
                recording=note.recording,
                start_s=note.start_s,
                duration_s=note.end_s - note.start_s,
                frequency_hz=harmonic_hz * ratio_from_cents(float(own)),
                cents=float(own),
                std_error_cents=float(np.sqrt(variance)),
                partials=len(numbers),
            )
            for note, own, variance in zip(notes, level, level_variance, strict=True)
        ),
        partials=tuple(
            PartialRow(
                number=number,
                harmonic_hz=float(reference[place]),
                fretted_hz=float(reference[place]) * ratio_from_cents(float(apart[place])),
                cents=float(apart[place]),
                std_error_cents=float(np.sqrt(apart_variance[place])),
                weight=float(weights[place]),
            )
            for place, number in enumerate(numbers)
        ),
        notes=notes,
    )


def _of_mean(variances: Array) -> Array:
    """Return the variance of the mean over plucks."""
    return np.asarray(variances.sum(axis=0) / len(variances) ** 2)


def _of_plucks(level: Array, variance: Array, fretted: NDArray[np.bool_], *, paired: bool) -> Pooled:
    if paired:
        return pool(level[fretted] - level[~fretted], variance[fretted] + variance[~fretted])
    up, down = pool(level[fretted], variance[fretted]), pool(level[~fretted], variance[~fretted])
    return Pooled(
        up.mean - down.mean,
        float(np.hypot(up.std_error, down.std_error)),
        float(np.hypot(up.excess_sd, down.excess_sd)),
        np.ones(1),
    )


def glide_apart_cents(notes: Sequence[Note]) -> float:
    """Return the error of a reading because the one tone glides more than the other, beyond what noise would show.

    Args:
        notes: harmonics and fretted notes, one of each at least.
    """
    fretted = np.array([note.tone == "fretted" for note in notes])
    glides, errors = np.array([glide_cents(note) for note in notes]).T
    apart = float(glides[fretted].mean() - glides[~fretted].mean())
    noise = float(np.sqrt(_of_mean(errors[fretted] ** 2) + _of_mean(errors[~fretted] ** 2)))
    return GLIDE_READS * max(0.0, abs(apart) - GLIDE_NOISE * noise)


def _first_hz(reference: Array, numbers: list[int]) -> float:
    """Return the first partial's frequency, or the lowest one's over its number where the first is too weak."""
    return float(reference[0]) / numbers[0]


def _verdict(cents: float, error: float) -> Judgement:
    return "unison" if abs(cents) <= max(UNISON_CENTS, NORMAL_95 * error) and abs(cents) < 1.0 else judgement_of(cents)
