"""The table of the benchmarks itself, and the page that was written from it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from performance_table import COMMAND, PLACES, Row, Table, figure, seconds
from start_profile import by_package, imports_ms

PAGE = Path(__file__).parents[2] / "docs" / "performance.md"


def test_a_time_is_told_beside_its_reference_and_its_bar() -> None:
    table = Table()
    assert table.time("start", "a", 0.03, "b", 0.02, most_ratio=1.6)
    assert not table.time("trial", "c", 0.004, "d", 2.0, most_s=0.003)
    lines = [row.line for row in table.rows.values()]
    assert lines[0] == "| start | a | 30 ms | b, 20 ms | 1.5 × | 1.6 × | yes |"
    assert lines[1] == "| trial | c | 4 ms | d, 2 s | 0.002 × | 3 ms | **no** |"
    assert "1 of 2 bars are kept." in table.document()


def test_of_the_same_work_the_slower_stays() -> None:
    table = Table()
    for took_s in (0.2, 0.3, 0.1):
        table.time("render", "a tone", took_s, "loop", 1.0, most_ratio=0.25)
    (row,) = table.rows.values()
    assert (row.ratio, row.holds) == (pytest.approx(0.3), False)


def test_a_place_that_was_not_measured_is_missing() -> None:
    table = Table()
    for place in PLACES[1:]:
        table.add(Row(place, "a", "1 s", "b", 1.0))
    assert table.missing == [PLACES[0]]
    with pytest.raises(ValueError, match="no place"):
        table.add(Row("elsewhere", "a", "1 s", "b", 1.0))


def test_figures_have_three_digits_that_count() -> None:
    assert [figure(x) for x in (0.0012345, 1.0, 12.345, 1234.5)] == ["0.00123", "1", "12.3", "1234"]
    assert [seconds(x) for x in (0.0123, 0.999, 4.56)] == ["12.3 ms", "999 ms", "4.56 s"]


def test_imports_are_read_as_python_tells_them() -> None:
    # Lines as CPython writes them: https://docs.python.org/3/using/cmdline.html#cmdoption-X
    told = "import time:       150 |        400 |   re._parser\r\nimport time:      1250 |       2000 | textual.app\r\n"
    assert imports_ms(f"\x1b[2J{told}") == {"re._parser": 0.15, "textual.app": 1.25}
    assert by_package(imports_ms(told)) == {"the standard library": 0.15, "textual": 1.25}


def test_the_page_tells_every_place_and_how_many_bars_are_kept() -> None:
    page = PAGE.read_text(encoding="utf-8")
    rows = [
        line.split(" | ") for line in page.splitlines() if line.startswith(tuple(f"| {place} |" for place in PLACES))
    ]
    assert {row[0].removeprefix("| ") for row in rows} == set(PLACES)
    verdicts = [row[6].removesuffix(" |") for row in rows]
    kept, barred = verdicts.count("yes"), len(verdicts) - verdicts.count("|") - verdicts.count("")
    assert f"\n{kept} of {barred} bars are kept.\n" in page
    assert COMMAND in page
    assert re.search(r"^\| textual \| [\d.]+ \| [\d.]+ \|$", page, re.MULTILINE)
