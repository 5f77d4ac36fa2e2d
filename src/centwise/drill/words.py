"""What goes into the drill's state machine and what comes out of it. Frozen records only. Imports model and below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from datetime import datetime

    from centwise.model import BlockResult, Judgement, PairSpec, Travel, Trial


NOTED_S = 0.6
"""How long a noted answer stands before the next pair of an assessment, always the same (a judgement)."""


@dataclass(frozen=True, slots=True)
class Answered:
    """The listener judged the present pair."""

    answer: Judgement
    at: datetime


@dataclass(frozen=True, slots=True)
class HeardAgain:
    """The listener had the present pair, or one of its tones, sounded once more."""


@dataclass(frozen=True, slots=True)
class Left:
    """The listener leaves the block before its end."""

    at: datetime


@dataclass(frozen=True, slots=True)
class PractiseDirections:
    """The listener would like a few more large pairs first, which do not count."""


Event: TypeAlias = Answered | HeardAgain | PractiseDirections | Left


@dataclass(frozen=True, slots=True)
class Ask:
    """Sound this pair and ask for a judgement."""

    pair: PairSpec


@dataclass(frozen=True, slots=True)
class Keep:
    """Write this answer to disk, before anything that follows."""

    trial: Trial


@dataclass(frozen=True, slots=True)
class Feedback:
    """The truth about the pair just judged, and the move the bridge would want for it.

    Where the truth is a measurement of a recorded pair, `error_cents` is its standard error; else it is None.
    """

    trial: Trial
    travel: Travel
    error_cents: float | None = None


@dataclass(frozen=True, slots=True)
class Noted:
    """An answer was taken, and nothing is told about it: an assessment."""

    n: int
    answer: Judgement


@dataclass(frozen=True, slots=True)
class Swapped:
    """In the warm-up flat and sharp were taken for each other: say so kindly, and offer to practise just that."""


@dataclass(frozen=True, slots=True)
class Rest:
    """A rest before the next pair of a long assessment, after `done` scored pairs with `left` to come."""

    done: int
    left: int


@dataclass(frozen=True, slots=True)
class Conclude:
    """The block is over with this result."""

    result: BlockResult
    at: datetime


Effect: TypeAlias = Ask | Keep | Feedback | Noted | Swapped | Rest | Conclude
