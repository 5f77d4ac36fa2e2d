"""How long a page to print takes: one listener's, and a class of forty.

Skipped by default; run with `pytest tests/benchmarks/test_report_speed.py --benchmark-only -s`. The reference is a
Python process that draws one plain picture with matplotlib and puts it into one line of Jinja2: what any such page must
at least load. The bars, 2.5 times that for a listener's page with its pictures and 1.5 times for the class, are ours.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest
from test_startup import by_turns, process_s

from made_class import MadeClass, make_class

if TYPE_CHECKING:
    from pathlib import Path

    from performance_table import Table
    from pytest_benchmark.fixture import BenchmarkFixture

PLAIN = "a plain picture on a plain page"
PLAIN_PAGE = """
import io

import jinja2
from matplotlib.figure import Figure

drawing, picture = Figure(), io.StringIO()
drawing.subplots().plot([1, 2, 3])
drawing.savefig(picture, format="svg")
print(jinja2.Environment(autoescape=True).from_string("<p>{{ picture }}").render(picture=picture.getvalue()))
"""
PAGES = {
    "one listener, 25 blocks of 40 answers": (("--listener", "Listener 00003"), 2.5),
    "a class of 40": ((), 1.5),
}


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("school")
    make_class(folder, MadeClass(40))
    return folder


@pytest.mark.parametrize("what", PAGES)
def test_a_page(benchmark: BenchmarkFixture, table: Table, school: Path, what: str) -> None:
    whose, bar = PAGES[what]
    file = school / "page.html"
    command = (sys.executable, "-m", "centwise", "progress", "--html", str(file), "--data", str(school), *whose)
    ours, theirs = by_turns(
        benchmark, lambda: process_s(*command), lambda: process_s(sys.executable, "-c", PLAIN_PAGE), rounds=4
    )
    assert file.stat().st_size > 10_000
    assert table.time("report", f"page of {what}", ours, PLAIN, theirs, most_ratio=bar)
