"""Every random draw, made from one seed. The only place of the package that builds a generator.

A stream is named by whole numbers (which purpose, which trial), so a trial's draws depend on the seed and its number
alone: a block that was left and resumed draws what an unbroken one draws, and a pair may be prepared ahead.
May import model and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

MAX_SEED = 2**32 - 1


class Purpose(IntEnum):
    """What a stream is for. Numbers are stored with blocks by way of their seed: never renumber, only add."""

    PLACEMENT = 1
    TONES = 2
    LISTENER = 3
    ORDER = 4
    POPULATION = 5
    KNOCK = 6
    HAND = 7
    PRESSING = 8
    SLACK = 9


@dataclass(frozen=True, slots=True)
class Draws:
    """Generators from one seed, 0 to 2^32 - 1."""

    seed: int

    def stream(self, purpose: Purpose, *numbers: int) -> np.random.Generator:
        """Return a fresh generator for one purpose and one number (a trial, say): the same each time it is asked."""
        import numpy as np  # noqa: PLC0415  --help and --version must not load numpy

        return np.random.Generator(np.random.PCG64(np.random.SeedSequence((self.seed, int(purpose), *numbers))))
