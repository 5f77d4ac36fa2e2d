"""Summaries beside the blocks: kept as answers come in, filled in for older stores, equal to what the trials say."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from centwise.model import ESTIMATE_METHOD, BlockPlan, BlockResult, Condition, Listener, Trial
from centwise.store.migrations import MIGRATIONS, migrate
from centwise.store.sqlite import FILE_NAME, SqliteStore
from fakes import summary_of

if TYPE_CHECKING:
    from pathlib import Path

START = datetime(2026, 3, 1, 23, 58, 5, 250000, tzinfo=UTC)
RESULT = BlockResult(40, 31, 4.5, 3.1, 6.6, -0.5, -2.0, 1.0, 3.2, 1.73, 1.19, 2.54, 4)


def plan_of(id_: str, listener_id: str = "ann", days: float = 0.0) -> BlockPlan:
    at = START + timedelta(days=days)
    return BlockPlan(id_, listener_id, Condition(), "balanced", 40, False, 7, 660.0, "recording", at)


def test_a_summary_says_what_the_trials_say(tmp_path: Path) -> None:
    store = SqliteStore.open(tmp_path)
    store.add_listener(Listener("ann", "Ann"))
    draw = random.Random(5)
    for number in range(6):
        store.begin_block(plan_of(str(number), days=number % 3))
        at = START + timedelta(days=number % 3)
        for n in range(1, number * 4 + 1):
            # Pauses past a minute, and a clock set back.
            at += timedelta(seconds=draw.choice((3.25, 9.5, 61.0, 4000.0, -30.0)))
            store.add_trial(str(number), Trial(n, -8.0, "harmonic", "flat", at))
        if number % 2:
            store.end_block(str(number), RESULT, at)
    expected = [summary_of(block) for block in store.blocks("ann")]
    found = store.summaries("ann")
    assert len(found) == 6
    for one, other in zip(found, expected, strict=True):
        assert abs(one.practised_s - other.practised_s) < 0.01
        assert (one.plan, one.result, one.answered, one.last_answer_at, one.method) == (
            other.plan,
            other.result,
            other.answered,
            other.last_answer_at,
            other.method,
        )
    assert {one.method for one in found} == {None, ESTIMATE_METHOD}
    assert store.summaries() == found
    assert store.summaries("nobody") == ()
    store.close()


def test_an_older_store_has_its_summaries_filled_in(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)) as old:
        migrate(old, MIGRATIONS[:1])
        old.execute("INSERT INTO listeners (id, name, name_key, scale_mm) VALUES ('ann', 'Ann', 'ann', 660.0)")
        for id_ in ("done", "open", "empty"):
            old.execute(
                "INSERT INTO blocks (id, listener_id, instrument, string, muted, likeness, tone_order, rule, trials,"
                " assess, seed, scale_mm, player, started_at, warm_up) VALUES"
                f" ('{id_}', 'ann', 'five-string', 4, 1, 0.0, 'both', 'balanced', 40, 0, 7, 660.0, 'x',"
                " '2026-03-01T23:58:05.250000+00:00', 0)"
            )
        old.execute(
            "UPDATE blocks SET ended_at = '2026-03-02', result_trials = 2, result_correct = 1 WHERE id = 'done'"
        )
        for block in (1, 2):
            for n, at in enumerate(("2026-03-01T23:58:15.250000", "2026-03-02T00:08:15.250000"), start=1):
                old.execute(
                    "INSERT INTO trials VALUES (?, ?, -8.0, 'harmonic', 'flat', ?, 0, 1)", (block, n, f"{at}+00:00")
                )
    store = SqliteStore.open(tmp_path)
    done, left_open, empty = store.summaries()
    assert (done.answered, round(done.practised_s, 2), done.method) == (2, 70.0, 1)
    assert done.last_answer_at == datetime(2026, 3, 2, 0, 8, 15, 250000, tzinfo=UTC)
    assert (left_open.answered, round(left_open.practised_s, 2), left_open.method) == (2, 70.0, None)
    assert (empty.answered, empty.practised_s, empty.last_answer_at, empty.method) == (0, 0.0, None, None)
    assert store.listeners() == (Listener("ann", "Ann", 660.0, "five-string", ""),)
    store.close()
