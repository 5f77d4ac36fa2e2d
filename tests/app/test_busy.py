"""Whatever takes longer than a fifth of a second says that it goes on."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

import pytest
from driving import drilling, make_app, phase, running, said, through, until

from centwise.tui.bench_screen import BenchScreen
from centwise.tui.edit_screen import EditScreen
from centwise.tui.help_screen import HelpScreen
from centwise.tui.level_screen import LevelScreen
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.place import BUSY

if TYPE_CHECKING:
    from collections.abc import Callable

    from fakes import FakeWorld


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> Callable[[Any, str], threading.Event]:
    """Return what makes a method wait until its event is set."""
    events: list[threading.Event] = []

    def hold(owner: Any, name: str) -> threading.Event:
        event, method = threading.Event(), getattr(owner, name)
        events.append(event)

        def waits(*words: Any, **named: Any) -> Any:
            assert event.wait(60.0)
            return method(*words, **named)

        monkeypatch.setattr(owner, name, waits)
        return event

    return hold


@pytest.mark.usefixtures("slow_feedback")
async def test_an_answer_that_takes_long_to_keep(
    known_world: FakeWorld, held: Callable[[Any, str], threading.Event]
) -> None:
    async with drilling(known_world) as (app, pilot):
        go = held(known_world.store, "add_trial")
        await pilot.press("f")
        await until(pilot, lambda: said(app, "#asked") == BUSY)
        assert phase(app) == "keeping"
        go.set()
        await until(pilot, lambda: phase(app) == "told" and said(app, "#asked").startswith("The next pair"))
        # A sound that takes long gives back what stood there.
        go = held(known_world.player, "play")
        await pilot.press("a")
        await until(pilot, lambda: said(app, "#asked") == BUSY)
        go.set()
        await until(pilot, lambda: said(app, "#asked").startswith("Enter: go on"))


async def test_a_device_that_takes_long_to_open_at_the_level_page(
    world: FakeWorld, held: Callable[[Any, str], threading.Event]
) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        await through(pilot, "enter")
        await until(pilot, lambda: isinstance(app.screen, LevelScreen) and "dB" in said(app, "#level"))
        go = held(world.player, "play")
        await pilot.press("t")
        await until(pilot, lambda: said(app, "#said") == BUSY)
        go.set()
        await until(pilot, lambda: said(app, "#said") == "A quiet tone sounds.")


async def test_an_act_at_the_bench_that_takes_long(
    known_world: FakeWorld, held: Callable[[Any, str], threading.Event]
) -> None:
    app = make_app(known_world)
    async with running(app, (80, 24)) as pilot:
        app.desk.choose_listener(None)
        app.push_screen(BenchScreen())
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        before = said(app, "#bench-said")
        go = held(known_world.store, "add_bench_act")
        await pilot.press("m")
        await until(pilot, lambda: said(app, "#bench-said") == BUSY)
        go.set()
        await until(pilot, lambda: said(app, "#bench-said") not in {BUSY, before})


async def test_help_that_is_read_while_a_listener_is_removed_stays(
    known_world: FakeWorld, held: Callable[[Any, str], threading.Event]
) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        await pilot.press("f4")
        await until(pilot, lambda: isinstance(app.screen, EditScreen) and app.screen.query("#name"))
        go = held(known_world.store, "remove_listener")
        await pilot.press("f8", "y", "f1")
        await until(pilot, lambda: isinstance(app.screen, HelpScreen))
        go.set()
        await until(pilot, lambda: len(known_world.store.listeners()) == 2)
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, ListenerScreen))
