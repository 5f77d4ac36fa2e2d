"""Rehearsals for the tests, and doing acts on them by their words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from centwise.bench import machine
from centwise.bench.acts import parse_act
from centwise.bench_planning import instrument_of
from centwise.model import BenchPlan
from fakes import START

if TYPE_CHECKING:
    from centwise.bench.machine import Bench
    from centwise.bench.words import Effect


def bench_plan(**changes: Any) -> BenchPlan:
    """Return a plan: a straight bridge on a five-string, knocked the middle way, unguided."""
    values: dict[str, Any] = {
        "id": "bench-1",
        "listener_id": "listener-1",
        "instrument": "five-string",
        "bridge": "straight",
        "difficulty": "middle",
        "guided": False,
        "seed": 7,
        "scale_mm": 666.75,
        "player": "recording",
        "started_at": START,
    }
    return BenchPlan(**(values | changes))


def found(**changes: Any) -> Bench:
    """Return a bench as it is found."""
    plan = bench_plan(**changes)
    return machine.begin(plan, instrument_of(plan))


def do(bench: Bench, *words: str) -> Bench:
    """Return the bench after some acts."""
    for act in words:
        bench, _ = machine.step(bench, parse_act(act), START)
    return bench


def effects(bench: Bench, words: str) -> tuple[Effect, ...]:
    """Return the effects of one act."""
    return machine.step(bench, parse_act(words), START)[1]
