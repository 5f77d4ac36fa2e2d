"""A take made ready to be heard: its own pairs as they were played, and its notes shifted to any offset.

What the shifts are worth is not assumed: pairs are made, measured, and the difference counts into the error.
Imports numpy, audio and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from centwise.audio.sound_file import open_sound
from centwise.draws import Draws, Purpose
from centwise.errors import InputError
from centwise.model import Condition, PairSpec
from centwise.pitch.intake import one_channel, taken_in
from centwise.pitch.measure import UNISON_CENTS, glide_apart_cents, measure_pairs, measure_take
from centwise.pitch.quantiles import NORMAL_95
from centwise.strings.library import BUILT_IN
from centwise.strings.names import DEFAULT_NAME
from centwise.takes.folder import MANIFEST, file_sha256, is_take_folder, read_takes
from centwise.takes.opening import recorded_pairs, recording_of
from centwise.tones.recorded import RecordedNote, RecordedVoice

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from centwise.model import PairSound
    from centwise.pitch.records import Measurement, PluckRow
    from centwise.strings.instrument import Instrument
    from centwise.strings.library import Instruments

BEFORE_S = 0.15
"""So much of the background is kept before each attack."""
VERIFIED_CENTS = (-10.0, 10.0)
WORST_SHIFT_CENTS = 1.0
"""Shifts that read worse than this are refused: the take is not what it was measured as (judgement)."""
MOST_PAIRS = 20
LEAST_BESIDE_CENTS = 1.0


@dataclass(frozen=True, slots=True)
class OwnTake:
    """A take that can be judged and drilled.

    Attributes:
        path: file or folder it is from.
        sha256: of the file, or of the folder's manifest.
        instrument: name of the instrument.
        string: its number.
        scale_mm: scale length its folder tells, None for a file.
        measurement: what the meter reads of it, all pairs together.
        own_cents: offset of each pair as it was played, exactly 0 where it cannot be told from unison.
        error_cents: standard error of such an offset, the largest of them.
    """

    path: Path
    sha256: str
    instrument: str
    string: int
    scale_mm: float | None
    measurement: Measurement
    own_cents: tuple[float, ...]
    error_cents: float


class OwnVoice:
    """Makes the pairs of a take's blocks; see conductor.PairMaker.

    Args:
        take: an opened take.
        rate_hz: the player's.
        instruments: where the take's instrument is found.

    Attributes:
        shift_cents: by how much pairs of known offset were misread at most when they were measured.
        error_cents: standard error of the offsets of shifted pairs: the take's own, and that.

    Raises:
        InputError: its notes cannot be read any more, are too short, or cannot be shifted truly.
    """

    def __init__(self, take: OwnTake, rate_hz: int, instruments: Instruments = BUILT_IN) -> None:
        notes = _notes(take.measurement.plucks[: 2 * MOST_PAIRS])
        self._voice = RecordedVoice(list(zip(notes[::2], notes[1::2], strict=True)), rate_hz)
        self._instrument = instruments.named(take.instrument)
        self.shift_cents = self._verified(take.string)
        self.error_cents = math.hypot(take.error_cents, self.shift_cents)

    def render_pairs(self, specs: Sequence[PairSpec], rng: np.random.Generator) -> tuple[PairSound, ...]:
        """Make several candidates for one place in a block; see conductor.PairMaker."""
        return self._voice.render_pairs(specs, rng)

    def _verified(self, string: int) -> float:
        worst = 0.0
        for number, asked_cents in enumerate(VERIFIED_CENTS):
            spec = PairSpec(number + 1, Condition(voice="shifted"), asked_cents, "harmonic")
            pair = self._voice.render_pairs([spec], Draws(0).stream(Purpose.TONES, number))[0]
            recording = taken_in(pair.sound.samples, pair.sound.rate_hz, "a shifted pair")
            read = measure_take(recording, self._instrument, string)
            worst = max(worst, abs(read.cents - asked_cents))
        if worst > WORST_SHIFT_CENTS:
            raise InputError(
                f"pairs made of this take read {worst:.1f} cents beside what was asked",
                "record notes that ring longer, in a quieter room",
            )
        return worst


def open_take(
    path: Path,
    instrument: str = DEFAULT_NAME,
    string: int | None = None,
    *,
    asked: bool = False,
    instruments: Instruments = BUILT_IN,
) -> OwnTake:
    """Read and measure a take: a sound file in which harmonic and fretted note alternate, or a folder of takes.

    Args:
        path: the file or folder.
        instrument: whose string it is.
        string: its number; None for what the folder says, or what the pitch tells.
        asked: whether the instrument was named, which goes before what a folder says.
        instruments: where instruments are found.

    Raises:
        InputError: it cannot be read or measured.
        UsageError: the instrument has no such string.
    """
    if is_take_folder(path):
        takes = read_takes(path)
        chosen = instruments.named(instrument if asked else takes.instrument)
        pairs = recorded_pairs(path, takes)
        found = measure_pairs(pairs, chosen, takes.string if string is None else string)
        return _own(path, file_sha256(path / MANIFEST), chosen, found, takes.scale_mm)
    chosen = instruments.named(instrument)
    found = measure_take(recording_of(path), chosen, string)
    return _own(path, file_sha256(path), chosen, found, None)


def _own(path: Path, sha256: str, instrument: Instrument, found: Measurement, scale_mm: float | None) -> OwnTake:
    own, errors = [], []
    pairs = zip(found.plucks[::2], found.plucks[1::2], found.notes[::2], found.notes[1::2], strict=True)
    for harmonic, fretted, *notes in pairs:
        cents = fretted.cents - harmonic.cents
        # What partials disagree about is common to all pairs of the take, and in each of them.
        between = found.partial_scatter_cents * math.sqrt(sum(row.weight**2 for row in found.partials))
        glide = glide_apart_cents(notes)
        error = math.sqrt(harmonic.std_error_cents**2 + fretted.std_error_cents**2 + between**2 + glide**2)
        unison = abs(cents) <= max(UNISON_CENTS, NORMAL_95 * error) and abs(cents) < LEAST_BESIDE_CENTS
        own.append(0.0 if unison else cents)
        errors.append(error)
    return OwnTake(
        path=path,
        sha256=sha256,
        instrument=instrument.name,
        string=found.string,
        scale_mm=scale_mm,
        measurement=found,
        own_cents=tuple(own[:MOST_PAIRS]),
        error_cents=max(errors[:MOST_PAIRS]),
    )


def _notes(rows: Sequence[PluckRow]) -> list[RecordedNote]:
    """Cut plucks out of their files at the files' own rates, in the order given; each file is read once."""
    cut: dict[PluckRow, RecordedNote] = {}
    for name in dict.fromkeys(row.recording for row in rows):
        wanted = [row for row in rows if row.recording == name]
        # A recording that was read back is named by its path.
        cut |= dict(zip(wanted, _cut(Path(name), wanted), strict=True))
    return [cut[row] for row in rows]


def _cut(path: Path, rows: Sequence[PluckRow]) -> list[RecordedNote]:
    with open_sound(path) as sound:
        spans = [
            (
                max(0, round((row.start_s - BEFORE_S) * sound.rate_hz)),
                round((row.start_s + row.duration_s) * sound.rate_hz),
            )
            for row in rows
        ]
        parts: list[list[NDArray[np.float32]]] = [[] for _ in rows]
        at = 0
        for block in sound.blocks:
            for (first, last), part in zip(spans, parts, strict=True):
                if first < at + len(block) and last > at:
                    part.append(block[max(0, first - at) : last - at].copy())
            at += len(block)
        rate_hz, channels = sound.rate_hz, sound.channels
    notes = []
    for row, (first, _last), part in zip(rows, spans, parts, strict=True):
        samples = np.concatenate(part) if part else np.zeros((0, channels), np.float32)
        notes.append(
            RecordedNote(
                samples=one_channel(samples.reshape(len(samples), channels).T),
                rate_hz=rate_hz,
                attack_s=row.start_s - first / rate_hz,
                cents=row.cents,
                frequency_hz=row.frequency_hz,
            )
        )
    return notes
