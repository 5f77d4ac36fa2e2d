"""Speed of the synthesis as ratios to a reference measured in the same run.

Skipped by default; run with `pytest tests/benchmarks --benchmark-only`. The bars are ratios, so that they hold on any
machine: the bank at least 20 times as fast as a sine for every partial, and a whole tone no slower than 15 ms would be
where the bank of 40 partials over 2 s takes the time stated below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from yardstick import FRAMES, LOOP, RATE_HZ, TABLE, best_s, sine_loop

from banjo import FIVE_STRING
from centwise.model import Condition, PairSpec
from centwise.tones.kernel import damped_bank
from centwise.tones.pair import render_pair, render_pairs
from centwise.tones.single import render_single

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture


def bank() -> NDArray[np.float64]:
    return damped_bank(*TABLE, frames=FRAMES, rate_hz=RATE_HZ)


def shortest_s(benchmark: BenchmarkFixture) -> float:
    return float(benchmark.stats.stats.min)


def test_kernel_against_a_sine_per_partial(benchmark: BenchmarkFixture, table: Table) -> None:
    assert np.allclose(bank(), sine_loop(), atol=1e-9)
    benchmark(bank)
    what = "the bank of 40 partials, 2 s"
    assert table.time("render", what, shortest_s(benchmark), LOOP, best_s(sine_loop), most_ratio=1.0 / 20.0)


@pytest.mark.parametrize("kind", ["harmonic", "fretted", "open"])
@pytest.mark.parametrize("string", [1, 4])
def test_whole_tone_of_two_seconds(benchmark: BenchmarkFixture, table: Table, kind: str, string: int) -> None:
    benchmark(
        lambda: render_single(
            kind,  # type: ignore[arg-type]
            FIVE_STRING,
            string,
            offset_cents=0.0,
            rate_hz=RATE_HZ,
            rng=np.random.default_rng(1),
            duration_s=2.0,
        )
    )
    # 15 ms on the machine of the bar, where the sine loop takes 80 to 100 ms.
    assert table.time("render", "a tone of 2 s", shortest_s(benchmark), LOOP, best_s(sine_loop), most_ratio=15.0 / 90.0)


def specs(*offsets_cents: float, muted: bool = True) -> list[PairSpec]:
    return [PairSpec(1, Condition(string=4, muted=muted), offset_cents, "harmonic") for offset_cents in offsets_cents]


@pytest.mark.parametrize("muted", [True, False])
def test_pair_of_a_trial(benchmark: BenchmarkFixture, table: Table, muted: bool) -> None:
    spec = specs(5.0, muted=muted)[0]
    benchmark(lambda: render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng(1)))
    # 25 ms where the sine loop takes 80 to 100 ms.
    what = f"a pair, other strings {'muted' if muted else 'ringing along'}"
    assert table.time("render", what, shortest_s(benchmark), LOOP, best_s(sine_loop), most_ratio=25.0 / 90.0)


def test_three_candidates_cost_less_than_three_pairs(benchmark: BenchmarkFixture, table: Table) -> None:
    candidates = specs(-5.0, 0.0, 5.0)

    def one_by_one() -> None:
        for spec in candidates:
            render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng(1))

    benchmark(lambda: render_pairs(candidates, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng(1)))
    what = "the three pairs that may come next"
    assert table.time(
        "render", what, shortest_s(benchmark), "the same one by one", best_s(one_by_one), most_ratio=1.0 / 1.05
    )
