"""Listeners who have practised: blocks judged by simulated ears through the real machine, kept in any store."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from centwise.drill import machine
from centwise.drill.words import Answered, Conclude, Keep
from centwise.ear.simulated import SimulatedListener
from centwise.model import BenchAct, BenchPlan, BenchResult, BenchShare, Listener, OrderPoint
from centwise.planning import BlockRequest, plan_block

if TYPE_CHECKING:
    from centwise.ports import Store

BEGIN = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
HOSTILE_NAMES = (
    "<script>alert(1)</script>",
    "=cmd|' /C calc'!A0",
    "../../x",
    "\x1b[2J\u202eAda\u202c",
    "[bold]{{ 7 * 7 }}[/bold] &amp; \"quoted'",
    "עדה שלום",
    "x" * 200,
)


def practise(
    store: Store,
    name: str,
    blocks: int,
    *,
    sigma_cents: float = 12.0,
    trials: int = 40,
    note: str = "",
    player: str = "miniaudio",
    key: str = "",
) -> Listener:
    """Add a listener, have them take blocks every other day, and return them; every fifth is an assessment.

    Ids are numbers, behind a key that tells the listeners of several stores apart.
    """
    number = len(store.listeners()) + 1
    listener = Listener(f"listener-{key}{number}", name, note=note)
    store.add_listener(listener)
    ids = (f"block-{key}{number}-{count}" for count in itertools.count(1))
    rng = np.random.default_rng(number)
    for count in range(blocks):
        at = BEGIN + timedelta(days=2 * count)
        ear = SimulatedListener(sigma_cents=sigma_cents * 0.92**count, bias_cents=1.0, window_cents=0.7 * sigma_cents)
        request = BlockRequest(assess=count % 5 == 4, trials=trials, seed=100 * number + count, warm_up=0)
        plan = plan_block(
            request, listener, store=store, at=at, new_id=lambda: next(ids), new_seed=lambda: 0, player=player
        )
        store.begin_block(plan)
        drill = machine.resume(plan, ())
        while drill.pair is not None:
            at += timedelta(seconds=8)
            drill, effects = machine.step(drill, Answered(ear.judge(drill.pair.offset_cents, rng), at))
            for effect in effects:
                if isinstance(effect, Keep):
                    store.add_trial(plan.id, effect.trial)
                elif isinstance(effect, Conclude):
                    store.end_block(plan.id, effect.result, effect.at)
    return listener


def rehearse(store: Store, listener: Listener, *left: tuple[float, float]) -> None:
    """Keep rehearsals that left so many cents on the bass and the treble side, and one that goes on."""
    for number, (bass, treble) in enumerate((*left, (0.0, 0.0)), start=1):
        at = BEGIN + timedelta(days=number)
        plan = BenchPlan(
            f"bench-{listener.id}-{number}",
            listener.id,
            "five-string",
            "straight",
            "easy",
            True,
            7,
            666.75,
            "miniaudio",
            at,
        )
        store.begin_bench(plan)
        if number > len(left):
            store.add_bench_act(plan.id, BenchAct(1, "chime 4", at))
            return
        shares = tuple(
            BenchShare(string, cents, 0.5, cents - 0.5, None, True) for string, cents in ((4, bass), (1, treble))
        )
        order = (OrderPoint("bass first", True, "It is."), OrderPoint("marked", False, "It was not."))
        cents = {1: treble, 2: 0.5, 3: 0.2, 4: bass, 5: 1.0}
        result = BenchResult(cents, {}, {}, 0.5, -0.5, 0.1, 4, 9, (), order, shares, 14.0)
        store.add_bench_act(plan.id, BenchAct(1, "mark", at), result)
