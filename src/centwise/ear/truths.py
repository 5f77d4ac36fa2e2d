"""Which answer will be the right one next: flat, unison or sharp, drawn so that nothing can be learnt from the row.

About one pair in five is a catch trial (unison), never two in a row; sides are drawn evenly; no truth comes more than
four times running. Everything works on many blocks at once. Imports numpy and nothing of centwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

CATCH_SHARE = 0.22
"""Share of catch trials in the long run, about one in five."""
LONGEST_RUN = 4
UNIFORMS = 2
"""Uniform draws that one trial takes from its stream."""


def draw_sides(last: NDArray[np.int64], run: NDArray[np.int64], uniforms: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the next truths, shape (n,): -1 flat, 0 unison, 1 sharp.

    Args:
        last: each block's last truth, shape (n,).
        run: how often it has come running, shape (n,); 0 before the first trial, which is never a catch.
        uniforms: draws from [0, 1), shape (n, 2): for catch or not, and for the side.
    """
    # Never after itself: so its chance after any other truth is what gives the share in the long run.
    chance = np.where((run == 0) | (last == 0), 0.0, CATCH_SHARE / (1.0 - CATCH_SHARE))
    sides = np.where(uniforms[:, 1] < 0.5, -1, 1)
    sides = np.where((run >= LONGEST_RUN) & (sides == last), -sides, sides)
    return np.where(uniforms[:, 0] < chance, 0, sides)


def draw_independent_sides(uniforms: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the next truths, each drawn without regard to those before: for an assessment.

    Whoever has drilled often may have learnt that a unison never comes twice running; here that knowledge is no help.

    Args:
        uniforms: as in `draw_sides`.
    """
    return np.where(uniforms[:, 0] < CATCH_SHARE, 0, np.where(uniforms[:, 1] < 0.5, -1, 1))


def runs_of(offsets_cents: Sequence[float]) -> tuple[int, int]:
    """Return a block's last truth as -1, 0 or 1, and how often it has come running; 0, 0 before the first trial."""
    truths = [int(np.sign(offset)) for offset in offsets_cents[-LONGEST_RUN:]]
    run = 0
    for truth in reversed(truths):
        if truth != truths[-1]:
            break
        run += 1
    return (truths[-1] if truths else 0), run
