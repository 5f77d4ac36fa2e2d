"""What a block's figures are worth: whether they may be taken for the ear's, and if not, why.

Imports model and below.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.model import BlockResult, Doubt, Trial

Verdict: TypeAlias = Literal["no figures", "unheard", "swapped", "one answer", "few", "whole"]
"""`no figures`: too few pairs for any; `unheard`: nothing sounded; `swapped`: flat was taken for sharp; `one answer`:
every pair was given the same; `few`: so few pairs that the figures are provisional; `whole`: they are the ear's, within
their interval."""

FEW_TRIALS = 20
"""Below so many pairs that count the interval is wide and the number provisional (a judgement: in the study of the
estimate the error is half an octave at 20 pairs and a third of one at 40)."""
CONFUSED_TRIALS = 4
CONFUSED_EACH = 2
CONFUSED_SIZE_CENTS = 30.0
"""So many differences of that size heard the wrong way round, each way at least so often, are no accident (a
judgement)."""
ONE_ANSWER_TRIALS = 10
ONE_ANSWER_SHARE = 0.95
"""So many pairs, nearly all of them given one and the same answer, tell nothing of what was heard (a judgement)."""


def verdict_of(result: BlockResult, *, heard: bool = True) -> Verdict:
    """Return what the figures are worth, the gravest doubt first.

    Args:
        result: the block's figures.
        heard: whether its pairs sounded at all.
    """
    if not heard and result.trials:
        return "unheard"
    if result.threshold_cents is None:
        return "no figures"
    if result.doubt is not None:
        return result.doubt
    return "few" if result.trials < FEW_TRIALS else "whole"


def doubt_of(trials: Sequence[Trial]) -> Doubt | None:
    """Return why a block's figures are not the ear's, or None; warm-up pairs count for the directions."""
    if directions_confused(trials):
        return "swapped"
    answers = Counter(trial.answer for trial in trials if trial.scored)
    given = answers.total()
    if given >= ONE_ANSWER_TRIALS and max(answers.values()) >= ONE_ANSWER_SHARE * given:
        return "one answer"
    return None


def directions_confused(trials: Sequence[Trial]) -> bool:
    """Return whether large differences are answered the wrong way more often than the right way, in both directions."""
    large = [t for t in trials if abs(t.offset_cents) >= CONFUSED_SIZE_CENTS and t.answer != "unison"]
    wrong = Counter(t.answer for t in large if not t.correct)
    # Who only ever says flat is wrong at every sharp pair and has swapped nothing.
    return (
        len(wrong) == 2
        and min(wrong.values()) >= CONFUSED_EACH
        and wrong.total() >= CONFUSED_TRIALS
        and wrong.total() > len(large) / 2
    )
