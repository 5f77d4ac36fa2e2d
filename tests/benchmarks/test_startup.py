"""Start-up as ratios of whole processes, by turns in the same run.

Skipped by default; run with `pytest tests/benchmarks/test_startup.py --benchmark-only -s`.

`centwise --version`, by its console script, against `python -c pass`: at most 3 times as long. The app's first frame
against that of a bare Textual app with Header and Footer: at most 1.6 times, from the start of the process to the
moment when all words of the first screen, its footer too, have arrived at a terminal of 80 by 24.
"""

from __future__ import annotations

import subprocess
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest
from first_frame import BARE_APP, BARE_WORDS, CONSOLE_SCRIPT, OUR_WORDS, first_frame, possible
from start_profile import section

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

pytestmark = pytest.mark.skipif(not possible(), reason="needs a pseudo-terminal and the console script")


def by_turns(
    benchmark: BenchmarkFixture, tested: Callable[[], float], reference: Callable[[], float], rounds: int
) -> tuple[float, float]:
    """Measure both by turns and return the medians; the benchmark's own table shows the tested one."""
    tested_s, reference_s = [], []

    def before() -> None:
        reference_s.append(reference())

    def once() -> None:
        tested_s.append(tested())

    benchmark.pedantic(once, setup=before, rounds=rounds, iterations=1, warmup_rounds=2)
    ours, theirs = float(np.median(tested_s[2:])), float(np.median(reference_s[2:]))
    benchmark.extra_info |= {"median_s": ours, "reference_s": theirs, "ratio": ours / theirs}
    print(f"\n{1000 * ours:.1f} ms against {1000 * theirs:.1f} ms: {ours / theirs:.2f} times")
    return ours, theirs


def process_s(*arguments: str | Path) -> float:
    start = time.perf_counter()
    subprocess.run(arguments, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def test_version_against_an_empty_program(benchmark: BenchmarkFixture, table: Table) -> None:
    ours, theirs = by_turns(
        benchmark,
        lambda: process_s(CONSOLE_SCRIPT, "--version"),
        lambda: process_s(sys.executable, "-c", "pass"),
        rounds=40,
    )
    assert table.time("start", "`centwise --version`", ours, "`python -c pass`", theirs, most_ratio=3.0)


def test_first_frame_against_a_bare_app(benchmark: BenchmarkFixture, table: Table, tmp_path: Path) -> None:
    bare = tmp_path / "bare.py"
    bare.write_text(BARE_APP)
    ours, theirs = by_turns(
        benchmark,
        lambda: first_frame(OUR_WORDS, tmp_path, CONSOLE_SCRIPT)[0],
        lambda: first_frame(BARE_WORDS, tmp_path, sys.executable, bare)[0],
        rounds=15,
    )
    table.profile = section(tmp_path)
    what = "`centwise` to the last word of its first screen"
    assert table.time("first frame", what, ours, "a bare Textual app, header and footer", theirs, most_ratio=1.6)
