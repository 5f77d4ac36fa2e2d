"""Speed of the synthesis as ratios to a reference measured in the same run.

Skipped by default; run with `pytest tests/benchmarks --benchmark-only`. The bars are ratios, so that they hold on any
machine: the bank at least 20 times as fast as a sine for every partial, and a whole tone no slower than 15 ms would be
where the bank of 40 partials over 2 s takes the time stated below.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from centwise.model import Condition, PairSpec
from centwise.strings.instrument import FIVE_STRING
from centwise.tones.kernel import damped_bank
from centwise.tones.pair import render_pair, render_pairs
from centwise.tones.single import render_single

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray
    from pytest_benchmark.fixture import BenchmarkFixture

RATE_HZ = 48_000
FRAMES = 2 * RATE_HZ
NUMBER = np.arange(1, 41)
TABLE = (NUMBER * 293.66, 1.0 + 0.2 * NUMBER, 1.0 / NUMBER, 0.7 * NUMBER)


def sine_loop() -> NDArray[np.float64]:
    """Sum 40 partials over 2 s the plain way: a decay and a sine for every partial."""
    times_s = np.arange(FRAMES) / RATE_HZ
    total = np.zeros(FRAMES)
    for frequency_hz, decay, amplitude, phase in zip(*TABLE, strict=True):
        total += amplitude * np.exp(-decay * times_s) * np.sin(2.0 * np.pi * frequency_hz * times_s + phase + np.pi / 2)
    return total


def bank() -> NDArray[np.float64]:
    return damped_bank(*TABLE, frames=FRAMES, rate_hz=RATE_HZ)


def best_s(call: Callable[[], object], rounds: int = 15) -> float:
    """Return the shortest time of a call, after one to warm up: what else the machine does only ever adds to it."""
    call()
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return min(taken)


def report(benchmark: BenchmarkFixture, reference: str, reference_s: float) -> float:
    """Note the ratio reference : benchmark beside the benchmark and return it."""
    ratio = reference_s / float(benchmark.stats.stats.min)
    benchmark.extra_info["reference"] = reference
    benchmark.extra_info["reference_ms"] = round(reference_s * 1e3, 3)
    benchmark.extra_info["ratio"] = round(ratio, 2)
    print(f"\n{benchmark.name}: {float(benchmark.stats.stats.min) * 1e3:.2f} ms, {ratio:.1f} x faster than {reference}")
    return ratio


def test_kernel_against_a_sine_per_partial(benchmark: BenchmarkFixture) -> None:
    assert np.allclose(bank(), sine_loop(), atol=1e-9)
    benchmark(bank)
    assert report(benchmark, "a sine loop over 40 partials, 2 s", best_s(sine_loop)) >= 20.0


@pytest.mark.parametrize("kind", ["harmonic", "fretted", "open"])
@pytest.mark.parametrize("string", [1, 4])
def test_whole_tone_of_two_seconds(benchmark: BenchmarkFixture, kind: str, string: int) -> None:
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
    assert report(benchmark, "a sine loop over 40 partials, 2 s", best_s(sine_loop)) >= 90.0 / 15.0


def specs(*offsets_cents: float, muted: bool = True) -> list[PairSpec]:
    return [PairSpec(1, Condition(string=4, muted=muted), offset_cents, "harmonic") for offset_cents in offsets_cents]


@pytest.mark.parametrize("muted", [True, False])
def test_pair_of_a_trial(benchmark: BenchmarkFixture, muted: bool) -> None:
    spec = specs(5.0, muted=muted)[0]
    benchmark(lambda: render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng(1)))
    # 25 ms where the sine loop takes 80 to 100 ms.
    assert report(benchmark, "a sine loop over 40 partials, 2 s", best_s(sine_loop)) >= 90.0 / 25.0


def test_three_candidates_cost_less_than_three_pairs(benchmark: BenchmarkFixture) -> None:
    candidates = specs(-5.0, 0.0, 5.0)

    def one_by_one() -> None:
        for spec in candidates:
            render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng(1))

    benchmark(lambda: render_pairs(candidates, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng(1)))
    assert report(benchmark, "three pairs one by one", best_s(one_by_one)) >= 1.05
