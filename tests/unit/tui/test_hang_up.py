"""Whether a terminal has gone, as each system tells it; that it is seen for real is in tests/system."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from centwise.tui.hang_up import hung_up

POLLHUP, POLLNVAL = 16, 32


def system_telling(seen: int) -> Any:
    """Stand in for a system's `select` that says this of any descriptor."""
    poll = SimpleNamespace(register=lambda *_: None, poll=lambda _ms: [(0, seen)] if seen else [])
    return SimpleNamespace(poll=lambda: poll, POLLHUP=POLLHUP, POLLNVAL=POLLNVAL)


@pytest.mark.parametrize(
    ("platform", "seen", "gone"),
    [
        ("linux", 0, False),
        ("linux", POLLHUP, True),
        ("linux", POLLNVAL, True),
        ("darwin", 0, False),
        ("darwin", POLLHUP, True),
        ("darwin", POLLNVAL, False),
    ],
)
def test_a_hang_up_is_told_by_what_the_system_says(platform: str, seen: int, gone: bool) -> None:
    assert hung_up(0, platform=platform, system=system_telling(seen)) is gone


def test_where_there_is_no_poll_none_is_seen() -> None:
    assert not hung_up(0, platform="win32", system=SimpleNamespace())
