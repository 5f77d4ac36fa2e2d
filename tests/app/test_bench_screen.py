"""The bench in the app: every act by key, mouse and word; what is shown at every size; nothing tells the place."""

from __future__ import annotations

from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from driving import SilentDouble, running, said, screen_text, still_text, until
from test_colours import unreadable
from textual.widgets import Button, Footer

from centwise.bench.cautions import cautions_for
from centwise.bench.guide import advice
from centwise.bench_planning import BenchRequest
from centwise.model import Listener
from centwise.planning import BlockRequest
from centwise.settings.load import Settings
from centwise.strings.library import BUILT_IN
from centwise.tui.app import CentwiseApp
from centwise.tui.bench_board import ACTIONS, BenchBoard, BenchPicture
from centwise.tui.bench_choice_screen import BenchChoiceScreen
from centwise.tui.bench_screen import BenchScreen
from centwise.tui.desk import Desk
from centwise.tui.page_screen import PageScreen
from fakes import FakeWorld, ManualClock, RecordingPlayer

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from textual.pilot import Pilot

    from centwise.bench.machine import Bench

SIZES = [(60, 20), (80, 24), (120, 40)]
ADA = Listener("known-0", "Ada")


@pytest.fixture
def world(world: FakeWorld) -> FakeWorld:
    world.store.add_listener(ADA)
    return world


def bench_app(world: FakeWorld, **request: Any) -> CentwiseApp:
    request.setdefault("guided", False)
    desk = Desk(
        world.services,
        Settings(Path("unused")),
        BlockRequest(),
        bench=BenchRequest(**request),
        silent_player=SilentDouble,
    )
    return CentwiseApp(desk)


@asynccontextmanager
async def at_the_bench(
    world: FakeWorld, size: tuple[int, int] = (80, 24), **request: Any
) -> AsyncIterator[tuple[CentwiseApp, Pilot[int]]]:
    """Run the app up to the bench."""
    app = bench_app(world, **request)
    async with running(app, size) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BenchChoiceScreen) and "at the bench" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        await until(pilot, lambda: "foot" in said(app, "#bench-status"))
        yield app, pilot


def bench(app: CentwiseApp) -> Bench:
    screen = next(screen for screen in app.screen_stack if isinstance(screen, BenchScreen))
    assert screen.bench is not None
    return screen.bench


async def acts(app: CentwiseApp, pilot: Pilot[int], *keys: str) -> None:
    """Press keys that each do an act, and wait for it."""
    for key in keys:
        before = bench(app).acts
        await pilot.press(key)
        await until(pilot, lambda before=before: bench(app).acts == before + 1)


def told_on_page(app: CentwiseApp) -> str:
    """Return the words on the screen without the frame round a page."""
    return " ".join(screen_text(app).replace("│", " ").split())


def words(world: FakeWorld) -> list[str]:
    return [act.words for act in world.store.benches(ADA.id)[-1].acts]


async def test_every_act_by_its_key(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        await acts(app, pilot, "m", "r", "c", "f", "o", "left", "right")
        await pilot.press("b", "minus", "1", "h")
        await acts(app, pilot, "left", "f")
        await pilot.press("0")
        await acts(app, pilot, "space")
        await pilot.press("plus", "plus", "down", "down")
        await acts(app, pilot, "j", "k", "e", "enter", "m")
        await pilot.press("z")
        await acts(app, pilot, "z")
        await pilot.press("p")
        await acts(app, pilot, "p")
    assert words(world) == [
        *("mute", "retune", "chime 4", "fret 4", "open 4", "bass forward 1/16in", "bass back 1/16in"),
        *("treble forward 1/32in", "fret 1 13", "chime 1"),
        *("slide bass 1/8in", "slide treble 1/8in", "margins", "fret 3", "unmute", "start over", "mark"),
    ]


@pytest.mark.parametrize("size", SIZES)
async def test_all_of_it_is_on_the_screen_at_every_size(world: FakeWorld, size: tuple[int, int]) -> None:
    async with at_the_bench(world, size, guided=True) as (app, pilot):
        board = app.screen.query_one(BenchBoard)
        for key in ("m", "r", "c", "f"):
            await acts(app, pilot, key)
        assert app.screen.max_scroll_y == 0
        assert board.region.bottom <= size[1] - 1
        text = screen_text(app)
        for part in ("treble foot", "▸ bass foot", "◂ forward", "back ▸", "▸4", "String 4 fret 12", "in tune", "muted"):
            assert part in text, part
        for button in app.screen.query(Button):
            assert str(button.label) in text, button.id
        for part in ("Pencil", "Why", "Reset", "Safety", "Word", "Leave", "Help"):
            assert part in text, part
        assert "Unsure, compare again." in " ".join(text.split())
        assert "tip the bridge." in " ".join(text.split())
        assert app.screen.query_one(Footer).region.height == 1


@pytest.mark.parametrize("size", SIZES)
async def test_six_strings_fit_too(world: FakeWorld, size: tuple[int, int]) -> None:
    async with at_the_bench(world, size, guided=True, instrument="archtop-guitar") as (app, pilot):
        await acts(app, pilot, "m", "r")
        assert app.screen.max_scroll_y == 0
        assert "▸6" in screen_text(app)
        assert "e edges" in screen_text(app)
        for keys in (("c",), ("f",), ("left",), ("r",), ("c", "f", "1"), ("c",), ("f",)):
            for key in keys:
                await (pilot.press("1") if key == "1" else acts(app, pilot, key))
            await pilot.pause()
            # Whatever is asked stands there whole, and with it its reason or how to hear it.
            asked, text = advice(bench(app)), " ".join(screen_text(app).split())
            assert asked.said in text or f"{asked.ask} y: why." in text
            assert asked.said in text or size == (60, 20)


async def test_every_act_by_mouse(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        for name in ACTIONS:
            if name in {"lower", "higher", "foot", "less", "more"}:
                await pilot.click(f"#{name}")
                if name == "higher":
                    await until(pilot, lambda: "fret 12" in said(app, "#bench-status"))
                continue
            before = bench(app).acts
            await pilot.click(f"#{name}")
            await until(pilot, lambda before=before: bench(app).acts == before + 1)
        await pilot.click(BenchPicture, offset=(30, 1))
        await until(pilot, lambda: "String 1" in said(app, "#bench-status"))
        await pilot.click(BenchPicture, offset=(30, 0))
        await until(pilot, lambda: "treble foot" in said(app, "#bench-status"))
        await pilot.click(BenchPicture, offset=(30, 6))
        await until(pilot, lambda: "bass foot" in said(app, "#bench-status"))
        assert app.focused is None
        # Neither keys nor buttons are needed for the footer's acts and to close their pages.
        await pilot.press("n")
        await until(pilot, lambda: "At a real instrument" in screen_text(app))
        await pilot.click("#cover")
        assert isinstance(app.screen, PageScreen)
        await pilot.click(offset=(1, 1))
        await until(pilot, lambda: isinstance(app.screen, BenchScreen))
    assert len(words(world)) == len(ACTIONS) - 5


async def test_acts_in_words_are_those_of_the_lines(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        for line in ("bass forward 0.3mm", "chime 5 12"):
            await pilot.press("w")
            await pilot.press(*[{" ": "space", ".": "full_stop"}.get(letter, letter) for letter in line], "enter")
            await until(pilot, lambda line=line: words(world)[-1:] == [line])
            await pilot.press("escape")
        await pilot.press("w")
        await until(pilot, lambda: "esc Close line" in screen_text(app) and "/ Word" not in screen_text(app))
        await pilot.press(*"undo", "enter")
        await until(pilot, lambda: said(app, "#bench-said") == "'undo' is no word of the bench: help lists all.")
        await pilot.press(*"help", "enter")
        await until(pilot, lambda: "Mute and unmute are for the other strings" in told_on_page(app))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen))
        await pilot.press("escape", "y")
        await until(pilot, lambda: "an octave and 1.955 cents" in told_on_page(app))
    assert words(world) == ["bass forward 0.3mm", "chime 5 12"]


async def test_what_is_shown_never_tells_the_place(world: FakeWorld) -> None:
    told = []
    for seed in (1, 2, 3):
        here = FakeWorld()
        here.player.rate_hz = 22_050
        here.store.add_listener(ADA)
        async with at_the_bench(here, seed=seed, difficulty="easy", guided=True) as (app, pilot):
            await acts(app, pilot, "m", "r", "c", "f", "e", "r")
            await pilot.press("1")
            await acts(app, pilot, "c", "f", "o")
            told.append(await still_text(pilot))
    assert told[0] == told[1] == told[2]
    assert "░" not in told[0]


async def test_the_mark_shows_the_reckoning_and_the_right_place(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        await acts(app, pilot, "right")
        await pilot.press("p")
        assert "once more" in said(app, "#bench-said")
        await acts(app, pilot, "p")
        await until(pilot, lambda: "The reckoning" in screen_text(app))
        assert "The bridge is not set yet" in screen_text(app)
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen))
        assert "░ right place" in screen_text(app)
        before = len(words(world))
        await pilot.press("c")
        await until(pilot, lambda: "String 4, touched" in said(app, "#bench-said"))
        await pilot.press("left")
        await until(pilot, lambda: "comes too late" in said(app, "#bench-said"))
        assert len(words(world)) == before
        await pilot.press("z", "z")
        await until(pilot, lambda: not bench(app).marked)
        await until(pilot, lambda: "┆ your last line" in screen_text(app))
        assert "░" not in screen_text(app)
    first, second = world.store.benches(ADA.id)
    assert first.result is not None
    assert second.result is None


async def test_one_press_of_pencil_or_reset_does_nothing(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        await pilot.press("p", "z", "p")
        await acts(app, pilot, "m")
        await pilot.press("p")
        await pilot.pause()
    assert words(world) == ["mute"]


async def test_left_and_reopened_it_goes_on(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        await acts(app, pilot, "m", "r", "left")
        left = bench(app)
        await pilot.press("q")
        await until(pilot, lambda: "You left one after 3 acts" in screen_text(app))
        assert "go on" in screen_text(app)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        assert bench(app) == left
        assert "goes on, after 3 acts" in said(app, "#bench-said")
    async with at_the_bench(world) as (app, _):
        assert bench(app) == left


async def test_another_may_be_begun_though_one_was_left(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        await acts(app, pilot, "m")
        await pilot.press("q")
        await until(pilot, lambda: "You left one" in screen_text(app))
        await pilot.press("n")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        assert bench(app).acts == 0


async def test_the_choice_before_the_bench_and_its_cautions(world: FakeWorld) -> None:
    app = bench_app(world, guided=None)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: "at the bench" in screen_text(app))
        text = " ".join(screen_text(app).split())
        assert "Straight bridge, guided step by step. Easy" in text
        for caution in cautions_for(BUILT_IN.named("five-string")):
            assert caution in text
        assert app.screen.max_scroll_y == 0
        await pilot.press("d", "b", "g")
        await until(pilot, lambda: "Compensated bridge, unguided. Middle" in " ".join(screen_text(app).split()))
        # What is said longest of the bridge leaves room for every caution too.
        await pilot.press("d", "g")
        await until(pilot, lambda: "guided step by step. Hard" in " ".join(screen_text(app).split()))
        text = " ".join(screen_text(app).split())
        for caution in cautions_for(BUILT_IN.named("five-string")):
            assert caution in text
        await pilot.press("d", "d", "g")
        await until(pilot, lambda: "Compensated bridge, unguided. Middle" in " ".join(screen_text(app).split()))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        plan = bench(app).plan
        assert (plan.bridge, plan.difficulty, plan.guided) == ("compensated", "middle", False)


@pytest.mark.parametrize("name", ["archtop-guitar", "mandolin"])
async def test_another_instrument_has_its_own_bridge_and_pull(world: FakeWorld, name: str) -> None:
    app = bench_app(world, instrument=name)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: "at the bench" in screen_text(app))
        text = " ".join(screen_text(app).split())
        assert "Compensated bridge" in text
        for caution in cautions_for(BUILT_IN.named(name)):
            assert caution in text
        await pilot.press("b")
        await until(pilot, lambda: "Straight bridge" in screen_text(app))
        await pilot.press("b", "enter")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        assert bench(app).plan.bridge == "compensated"
        await until(pilot, lambda: "foot" in said(app, "#bench-status"))
        await pilot.press("n")
        await until(pilot, lambda: isinstance(app.screen, PageScreen))
        assert cautions_for(bench(app).setting.instrument)[0] in told_on_page(app)


async def test_the_desk_offers_the_bench(world: FakeWorld) -> None:
    desk = Desk(world.services, Settings(Path("unused")), BlockRequest(), silent_player=SilentDouble)
    app = CentwiseApp(desk)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: "b bench" in screen_text(app))
        await pilot.press("b")
        await until(pilot, lambda: "Ada, at the bench" in screen_text(app))
        await pilot.press("q")
        await until(pilot, lambda: "your next block" in screen_text(app))


async def test_a_device_that_fails_is_told_and_the_act_may_be_done_again(world: FakeWorld) -> None:
    async with at_the_bench(world) as (app, pilot):
        world.player.fails_at_play = True
        await pilot.press("c")
        await until(pilot, lambda: "no loudspeaker takes the sound" in " ".join(screen_text(app).split()).lower())
        assert "this one has not been done" in told_on_page(app)
        world.player.fails_at_play = False
        await pilot.press("r")
        await until(pilot, lambda: bench(app).acts == 1)
    assert words(world) == ["chime 4"]


async def test_without_a_device_one_may_look_around_in_silence(world: FakeWorld) -> None:
    world.no_device = True
    app = bench_app(world)
    async with running(app) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: "at the bench" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: "no sound" in screen_text(app))
        await pilot.press("n")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        await acts(app, pilot, "c")
        assert said(app, "#bench-status") == "String 4 fret 12 · bass 1/16in · untuned · no sound"
        await pilot.press("p", "p")
        await until(pilot, lambda: "There was no sound, so nothing here tells of your ear." in told_on_page(app))


async def test_a_store_that_fails_before_the_bench_is_told(world: FakeWorld) -> None:
    app = bench_app(world, guided=None)
    async with running(app) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BenchChoiceScreen) and "at the bench" in screen_text(app))
        for key, difficulty in (("d", "Middle"), ("g", "Hard")):
            world.store.broken.add("benches")
            await pilot.press(key)
            await until(pilot, lambda: "The store in memory cannot benches" in said(app, "#said"))
            world.store.broken.clear()
            await pilot.press("d")
            await until(pilot, lambda text=difficulty: text in said(app, "#summary") and not said(app, "#said"))


async def test_the_string_that_sounds_is_drawn_until_it_ends(world: FakeWorld) -> None:
    world.player.clock = clock = ManualClock()
    async with at_the_bench(world) as (app, pilot):
        await acts(app, pilot, "c")
        await until(pilot, lambda: "≈" in screen_text(app))
        clock.advance(10.0)
        await until(pilot, lambda: "≈" not in screen_text(app))


@pytest.mark.parametrize("theme", ["light", "dark"])
async def test_every_letter_of_the_bench_can_be_read(world: FakeWorld, theme: str) -> None:
    world.store.set_setting("theme", theme)
    async with at_the_bench(world, guided=True) as (app, pilot):
        await acts(app, pilot, "m", "left")
        await still_text(pilot)
        assert unreadable(app) == set()
        await pilot.press("n")
        await until(pilot, lambda: "At a real instrument" in screen_text(app))
        assert unreadable(app) == set()
        await pilot.press("escape", "q")
        await until(pilot, lambda: "at the bench" in screen_text(app))
        assert unreadable(app) == set()


async def test_a_hole_in_a_sound_is_told(world: FakeWorld) -> None:
    clock = ManualClock()
    world.player = RecordingPlayer(world.calls, clock)
    world.player.rate_hz = 22_050
    async with at_the_bench(world, (60, 20)) as (app, pilot):
        await acts(app, pilot, "c")
        world.player.playbacks[-1].holes = 0.12
        told = "The tone had a hole of 0.12 s in it, because this computer was busy: close other programs, then do the"
        await until(pilot, lambda: told in " ".join(screen_text(app).split()))
