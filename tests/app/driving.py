"""Driving the app under Pilot with the fakes of the ports: no device, no disk, no waiting."""

from __future__ import annotations

import asyncio
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

from textual.pilot import wait_for_idle

from centwise.planning import BlockRequest
from centwise.settings.load import Settings
from centwise.tui.app import CentwiseApp
from centwise.tui.desk import Desk
from centwise.tui.drill_screen import DrillScreen
from fakes import FakeWorld, RecordingPlayer

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Awaitable, Callable
    from concurrent.futures import Future

    from textual.pilot import Pilot

    from centwise.drill.machine import Drill

PATIENCE_S = 60.0
"""A condition that holds late is waited for; only one that never does costs this."""
LOOK_S = 0.005
TURNS_S = 2.0
"""So long work that a key began is waited for; some tests hold it up on purpose."""
TURNS = 3
"""A key may begin some pieces of work, one after the other."""
STILL_LOOKS = 40
"""So many looks, 0.2 s at least, are longer than the drawing takes for two frames."""


class SilentDouble(RecordingPlayer):
    """What is taken when somebody goes on without sound."""

    name = "silent"


def make_app(
    world: FakeWorld,
    *,
    listener: str | None = None,
    resume: bool = False,
    color_system: str | None = None,
    **request: Any,
) -> CentwiseApp:
    """Return the app on fakes, its block as asked for; without pairs to warm up unless some are asked for."""
    request.setdefault("warm_up", 0)
    desk = Desk(world.services, Settings(Path("unused")), BlockRequest(**request), silent_player=SilentDouble)
    return CentwiseApp(desk, listener_name=listener, resume=resume, color_system=color_system)


@asynccontextmanager
async def running(app: CentwiseApp, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Pilot[int]]:
    """Run the app, and close its desk as the program does."""
    try:
        async with app.run_test(size=size) as pilot, all_done(app, pilot):
            await until(pilot, lambda: app.failure is not None or screen_text(app).strip())
            yield pilot
    finally:
        app.desk.close()


@asynccontextmanager
async def all_done(app: CentwiseApp, pilot: Pilot[int]) -> AsyncIterator[None]:
    """Let every key and click be followed by the end of what it began, before the next one and before the test looks.

    Pilot takes a process for idle that used no processor for 20 ms: on a busy machine also one that was not let.
    """
    held_up: Future[None] | None = None

    async def done(least_s: float = 0.0, most_s: float = 1.0) -> None:
        nonlocal held_up
        await wait_for_idle(least_s, most_s)
        for _ in range(TURNS):
            if not app.is_running or (held_up is not None and not held_up.done()):
                return
            try:
                held_up = app.desk._turns._pool.submit(lambda: None)
            except RuntimeError:  # it takes no more work: the app is being left
                return
            # What stands in the queue before it is done when it is.
            await asyncio.wait((asyncio.wrap_future(held_up),), timeout=TURNS_S)
            await pilot._wait_for_screen()

    stand_in: Callable[..., Awaitable[None]] = done
    with patch("textual.pilot.wait_for_idle", stand_in), patch("textual.app.wait_for_idle", stand_in):
        yield


@asynccontextmanager
async def drilling(
    world: FakeWorld, size: tuple[int, int] = (80, 24), **request: Any
) -> AsyncIterator[tuple[CentwiseApp, Pilot[int]]]:
    """Run the app up to the first pair, as a listener who is known."""
    app = make_app(world, **request)
    async with running(app, size) as pilot:
        while not isinstance(app.screen, DrillScreen):
            await through(pilot, "enter")
        await until(pilot, lambda: phase(app) == "asking")
        yield app, pilot


async def through(pilot: Pilot[int], *keys: str) -> None:
    """Press keys that each lead to another place, the next once that place stands: a hand does no better."""
    for key in keys:
        before = pilot.app.screen
        await pilot.press(key)
        await until(pilot, lambda before=before: pilot.app.screen is not before and pilot.app.screen.query("*"))


async def until(pilot: Pilot[int], condition: Callable[[], object]) -> None:
    """Let the app run until something holds."""
    for _ in range(round(PATIENCE_S / LOOK_S)):
        if condition():
            await pilot.pause()
            return
        await asyncio.sleep(LOOK_S)
    raise AssertionError(f"after {PATIENCE_S:g} s it still does not hold; the screen says:\n{screen_text(pilot.app)}")


def screen_text(app: Any) -> str:
    """Return what stands on the screen, line by line."""
    return "\n".join("".join(segment.text for segment in strip) for strip in app.screen._compositor.render_strips())


async def still_text(pilot: Pilot[int]) -> str:
    """Return what stands on the screen once it has stopped changing."""
    seen: list[str] = []

    def unchanged() -> bool:
        seen.append(screen_text(pilot.app))
        return len(seen) > STILL_LOOKS and len(set(seen[-STILL_LOOKS:])) == 1

    await until(pilot, unchanged)
    return seen[-1]


def said(app: CentwiseApp, selector: str) -> str:
    """Return the text of one widget; nothing while its page is not there yet."""
    found = app.screen.query(selector)
    return str(found.first().render()) if found else ""


def drill_screen(app: CentwiseApp) -> DrillScreen:
    """Return the drill's screen, wherever it lies."""
    return next(screen for screen in app.screen_stack if isinstance(screen, DrillScreen))


def phase(app: CentwiseApp) -> str | None:
    """Return the drill's phase while its screen is there."""
    return next((screen._phase for screen in app.screen_stack if isinstance(screen, DrillScreen)), None)


def drill(app: CentwiseApp) -> Drill:
    """Return the state of the block."""
    assert app.desk.sitting is not None
    return app.desk.sitting.drill


def truth(app: CentwiseApp) -> str:
    """Return the right word for the pair being judged."""
    pair = drill(app).pair
    assert pair is not None
    return "flat" if pair.offset_cents < 0 else "sharp" if pair.offset_cents > 0 else "unison"


KEYS = {"flat": "f", "unison": "u", "sharp": "s"}


async def answer_all(app: CentwiseApp, pilot: Pilot[int], count: int, choose: Callable[[CentwiseApp], str]) -> None:
    """Judge so many pairs by key, going on at once."""
    for _ in range(count):
        await until(pilot, lambda: phase(app) == "asking")
        await pilot.press(KEYS[choose(app)])
        await until(pilot, lambda: phase(app) != "keeping")
        if phase(app) == "told":
            await pilot.press("enter")
