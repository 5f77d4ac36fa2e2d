"""The five-string banjo, and laws of strings and bridge by themselves, for what the program does to be held against."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.strings.bridge import foot_shares
from centwise.strings.library import BUILT_IN

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument

FIVE_STRING = BUILT_IN.named("five-string")


def partial_hz(n: int, fundamental_hz: float, b: float) -> float:
    """Return partial `n` of a stiff string, n f0 sqrt(1 + B n^2) (Fletcher and Rossing, section 2.18; recalled)."""
    return n * fundamental_hz * math.sqrt(1.0 + b * n * n)


def alternation_factor(instrument: Instrument) -> float:
    """Return what is left of an error after setting bass, then treble by turns, for each round: 0.135 on a banjo."""
    bass_bass, bass_treble = foot_shares(instrument, instrument.bass_string)
    treble_bass, treble_treble = foot_shares(instrument, instrument.treble_string)
    return bass_treble / bass_bass * (treble_bass / treble_treble)
