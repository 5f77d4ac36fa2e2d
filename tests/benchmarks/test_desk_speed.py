"""A thousand listeners with a million answers: the class view, one listener's page, and everybody's progress.

Skipped by default; run with `pytest tests/benchmarks/test_desk_speed.py --benchmark-only -s`. The bars are 1 s for the
class view, 2 s for a page on the screen or as HTML, 5 s for `progress --json` of everybody, 500 MB. The reference reads
every block's row of the same store, in a Python process of its own; of pages it is that of `test_report_speed.py`.
`tests/benchmarks/desk_scale.py` shows how it all grows.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from desk_scale import BARS, measured, measured_page
from performance_table import Row, figure
from test_report_speed import PLAIN, PLAIN_PAGE
from test_startup import process_s

from centwise.store.sqlite import FILE_NAME
from made_class import MadeClass, make_class

if TYPE_CHECKING:
    from pathlib import Path

    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

SIZE = MadeClass(1000)
READ_BLOCKS = "import sqlite3, sys; sqlite3.connect(sys.argv[1]).execute('SELECT * FROM blocks').fetchall()"
REFERENCE = "Python reading every block's row"
REFERENCE_ROUNDS = 5
TIMES = {
    "class_first_s": ("class view", "F3 to the class, rows still to be worked out"),
    "class_s": ("class view", "F3 to the class, once more"),
    "sort_s": ("class view", "sorted anew"),
    "page_s": ("progress", "key to one listener's page"),
    "lines_s": ("progress", "`centwise progress`, the class"),
    "json_s": ("progress", "`centwise progress --json`, everybody"),
    "html_s": ("report", "`--html` of one of a thousand listeners"),
    "ways_s": ("report", "`--html` of a listener with ten ways of hearing"),
}


def test_a_class_of_a_thousand(benchmark: BenchmarkFixture, table: Table, tmp_path: Path) -> None:
    folder, ways = tmp_path / "class", tmp_path / "ways"
    make_class(folder, SIZE)
    make_class(ways, MadeClass(1, blocks_each=100, ways=10))
    store = folder / FILE_NAME
    reading_s = min(process_s(sys.executable, "-c", READ_BLOCKS, store) for _ in range(REFERENCE_ROUNDS))
    drawing_s = min(process_s(sys.executable, "-c", PLAIN_PAGE) for _ in range(REFERENCE_ROUNDS))
    found: dict[str, float] = {}
    benchmark.pedantic(lambda: found.update(measured(folder) | measured_page(folder, ways)), rounds=1)
    print("\n" + "\n".join(f"{key:20} {value:8.3g}" for key, value in found.items()))
    holds = {
        what: table.time(
            place,
            what,
            found[key],
            PLAIN if place == "report" else REFERENCE,
            drawing_s if place == "report" else reading_s,
            most_s=BARS.get(key),
        )
        for key, (place, what) in TIMES.items()
    }
    most_mb = max(found["app_mb"], found["json_mb"])
    row = Row("progress", "memory, app or `--json`", f"{figure(most_mb)} MB", "", None, "500 MB", most_mb <= 500.0)
    holds[row.what] = table.add(row)
    assert all(holds.values()), [what for what, held in holds.items() if not held]
