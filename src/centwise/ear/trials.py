"""Answers counted by what was asked: checked once, here, so that every estimate names the same culprits.

Imports numpy, model and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.errors import InputError
from centwise.model import JUDGEMENTS, TONES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

FEWEST_TRIALS = 5
"""Below this nothing is said about the ear."""
MOST_CENTS = 1200.0
"""An octave: beyond it two notes are not compared for being in tune."""


@dataclass(frozen=True, slots=True)
class Tally:
    """How often each answer was given to each thing asked.

    Attributes:
        offsets_cents: shape (u,).
        order_signs: shape (u,): 1 harmonic first, -1 fretted first.
        counts: flat, unison, sharp, shape (u, 3).
    """

    offsets_cents: NDArray[np.float64]
    order_signs: NDArray[np.int64]
    counts: NDArray[np.int64]

    @property
    def trials(self) -> int:
        """How many answers were given."""
        return int(self.counts.sum())

    @property
    def both_orders(self) -> bool:
        """Whether both orders of the two tones occur."""
        return bool(np.any(self.order_signs != self.order_signs[0]))


def tallied(offsets_cents: ArrayLike, answers: ArrayLike, firsts: Sequence[str] | None = None) -> Tally:
    """Check a block's trials and count them.

    Args:
        offsets_cents: signed cents, shape (n,), n at least 5, numbers from -1200 to 1200.
        answers: "flat", "unison" or "sharp", shape (n,).
        firsts: "harmonic" or "fretted", shape (n,); None when it does not matter.

    Raises:
        InputError: naming what is wrong and where.
    """
    offsets = _numbers(offsets_cents)
    codes = _codes("answer", answers, JUDGEMENTS, offsets.size)
    if offsets.size < FEWEST_TRIALS:
        raise InputError(f"{offsets.size} trials say nothing of an ear", f"give at least {FEWEST_TRIALS}")
    signs = np.ones(offsets.size, dtype=np.int64)
    if firsts is not None:
        signs = 1 - 2 * _codes("first tone", firsts, TONES, offsets.size)
    asked, which = np.unique(np.stack((offsets, signs)), axis=1, return_inverse=True)
    counts = np.zeros((asked.shape[1], len(JUDGEMENTS)), dtype=np.int64)
    np.add.at(counts, (which.reshape(-1), codes), 1)
    return Tally(asked[0], asked[1].astype(np.int64), counts)


def _numbers(offsets_cents: ArrayLike) -> NDArray[np.float64]:
    try:
        given = np.asarray(offsets_cents)
    except ValueError as error:
        raise InputError(
            f"the offsets are not one row of numbers ({error})", "give signed cents, one a trial"
        ) from error
    if given.ndim != 1:
        raise InputError(f"the offsets have the shape {given.shape}", "give one row of signed cents, one a trial")
    if np.ma.is_masked(offsets_cents):
        raise InputError("some of the offsets are masked", "leave those trials out, and their answers")
    # Of mixed kinds numpy makes one: look at the things themselves. Digits in quotes are no numbers, nor is True.
    things = offsets_cents if isinstance(offsets_cents, list | tuple) else given.tolist()
    for number, thing in enumerate(things, start=1):
        if isinstance(thing, bool | np.bool_) or not isinstance(thing, int | float | np.integer | np.floating):
            raise InputError(f"the offset of trial {number} is {thing!r}", "give a number of cents")
    offsets = given.astype(np.float64)
    wrong = np.flatnonzero(~(np.abs(offsets) <= MOST_CENTS))
    if wrong.size:
        raise InputError(
            f"the offset of trial {wrong[0] + 1} is {offsets[wrong[0]]:g}",
            f"give finite cents, from {-MOST_CENTS:g} to {MOST_CENTS:g}",
        )
    return offsets


def _codes(what: str, words: ArrayLike, known: Sequence[str], trials: int) -> NDArray[np.int64]:
    try:
        rows = np.asarray(words)
    except ValueError as error:
        raise InputError(f"the {what}s are not one row of words ({error})", f"give one {what} a trial") from error
    if rows.shape != (trials,):
        raise InputError(f"there are {trials} offsets but {what}s of shape {rows.shape}", f"give one {what} a trial")
    places = {word: place for place, word in enumerate(known)}
    for number, word in enumerate(rows.tolist(), start=1):
        if not isinstance(word, str) or word not in places:
            raise InputError(f"the {what} of trial {number} is {word!r}", f"use {', '.join(known[:-1])} or {known[-1]}")
    return np.array([places[word] for word in rows.tolist()], dtype=np.int64)
