"""From what was asked for and what the store knows to a rehearsal: a new one, or the one that was left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.model import BenchPlan, BridgeKind, Difficulty
from centwise.planning import earlier_threshold
from centwise.rehearsal import Rehearsal
from centwise.strings.instrument import instrument_named

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from centwise.model import Listener
    from centwise.ports import BlockSummary, Player, Services, StoredBench


@dataclass(frozen=True, slots=True)
class BenchRequest:
    """A rehearsal as somebody asks for it; None means: as the one that was left, or what suits this listener."""

    instrument: str | None = None
    bridge: BridgeKind | None = None
    difficulty: Difficulty | None = None
    guided: bool | None = None
    seed: int | None = None
    scale_mm: float | None = None
    anew: bool = False


def check_request(request: BenchRequest) -> BenchRequest:
    """Return the request if a rehearsal can be made of it.

    Raises:
        UsageError: there is no such instrument.
    """
    if request.instrument is not None:
        instrument_named(request.instrument)
    return request


def left_rehearsal(request: BenchRequest, listener: Listener, services: Services) -> StoredBench | None:
    """Return the rehearsal the listener left, if it is one that was asked for."""
    stored = None if request.anew else services.store.unfinished_bench(listener.id)
    if stored is None:
        return None
    plan = stored.plan
    asked = (
        (request.instrument, plan.instrument),
        (request.bridge, plan.bridge),
        (request.difficulty, plan.difficulty),
        (request.guided, plan.guided),
        (request.seed, plan.seed),
        (request.scale_mm, plan.scale_mm),
    )
    return stored if all(wanted is None or wanted == kept for wanted, kept in asked) else None


def open_rehearsal(
    request: BenchRequest, listener: Listener, services: Services, player: Player, *, first_is_guided: bool
) -> tuple[Rehearsal, bool]:
    """Begin a rehearsal, or take up the one that was left; and return whether it was taken up.

    Args:
        request: what was asked for.
        listener: whose it is.
        services: the ports.
        player: makes it heard.
        first_is_guided: whether somebody who never was at the bench is guided, on an easy one, unless asked otherwise.

    Raises:
        UsageError: there is no such instrument.
        StoreError: it cannot be kept; nothing has begun.
    """
    store, now = services.store, services.clock.now()
    left = left_rehearsal(request, listener, services)
    if left is None:
        first = first_is_guided and not store.benches(listener.id)
        plan = BenchPlan(
            id=services.new_id(),
            listener_id=listener.id,
            instrument=check_request(request).instrument or listener.instrument,
            bridge=request.bridge or "straight",
            difficulty=request.difficulty or ("easy" if first else "middle"),
            guided=first if request.guided is None else request.guided,
            seed=services.new_seed() if request.seed is None else request.seed,
            scale_mm=request.scale_mm or listener.scale_mm,
            player=player.name,
            started_at=now,
        )
    else:
        plan = left.plan
    rehearsal = Rehearsal(
        store,
        services.clock,
        player,
        plan,
        new_id=services.new_id,
        thresholds=known_thresholds(store.summaries(listener.id), plan.instrument, now),
        acts=None if left is None else left.acts,
    )
    return rehearsal, left is not None


def known_thresholds(blocks: Sequence[BlockSummary], instrument_name: str, at: datetime) -> dict[int, float | None]:
    """Return what a listener is known to hear on the two strings a bridge is set by, None where nothing is known.

    It is what the history says of the condition that was heard last on that string.
    """
    instrument = instrument_named(instrument_name)
    known: dict[int, float | None] = {}
    for number in (instrument.bass_string, instrument.treble_string):
        conditions = [
            block.plan.condition
            for block in blocks
            if block.plan.condition.instrument == instrument_name
            and block.plan.condition.string == number
            and block.result is not None
            and block.result.threshold_cents is not None
        ]
        known[number] = earlier_threshold(blocks, conditions[-1], at)[0] if conditions else None
    return known
