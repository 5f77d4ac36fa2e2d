"""What holds at every place: help, acts, colours kept, and a terminal that is too small."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from driving import drilling, make_app, phase, running, said, screen_text, still_text, until
from test_result import RESULT

from centwise.drill import machine
from centwise.errors import DeviceError
from centwise.tui import acts
from centwise.tui.bench_choice_screen import BenchChoiceScreen
from centwise.tui.bench_screen import BenchScreen
from centwise.tui.block_screen import BlockScreen
from centwise.tui.class_screen import ClassScreen
from centwise.tui.edit_screen import EditScreen
from centwise.tui.help_screen import HelpScreen
from centwise.tui.instrument_screen import InstrumentScreen
from centwise.tui.lesson_screen import LessonScreen
from centwise.tui.level_screen import LevelScreen
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.merge_screen import MergeScreen
from centwise.tui.meter_screen import MeterScreen
from centwise.tui.own_screen import OwnScreen
from centwise.tui.progress_screen import ProgressScreen
from centwise.tui.question_screen import QuestionScreen
from centwise.tui.record_screen import RecordScreen
from centwise.tui.result_screen import ResultScreen
from centwise.tui.themes import DARK, LIGHT
from centwise.tui.too_small_screen import TooSmallScreen
from centwise.tui.trouble_screen import TroubleScreen
from fakes import FakeWorld, block_plan

if TYPE_CHECKING:
    from textual.pilot import Pilot
    from textual.screen import Screen

    from centwise.tui.app import CentwiseApp

PLACES = {
    name: getattr(acts, name)
    for name in (
        *("LISTENERS", "CLASS", "PROGRESS", "EDIT", "MERGE", "QUESTION"),
        *("LEVEL", "BLOCK", "INSTRUMENTS", "LESSONS", "DRILL", "TROUBLE", "TROUBLE_IN_A_BLOCK", "RESULT"),
        *("OWN", "RECORD", "METER"),
        *("BENCH_CHOICE", "BENCH"),
    )
}
EVERY_KEYBOARD = re.compile(r"[a-z0-9]|f([1-9]|10)|up|down|left|right|space|enter|escape|minus|plus|equals_sign|slash")


def test_the_registry_has_no_place_besides_these() -> None:
    tables = {name: value for name, value in vars(acts).items() if name.isupper() and isinstance(value, tuple)}
    assert tables.keys() == {*PLACES, "EVERYWHERE"}
    assert {*acts.PLACES.values(), acts.TROUBLE_IN_A_BLOCK} == {*tables.values()}


@pytest.mark.parametrize("place", PLACES)
def test_every_act_has_its_own_id_and_keys_every_keyboard_has(place: str) -> None:
    here = (*PLACES[place], *acts.EVERYWHERE)
    ids = [act.id for act in here]
    keys = [key for act in here for key in act.keys]
    assert len(set(ids)) == len(ids)
    assert len(set(keys)) == len(keys)
    for key in keys:
        assert EVERY_KEYBOARD.fullmatch(key) or key == "question_mark"
    for act in here:
        assert act.label
        assert act.help.endswith(".")
        assert act.keys_text.isprintable()


def every_place(known_world: FakeWorld) -> dict[str, Screen[Any]]:
    """Return every page but the two whose state begins with a sound."""
    return {
        "LISTENERS": ListenerScreen(()),
        "CLASS": ClassScreen(),
        "PROGRESS": ProgressScreen(known_world.store.listeners()[0]),
        "EDIT": EditScreen(known_world.store.listeners()[0]),
        "MERGE": MergeScreen(known_world.store.listeners()[0]),
        "QUESTION": QuestionScreen("Remove Ada?", "Ada goes.", yes="remove", final="for good"),
        "LEVEL": LevelScreen(),
        "BLOCK": BlockScreen(),
        "INSTRUMENTS": InstrumentScreen(),
        "LESSONS": LessonScreen(),
        "OWN": OwnScreen(),
        "RECORD": RecordScreen(),
        "METER": MeterScreen(Path("no takes")),
        "BENCH_CHOICE": BenchChoiceScreen(),
        "RESULT": ResultScreen(RESULT, machine.begin(block_plan())),
        "TROUBLE": TroubleScreen(DeviceError("no device", "plug one in"), may_go_silent=True),
        "TROUBLE_IN_A_BLOCK": TroubleScreen(DeviceError("no device", "plug one in"), in_a_block=True),
    }


async def test_each_help_page_lists_every_act_and_every_act_can_be_done(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app, (80, 40)) as pilot:
        app.desk.choose_listener(None)
        here = every_place(known_world)
        assert here.keys() | {"DRILL", "BENCH"} == PLACES.keys()
        for name, screen in here.items():
            app.push_screen(screen)
            await pilot.pause()
            await check_help(app, pilot, PLACES[name])


async def test_the_help_page_of_the_drill(known_world: FakeWorld) -> None:
    async with drilling(known_world, (80, 40)) as (app, pilot):
        await check_help(app, pilot, acts.DRILL)


async def test_the_help_page_of_the_bench(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app, (110, 60)) as pilot:
        app.desk.choose_listener(None)
        app.push_screen(BenchScreen())
        await until(pilot, lambda: "knocked out of its place" in screen_text(app))
        await check_help(app, pilot, acts.BENCH)


async def check_help(app: CentwiseApp, pilot: Pilot[int], here: tuple[acts.Act, ...]) -> None:
    place = app.screen
    for act in (*here, *acts.EVERYWHERE):
        name = act.id.split("(")[0]
        assert callable(getattr(place, f"action_{name}"))
        for key in act.keys:
            assert place._bindings.key_to_bindings[key][0].action == act.action_of(key)
    await pilot.press("f1")

    def words() -> str:
        return " ".join(re.sub(r"[│╭╮╰╯─]", " ", screen_text(app)).split())

    # The last word of the last line stands once all do.
    await until(pilot, lambda: isinstance(app.screen, HelpScreen) and acts.EVERYWHERE[-1].help.split()[-1] in words())
    shown = words()
    for act in (*here, *acts.EVERYWHERE):
        assert act.keys_text in shown
        for word in act.help.split():
            assert word in shown
    await pilot.press("escape")
    await until(pilot, lambda: app.screen is place)


async def test_a_long_help_page_can_be_scrolled_by_keys(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20)) as (app, pilot):
        await pilot.press("question_mark")
        await until(pilot, lambda: app.screen.query("#cover") and app.screen.query_one("#cover").max_scroll_y > 0)
        page = app.screen.query_one("#cover")
        await until(pilot, lambda: "Scroll with ↑ and ↓, close with esc." in screen_text(app))
        await pilot.press("end")
        await until(pilot, lambda: page.scroll_y == page.max_scroll_y)
        await until(pilot, lambda: "close with esc" in screen_text(app))
        await pilot.press("q")
        assert phase(app) == "asking"


async def test_colours_change_everywhere_and_are_kept(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        assert app.theme == DARK.name
        await pilot.press("f2")
        assert app.theme == LIGHT.name
        assert known_world.store.setting("theme") == "light"
        await pilot.press("f1", "f2")
        assert app.theme == DARK.name
        await pilot.press("f2", "escape", "enter", "f2", "f2")
        assert app.theme == LIGHT.name
    again = make_app(known_world)
    async with running(again):
        assert again.theme == LIGHT.name


async def test_colours_change_though_the_store_will_not_keep_them(known_world: FakeWorld) -> None:
    known_world.store.broken.add("set_setting")
    app = make_app(known_world)
    async with running(app) as pilot:
        await pilot.press("f2")
        assert app.theme == LIGHT.name


async def test_a_terminal_too_small_says_so_and_holds_everything(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20)) as (app, pilot):
        before = await still_text(pilot)
        for size in ((59, 20), (40, 10), (60, 19)):
            await pilot.resize_terminal(*size)
            await until(pilot, lambda: isinstance(app.screen, TooSmallScreen))
            text = " ".join(screen_text(app).split())
            assert "Please make this terminal 60 columns by 20 rows or more. Nothing is lost." in text
        await pilot.press("f", "q", "enter", "escape")
        assert phase(app) == "asking"
        await pilot.resize_terminal(60, 20)
        await until(pilot, lambda: not isinstance(app.screen, TooSmallScreen))
        assert await still_text(pilot) == before


async def test_begun_in_a_terminal_too_small(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app, (50, 15)) as pilot:
        await until(pilot, lambda: isinstance(app.screen, TooSmallScreen))
        await pilot.resize_terminal(80, 24)
        await until(pilot, lambda: isinstance(app.screen, ListenerScreen))
        assert "Who listens?" in said(app, "#ask-name")
