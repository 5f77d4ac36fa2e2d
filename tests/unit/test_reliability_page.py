"""docs/reliability.md names tests: each of them is there."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "docs" / "reliability.md"


def test_every_test_that_the_page_names_is_there() -> None:
    named = re.findall(r"`((?:unit|system|app)/[\w/]+\.py)(?:::(\w+))?`", PAGE.read_text(encoding="utf-8"))
    assert len(named) > 25
    for file, function in named:
        assert (TESTS / file).exists(), file
        assert not function or f"def {function}(" in (TESTS / file).read_text(encoding="utf-8"), function
