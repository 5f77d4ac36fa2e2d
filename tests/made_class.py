"""A class made up for tests of size: listeners with a learning curve, their blocks and every trial, in a real store."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from centwise.model import ESTIMATE_METHOD, BlockPlan, BlockResult, Condition, Trial
from centwise.store import rows
from centwise.store.names import name_key
from centwise.store.sqlite import FILE_NAME, SqliteStore
from centwise.store.upkeep import summarise_blocks
from centwise.strings.geometry import bridge_offset_mm

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.random import Generator

START = datetime(2025, 9, 1, 16, 0, tzinfo=UTC)
SCALE_MM = 666.75
WAYS = tuple(Condition(string=string, muted=muted) for muted in (True, False) for string in (4, 1, 3, 2, 5))


@dataclass(frozen=True)
class MadeClass:
    """How many of each."""

    listeners: int
    blocks_each: int = 25
    trials_each: int = 40
    ways: int = 2
    """So many ways of hearing each listener practises by turns, 10 at most."""

    @property
    def trials(self) -> int:
        return self.listeners * self.blocks_each * self.trials_each


def make_class(folder: Path, size: MadeClass, seed: int = 1) -> None:
    """Fill a new store in `folder`: rows as the program itself would write them, in one transaction."""
    SqliteStore.open(folder).close()
    rng = np.random.default_rng(seed)
    with closing(sqlite3.connect(folder / FILE_NAME, isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("BEGIN")
        for who in range(size.listeners):
            name = f"Listener {who:05d}"
            connection.execute(
                "INSERT INTO listeners (id, name, name_key, scale_mm) VALUES (?, ?, ?, ?)",
                (f"listener-{who}", name, name_key(name), SCALE_MM),
            )
            _add_blocks(connection, who, size, rng)
        blocks = size.listeners * size.blocks_each
        if blocks:
            summarise_blocks(connection, 1, blocks)
        connection.execute("COMMIT")


def _add_blocks(connection: sqlite3.Connection, who: int, size: MadeClass, rng: Generator) -> None:
    level = rng.normal(4.0, 0.7)
    columns = (*rows.PLAN_COLUMNS, "ended_at", "method", *rows.RESULT_COLUMNS)
    insert = f"INSERT INTO blocks ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
    for k in range(size.blocks_each):
        number = who * size.blocks_each + k + 1
        at = START + timedelta(days=k * 3 + rng.uniform(0, 2), seconds=float(who))
        level += rng.normal(-0.06, 0.12)
        plan = BlockPlan(
            f"block-{number}",
            f"listener-{who}",
            WAYS[k % size.ways],
            "balanced",
            size.trials_each,
            False,
            int(rng.integers(2**31)),
            SCALE_MM,
            "miniaudio",
            at,
        )
        trials = _trials(rng, 2.0**level, size.trials_each, at)
        result = _result(level, trials)
        ended = rows.instant_text(trials[-1].answered_at)
        connection.execute(insert, (*rows.plan_row(plan), ended, ESTIMATE_METHOD, *rows.result_row(result)))
        connection.executemany(
            "INSERT INTO trials VALUES (?, ?, ?, ?, ?, ?, ?, ?)", [(number, *rows.trial_row(trial)) for trial in trials]
        )


def _trials(rng: Generator, threshold: float, count: int, at: datetime) -> list[Trial]:
    sigma = threshold / 0.6745
    offsets = rng.choice((-2.0, -1.0, 0.0, 1.0, 2.0), count) * threshold
    heard = offsets + rng.normal(0.0, sigma, count)
    gaps = np.cumsum(rng.uniform(6.0, 12.0, count))
    return [
        Trial(
            n,
            float(offset),
            "harmonic",
            "unison" if abs(x) < 0.7 * sigma else "flat" if x < 0 else "sharp",
            at + timedelta(seconds=float(gap)),
        )
        for n, (offset, x, gap) in enumerate(zip(offsets, heard, gaps, strict=True), start=1)
    ]


def _result(level: float, trials: list[Trial]) -> BlockResult:
    cents = 2.0**level
    low, high = cents * 2.0**-0.45, cents * 2.0**0.45
    mm = [bridge_offset_mm(-x, SCALE_MM) for x in (cents, low, high)]
    correct = sum(trial.correct for trial in trials)
    return BlockResult(len(trials), correct, cents, low, high, 0.4, -1.0, 1.8, cents, *mm, round(mm[0] / 25.4 * 64))
