"""What to practise next, and why: from a listener's earlier blocks, by a few plain rules. No I/O, no numpy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from centwise.model import GOOD_ENOUGH_CENTS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from centwise.ports import BlockSummary

BASS_STRING, TREBLE_STRING = 4, 1
OUTER = (BASS_STRING, TREBLE_STRING)
"""The strings that set the two sides of the bridge (common practice)."""

AWAY_DAYS = 14
"""After so long it is worth seeing first where the ear stands (a judgement)."""
DRILLS_BEFORE_ASSESSMENT = 8
"""So many drills since the last assessment make another one worth its hundred pairs (a judgement)."""
MOST_IN_A_ROW = 2
"""The coarser string has its turn so often, then the other keeps its practice (a judgement)."""

Reason = Literal["first", "other side", "coarser", "away", "assess", "keep", "turn"]


@dataclass(frozen=True, slots=True)
class NextPractice:
    """What to practise next.

    Attributes:
        string: which string.
        assess: whether an assessment is due.
        reason: by which rule: `first` block ever, `other side` of the bridge never heard, `coarser` of the two sides,
            long `away`, time to `assess`, fine enough to `keep`, or simply its `turn`.
        string_cents: the last threshold on that string, or None.
        other_cents: the last threshold on the other outer string, or None.
        days_away: whole days since the last block, or None.
    """

    string: int
    assess: bool
    reason: Reason
    string_cents: float | None = None
    other_cents: float | None = None
    days_away: int | None = None


def next_string(blocks: Sequence[BlockSummary]) -> int:
    """Return the string to practise next: a side never heard, the clearly coarser one, else both by turns.

    Args:
        blocks: one listener's, oldest first.
    """
    return _string(blocks)[0]


def next_practice(blocks: Sequence[BlockSummary], now: datetime) -> NextPractice:
    """Return what to practise next.

    Args:
        blocks: one listener's, oldest first.
        now: this instant.
    """
    string, reason = _string(blocks)
    heard = [block for block in blocks if block.plan.heard]
    if not heard:
        return NextPractice(string, assess=False, reason="first")
    other = TREBLE_STRING if string == BASS_STRING else BASS_STRING
    string_cents, other_cents = (_threshold(_last_on(heard, number)) for number in (string, other))
    days_away = max((now - heard[-1].plan.started_at).days, 0)
    if reason != "other side":
        fine = all(cents is not None and cents <= GOOD_ENOUGH_CENTS for cents in (string_cents, other_cents))
        if days_away >= AWAY_DAYS:
            reason = "away"
        elif _drills_since_assessment(heard) >= DRILLS_BEFORE_ASSESSMENT:
            reason = "assess"
        elif fine and reason == "turn":
            reason = "keep"
    return NextPractice(string, reason == "assess", reason, string_cents, other_cents, days_away)


def _string(blocks: Sequence[BlockSummary]) -> tuple[int, Reason]:
    if not blocks:
        return BASS_STRING, "first"
    bass, treble = (_last_on(blocks, number) for number in OUTER)
    if (bass is None) != (treble is None):
        return (BASS_STRING if bass is None else TREBLE_STRING), "other side"
    recent = [block.plan.condition.string for block in blocks[-MOST_IN_A_ROW:]]
    if bass is not None and treble is not None:
        for string, one, other in ((BASS_STRING, bass, treble), (TREBLE_STRING, treble, bass)):
            if _clearly_above(one, other) and recent.count(string) < MOST_IN_A_ROW:
                return string, "coarser"
    return (TREBLE_STRING if recent[-1] == BASS_STRING else BASS_STRING), "turn"


def _last_on(blocks: Sequence[BlockSummary], string: int) -> BlockSummary | None:
    """Return the last block on a string that was heard and gave a threshold."""
    return next(
        (
            block
            for block in reversed(blocks)
            if block.plan.condition.string == string and block.plan.heard and _threshold(block) is not None
        ),
        None,
    )


def _threshold(block: BlockSummary | None) -> float | None:
    return None if block is None or block.result is None else block.result.threshold_cents


def _clearly_above(one: BlockSummary, other: BlockSummary) -> bool:
    """Whether the two 90 % intervals lie apart."""
    low = one.result.low_cents if one.result is not None else None
    high = other.result.high_cents if other.result is not None else None
    return low is not None and high is not None and low > high


def _drills_since_assessment(blocks: Sequence[BlockSummary]) -> int:
    count = 0
    for block in reversed(blocks):
        if block.plan.assess and block.result is not None:
            break
        count += _threshold(block) is not None
    return count
