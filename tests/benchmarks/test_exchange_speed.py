"""How long a class takes to come into a store, and to go out of it.

Skipped by default; run with `pytest tests/benchmarks/test_exchange_speed.py --benchmark-only -s`. The bar is 90 s for
1,000,000 answers; an eighth of them is imported here, and `tests/benchmarks/exchange.py` shows that time grows no
faster than their number. The reference reads the same lines with json and puts the answers into a bare SQLite table.
"""

from __future__ import annotations

import json
import sqlite3
import time
from contextlib import closing
from typing import TYPE_CHECKING

from exchange import command, records

from centwise import __version__
from centwise.exchange.lines import lines_of

if TYPE_CHECKING:
    from pathlib import Path

    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

ANSWERS = 125_000
BAR_S = 90.0 * ANSWERS / 1_000_000
ROUNDS = 2


def bare_import_s(file: Path, store: Path) -> float:
    """Read a file's answers and keep them in a bare table, on the disk by the end."""
    begun = time.perf_counter()
    with file.open(encoding="ascii") as lines, closing(sqlite3.connect(store)) as into:
        into.execute("CREATE TABLE answers (block, n, cents, first, answer, answered_at, replays, scored)")
        kept = 0
        for line in lines:
            record = json.loads(line)
            rows = [(record["id"], *answer.values()) for answer in record.get("answers", ())]
            kept += len(rows)
            into.executemany("INSERT INTO answers VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
        into.commit()
    assert kept == ANSWERS
    return time.perf_counter() - begun


def test_import_and_export(benchmark: BenchmarkFixture, table: Table, tmp_path: Path) -> None:
    file = tmp_path / "class.jsonl"
    with file.open("w", encoding="ascii") as out:
        out.writelines(lines_of(records(ANSWERS), written_by=__version__, names=True))
    taken_s, again_s, out_s, bare_s = [], [], [], []

    def before() -> None:
        bare_s.append(bare_import_s(file, tmp_path / f"bare-{len(bare_s)}.sqlite3"))

    def once() -> None:
        data = str(tmp_path / f"data-{len(taken_s)}")
        for taken, arguments in (
            (taken_s, ("import", str(file))),
            (again_s, ("import", str(file))),
            (out_s, ("export", f"{data}.jsonl")),
        ):
            taken.append(command(*arguments, "--data", data)[0])

    benchmark.pedantic(once, setup=before, rounds=ROUNDS)
    reference = "json and a bare SQLite table"
    print("\nimport, again, export, bare: " + ", ".join(f"{min(x):.1f} s" for x in (taken_s, again_s, out_s, bare_s)))
    what = f"{ANSWERS:,} answers into an empty store"
    holds = table.time("import", what, min(taken_s), reference, min(bare_s), most_s=BAR_S)
    table.time("import", "the same once more: nothing is new", min(again_s), reference, min(bare_s))
    table.time("import", "export of the same", min(out_s), reference, min(bare_s))
    assert holds
