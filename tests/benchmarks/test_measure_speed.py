"""Measuring, beside Praat on the same pairs, and on ten minutes of stereo at 96 kHz.

Skipped by default; run with `pytest tests/benchmarks/test_measure_speed.py --benchmark-only -s`. Praat's pitch by
autocorrelation and by cross-correlation (P. Boersma 1993, IFA Proceedings 17; praat-parselmouth) is read as the median
over each tone, between 0.1 s after its attack and 0.1 s before its end: the bars are at least 10 times as close, and no
slower. Ten minutes must take 10 s at most, a sixtieth of their own length, and 500 MB.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
import parselmouth
import pytest
import soundfile
from performance_table import Row, figure

from banjo import FIVE_STRING
from centwise.draws import Draws, Purpose
from centwise.model import Condition, PairSound, PairSpec
from centwise.pitch.intake import Intake
from centwise.pitch.measure import measure_take
from centwise.tones.pair import render_pair

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

RATE_HZ = 48_000
PAIRS = 20
METHODS = {"to_pitch_ac": "Praat by autocorrelation", "to_pitch_cc": "Praat by cross-correlation"}
PRAAT_ROUNDS = {"to_pitch_ac": 2, "to_pitch_cc": 1}
"""The other method takes some forty times as long, so its time need not be taken twice."""
LONG_RATE_HZ, LONG_S = 96_000, 600.0


def pairs(noise_db: float) -> list[tuple[PairSound, np.ndarray, float]]:
    """Pairs of all strings at drawn offsets, with noise so far below the harmonic's first 50 ms."""
    made = []
    for seed in range(PAIRS):
        rng = np.random.default_rng(seed)
        cents = float(rng.uniform(-20.0, 20.0))
        spec = PairSpec(n=1, condition=Condition(string=seed % 5 + 1), offset_cents=cents, first="harmonic")
        pair = render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=Draws(seed).stream(Purpose.TONES, 1))
        start = round(pair.harmonic.start_s * RATE_HZ)
        power = float(np.mean(pair.sound.samples[start : start + RATE_HZ // 20] ** 2)) * 10.0 ** (-noise_db / 10.0)
        noise = rng.normal(0.0, np.sqrt(power), pair.sound.samples.size)
        made.append((pair, (pair.sound.samples + noise).astype(np.float32), cents))
    return made


def ours(pair: PairSound, samples: np.ndarray) -> float:
    """Read a pair from nothing but its samples: notes and string are found, too."""
    intake = Intake(RATE_HZ, 1, "pair")
    intake.add(samples)
    return measure_take(intake.finish(), FIVE_STRING).cents


def by_praat(method: str) -> Callable[[PairSound, np.ndarray], float]:
    """Read a pair by Praat, which is told where the tones lie."""

    def read(pair: PairSound, samples: np.ndarray) -> float:
        sound = parselmouth.Sound(samples.astype(np.float64), RATE_HZ)
        track = getattr(sound, method)(time_step=0.01, pitch_floor=75.0, pitch_ceiling=1000.0)
        times_s, hertz = track.xs(), track.selected_array["frequency"]
        low, high = (
            np.median(hertz[(times_s > span.start_s + 0.1) & (times_s < span.end_s - 0.1) & (hertz > 0.0)])
            for span in (pair.harmonic, pair.fretted)
        )
        return 1200.0 * float(np.log2(high / low))

    return read


def run(read: Callable[[PairSound, np.ndarray], float], made: list[tuple[PairSound, np.ndarray, float]]) -> float:
    """Read all pairs and return the RMS error in cents."""
    return float(np.sqrt(np.mean([(read(pair, samples) - cents) ** 2 for pair, samples, cents in made])))


def timed(
    read: Callable[[PairSound, np.ndarray], float], made: list[tuple[PairSound, np.ndarray, float]], rounds: int
) -> tuple[float, float]:
    """Read all pairs a few times and return the RMS error in cents and the shortest time in seconds."""
    taken, error_cents = [], 0.0
    for _ in range(rounds):
        start = time.perf_counter()
        error_cents = run(read, made)
        taken.append(time.perf_counter() - start)
    return error_cents, min(taken)


@pytest.mark.parametrize("noise_db", [60, 40, 25])
@pytest.mark.parametrize("method", METHODS)
def test_ten_times_as_close_as_praat_and_no_slower(
    benchmark: BenchmarkFixture, table: Table, method: str, noise_db: int
) -> None:
    made = pairs(noise_db)
    praat = by_praat(method)
    theirs_cents, theirs_s = timed(praat, made, PRAAT_ROUNDS[method])
    ours_cents = run(ours, made)
    benchmark.pedantic(run, (ours, made), rounds=5, warmup_rounds=1)
    ours_s = float(benchmark.stats.stats.min)
    benchmark.extra_info.update(closer=theirs_cents / ours_cents, quicker=theirs_s / ours_s)
    print(
        f"\n{method} at {noise_db} dB: {theirs_cents:.5f} against {ours_cents:.5f} cents RMS, "
        f"{theirs_cents / ours_cents:.0f} times as close; {1e3 * theirs_s / PAIRS:.1f} against "
        f"{1e3 * ours_s / PAIRS:.1f} ms a pair, {theirs_s / ours_s:.2f} times as quick"
    )
    name, closer = METHODS[method], ours_cents / theirs_cents
    told = f"{name}, {figure(theirs_cents)} c"
    row = Row("measure", "error of a pair", f"{figure(ours_cents)} c", told, closer, "0.1 ×", closer <= 0.1)
    quick = table.time("measure", f"{PAIRS} pairs", ours_s, name, theirs_s, most_ratio=1.0)
    assert table.add(row)
    assert quick


def test_ten_minutes_of_stereo_at_96_khz(benchmark: BenchmarkFixture, table: Table, tmp_path: Path) -> None:
    import resource

    path = tmp_path / "long.wav"
    frames, count = 0, 0
    with soundfile.SoundFile(path, "w", LONG_RATE_HZ, 2, "PCM_24") as file:
        while frames < LONG_S * LONG_RATE_HZ:
            rng = np.random.default_rng(count)
            spec = PairSpec(n=1, condition=Condition(string=4), offset_cents=-3.0, first="harmonic")
            pair = render_pair(spec, FIVE_STRING, rate_hz=LONG_RATE_HZ, rng=Draws(count % 5).stream(Purpose.TONES, 1))
            mono = np.concatenate((pair.sound.samples, np.zeros(LONG_RATE_HZ // 3, dtype=np.float32)))
            file.write(np.stack((mono, 0.7 * mono), axis=1) + 1e-4 * rng.standard_normal((mono.size, 2)))
            frames, count = frames + mono.size, count + 1

    def measure() -> dict[str, object]:
        command = [sys.executable, "-m", "centwise", "measure", str(path), "--json"]
        found = json.loads(subprocess.run(command, capture_output=True, check=True, timeout=120).stdout)
        assert isinstance(found, dict)
        return found

    found = benchmark.pedantic(measure, rounds=2)
    assert found["cents"] == pytest.approx(-3.0, abs=0.001)
    assert len(found["plucks"]) == 2 * count
    taken_s = float(benchmark.stats.stats.min)
    # Of all children of this process the largest; on Linux in KiB.
    megabytes = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024 / 1e6
    print(
        f"\n{count} pairs in {LONG_S:.0f} s: {taken_s:.1f} s, {LONG_S / taken_s:.0f} times real time, "
        f"{megabytes:.0f} MB"
    )
    memory = f"{figure(megabytes)} MB"
    told = table.add(Row("measure", "memory for it", memory, "", None, "500 MB", megabytes <= 500.0))
    assert table.time("measure", "10 minutes of stereo at 96 kHz", taken_s, "its own length", LONG_S, most_s=10.0)
    assert told
