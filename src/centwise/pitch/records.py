"""What a measurement holds: frozen records. Imports model and below."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from centwise.errors import InputError

if TYPE_CHECKING:
    from centwise.model import Judgement, Tone
    from centwise.pitch.partials import PartialFit


Flaw = Literal[
    "silent",
    "too-quiet",
    "clipped",
    "noisy",
    "too-short",
    "several",
    "beats",
    "glides",
    "other-string",
    "other-note",
    "gaps",
]
"""What can be wrong with a recorded note."""


class RefusedNoteError(InputError):
    """A note that cannot be measured.

    Args:
        flaw: what is wrong with it, in a word.
        what: as in every error.
        to_do: as in every error.
    """

    def __init__(self, flaw: Flaw, what: str, to_do: str) -> None:
        super().__init__(what, to_do)
        self.flaw = flaw


@dataclass(frozen=True, slots=True)
class Note:
    """One pluck as it was heard.

    Attributes:
        tone: harmonic or fretted.
        recording: the name of the recording it is from.
        start_s: its attack.
        end_s: where it has faded or the next begins.
        pitch_hz: by its spectrum, to about a cent.
        partials: the fits, by partial number.
    """

    tone: Tone
    recording: str
    start_s: float
    end_s: float
    pitch_hz: float
    partials: dict[int, PartialFit] = field(repr=False)


@dataclass(frozen=True, slots=True)
class PluckRow:
    """One pluck in the table: its pitch from the partials that count, and its cents over the harmonics' mean."""

    tone: Tone
    recording: str
    start_s: float
    duration_s: float
    frequency_hz: float
    cents: float
    std_error_cents: float
    partials: int


@dataclass(frozen=True, slots=True)
class PartialRow:
    """One partial in the table: its mean frequency in both tones, the difference, and the weight it is given."""

    number: int
    harmonic_hz: float
    fretted_hz: float
    cents: float
    std_error_cents: float
    weight: float


@dataclass(frozen=True, slots=True)
class Measurement:
    """A take measured.

    Attributes:
        string: its number.
        cents: the fretted note over the harmonic.
        std_error_cents: +-1.645 of it hold the true value with 90 %.
        bound_cents: the Cramer-Rao bound, what noise alone would allow.
        verdict: flat, unison or sharp.
        harmonic_hz: first partial of the harmonic, mean over plucks.
        fretted_hz: the harmonic's frequency raised by `cents`.
        paired: whether plucks were compared two by two.
        partial_scatter_cents: what the partials scatter more than their own errors explain, 0 where they do not.
        pluck_scatter_cents: the same of the plucks.
        plucks: in the order in which they were played.
        partials: by number.
        notes: the fits themselves, for a picture.
    """

    string: int
    cents: float
    std_error_cents: float
    bound_cents: float
    verdict: Judgement
    harmonic_hz: float
    fretted_hz: float
    paired: bool
    partial_scatter_cents: float
    pluck_scatter_cents: float
    plucks: tuple[PluckRow, ...]
    partials: tuple[PartialRow, ...]
    notes: tuple[Note, ...] = field(repr=False)
