"""Where a block stands among the listener's earlier ones of the same condition. Talks to the store through its port.

Imports past and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.ear.agreement import Agreement, limits_of_agreement
from centwise.ear.history import History, Session, history_of
from centwise.past import instant_of, session_of, sessions_of

if TYPE_CHECKING:
    from datetime import datetime

    from centwise.model import BlockPlan
    from centwise.ports import Store

FEWEST_EARLIER = 2
"""Earlier assessments that make a range of one's own; the very first is mostly learning the task (a judgement)."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What earlier blocks say beside this one.

    Attributes:
        number: which block of its condition this is, from 1; an assessment counts assessments.
        improvement_chance: probability that the ear has really become finer since `since`, or None.
        since: the block that the chance counts from, the second ever, or None.
        usual_low_cents: low end of the listener's own 95 % band for today, assessments only, or None.
        usual_high_cents: its high end.
        threshold_cents: today's threshold.
        agreement: how earlier assessments agreed with the next, or None; today's is left out, to be held against it.
    """

    number: int
    threshold_cents: float
    improvement_chance: float | None = None
    since: datetime | None = None
    usual_low_cents: float | None = None
    usual_high_cents: float | None = None
    agreement: Agreement | None = None

    @property
    def unusual(self) -> bool:
        """Whether today's threshold lies outside the listener's own band."""
        if self.usual_low_cents is None or self.usual_high_cents is None:
            return False
        return not self.usual_low_cents <= self.threshold_cents <= self.usual_high_cents


def standing_of(store: Store, plan: BlockPlan) -> Standing | None:
    """Return where a block that has just ended stands, or None when it says nothing of the ear.

    Raises:
        StoreError: the store cannot be read.
    """
    blocks = store.summaries(plan.listener_id)
    this = next((block for block in blocks if block.plan.id == plan.id), None)
    today = None if this is None else session_of(this.outline)
    if today is None:
        return None
    # Not all but the last: where the clock was set back, today's is not the last by its day.
    earlier = sessions_of(
        (block for block in blocks if block is not this), plan.condition, assessments_only=plan.assess
    )
    chance, since = _improvement(history_of(sorted((*earlier, today), key=lambda session: session.days)))
    low, high = _usual(earlier, today) if plan.assess else (None, None)
    return Standing(
        number=len(earlier) + 1,
        threshold_cents=today.threshold_cents,
        improvement_chance=chance,
        since=since,
        usual_low_cents=low,
        usual_high_cents=high,
        agreement=limits_of_agreement([session.threshold_cents for session in earlier[1:]]) if plan.assess else None,
    )


def _improvement(history: History) -> tuple[float | None, datetime | None]:
    if not history.compared:
        return None, None
    start = history.compared[0].days
    chance = history.improvement_chance(start)
    return (None, None) if chance is None else (chance, instant_of(start))


def _usual(earlier: list[Session], today: Session) -> tuple[float | None, float | None]:
    if len(earlier) < FEWEST_EARLIER:
        return None, None
    low, high = history_of(earlier).foreseen_cents(max(today.days, earlier[-1].days), today.sd_octaves)
    return (low, high) if math.isfinite(low) and math.isfinite(high) else (None, None)
