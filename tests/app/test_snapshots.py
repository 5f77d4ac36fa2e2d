"""Ten screens held against a drawing. Whatever moves or is drawn from the ear's arithmetic is set by hand first."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from driving import drill_screen, make_app, phase, screen_text, through, until
from test_result import RESULT
from textual.widgets import Input, ProgressBar

from centwise.conductor import Taken
from centwise.drill import machine
from centwise.drill.words import Feedback
from centwise.errors import DeviceError
from centwise.model import JUDGEMENTS, Listener, Trial
from centwise.strings.geometry import travel_for
from centwise.tui.level_screen import LevelScreen
from centwise.tui.result_screen import ResultScreen
from centwise.tui.trouble_screen import TroubleScreen
from fakes import START, FakeWorld, block_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.pilot import Pilot

    from centwise.model import Judgement

SMALL, USUAL, LARGE = (60, 20), (80, 24), (120, 40)
pytestmark = pytest.mark.usefixtures("slow_feedback")


@pytest.fixture
def known_world(world: FakeWorld) -> FakeWorld:
    for number, name in enumerate(("Ada", "Béla", "Chiara")):
        world.store.add_listener(Listener(f"known-{number}", name))
    return world


async def still(pilot: Pilot[int]) -> None:
    """Keep the cursor from blinking, and show it wherever in its cycle it was."""
    await pilot.pause()
    for line in pilot.app.screen.query(Input):
        line.cursor_blink = False
        line._pause_blink(visible=True)
    await pilot.pause()


async def first_pair(pilot: Pilot[int]) -> None:
    """Go to the first pair."""
    await through(pilot, "enter", "enter")
    await until(pilot, lambda: phase(pilot.app) == "asking")  # type: ignore[arg-type]


def told(offset_cents: float, answer: Judgement) -> Callable[[Pilot[int]], object]:
    """Return what tells a pair of our own choice."""

    async def tell(pilot: Pilot[int]) -> None:
        await first_pair(pilot)
        screen = drill_screen(pilot.app)  # type: ignore[arg-type]
        trial = Trial(12, offset_cents, "harmonic", answer, START)
        feedback = Feedback(trial, travel_for(offset_cents, 666.75))
        screen.query_one(ProgressBar).update(progress=12)
        screen.query_one("#where").update("String 4 · pair 12 of 40")  # type: ignore[attr-defined]
        screen.board.tell(feedback)
        screen._wait_to_go_on(Taken(feedback, None))
        await pilot.pause()

    return tell


def test_first_start(snap_compare: Callable[..., bool], world: FakeWorld) -> None:
    assert snap_compare(make_app(world), terminal_size=SMALL, run_before=still)


def test_known_listeners(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    known_world.store.set_setting("theme", "light")
    assert snap_compare(make_app(known_world), terminal_size=USUAL, run_before=still)


def test_level(snap_compare: Callable[..., bool], world: FakeWorld) -> None:
    async def level(pilot: Pilot[int]) -> None:
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(pilot.app.screen, LevelScreen))
        await pilot.press("t")
        await until(pilot, lambda: world.player.sounds)

    assert snap_compare(make_app(world), terminal_size=SMALL, run_before=level)


def test_block(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    known_world.store.set_setting("theme", "light")
    assert snap_compare(make_app(known_world), terminal_size=SMALL, press=["enter"])


def test_asking(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    assert snap_compare(make_app(known_world), terminal_size=SMALL, run_before=first_pair)


def test_told_wrong(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    known_world.store.set_setting("theme", "light")
    assert snap_compare(make_app(known_world), terminal_size=USUAL, run_before=told(11.3, "flat"))


def test_told_right(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    assert snap_compare(make_app(known_world), terminal_size=LARGE, run_before=told(-7.5, "flat"))


def test_word_line(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    async def words(pilot: Pilot[int]) -> None:
        await told(0.0, "unison")(pilot)  # type: ignore[misc]
        await pilot.press("w")
        await still(pilot)

    assert snap_compare(make_app(known_world), terminal_size=SMALL, run_before=words)


@pytest.mark.parametrize(("size", "theme"), [(SMALL, "light"), (LARGE, "dark")], ids=["small", "large"])
def test_result(snap_compare: Callable[..., bool], world: FakeWorld, size: tuple[int, int], theme: str) -> None:
    world.store.set_setting("theme", theme)

    async def result(pilot: Pilot[int]) -> None:
        trials = tuple(Trial(n, 9.0, "harmonic", JUDGEMENTS[n % 3], START) for n in range(1, 41))

        state = replace(machine.begin(block_plan()), trials=trials)
        pilot.app.push_screen(ResultScreen(RESULT, state))
        await pilot.pause()

    assert snap_compare(make_app(world), terminal_size=size, run_before=result)


def test_help(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    async def help_page(pilot: Pilot[int]) -> None:
        await first_pair(pilot)
        await pilot.press("f1")
        await until(pilot, lambda: "Change between the light" in screen_text(pilot.app))

    assert snap_compare(make_app(known_world), terminal_size=USUAL, run_before=help_page)


def test_trouble(snap_compare: Callable[..., bool], known_world: FakeWorld) -> None:
    async def trouble(pilot: Pilot[int]) -> None:
        await first_pair(pilot)
        page = TroubleScreen(DeviceError("there is no sound device", "plug one in"), may_go_silent=True)
        pilot.app.push_screen(page)
        await pilot.pause()

    assert snap_compare(make_app(known_world), terminal_size=SMALL, run_before=trouble)
