"""Answers in bins of offset: the confusion table, and the points of the curve. No I/O, no matplotlib.

Imports ports and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from centwise.model import Trial
    from centwise.ports import StoredBlock

EDGES_CENTS = (0.0, 2.0, 4.0, 8.0, 16.0, 32.0)
"""Each bin of size reaches from one of these, which it leaves out, to the next; the last has no end."""

POOLED_BLOCKS = 5
"""So many of the last blocks are pooled: more tell more, but an ear moves (a judgement)."""


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """What was answered in one bin of offset.

    Attributes:
        label: the bin, as in `flat, 4 to 8`.
        truth: the right word.
        mean_cents: mean of what was asked.
        asked: how many pairs.
        flat: how many were called flat; `unison` and `sharp` likewise.
    """

    label: str
    truth: str
    mean_cents: float
    asked: int
    flat: int
    unison: int
    sharp: int

    @property
    def correct(self) -> int:
        """How many were called by the right word."""
        return int(getattr(self, self.truth))


def pooled_trials(blocks: Sequence[StoredBlock]) -> tuple[Trial, ...]:
    """Return the scored trials of the last blocks that were heard, of one condition, oldest first."""
    heard = [block for block in blocks if block.plan.heard and block.trials and not block.plan.given_cents]
    return tuple(trial for block in heard[-POOLED_BLOCKS:] for trial in block.trials if trial.scored)


def answer_rows(trials: Iterable[Trial]) -> tuple[AnswerRow, ...]:
    """Return the answers by offset, from the flattest to the sharpest; bins in which nothing was asked are left out."""
    bins: dict[int, list[Trial]] = {}
    for trial in trials:
        bins.setdefault(_bin(trial.offset_cents), []).append(trial)
    return tuple(_row(place, bins[place]) for place in sorted(bins))


def _bin(offset_cents: float) -> int:
    """Return 0 for unison, else a number that rises with the size and has the sign of the offset."""
    size = abs(offset_cents)
    place = sum(size > edge for edge in EDGES_CENTS)
    return place if offset_cents > 0 else -place


def _row(place: int, trials: list[Trial]) -> AnswerRow:
    truth = trials[0].truth
    if place == 0:
        label = "unison"
    elif abs(place) == len(EDGES_CENTS):
        label = f"{truth}, over {EDGES_CENTS[-1]:g}"
    else:
        low, high = EDGES_CENTS[abs(place) - 1 : abs(place) + 1]
        label = f"{truth}, up to {high:g}" if not low else f"{truth}, {low:g} to {high:g}"
    said = [trial.answer for trial in trials]
    return AnswerRow(
        label,
        truth,
        sum(trial.offset_cents for trial in trials) / len(trials),
        len(trials),
        said.count("flat"),
        said.count("unison"),
        said.count("sharp"),
    )
