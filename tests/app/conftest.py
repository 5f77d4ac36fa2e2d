"""Fixtures of the app's tests."""

from __future__ import annotations

import asyncio

import pytest

from centwise.model import Listener
from fakes import FakeWorld


@pytest.fixture(autouse=True)
def _wait_for_messages_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep Pilot from waiting until the process is idle, which the thread that prepares pairs makes long.

    It still waits until every widget has dealt with its messages; what else a test waits for it says with `until`.
    """

    async def briefly(min_sleep: float = 0.0, max_sleep: float = 0.0) -> None:
        await asyncio.sleep(0.02)

    monkeypatch.setattr("textual.pilot.wait_for_idle", briefly)
    monkeypatch.setattr("textual.app.wait_for_idle", briefly)


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
