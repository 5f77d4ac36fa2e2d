"""Directions that were asked for and not begun: kept beside the data, so that a block cut off there goes on with them.

What was answered says itself how much was practised; what was only asked for says nothing until its first pair is
judged. One small value holds it for the block it was asked in last. Talks to the store through its port.
Imports drill and below.
"""

from __future__ import annotations

import re
from contextlib import suppress
from typing import TYPE_CHECKING

from centwise.drill import machine
from centwise.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from centwise.model import BlockPlan, Trial
    from centwise.ports import Store

PRACTICE_KEY = "practice"
_KEPT = re.compile(r"(?P<block>\S+) (?P<pairs>[0-9]{1,4})")


def keep_practice(store: Store, drill: machine.Drill) -> None:
    """Keep how many pairs practise the directions, if the store takes it: without it the listener asks once more."""
    with suppress(StoreError):
        store.set_setting(PRACTICE_KEY, f"{drill.plan.id} {drill.practice}")


def taken_up(store: Store, plan: BlockPlan, trials: Iterable[Trial]) -> machine.Drill:
    """Return the state a block was left in, with the practice that was asked for."""
    kept = None
    with suppress(StoreError):
        kept = _KEPT.fullmatch(store.setting(PRACTICE_KEY) or "")
    asked = int(kept["pairs"]) if kept is not None and kept["block"] == plan.id else 0
    return machine.resume(plan, trials, practice=asked)
