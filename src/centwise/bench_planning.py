"""From what was asked for and what the store knows to a rehearsal: a new one, or the one that was left.

Imports planning and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from centwise.errors import InputError, UsageError
from centwise.model import BenchPlan, BridgeKind, Difficulty
from centwise.planning import (
    BlockRequest,
    earlier_threshold,
    listener_for_request,
    request_on_their_instrument,
    scale_for,
)
from centwise.resting import EarTime, ear_time
from centwise.strings.library import BUILT_IN, Instruments
from centwise.strings.names import DEFAULT_NAME

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from centwise.bench.machine import Bench
    from centwise.model import Listener
    from centwise.ports import BlockSummary, Player, Services, StoredBench
    from centwise.rehearsal import Rehearsal
    from centwise.strings.instrument import Instrument


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


def check_request(request: BenchRequest, instruments: Instruments = BUILT_IN) -> BenchRequest:
    """Return the request if a rehearsal can be made of it.

    Raises:
        InputError: what describes the instrument cannot be used.
        UsageError: there is no such instrument.
    """
    if request.instrument is not None:
        instruments.named(request.instrument)
    return request


def as_block(request: BenchRequest) -> BlockRequest:
    """Return the block request that asks for the same instrument and scale length."""
    return BlockRequest(instrument=request.instrument or DEFAULT_NAME, scale_mm=request.scale_mm)


def listener_at_bench(
    services: Services, name: str | None, request: BenchRequest, scale_mm: float
) -> tuple[Listener, bool]:
    """Return who is meant, and whether they are new; a new listener plays the instrument asked for.

    Args:
        services: the ports.
        name: who is meant, or None for the last used.
        request: what was asked for.
        scale_mm: scale length of a new listener's five-string.
    """
    wanted = request_on_their_instrument(
        services.store,
        name,
        as_block(request),
        instrument_asked=request.instrument is not None,
        instruments=services.instruments,
    )
    return listener_for_request(
        services.store,
        name,
        wanted,
        new_id=services.new_id,
        scale_mm=scale_mm,
        instruments=services.instruments,
    )


def instrument_of(plan: BenchPlan, instruments: Instruments = BUILT_IN) -> Instrument:
    """Return the instrument a rehearsal is about, at its scale length and with its bridge."""
    return instruments.named(plan.instrument).with_scale(plan.scale_mm).with_bridge(plan.bridge)


def bridge_for(request: BenchRequest, listener: Listener | None, instruments: Instruments = BUILT_IN) -> BridgeKind:
    """Return which bridge the next rehearsal has: the one asked for, or the one the instrument has.

    Raises:
        InputError: what describes the instrument cannot be used.
        UsageError: there is no such instrument.
    """
    return request.bridge or instruments.named(name_for(request, listener)).bridge.kind


def name_for(request: BenchRequest, listener: Listener | None) -> str:
    """Return which instrument the next rehearsal is about: the one asked for, or the listener's own."""
    return request.instrument or (DEFAULT_NAME if listener is None else listener.instrument)


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


def next_instrument(request: BenchRequest, listener: Listener, services: Services) -> Instrument:
    """Return the instrument of the next rehearsal, the one that was left or a new one.

    Raises:
        InputError: what describes it cannot be used.
        UsageError: there is no such instrument.
    """
    instruments = services.instruments
    left = left_rehearsal(request, listener, services)
    if left is not None:
        return instrument_of(left.plan, instruments)
    instrument = instruments.named(name_for(request, listener))
    blocks = services.store.summaries(listener.id)
    scale_mm = request.scale_mm or scale_for(instrument, listener, blocks, instruments)
    return instrument.with_scale(scale_mm).with_bridge(bridge_for(request, listener, instruments))


def open_rehearsal(
    request: BenchRequest,
    listener: Listener,
    services: Services,
    player: Player,
    *,
    first_is_guided: bool,
    ears: EarTime | None = None,
) -> tuple[Rehearsal, bool]:
    """Begin a rehearsal, or take up the one that was left; and return whether it was taken up.

    Args:
        request: what was asked for.
        listener: whose it is.
        services: the ports.
        player: makes it heard.
        first_is_guided: whether somebody who never was at the bench is guided, on an easy one, unless asked otherwise.
        ears: how long the listener has been listening already; None for what the store knows of that.

    Raises:
        InputError: the one that was left cannot be taken up again, or an instrument's file cannot be used.
        UsageError: there is no such instrument.
        StoreError: it cannot be kept; nothing has begun.
    """
    from centwise.rehearsal import Rehearsal  # noqa: PLC0415  loads numpy, which the app's first screen does not need

    store, now = services.store, services.clock.now()
    instruments, blocks = services.instruments, store.summaries(listener.id)
    left = left_rehearsal(request, listener, services)
    if left is None:
        name = name_for(check_request(request, instruments), listener)
        first = first_is_guided and not store.benches(listener.id)
        plan = BenchPlan(
            id=services.new_id(),
            listener_id=listener.id,
            instrument=name,
            bridge=bridge_for(request, listener, instruments),
            difficulty=request.difficulty or ("easy" if first else "middle"),
            guided=first if request.guided is None else request.guided,
            seed=services.new_seed() if request.seed is None else request.seed,
            scale_mm=request.scale_mm or scale_for(instruments.named(name), listener, blocks, instruments),
            player=player.name,
            started_at=now,
        )
    else:
        plan = left.plan
    try:
        instrument = instrument_of(plan, instruments)
        before = None if left is None else _started_over(left, store.benches(listener.id), instrument)
        rehearsal = Rehearsal(
            store,
            services.clock,
            player,
            plan,
            instrument,
            new_id=services.new_id,
            thresholds=known_thresholds(blocks, instrument, now),
            acts=None if left is None else left.acts,
            before=before,
            ears=ear_time(store, services.clock, listener.id) if ears is None else ears,
        )
    except (InputError, UsageError) as error:
        if left is None:
            raise
        # Its instrument is gone, say, or it came from elsewhere with acts that cannot be done.
        raise InputError(
            f"the rehearsal that was left cannot be taken up again ({error.what})", "begin another with --new, or n"
        ) from error
    return rehearsal, left is not None


def _started_over(left: StoredBench, benches: Sequence[StoredBench], instrument: Instrument) -> Bench | None:
    """Return the marked rehearsal that the one left began by starting over, or None.

    Such a one counts its acts on from there; its knock, and so its seed, is the same.
    """
    from centwise.bench.machine import resume  # noqa: PLC0415  loads numpy

    if not left.acts or left.acts[0].n == 1:
        return None
    same = replace(left.plan, id="", started_at=left.plan.started_at)
    marked = [
        bench
        for bench in benches
        if bench.result is not None
        and bench.acts
        and bench.acts[-1].n < left.acts[0].n
        and bench.plan.started_at <= left.plan.started_at
        and replace(bench.plan, id="", started_at=left.plan.started_at) == same
    ]
    return resume(marked[-1].plan, instrument, marked[-1].acts) if marked else None


def known_thresholds(blocks: Sequence[BlockSummary], instrument: Instrument, at: datetime) -> dict[int, float | None]:
    """Return what a listener is known to hear on the two strings a bridge is set by, None where nothing is known.

    It is what the history says of the condition that was heard last on that string.
    """
    known: dict[int, float | None] = {}
    for number in instrument.side_strings:
        conditions = [
            block.plan.condition
            for block in blocks
            if block.plan.condition.instrument == instrument.name
            and block.plan.condition.string == number
            and block.result is not None
            and block.result.threshold_cents is not None
        ]
        # The latest first; one that says nothing (a block without sound, say) hides none of before.
        found = (earlier_threshold(blocks, condition, at)[0] for condition in dict.fromkeys(reversed(conditions)))
        known[number] = next((threshold for threshold in found if threshold is not None), None)
    return known
