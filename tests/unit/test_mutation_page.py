"""What the page on mutation testing is made of: counts, intervals, reasons."""

from __future__ import annotations

import json
import re
import tomllib
from typing import TYPE_CHECKING

import pytest
from statsmodels.stats.proportion import proportion_confint

from mutation import KILLED, LONG, REASONS, ROOT, SURVIVED, Counts, in_drawn_order, results, shortened, table, wilson

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(("hits", "trials"), [(0, 10), (10, 10), (430, 500), (1, 3)])
def test_the_interval_is_wilsons(hits: int, trials: int) -> None:
    assert wilson(hits, trials) == pytest.approx(proportion_confint(hits, trials, method="wilson"), abs=1e-6)


def test_counts() -> None:
    counts = Counts.of([0, 1, 1, 3, 36, 33, None, -11])
    assert (counts.killed, counts.timed_out, counts.survived, counts.untested) == (4, 1, 1, 1)
    assert (counts.run, counts.noticed, counts.share) == (7, 5, "71.4 %")
    assert Counts.of([None]).share == "not run"


def write(folder: Path, part: str, codes: dict[str, int | None]) -> None:
    file = folder / "strings" / part / "mutants" / "src" / "centwise" / "strings" / "bridge.py.meta"
    file.parent.mkdir(parents=True)
    file.write_text(json.dumps({"exit_code_by_key": codes}))


def test_what_falls_to_the_exact_tests_has_fallen(tmp_path: Path) -> None:
    names = in_drawn_order(f"centwise.strings.bridge.x_slide__mutmut_{n}" for n in range(4))
    assert in_drawn_order(reversed(names)) == names
    write(tmp_path, "exact", dict(zip(names, (1, 0, 0, None), strict=True)))
    write(tmp_path, "all", dict(zip(names, (None, 0, 1, None), strict=True)))
    assert results(tmp_path / "strings") == {"bridge": dict(zip(names, (1, 0, 1, None), strict=True))}
    # Three of four have been run, from the beginning of the drawn order on: a sample of three.
    assert "| strings | 4 | 3 | 2 | 0 | 1 | 0 | **66.7 %** | 3: 66.7 % (95 % interval 21 to 94 %) |" in (
        table(tmp_path)
    )
    assert "| strings | bridge | 4 | 3 | 2 | 0 | 1 | 0 | 66.7 % |" in table(tmp_path)
    assert (KILLED, SURVIVED) == ("killed", "survived")


def test_a_change_is_shown_with_what_stands_round_it() -> None:
    assert shortened("if a < b:", "if a <= b:") == "if a < b: => if a <= b:"
    long = "value = function(first_argument, second_argument, third_argument) + one_more_term_of_the_sum * 2"
    assert shortened(long, long.replace("* 2", "* 3")) == (
        " one_more_term_of_the_sum * 2 =>  one_more_term_of_the_sum * 3"
    )


def test_reasons_are_patterns_and_long_tests_are_there() -> None:
    for reason in tomllib.loads(REASONS.read_text("utf-8"))["reason"]:
        assert re.compile(reason["pattern"])
        assert reason["why"]
    for package, long in LONG.items():
        for test in long:
            file, _, name = test.partition("::")
            assert file.startswith(f"{package}/")
            assert name in (ROOT / "tests" / "unit" / file).read_text("utf-8")
