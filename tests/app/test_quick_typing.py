"""Keys that come faster than the app draws: none is taken for what it was not meant for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from driving import drill, drilling, make_app, phase, running, said, until
from textual.events import Key
from textual.widgets import Input

from centwise.tui.bench_screen import BenchScreen
from centwise.tui.block_screen import BlockScreen
from centwise.tui.class_screen import ClassScreen
from centwise.tui.edit_screen import EditScreen
from centwise.tui.level_screen import LevelScreen
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.merge_screen import MergeScreen

if TYPE_CHECKING:
    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

NAMES = {" ": "space", "/": "slash", "+": "plus", "-": "minus", ".": "full_stop"}


def type_at_once(app: CentwiseApp, text: str) -> None:
    """Send keys as a quick hand, or a paste, does: the next before anything was done for the one before."""
    for character in text:
        if character == "\n":
            app.post_message(Key("enter", "\r"))
        else:
            app.post_message(Key(NAMES.get(character, character), character))


@pytest.mark.usefixtures("slow_feedback")
@pytest.mark.parametrize("opens", ["w", "/"])
async def test_letters_after_the_word_key_answer_nothing(known_world: FakeWorld, opens: str) -> None:
    async with drilling(known_world) as (app, pilot):
        type_at_once(app, f"{opens}fwu/s")
        await until(pilot, lambda: app.screen.query_one("#word", Input).value == "fwu/s")
        assert not drill(app).trials
        assert phase(app) == "asking"
        await pilot.press("escape", "w")
        await until(pilot, lambda: app.screen.query_one("#word", Input).value == "" and app.screen.focused is not None)
        type_at_once(app, "sharp\n")
        await until(pilot, lambda: phase(app) == "told")
        assert [trial.answer for trial in drill(app).trials] == ["sharp"]


def said_in(app: CentwiseApp, selector: str) -> str | None:
    found = app.screen.query(selector)
    return found.first(Input).value if found else None


async def test_words_typed_at_once_at_the_bench_are_one_act(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        app.desk.choose_listener(None)
        app.push_screen(BenchScreen())
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        bench = app.screen
        assert isinstance(bench, BenchScreen)
        type_at_once(app, "wbass forward 0.5mm\n")
        await until(pilot, lambda: bench.bench is not None and bench.bench.acts == 1)
        assert "The bass foot goes forward" in said(app, "#bench-said")


async def test_letters_after_edit_are_typed_there_for_whom_the_letters_before_found(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        type_at_once(app, "be")
        app.post_message(Key("f4", None))
        type_at_once(app, "x")
        await until(pilot, lambda: isinstance(app.screen, EditScreen) and said_in(app, "#name") == "Bélax")
        app.post_message(Key("f7", None))
        type_at_once(app, "ad")
        await until(pilot, lambda: isinstance(app.screen, MergeScreen) and said_in(app, "#name") == "ad")


@pytest.mark.parametrize("answer", ["n", "y"])
async def test_an_answer_right_after_remove_is_no_letter_of_the_name(known_world: FakeWorld, answer: str) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        await pilot.press("f4")
        await until(pilot, lambda: isinstance(app.screen, EditScreen) and said_in(app, "#name") == "Ada")
        app.post_message(Key("f8", None))
        type_at_once(app, answer)
        back = EditScreen if answer == "n" else ListenerScreen
        await until(pilot, lambda: isinstance(app.screen, back))
        assert said_in(app, "#name") == ("Ada" if answer == "n" else "")
        assert len(known_world.store.listeners()) == (3 if answer == "n" else 2)


async def test_find_right_after_the_class_waits_for_its_page(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        app.post_message(Key("f3", None))
        type_at_once(app, "/b")
        await until(pilot, lambda: isinstance(app.screen, ClassScreen) and said_in(app, "#find") == "b")


async def test_louder_after_volume_is_louder_and_not_more_pairs(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        app.desk.choose_listener(None)
        app.push_screen(BlockScreen())
        await until(pilot, lambda: isinstance(app.screen, BlockScreen) and "40 pairs" in said(app, "#summary, .lead"))
        trials = app.desk.request.trials
        type_at_once(app, "v--")
        await until(pilot, lambda: isinstance(app.screen, LevelScreen) and "-16 dB" in said(app, "#level"))
        assert app.desk.request.trials == trials
