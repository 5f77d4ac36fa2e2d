"""A listener's baseline for a technician's sheet: where the threshold stands, and in which band the next is expected.

Only what was measured: blocks that were heard to their end and gave a threshold. Loads numpy, as `progress` does.
Imports progress_text and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.drill.result import string_length_mm
from centwise.ear.history import history_of
from centwise.past import days_of, session_of
from centwise.progress import progress_of
from centwise.progress_text import ORDER_WORDS
from centwise.standing import FEWEST_EARLIER
from centwise.strings.geometry import bridge_offset_mm
from centwise.strings.names import DEFAULT_NAME

if TYPE_CHECKING:
    from datetime import datetime

    from centwise.model import Condition, Listener
    from centwise.ports import Store
    from centwise.progress import ConditionProgress


@dataclass(frozen=True, slots=True)
class Baseline:
    """Where one condition stands.

    Attributes:
        condition: what was heard: blocks compare only within one.
        blocks: how many gave a threshold.
        assessments: how many of them were assessments.
        first_at: when the first began.
        last_at: when the last began.
        threshold_cents: where the threshold stands by all of them, the first left out where there are more.
        low_cents: low end of its 90 % band.
        high_cents: high end.
        travel_mm: what the threshold is in travel of the bridge, at the last block's scale length.
        expected_low_cents: low end of the 95 % band in which an assessment today is expected; None with fewer than two.
        expected_high_cents: high end.
    """

    condition: Condition
    blocks: int
    assessments: int
    first_at: datetime
    last_at: datetime
    threshold_cents: float
    low_cents: float
    high_cents: float
    travel_mm: float
    expected_low_cents: float | None
    expected_high_cents: float | None

    @property
    def condition_text(self) -> str:
        """The condition in words, as in `String 4, the others muted, harmonic first`."""
        condition = self.condition
        parts = [f"string {condition.string}", "the others muted" if condition.muted else "the others ringing along"]
        if condition.instrument != DEFAULT_NAME:
            parts.insert(0, condition.instrument)
        if condition.voice != "rendered":
            parts.append("recorded notes")
        elif condition.likeness:
            parts.append(f"likeness {condition.likeness:g}")
        text = ", ".join((*parts, ORDER_WORDS[condition.order]))
        return f"{text[:1].upper()}{text[1:]}"


def baselines_of(store: Store, listener: Listener, now: datetime) -> tuple[Baseline, ...]:
    """Return a listener's baselines, the condition practised last first; none where nothing was measured.

    Raises:
        StoreError: the store cannot be read.
    """
    progress = progress_of(listener, store.summaries(listener.id), now)
    return tuple(_baseline(found, now) for found in progress.conditions)


def _baseline(found: ConditionProgress, now: datetime) -> Baseline:
    assessments = [
        session for block in found.sessions if block.plan.assess and (session := session_of(block.outline)) is not None
    ]
    low: float | None = None
    high: float | None = None
    if len(assessments) >= FEWEST_EARLIER:
        last = assessments[-1]
        # A clock that was set back leaves no day before the last one.
        low, high = history_of(assessments).foreseen_cents(max(days_of(now), last.days), last.sd_octaves)
        if not (math.isfinite(low) and math.isfinite(high)):
            low = high = None
    plan = found.last.plan
    length_mm = string_length_mm(plan)
    return Baseline(
        condition=found.condition,
        blocks=len(found.sessions),
        assessments=len(assessments),
        first_at=found.sessions[0].plan.started_at,
        last_at=plan.started_at,
        threshold_cents=found.now.threshold_cents,
        low_cents=found.now.low_cents,
        high_cents=found.now.high_cents,
        travel_mm=abs(bridge_offset_mm(-found.now.threshold_cents, length_mm)),
        expected_low_cents=low,
        expected_high_cents=high,
    )
