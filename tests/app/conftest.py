"""Fixtures of the app's tests."""

from __future__ import annotations

import asyncio

import pytest
from textual.pilot import Pilot

from centwise.model import Listener
from fakes import FakeWorld

HOPS = 4


@pytest.fixture(autouse=True)
def _wait_for_messages_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep Pilot from waiting until the process is idle, which the thread that prepares pairs makes long.

    It still waits until every widget has dealt with its messages; what else a test waits for it says with `until`.
    """

    async def briefly(min_sleep: float = 0.0, max_sleep: float = 0.0) -> None:
        await asyncio.sleep(0.02)

    monkeypatch.setattr("textual.pilot.wait_for_idle", briefly)
    monkeypatch.setattr("textual.app.wait_for_idle", briefly)


@pytest.fixture(autouse=True)
def _each_key_after_what_the_last_one_did(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a key or a click find what the one before it led to, however slow the machine is.

    A key goes to the app, from there to the line that has the focus, its message to the screen, and the screen it may
    lead to lays itself out: Pilot waits for the first of these alone.
    """
    once, press = Pilot._wait_for_screen, Pilot.press

    async def hop_by_hop(self: Pilot[int], timeout: float = 30.0) -> bool:  # noqa: ASYNC109  as in Pilot
        done = True
        for _ in range(HOPS):
            done = await once(self, timeout)
        return done

    async def one_by_one(self: Pilot[int], *keys: str) -> None:
        for key in keys:
            await press(self, key)

    monkeypatch.setattr(Pilot, "_wait_for_screen", hop_by_hop)
    monkeypatch.setattr(Pilot, "press", one_by_one)


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
