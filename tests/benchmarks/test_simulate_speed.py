"""The drill's own arithmetic: one trial's choice and update, and a thousand simulated listeners.

Skipped by default; run with `pytest tests/benchmarks/test_simulate_speed.py --benchmark-only -s`. The bars: a trial in
at most 3 ms of one thread; 1,000 listeners of 60 trials in at most 20 s in two processes. The reference of the second
is the same simulation listener by listener, as a drill runs it.
"""

from __future__ import annotations

import multiprocessing
import time
from concurrent.futures import ProcessPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
import pytest
from efficiency import WORKERS, blocks, listeners
from yardstick import LOOP, best_s, sine_loop

from centwise.draws import Draws, Purpose
from centwise.ear.simulated import SimulatedListener
from centwise.ear.track import begin_track
from centwise.model import RULES

if TYPE_CHECKING:
    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

    from centwise.model import Rule

TRIALS = 60
ALONE = 10
TOGETHER = 1000


def block_alone(seed: int, rule: Rule) -> list[float]:
    """Take a simulated listener through a block and return what each choice with its update took, in seconds."""
    draws, track = Draws(seed), begin_track(rule)
    listener = SimulatedListener(8.0, 6.0, 1.0, 0.02)
    taken_s = []
    for n in range(1, TRIALS + 1):
        begun = time.thread_time()
        offset = track.next_offset(draws.stream(Purpose.PLACEMENT, n))
        chosen = time.thread_time()
        answer = listener.judge(offset, draws.stream(Purpose.LISTENER, n), n=n)
        answered = time.thread_time()
        track = track.answered(offset, answer)
        taken_s.append(chosen - begun + time.thread_time() - answered)
    return taken_s


@pytest.mark.parametrize("rule", RULES)
def test_one_trial_takes_at_most_3_ms(benchmark: BenchmarkFixture, table: Table, rule: Rule) -> None:
    taken_s: list[float] = []
    benchmark.pedantic(lambda: taken_s.extend(block_alone(len(taken_s), rule)), rounds=ALONE, warmup_rounds=1)
    slow_s = float(np.percentile(taken_s, 95))
    print(f"\n{rule}: a trial takes {1e3 * slow_s:.2f} ms at the 95th percentile")
    assert table.time("trial", f"choice and update, rule {rule}", slow_s, LOOP, best_s(sine_loop), most_s=3e-3)


def test_a_thousand_listeners_take_at_most_20_s(benchmark: BenchmarkFixture, table: Table) -> None:
    begun = time.perf_counter()
    for seed in range(ALONE):
        block_alone(seed, "balanced")
    alone_s = (time.perf_counter() - begun) * TOGETHER / ALONE
    # Fresh processes: one that is forked beside pytest's threads may hang.
    with ProcessPoolExecutor(WORKERS, mp_context=multiprocessing.get_context("spawn")) as pool:
        blocks(pool, listeners(WORKERS, 1), 1, "balanced")
        benchmark.pedantic(lambda: blocks(pool, listeners(TOGETHER, 1), TRIALS, "balanced"), rounds=1)
    together_s = float(benchmark.stats.stats.min)
    print(f"\n{TOGETHER} listeners of {TRIALS} trials: {together_s:.1f} s")
    what = f"{TOGETHER:,} listeners of {TRIALS} trials, {WORKERS} processes"
    assert table.time("simulate", what, together_s, f"one after the other, from {ALONE}", alone_s, most_s=20.0)
