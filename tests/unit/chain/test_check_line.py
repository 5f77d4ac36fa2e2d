"""A line of the check as it is told."""

from __future__ import annotations

import pytest

from centwise.chain.line import CheckLine


@pytest.mark.parametrize(
    ("finding", "told"),
    [
        ("nothing was heard", "Nothing was heard."),
        ("the store at data1/c.sqlite3 is whole", "The store at data1/c.sqlite3 is whole."),
        ("data1/c.sqlite3 is locked", "data1/c.sqlite3 is locked."),
        ("c.sqlite3 is locked", "c.sqlite3 is locked."),
        ("centwise check --mend works them out anew", "centwise check --mend works them out anew."),
    ],
)
def test_a_path_or_a_command_keeps_its_first_letter(finding: str, told: str) -> None:
    assert CheckLine("store", "Store", "passed", finding).told == told
