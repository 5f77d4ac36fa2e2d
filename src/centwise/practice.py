"""What to practise next, and why: from a listener's earlier blocks, by a few plain rules. No I/O, no numpy.

Imports ports and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from centwise.model import GOOD_ENOUGH_CENTS
from centwise.strings.names import DEFAULT_NAME

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from centwise.ports import BlockSummary
    from centwise.strings.instrument import Instrument


@dataclass(frozen=True, slots=True)
class Sides:
    """The strings of an instrument that set the two sides of the bridge (common practice)."""

    instrument: str
    bass: int
    treble: int

    def side(self, string: int) -> Literal["bass", "treble"]:
        """Return which side a string sets."""
        return "bass" if string == self.bass else "treble"

    def other(self, string: int) -> int:
        """Return the string of the other side."""
        return self.treble if string == self.bass else self.bass


BASS_STRING, TREBLE_STRING = 4, 1
FIVE_STRING = Sides(DEFAULT_NAME, BASS_STRING, TREBLE_STRING)

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
        side: which side of the bridge the string sets.
    """

    string: int
    assess: bool
    reason: Reason
    string_cents: float | None = None
    other_cents: float | None = None
    days_away: int | None = None
    side: Literal["bass", "treble"] = "bass"


def sides_of(instrument: Instrument) -> Sides:
    """Return the strings that set the sides of an instrument's bridge."""
    return Sides(instrument.name, instrument.bass_string, instrument.treble_string)


def next_string(blocks: Sequence[BlockSummary], sides: Sides = FIVE_STRING) -> int:
    """Return the string to practise next: a side never heard, the clearly coarser one, else both by turns.

    Args:
        blocks: one listener's, oldest first; those on other instruments say nothing.
        sides: the strings to choose between.
    """
    return _string(_on(blocks, sides), sides)[0]


def next_practice(blocks: Sequence[BlockSummary], now: datetime, sides: Sides = FIVE_STRING) -> NextPractice:
    """Return what to practise next.

    Args:
        blocks: one listener's, oldest first; those on other instruments say nothing.
        now: this instant.
        sides: the strings to choose between.
    """
    blocks = _on(blocks, sides)
    string, reason = _string(blocks, sides)
    heard = [block for block in blocks if block.plan.heard]
    if not heard:
        return NextPractice(string, assess=False, reason="first", side=sides.side(string))
    string_cents, other_cents = (_threshold(_last_on(heard, number)) for number in (string, sides.other(string)))
    days_away = max((now - heard[-1].plan.started_at).days, 0)
    if reason != "other side":
        fine = all(cents is not None and cents <= GOOD_ENOUGH_CENTS for cents in (string_cents, other_cents))
        if days_away >= AWAY_DAYS:
            reason = "away"
        elif _drills_since_assessment(heard) >= DRILLS_BEFORE_ASSESSMENT:
            reason = "assess"
        elif fine and reason == "turn":
            reason = "keep"
    return NextPractice(string, reason == "assess", reason, string_cents, other_cents, days_away, sides.side(string))


def _on(blocks: Sequence[BlockSummary], sides: Sides) -> Sequence[BlockSummary]:
    return [block for block in blocks if block.plan.condition.instrument == sides.instrument]


def _string(blocks: Sequence[BlockSummary], sides: Sides) -> tuple[int, Reason]:
    if not blocks:
        return sides.bass, "first"
    bass, treble = (_last_on(blocks, number) for number in (sides.bass, sides.treble))
    if (bass is None) != (treble is None):
        return (sides.bass if bass is None else sides.treble), "other side"
    recent = [block.plan.condition.string for block in blocks[-MOST_IN_A_ROW:]]
    if bass is not None and treble is not None:
        for string, one, other in ((sides.bass, bass, treble), (sides.treble, treble, bass)):
            if _clearly_above(one, other) and recent.count(string) < MOST_IN_A_ROW:
                return string, "coarser"
    return sides.other(recent[-1]), "turn"


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
    if block is None or block.result is None or block.result.doubt is not None:
        return None
    return block.result.threshold_cents


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
