"""From the answer key to the next pair handed to the player, with the real store on the real disk.

Skipped by default; run with `pytest tests/benchmarks/test_key_to_sound.py --benchmark-only -s`. Times count from the
call of `answer` to the player's being called with the next pair: the answer is on disk by then. The bar is 30 ms at the
95th percentile, for a listener who takes half a second to hear and to judge (a pair lasts over three).
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
import pytest
from yardstick import LOOP, best_s, sine_loop

from centwise.conductor import Sitting
from centwise.model import JUDGEMENTS, RULES, Listener, Sound
from centwise.store.sqlite import SqliteStore
from fakes import START, RecordingPlayer, block_plan

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

    from centwise.model import Order, Rule
    from fakes import RecordedPlayback

LISTENING_S = 0.5
ROUNDS = 60
BAR_MS = 30.0


class StandingClock:
    """A clock that costs nothing to ask."""

    def now(self) -> datetime:
        return START

    def monotonic_s(self) -> float:
        return time.perf_counter()

    def sleep(self, seconds: float) -> None:
        time.sleep(seconds)


class StopwatchPlayer(RecordingPlayer):
    """Notes when it was handed a sound, and keeps only the last."""

    handed_at_s = 0.0

    def play(self, sound: Sound) -> RecordedPlayback:
        self.handed_at_s = time.perf_counter()
        self.sounds.clear()
        self.playbacks.clear()
        return super().play(sound)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqliteStore]:
    made = SqliteStore.open(tmp_path)
    made.add_listener(Listener("listener-1", "Ada"))
    yield made
    made.close()


def answer_to_sound_ms(
    benchmark: BenchmarkFixture, store: SqliteStore, listening_s: float, rule: Rule, order: Order
) -> float:
    """Benchmark answers to a block and return the 95th percentile in milliseconds."""
    player = StopwatchPlayer()
    words = iter(np.random.default_rng(1).choice(JUDGEMENTS, ROUNDS + 2))
    taken_ms = []
    plan = block_plan(trials=ROUNDS + 10, rule=rule, order=order, string=1)
    with Sitting(store, StandingClock(), player, plan) as sitting:
        sitting.sound()

        def listen() -> None:
            time.sleep(listening_s)

        def judge() -> None:
            start = time.perf_counter()
            sitting.answer(next(words))
            sitting.sound()
            taken_ms.append(1000.0 * (player.handed_at_s - start))

        benchmark.pedantic(judge, setup=listen, rounds=ROUNDS, iterations=1, warmup_rounds=1)
    p50, p95 = np.percentile(taken_ms[1:], [50, 95])
    benchmark.extra_info |= {"p50_ms": round(p50, 2), "p95_ms": round(p95, 2), "bar_ms": BAR_MS}
    print(f"\n{rule}, {order}, {listening_s:g} s to listen: median {p50:.1f} ms, 95th percentile {p95:.1f} ms")
    return float(p95)


@pytest.mark.parametrize("rule", RULES)
def test_after_listening(benchmark: BenchmarkFixture, store: SqliteStore, table: Table, rule: Rule) -> None:
    taken_s = answer_to_sound_ms(benchmark, store, LISTENING_S, rule, "both") / 1e3
    what = f"answer key to the next pair at the player, rule {rule}"
    assert table.time("key to sound", what, taken_s, LOOP, best_s(sine_loop), most_s=BAR_MS / 1e3)


@pytest.mark.parametrize("rule", RULES)
def test_without_any_time_to_prepare(benchmark: BenchmarkFixture, store: SqliteStore, table: Table, rule: Rule) -> None:
    # Reported only: nobody answers before the pair was heard, but a script does.
    taken_s = answer_to_sound_ms(benchmark, store, 0.0, rule, "both") / 1e3
    table.time("key to sound", "the same, answered before it was heard", taken_s, LOOP, best_s(sine_loop))
