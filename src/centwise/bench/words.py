"""What comes out of the bench's state machine. Frozen records only. Imports strings and below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

    from centwise.bench.acts import Act, Pluck
    from centwise.model import BenchAct, BenchResult
    from centwise.strings.bridge import Margins


@dataclass(frozen=True, slots=True)
class BenchTone:
    """One sound of the bench, decided to the last figure.

    Attributes:
        n: the act's number, which its draws hang on.
        act: what was done.
        fret: where the finger is, as players count frets; None for an open string.
        mode: which mode of the open string rings, for a string touched; else 0.
        cents: a fretted note over its place in equal temperament above the open string, pressing included; else 0.
        tuning_cents: how far every string is out of tune, by its number.
        muted: whether the others are kept from ringing along.
    """

    n: int
    act: Pluck
    fret: int | None
    mode: int
    cents: float
    tuning_cents: Mapping[int, float]
    muted: bool


@dataclass(frozen=True, slots=True)
class Ring:
    """Make this heard."""

    tone: BenchTone


@dataclass(frozen=True, slots=True)
class Keep:
    """Write this act to disk before it is answered."""

    act: BenchAct


@dataclass(frozen=True, slots=True)
class Done:
    """An act that makes no sound was done; `margins` is what was seen, where that was looked at."""

    act: Act
    margins: Margins | None = None


@dataclass(frozen=True, slots=True)
class Reckon:
    """The feet are marked: this is what the rehearsal came to."""

    result: BenchResult


Effect: TypeAlias = Ring | Keep | Done | Reckon
