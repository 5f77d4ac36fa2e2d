"""A listener's earlier blocks as sessions of a history. Imports ear and below.

Loads numpy: who must start fast imports it when it is needed.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from centwise.ear.history import Session

if TYPE_CHECKING:
    from collections.abc import Iterable

    from centwise.model import Condition
    from centwise.ports import BlockOutline, BlockSummary

_ERA = datetime(2000, 1, 1, tzinfo=UTC)


def days_of(instant: datetime) -> float:
    """Return an instant as days since a fixed one; only differences mean anything."""
    return (instant - _ERA).total_seconds() / 86400.0


def instant_of(days: float) -> datetime:
    """Return the instant that `days_of` turns into these days, in UTC."""
    return datetime.fromtimestamp(_ERA.timestamp() + days * 86400.0, UTC)


def session_of(block: BlockOutline) -> Session | None:
    """Return a block as a session, or None when it has no threshold of the ear: nobody heard it, or it is in doubt."""
    threshold, low, high = block.threshold_cents, block.low_cents, block.high_cents
    if not block.heard or threshold is None or low is None or high is None:
        return None
    if not (0.0 < low < high < math.inf and 0.0 < threshold < math.inf):
        # No estimate gives this: one such row, from wherever it came, must not hide everybody else's.
        return None
    return Session(days_of(block.started_at), threshold, low, high)


def sessions_of(
    blocks: Iterable[BlockSummary], condition: Condition, *, assessments_only: bool = False
) -> list[Session]:
    """Return the blocks of one condition that say something of the ear, oldest first.

    Left out are blocks without a threshold, those that nobody can have heard (the silent player), and those whose
    figures are in doubt.
    """
    found = [
        session
        for block in blocks
        if block.plan.condition == condition
        and (block.plan.assess or not assessments_only)
        and (session := session_of(block.outline)) is not None
    ]
    # A history goes by the days, whatever order a merge or a clock that was set back left the blocks in.
    return sorted(found, key=lambda session: session.days)
