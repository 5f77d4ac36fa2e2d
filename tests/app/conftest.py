"""Fixtures of the app's tests."""

from __future__ import annotations

import pytest

from centwise.model import Listener
from fakes import FakeWorld


@pytest.fixture
def world() -> FakeWorld:
    """Everything the app asks of the world, nobody known yet."""
    world = FakeWorld()
    # The lowest rate a tone can have: half the work of the usual one.
    world.player.rate_hz = 22_050
    return world


@pytest.fixture
def known_world(world: FakeWorld) -> FakeWorld:
    """The same with three listeners."""
    for number, name in enumerate(("Ada", "Adam", "Béla")):
        world.store.add_listener(Listener(f"known-{number}", name))
    return world


@pytest.fixture
def slow_feedback(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no pair begin by itself."""
    monkeypatch.setattr("centwise.tui.drill_screen.RIGHT_S", 600.0)
    monkeypatch.setattr("centwise.tui.drill_screen.WRONG_S", 600.0)
