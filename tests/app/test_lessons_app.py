"""Lessons in the app: found, taken, followed, left."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from driving import answer_all, make_app, running, said, screen_text, truth, until

from centwise.lessons.finding import SHIPPED
from centwise.tui.block_screen import BlockScreen
from centwise.tui.lesson_screen import LessonScreen
from centwise.tui.result_screen import ResultScreen

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

HOSTILE = "[bold]Very[/bold] <b>long</b> \\u202e\\u001b[2J title"


def app_with_lessons(world: FakeWorld, folder: Path) -> CentwiseApp:
    app = make_app(world, listener="Ada")
    app.desk.settings = replace(app.desk.settings, lessons_dir=folder)
    return app


def words(app: CentwiseApp) -> str:
    return " ".join(screen_text(app).split())


async def test_a_lesson_is_found_taken_and_followed(
    known_world: FakeWorld, tmp_path: Path, slow_feedback: None
) -> None:
    (tmp_path / "short.toml").write_text('title = "Short"\nabout = "Two a string."\ntrials = 2\nstrings = [2, 3]\n')
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        assert "40 pairs on string 4" in said(app, "#summary")
        await pilot.press("l")
        assert isinstance(app.screen, LessonScreen)
        assert "Two a string. You are at step 1 of 1." in said(app, "#about-lesson")
        await pilot.press("enter")
        assert isinstance(app.screen, BlockScreen)
        assert "2 pairs on string 2" in said(app, "#summary")
        assert said(app, "#about-string") == "Lesson Short, step 1 of 1: block 1 of 1 on string 2."
        await pilot.press("enter")
        await answer_all(app, pilot, 2, truth)
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert "2 pairs on string 3" in said(app, "#summary")
    (block,) = known_world.store.blocks("known-0")
    assert (block.plan.condition.string, block.plan.trials) == (2, 2)


async def test_what_is_chosen_by_hand_leaves_the_lesson(known_world: FakeWorld, tmp_path: Path) -> None:
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await pilot.press("l", "enter")
        assert app.desk.lesson is not None
        assert "20 pairs on string 4" in said(app, "#summary")
        await pilot.press("1")
        assert app.desk.lesson is None
        assert "40 pairs on string 1" in said(app, "#summary")
        assert "Left the lesson First week: l takes it up again" in said(app, "#said")
        await pilot.press("l", "escape")
        assert app.desk.lesson is None


async def test_a_lesson_is_taken_up_again_next_time_by_whoever_took_it(known_world: FakeWorld, tmp_path: Path) -> None:
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await pilot.press("l", "enter")
        await until(pilot, lambda: "Lesson First week" in words(app))
    assert await lesson_next_time(known_world, "Adam") is None
    assert await lesson_next_time(known_world, "Ada") == "First week"
    # What the command line says of the block goes before it.
    assert await lesson_next_time(known_world, "Ada", string=2) is None
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await pilot.press("l", "down", "down", "down", "enter")
        await until(pilot, lambda: app.desk.lesson is None)
    assert await lesson_next_time(known_world, "Ada") is None


async def lesson_next_time(world: FakeWorld, listener: str, **request: int) -> str | None:
    app = make_app(world, listener=listener, **request)
    async with running(app) as pilot:
        await until(pilot, lambda: "your next block" in words(app))
        lesson = app.desk.lesson
        assert (lesson is not None) == ("Lesson First week" in words(app))
    return None if lesson is None else lesson.title


async def test_no_lesson_is_on_the_list_too(known_world: FakeWorld, tmp_path: Path) -> None:
    app = app_with_lessons(known_world, tmp_path)
    async with running(app) as pilot:
        await pilot.press("l", "down", "enter")
        assert app.desk.lesson is not None
        assert app.desk.lesson.name == SHIPPED[1]
        await pilot.press("l")
        assert "● Toward 2 cents" in screen_text(app)
        await pilot.press("down", "down", "down", "down", "enter")
        assert app.desk.lesson is None


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_hostile_words_and_a_wrong_file_do_no_harm(
    known_world: FakeWorld, tmp_path: Path, size: tuple[int, int]
) -> None:
    (tmp_path / "a.toml").write_text(f'title = "{HOSTILE}"\nabout = "{HOSTILE}"\n')
    (tmp_path / "b.toml").write_text('title = "B"\ntrials = "x"\n')
    app = app_with_lessons(known_world, tmp_path)
    async with running(app, size) as pilot:
        await pilot.press("l")
        text = words(app)
        assert "[bold]Very[/bold] <b>long</b> [2J title" in text
        assert "'trials' is 'x'" in said(app, "#said")
        for title in ("First week", "Toward 2 cents", "Technician's baseline", "no lesson"):
            assert title in text
        await pilot.press("enter")
        await until(pilot, lambda: "[bold]Very[/bold] <b>long</b> [2J title, step 1 of 1" in words(app))
        assert "begin" in words(app)
