"""Rehearsals at the bench in the store: plans, acts in their words, and the reckoning as JSON.

Imports ports and below.
"""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from centwise.errors import ElsewhereError, StoreError
from centwise.model import BenchAct, BenchJudgement, BenchPlan, BenchResult, BenchShare, OrderPoint
from centwise.ports import StoredBench
from centwise.store import people
from centwise.store.rows import instant_text, marks

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

LATEST_UNFINISHED = "WHERE listener_id = ? AND ended_at IS NULL ORDER BY started_at DESC, number DESC LIMIT 1"

PLAN_COLUMNS = (
    "id",
    "listener_id",
    "instrument",
    "bridge",
    "difficulty",
    "guided",
    "seed",
    "scale_mm",
    "player",
    "started_at",
)


def begin(connection: sqlite3.Connection, plan: BenchPlan, first_act: BenchAct | None = None) -> None:
    """Keep a rehearsal's plan, with its first act where one begins it; its listener becomes the one used last.

    Raises:
        StoreError: there is no such listener any more.
    """
    plan = replace(plan, listener_id=people.there(connection, plan.listener_id))
    _insert(connection, plan)
    people.used_now(connection, plan.listener_id)
    if first_act is not None:
        add_act(connection, plan.id, first_act, None)


def put(
    connection: sqlite3.Connection,
    plan: BenchPlan,
    acts: Sequence[BenchAct],
    result: BenchResult | None,
    ended_at: datetime | None,
) -> None:
    """Keep a whole rehearsal that took place elsewhere."""
    number = _insert(connection, plan)
    connection.executemany(
        "INSERT INTO bench_acts (bench_number, n, words, done_at) VALUES (?, ?, ?, ?)",
        [(number, act.n, act.words, instant_text(act.at)) for act in acts],
    )
    if result is not None and ended_at is not None:
        connection.execute(
            "UPDATE benches SET ended_at = ?, reckoning = ? WHERE number = ?",
            (instant_text(ended_at), result_text(result), number),
        )


def _insert(connection: sqlite3.Connection, plan: BenchPlan) -> int:
    cursor = connection.execute(
        f"INSERT INTO benches ({', '.join(PLAN_COLUMNS)}) VALUES ({marks(PLAN_COLUMNS)})",  # noqa: S608  ours
        (
            plan.id,
            plan.listener_id,
            plan.instrument,
            plan.bridge,
            plan.difficulty,
            int(plan.guided),
            plan.seed,
            float(plan.scale_mm),
            plan.player,
            instant_text(plan.started_at),
        ),
    )
    return int(cursor.lastrowid or 0)


def add_act(connection: sqlite3.Connection, bench_id: str, act: BenchAct, result: BenchResult | None) -> None:
    """Keep one act of a rehearsal that has not ended, and with the mark its reckoning."""
    row = connection.execute("SELECT number, ended_at FROM benches WHERE id = ?", (bench_id,)).fetchone()
    if row is None:
        raise StoreError("this rehearsal is not kept, or no more since its listener was removed", "begin a new one")
    if row[1] is not None:
        raise ElsewhereError("this rehearsal was marked in another window", "begin a new one")
    if connection.execute("SELECT 1 FROM bench_acts WHERE bench_number = ? AND n = ?", (row[0], act.n)).fetchone():
        raise ElsewhereError(
            "this rehearsal was gone on with in another window", "close one of the two, and take it up again from there"
        )
    connection.execute(
        "INSERT INTO bench_acts (bench_number, n, words, done_at) VALUES (?, ?, ?, ?)",
        (row[0], act.n, act.words, instant_text(act.at)),
    )
    if result is not None:
        connection.execute(
            "UPDATE benches SET ended_at = ?, reckoning = ? WHERE number = ?",
            (instant_text(act.at), result_text(result), row[0]),
        )


def read(connection: sqlite3.Connection, clause: str, values: Sequence[Any]) -> tuple[StoredBench, ...]:
    """Return the rehearsals that a clause of ours finds."""
    found = connection.execute(
        f"SELECT {', '.join(PLAN_COLUMNS)}, reckoning, number FROM benches {clause}",  # noqa: S608  constants only
        tuple(values),
    ).fetchall()
    return tuple(
        StoredBench(
            plan=_plan_of(row[: len(PLAN_COLUMNS)]),
            acts=tuple(
                BenchAct(n, words, datetime.fromisoformat(at))
                for n, words, at in connection.execute(
                    "SELECT n, words, done_at FROM bench_acts WHERE bench_number = ? ORDER BY n", (row[-1],)
                )
            ),
            result=None if row[-2] is None else result_of(row[-2]),
        )
        for row in found
    )


def _plan_of(row: Sequence[Any]) -> BenchPlan:
    value = dict(zip(PLAN_COLUMNS, row, strict=True))
    value["guided"] = bool(value["guided"])
    value["started_at"] = datetime.fromisoformat(value["started_at"])
    return BenchPlan(**value)


def result_text(result: BenchResult) -> str:
    """Write a reckoning as JSON."""
    return json.dumps(asdict(result), allow_nan=False)


def result_of(text: str) -> BenchResult:
    """Read a reckoning; JSON has no whole numbers for keys, so they come back from words."""
    value = json.loads(text)
    for key in ("cents", "string_mm", "must_leave_cents"):
        value[key] = {int(number): cents for number, cents in value[key].items()}
    value["judgements"] = tuple(BenchJudgement(**judgement) for judgement in value["judgements"])
    value["order"] = tuple(OrderPoint(**point) for point in value["order"])
    value["shares"] = tuple(BenchShare(**share) for share in value["shares"])
    return BenchResult(**value)
