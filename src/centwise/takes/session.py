"""Recording takes: asks for harmonic and fretted note by turns, catches each, keeps it, and says whether it will do.

The session is a row of happenings that a front end walks through at its own pace; between two of them the microphone
goes on listening. A note is on disk before anything is told about it. Imports numpy, pitch and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from centwise.errors import DeviceError, InputError
from centwise.model import TONES, Tone
from centwise.pitch.catching import Catcher
from centwise.pitch.intake import Recording, taken_in
from centwise.pitch.measure import measure_pairs
from centwise.pitch.quality import NoteQuality, judge_note

if TYPE_CHECKING:
    from collections.abc import Generator, Iterator
    from pathlib import Path

    from centwise.model import Samples
    from centwise.pitch.records import Measurement
    from centwise.ports import Clock, Recorder
    from centwise.strings.instrument import Instrument
    from centwise.takes.folder import FileKind, KeptNote, TakeFolder

USUAL_TAKES = 3
MOST_TAKES = 20
FIRST_PAUSE_S, PAUSE_S = 3.0, 1.5
"""Between asking and the count-in: time to read and to lay the hands on the string (judgements)."""
COUNT = 3
BEAT_S = 0.7
READ_S = 0.05
MOST_GAP_S = 0.004
"""A note that lost more of its sound on the way is refused: a gap moves its phase, and 5 ms have moved a reading by a
quarter of a cent (measured)."""
MOST_TRIES = 5
"""A note that will not do so often is given up: something has to be put right first."""


@dataclass(frozen=True, slots=True)
class RecordingRequest:
    """What is to be recorded: how many pairs, 1 to 20, and into which kind of file."""

    takes: int = USUAL_TAKES
    kind: FileKind = "wav"


@dataclass(frozen=True, slots=True)
class Asked:
    """A note is wanted: of which take of how many, and for which time."""

    take: int
    takes: int
    tone: Tone
    attempt: int


@dataclass(frozen=True, slots=True)
class Counting:
    """The count-in: so many beats are left."""

    left: int


@dataclass(frozen=True, slots=True)
class PluckNow:
    """The note may be played."""


@dataclass(frozen=True, slots=True)
class Heard:
    """Something came in: the level in decibels of full scale, and whether a note sounds."""

    level_dbfs: float
    sounding: bool


@dataclass(frozen=True, slots=True)
class Kept:
    """A note is on disk."""

    file: Path


@dataclass(frozen=True, slots=True)
class Judged:
    """A kept note will do, or will not; then it is asked for again unless it is given up."""

    asked: Asked
    quality: NoteQuality
    given_up: bool


Happening: TypeAlias = Asked | Counting | PluckNow | Heard | Kept | Judged


class RecordingSession:
    """Records takes of one string.

    Args:
        recorder: the microphone; it stays open when the session is over.
        clock: gives each note its instant.
        folder: where the notes are kept.
        instrument: whose string it is.
        takes: how many pairs, 1 to 20.

    Attributes:
        recordings: the good notes so far, by take and tone.
    """

    def __init__(
        self, recorder: Recorder, clock: Clock, folder: TakeFolder, instrument: Instrument, takes: int = USUAL_TAKES
    ) -> None:
        self.recordings: dict[tuple[int, Tone], Recording] = {}
        self._harmonic_hz: dict[int, float | None] = {}
        self._recorder = recorder
        self._clock = clock
        self._folder = folder
        self._instrument = instrument
        self._takes = takes

    def happenings(self) -> Iterator[Happening]:
        """Walk through the session; it ends after the last note, or after one that was given up.

        Raises:
            DeviceError: the microphone went away; what it gave of the present note is kept.
            InputError: a note cannot be kept.
        """
        for take in range(1, self._takes + 1):
            for tone in TONES:
                for attempt in range(1, MOST_TRIES + 1):
                    asked = Asked(take, self._takes, tone, attempt)
                    quality = yield from self._one(asked)
                    given_up = not quality.good and attempt == MOST_TRIES
                    yield Judged(asked, quality, given_up)
                    if given_up:
                        return
                    if quality.good:
                        break

    def pairs(self) -> int:
        """Return how many takes are whole."""
        return len(self._whole())

    def measure(self) -> Measurement:
        """Measure the takes that are whole.

        Raises:
            InputError: there is none, or they cannot be measured.
        """
        pairs = [(self.recordings[take, "harmonic"], self.recordings[take, "fretted"]) for take in self._whole()]
        if not pairs:
            raise InputError("no take has a harmonic and a fretted note that will do", "record again in a new folder")
        return measure_pairs(pairs, self._instrument, self._folder.takes.string)

    def _whole(self) -> list[int]:
        return [take for take in range(1, self._takes + 1) if all((take, tone) in self.recordings for tone in TONES)]

    def _one(self, asked: Asked) -> Generator[Happening, None, NoteQuality]:
        yield asked
        self._recorder.read(0.0)  # what came in while the front end took its time
        catcher = Catcher(self._recorder.rate_hz)
        first = asked.take == 1 and asked.tone == "harmonic" and asked.attempt == 1
        yield from self._background(catcher, FIRST_PAUSE_S if first else PAUSE_S)
        for left in range(COUNT, 0, -1):
            yield Counting(left)
            yield from self._background(catcher, BEAT_S)
        yield PluckNow()
        lag_s = self._recorder.lag_s()
        try:
            while catcher.state in {"waiting", "sounding"}:
                if catcher.state == "waiting":
                    # Only what is lost from here on counts: a card's clock drifts by a millisecond in ten seconds.
                    lag_s = self._recorder.lag_s()
                catcher.add(self._recorder.read(READ_S))
                yield Heard(self._recorder.level_dbfs(), catcher.state == "sounding")
        except DeviceError:
            if catcher.state == "sounding":
                self._folder.cut_off(self._keep(catcher.note(), asked))
            raise
        lost_s = self._recorder.lag_s() - lag_s
        samples = catcher.note()
        note = self._keep(samples, asked)
        yield Kept(self._folder.path / note.file)
        # As the folder keeps them: what a microphone gives that is no number becomes silence or full scale.
        finite = np.nan_to_num(samples, nan=0.0, posinf=1.0, neginf=-1.0)
        recording = taken_in(finite, self._recorder.rate_hz, note.file)
        harmonic_hz = self._harmonic_hz.get(asked.take)
        quality = judge_note(recording, asked.tone, self._instrument, self._folder.takes.string, harmonic_hz)
        if quality.good and lost_s > MOST_GAP_S:
            quality = replace(quality, flaw="gaps", why=f"{1e3 * lost_s:.0f} ms of sound were lost while it rang")
        self._folder.judge(note, quality)
        if quality.good:
            self.recordings[asked.take, asked.tone] = recording
            if asked.tone == "harmonic":
                self._harmonic_hz[asked.take] = quality.pitch_hz
        return quality

    def _background(self, catcher: Catcher, seconds: float) -> Iterator[Happening]:
        left = round(seconds * self._recorder.rate_hz)
        while left > 0:
            block = self._recorder.read(READ_S)
            left -= len(block)
            catcher.background(block)
            yield Heard(self._recorder.level_dbfs(), sounding=False)

    def _keep(self, samples: Samples, asked: Asked) -> KeptNote:
        return self._folder.add(samples, asked.take, asked.tone, self._clock.now())
