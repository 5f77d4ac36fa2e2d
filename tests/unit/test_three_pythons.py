"""What is told of the suite on each Python, and the page it is told on."""

from __future__ import annotations

import re
from pathlib import Path

from three_pythons import BEGIN, END, Outcome, counted, put_into, table

PAGE = Path(__file__).parents[2] / "docs" / "platforms.md"
REPORT = """<testsuites><testsuite>
<testcase classname="a" name="passes"/>
<testcase classname="a" name="skips"><skipped/></testcase>
<testcase classname="a" name="fails"><failure/></testcase>
<testcase classname="b" name="breaks"><error/></testcase>
<testcase classname="b" name="breaks"><error/></testcase>
</testsuite></testsuites>"""


def test_a_report_is_counted(tmp_path: Path) -> None:
    report, outcome = tmp_path / "report.xml", Outcome("3.12.1")
    report.write_text(REPORT, encoding="utf-8")
    assert counted(report, outcome) == ["a::fails", "b::breaks"]
    assert (outcome.passed, outcome.skipped) == (1, 1)


def test_what_passed_alone_is_told_apart_from_what_did_not() -> None:
    well = Outcome("3.11.7", "taken", 10, 2, ["a::slow"], [], 12.4)
    ill = Outcome("3.13.0", "taken", 9, 2, ["a::slow", "a::wrong"], ["a::wrong"], 12.6)
    assert well.well
    assert not ill.well
    text = table([well, ill], ["tests/unit"])
    assert "\n| 3.11.7 | taken | 10 | 2 | 1 | 1 of 1 | 12 |\n| 3.13.0 | taken | 9 | 2 | 2 | 1 of 2 | 13 |\n" in text
    assert "- Python 3.13.0: `a::wrong`" in text
    assert "a::slow" not in text
    assert " -- tests/unit\n" in text


def test_a_block_that_was_not_taken_is_not_well() -> None:
    assert not Outcome("3.11.7", "code 5: no disk", 10).well
    assert not Outcome("3.11.7", "taken", 0).well


def test_the_page_has_room_for_the_table_and_tells_of_each_python() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert (page.count(BEGIN), page.count(END)) == (1, 1)
    assert "new" in put_into(page, "new").partition(BEGIN)[2].partition(END)[0]
    told = page.partition(BEGIN)[2].partition(END)[0]
    assert set(re.findall(r"^\| (3\.\d+)\.\d+ \| taken ", told, re.MULTILINE)) == {"3.11", "3.12", "3.13"}
