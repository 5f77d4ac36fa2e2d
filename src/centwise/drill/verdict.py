"""What a block's figures are worth: whether they may be taken for the ear's, and if not, why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.model import BlockResult, Trial

Verdict: TypeAlias = Literal["no figures", "unheard", "swapped", "few", "whole"]
"""`no figures`: too few pairs for any; `unheard`: nothing sounded; `swapped`: flat was taken for sharp; `few`: so few
pairs that the figures are provisional; `whole`: the figures are the ear's, within their interval."""

FEW_TRIALS = 20
"""Below so many pairs that count the interval is wide and the number provisional (a judgement: in the study of the
estimate the error is half an octave at 20 pairs and a third of one at 40)."""
CONFUSED_TRIALS = 4
CONFUSED_SIZE_CENTS = 30.0
"""So many differences of that size heard the wrong way round are no accident (a judgement)."""


def verdict_of(result: BlockResult, trials: Sequence[Trial], *, heard: bool = True) -> Verdict:
    """Return what the figures are worth, the gravest doubt first.

    Args:
        result: the block's figures.
        trials: its answers, warm-up included.
        heard: whether its pairs sounded at all.
    """
    if result.threshold_cents is None:
        return "no figures"
    if not heard:
        return "unheard"
    if directions_confused(trials):
        return "swapped"
    return "few" if result.trials < FEW_TRIALS else "whole"


def directions_confused(trials: Sequence[Trial]) -> bool:
    """Return whether large differences are answered the wrong way more often than the right way."""
    large = [t for t in trials if abs(t.offset_cents) >= CONFUSED_SIZE_CENTS and t.answer != "unison"]
    wrong = sum(not t.correct for t in large)
    return wrong >= CONFUSED_TRIALS and wrong > len(large) / 2
