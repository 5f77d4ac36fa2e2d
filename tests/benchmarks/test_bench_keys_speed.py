"""From a key in the app to the answer of each act at the bench, with the real store on the real disk.

Skipped by default; run with `pytest tests/benchmarks/test_bench_keys_speed.py --benchmark-only -s`. Times count from
the key's coming in to the player's being handed the sound, or to the answer's being written on the screen, which the
app draws at its next frame. A key comes a third of a second after the answer before it: a tone lasts three. The bar is
30 ms at the 95th percentile of every kind of act.
"""

from __future__ import annotations

import asyncio
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from test_key_to_sound import StandingClock, StopwatchPlayer
from textual import events
from yardstick import LOOP, best_s, sine_loop

from centwise.bench.acts import act_word
from centwise.bench_planning import BenchRequest
from centwise.model import Listener
from centwise.planning import BlockRequest
from centwise.settings.load import Settings
from centwise.store.sqlite import SqliteStore
from centwise.tui.app import CentwiseApp
from centwise.tui.bench_screen import BenchScreen
from centwise.tui.desk import Desk
from fakes import FakeWorld

if TYPE_CHECKING:
    from collections.abc import Callable

    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

    from centwise.rehearsal import Answer

BAR_MS = 30.0
ROUNDS = 20
LISTENING_S = 1.0 / 3.0
PATIENCE_S = 60.0
KEYS = ("c", "f", "o", "right", "left", "e", "r", "j", "k", "m", "c", "f", "o", "m")


async def until(true: Callable[[], bool]) -> None:
    """Look every millisecond until something is true."""
    async with asyncio.timeout(PATIENCE_S):
        while not true():  # noqa: ASYNC110  the app tells nobody
            await asyncio.sleep(0.001)


@pytest.mark.benchmark(group="bench")
def test_every_key_is_answered_within_30_ms(
    benchmark: BenchmarkFixture, table: Table, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = SqliteStore.open(tmp_path)
    store.add_listener(Listener("l1", "Ada"))
    player, clock = StopwatchPlayer(), StandingClock()
    services = replace(FakeWorld().services, store=store, clock=clock, open_player=lambda: player)
    request = BenchRequest(guided=False, difficulty="middle", seed=1)
    answers: list[tuple[Answer, float]] = []
    shown = BenchScreen._answered

    def noted(screen: BenchScreen, answer: Answer) -> None:
        shown(screen, answer)
        answers.append((answer, time.perf_counter()))

    monkeypatch.setattr(BenchScreen, "_answered", noted)
    took_ms: dict[str, list[float]] = {}

    async def rehearse() -> None:
        desk = Desk(services, Settings(Path("unused")), BlockRequest(), bench=request, silent_player=StopwatchPlayer)
        app = CentwiseApp(desk)
        async with app.run_test(size=(80, 24)) as pilot:
            while not isinstance(app.screen, BenchScreen):
                await pilot.press("enter")
            await until(lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
            for turn in range(ROUNDS + 1):
                for key in KEYS:
                    await asyncio.sleep(LISTENING_S)
                    before, start_s = len(answers), time.perf_counter()
                    app.post_message(events.Key(key, key if len(key) == 1 else None))
                    await until(lambda before=before: len(answers) > before)  # type: ignore[misc]
                    answer, shown_s = answers[-1]
                    end_s = shown_s if answer.heard is None else player.handed_at_s
                    if turn:
                        took_ms.setdefault(act_word(answer.act), []).append(1000.0 * (end_s - start_s))
        desk.close()

    benchmark.pedantic(lambda: asyncio.run(rehearse()), rounds=1)
    store.close()
    slowest = {word: float(np.percentile(times, 95)) for word, times in took_ms.items()}
    for word, milliseconds in sorted(slowest.items(), key=lambda item: -item[1]):
        print(f"{word:16} 95th percentile {milliseconds:6.1f} ms, median {np.median(took_ms[word]):6.1f} ms")
    assert len(slowest) == len(set(KEYS)) + 1, "m mutes and lets ring"
    word = max(slowest, key=lambda word: slowest[word])
    what = f"key in the app to the answer, the slowest act ({word})"
    assert table.time("bench act", what, slowest[word] / 1e3, LOOP, best_s(sine_loop), most_s=BAR_MS / 1e3)
