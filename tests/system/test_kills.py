"""A few of the kills of `kills.py`, at every stage; two hundred run by its own command."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest
from kills import STAGES, kill_once, kills

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.skipif(os.name != "posix", reason="SIGKILL and terminals as POSIX has them")


def test_no_answer_that_was_told_is_lost_when_the_program_is_killed(tmp_path: Path) -> None:
    # In one store: each run opens what the one before left.
    found = list(kills(tmp_path, len(STAGES), 31))
    assert [each.stage for each in found] == list(STAGES)
    assert {each.front for each in found} == {"events", "app"}
    for each in found:
        assert each.sound
        assert each.went_on, each
        assert each.kept, each


def test_an_app_killed_while_an_answer_is_kept(tmp_path: Path) -> None:
    list(kills(tmp_path, 0, 1))
    killed = kill_once(tmp_path, 40, "answered", "app")
    assert killed.kept, killed
