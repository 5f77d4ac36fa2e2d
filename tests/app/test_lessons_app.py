"""Lessons in the app: found, taken, followed, left."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from driving import answer_all, make_app, running, screen_text, truth, until

from centwise.lessons.finding import SHIPPED
from centwise.tui.lesson_screen import LessonScreen
from centwise.tui.result_screen import ResultScreen

if TYPE_CHECKING:
    from pathlib import Path

    from textual.pilot import Pilot

    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

HOSTILE = "[bold]Very[/bold] <b>long</b> \\u202e\\u001b[2J title"


def app_with_lessons(world: FakeWorld, folder: Path) -> CentwiseApp:
    app = make_app(world, listener="Ada")
    app.desk.settings = replace(app.desk.settings, lessons_dir=folder)
    return app


def words(app: CentwiseApp) -> str:
    return " ".join(screen_text(app).split())


async def shows(app: CentwiseApp, pilot: Pilot[int], text: str) -> None:
    """Wait until a text stands on the screen, however busy the machine is."""
    await until(pilot, lambda: text in words(app))


async def lessons_shown(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Go from the first screen to the lessons."""
    await shows(app, pilot, "your next block")
    await pilot.press("l")
    await until(pilot, lambda: isinstance(app.screen, LessonScreen))
    await shows(app, pilot, "Which lesson?")


async def test_a_lesson_is_found_taken_and_followed(
    known_world: FakeWorld, tmp_path: Path, slow_feedback: None
) -> None:
    (tmp_path / "short.toml").write_text('title = "Short"\nabout = "Two a string."\ntrials = 2\nstrings = [2, 3]\n')
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await shows(app, pilot, "40 pairs on string 4")
        await lessons_shown(app, pilot)
        await shows(app, pilot, "Two a string. You are at step 1 of 1.")
        await pilot.press("enter")
        await shows(app, pilot, "2 pairs on string 2")
        await shows(app, pilot, "Lesson Short, step 1 of 1: block 1 of 1 on string 2.")
        await pilot.press("enter")
        await answer_all(app, pilot, 2, truth)
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        await pilot.press("enter")
        await shows(app, pilot, "2 pairs on string 3")
    (block,) = known_world.store.blocks("known-0")
    assert (block.plan.condition.string, block.plan.trials) == (2, 2)


async def test_what_is_chosen_by_hand_leaves_the_lesson(known_world: FakeWorld, tmp_path: Path) -> None:
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await lessons_shown(app, pilot)
        await pilot.press("enter")
        await shows(app, pilot, "20 pairs on string 4")
        # Who looks at the instruments and takes none has chosen nothing.
        await pilot.press("i")
        await shows(app, pilot, "Which instrument?")
        await pilot.press("escape")
        await shows(app, pilot, "your next block")
        assert app.desk.lesson is not None
        await pilot.press("1")
        await shows(app, pilot, "40 pairs on string 1")
        assert app.desk.lesson is None
        await shows(app, pilot, "Left the lesson First week: l takes it up again")
        await lessons_shown(app, pilot)
        await pilot.press("escape")
        await shows(app, pilot, "40 pairs on string 1")
        assert app.desk.lesson is None


async def test_a_lesson_is_taken_up_again_next_time_by_whoever_took_it(known_world: FakeWorld, tmp_path: Path) -> None:
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await lessons_shown(app, pilot)
        await pilot.press("enter")
        await shows(app, pilot, "Lesson First week")
    assert await lesson_next_time(known_world, "Adam") is None
    assert await lesson_next_time(known_world, "Ada") == "First week"
    # What the command line says of the block goes before it.
    assert await lesson_next_time(known_world, "Ada", string=2) is None
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await lessons_shown(app, pilot)
        await pilot.press("down", "down", "down", "enter")
        await until(pilot, lambda: app.desk.lesson is None)
    assert await lesson_next_time(known_world, "Ada") is None


async def lesson_next_time(world: FakeWorld, listener: str, **request: int) -> str | None:
    app = make_app(world, listener=listener, **request)
    async with running(app) as pilot:
        await shows(app, pilot, "your next block")
        lesson = app.desk.lesson
        assert (lesson is not None) == ("Lesson First week" in words(app))
    return None if lesson is None else lesson.title


async def test_no_lesson_is_on_the_list_too(known_world: FakeWorld, tmp_path: Path) -> None:
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await lessons_shown(app, pilot)
        await pilot.press("down", "enter")
        await shows(app, pilot, "Lesson Toward 2 cents")
        assert app.desk.lesson is not None
        assert app.desk.lesson.name == SHIPPED[1]
        await lessons_shown(app, pilot)
        await shows(app, pilot, "● Toward 2 cents")
        await pilot.press("down", "down", "down", "down", "enter")
        await until(pilot, lambda: app.desk.lesson is None)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_hostile_words_and_a_wrong_file_do_no_harm(
    known_world: FakeWorld, tmp_path: Path, size: tuple[int, int]
) -> None:
    (tmp_path / "a.toml").write_text(f'title = "{HOSTILE}"\nabout = "{HOSTILE}"\n')
    (tmp_path / "b.toml").write_text('title = "B"\ntrials = "x"\n')
    app = app_with_lessons(known_world, tmp_path)
    async with running(app, size) as pilot:
        await lessons_shown(app, pilot)
        for text in ("[bold]Very[/bold] <b>long</b> [2J title", "'trials' is 'x'", "First week", "Toward 2 cents"):
            await shows(app, pilot, text)
        for text in ("Technician's baseline", "no lesson"):
            await shows(app, pilot, text)
        await pilot.press("enter")
        await shows(app, pilot, "[bold]Very[/bold] <b>long</b> [2J title, step 1 of 1")
        await shows(app, pilot, "begin")
