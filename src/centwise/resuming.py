"""A block that was cut off (killed, its terminal gone): found again, and gone on with from the very pair it stood at.

Everything in a block follows from its plan and its answers, so one that is taken up equals one never left.
Imports drill and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.errors import UsageError
from centwise.model import was_heard

if TYPE_CHECKING:
    from centwise.model import BlockPlan
    from centwise.ports import Store, StoredBlock


def block_left(store: Store, listener_id: str) -> StoredBlock | None:
    """Return the listener's latest block that has answers and no result, or None.

    Blocks in recorded notes are not among them: their pairs need the recording.
    """
    left = [
        summary.plan
        for summary in store.summaries(listener_id)
        if summary.result is None and summary.answered and summary.plan.take_sha256 is None
    ]
    return store.block_with_id(left[-1].id) if left else None


def block_to_resume(store: Store, name: str | None) -> StoredBlock:
    """Return the block that the listener of that name, or without one the last used, goes on with.

    Raises:
        UsageError: there is none; nobody is added for it.
    """
    known = store.listeners()
    who = store.listener_named(name) if name is not None else next(iter(known), None)
    left = None if who is None else block_left(store, who.id)
    if left is None:
        if who is not None and any(
            summary.result is None and summary.answered and summary.plan.take_sha256 is not None
            for summary in store.summaries(who.id)
        ):
            raise UsageError(
                f"a block of {who.name} in recorded notes cannot be gone on with: its pairs need the recording",
                "its answers are kept; begin a new one with centwise drill --take",
            )
        whose = name or (who.name if who is not None else "this store")
        raise UsageError(f"{whose} has no block that was cut off", "leave out --resume to begin one")
    return left


def check_player(plan: BlockPlan, player_name: str) -> None:
    """Refuse to go on without sound with a block that was heard, or the other way round.

    Raises:
        UsageError: one half would say nothing about the ear.
    """
    heard = was_heard(player_name)
    if plan.heard and not heard:
        raise UsageError("the block that was left was taken with sound", "go on with a player that sounds")
    if heard and not plan.heard:
        raise UsageError("the block that was left was taken without sound", "go on with --player silent")


def left_text(block: StoredBlock, way: str = "centwise drill --resume") -> str:
    """Say that a block waits, and the way to it: `A block on string 4 was cut off after 12 of 40 pairs: ...`."""
    return (
        f"A block on string {block.plan.condition.string} was cut off after {len(block.trials)} of "
        f"{_pairs(block)} pairs: {way} goes on with it."
    )


def _pairs(block: StoredBlock) -> int:
    """Return how many pairs a block has at most, those to practise the directions too."""
    warm_up = block.plan.warm_up
    practised = sum(not trial.scored and trial.n > warm_up for trial in block.trials)
    if practised:
        from centwise.drill.machine import PRACTICE_PAIRS  # noqa: PLC0415  start-up path

        practised = math.ceil(practised / PRACTICE_PAIRS) * PRACTICE_PAIRS
    return warm_up + practised + block.plan.trials
