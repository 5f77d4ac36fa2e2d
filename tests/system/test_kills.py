"""A few of the kills of `kills.py`; two hundred run by its own command."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from kills import kill_once

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("seed", range(31, 37))
def test_no_answer_that_was_told_is_lost_when_the_program_is_killed(tmp_path: Path, seed: int) -> None:
    # Twice in one store: the second run opens what the first left.
    for again in (0, 100):
        killed = kill_once(tmp_path, seed + again, "--trials", "30")
        assert killed.sound
        assert killed.kept, killed
