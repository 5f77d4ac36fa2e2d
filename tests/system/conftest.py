"""Fixtures of the tests that use a system's own audio stack."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from sound_server import PulseServer, missing_programs, running_server

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def pulse_server(monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseServer]:
    """A private PulseAudio server that this process and its children find; its monitor can be recorded."""
    if missing := missing_programs():
        pytest.skip(f"not installed: {', '.join(missing)}")
    with running_server() as server:
        for name, value in server.environ.items():
            monkeypatch.setenv(name, value)
        yield server
