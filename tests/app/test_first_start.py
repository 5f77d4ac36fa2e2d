"""From nothing to the first pair: who listens, how loud, which block."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from driving import drill, make_app, phase, running, said, screen_text, through, until
from textual.widgets import Input, OptionList

from centwise.model import Listener
from centwise.tui.block_screen import BlockScreen
from centwise.tui.level_screen import LevelScreen
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.place import plain_text

if TYPE_CHECKING:
    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld


async def test_first_pair_is_handed_over_within_five_keys(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        await through(pilot, "enter", "enter", "enter")
        await until(pilot, lambda: world.player.sounds)
        assert drill(app).pair is not None
        assert world.store.listener_named("listener 1") is not None


async def test_the_first_start_can_be_passed_by_mouse_alone(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app, (60, 20)) as pilot:
        assert await pilot.click("#choose")
        await until(pilot, lambda: isinstance(app.screen, LevelScreen))
        assert await pilot.click("#go_on")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert await pilot.click("#start")
        await until(pilot, lambda: world.player.sounds)


@pytest.mark.parametrize("size", [(60, 20), (80, 24)])
async def test_the_listener_marked_can_be_chosen_by_mouse(world: FakeWorld, size: tuple[int, int]) -> None:
    for number in range(30):
        world.store.add_listener(Listener(f"known-{number}", f"Name {number:02}"))
    app = make_app(world)
    async with running(app, size) as pilot:
        await pilot.press("down", "down")
        assert await pilot.click("#choose")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert app.desk.listener is not None
        assert app.desk.listener.name == "Name 02"
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, ListenerScreen))
        # The keys are still the line's.
        await pilot.press("2", "9")
        assert app.screen.query_one(Input).value == "29"
        world.store.broken.add("listener_named")
        await pilot.click("#choose")
        await until(pilot, lambda: "cannot listener_named" in screen_text(app))


async def test_a_name_typed_becomes_a_listener_and_hears_of_the_level_first(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        await pilot.press("E", "v", "a", "enter")
        assert isinstance(app.screen, LevelScreen)
        assert world.store.listener_named("eva") is not None
        await pilot.press("enter")
        assert isinstance(app.screen, BlockScreen)
        assert "Eva, your next block" in said(app, "#who")


async def test_level_changes_in_steps_and_sounds_a_quiet_tone(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: "-12 dB" in said(app, "#level"))
        await pilot.press("t")
        await until(pilot, lambda: len(world.player.sounds) == 1)
        await pilot.press("minus", "minus", "plus")
        await until(pilot, lambda: len(world.player.sounds) == 4)
        await until(pilot, lambda: "-14 dB" in said(app, "#level"))
        assert world.store.setting("level_db") == "-14"
        await pilot.click("#louder")
        await until(pilot, lambda: world.store.setting("level_db") == "-12")


async def test_leaving_the_level_in_the_middle_of_a_tone_is_harmless(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        await through(pilot, "enter")
        await pilot.press("t", "plus", "t")
        await through(pilot, "q", "enter")
        await pilot.press("plus", "m")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))


async def test_without_a_device_the_level_screen_says_so(world: FakeWorld) -> None:
    world.no_device = True
    app = make_app(world)
    async with running(app) as pilot:
        await through(pilot, "enter")
        await pilot.press("t")
        await until(pilot, lambda: "There is no sound device" in said(app, "#said"))


async def test_typing_finds_a_listener(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app, (60, 20)) as pilot:
        assert app.screen.query_one(OptionList).option_count == 3
        await pilot.press("b", "é")
        assert "Béla" in screen_text(app)
        assert "Adam" not in screen_text(app)
        await pilot.press("enter")
        assert app.desk.listener is not None
        assert app.desk.listener.name == "Béla"
        assert isinstance(app.screen, BlockScreen)


def marked(app: CentwiseApp) -> str | None:
    assert isinstance(app.screen, ListenerScreen)
    listener = app.screen.marked()
    return None if listener is None else listener.name


def offered(app: CentwiseApp) -> list[str]:
    return [str(option.prompt) for option in app.screen.query_one(OptionList).options]


async def test_the_very_name_comes_before_longer_ones_and_a_new_one_is_offered(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        await pilot.press("a", "d", "a")
        assert offered(app) == ["Ada", "Adam"]
        await pilot.press("backspace", "down", "down", "down", "enter")
        assert app.desk.listener is not None
        assert app.desk.listener.name == "ad"
        assert isinstance(app.screen, LevelScreen)
        await pilot.press("q")
        assert isinstance(app.screen, ListenerScreen)
        assert "ad" in offered(app)


async def test_a_listener_can_be_clicked(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        await pilot.click(OptionList, offset=(2, 1))
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert app.desk.listener is not None
        assert app.desk.listener.name == "Adam"


async def test_one_minute_is_one(known_world: FakeWorld) -> None:
    async with running(make_app(known_world, trials=7)) as pilot:
        await through(pilot, "enter")
        assert "7 pairs on string 4, about 1 minute: a drill" in said(pilot.app, "#summary")  # type: ignore[arg-type]


async def test_block_choices_by_key_and_by_mouse(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app, (60, 20)) as pilot:
        await through(pilot, "enter")
        await pilot.press("1", "plus", "m")
        await until(pilot, lambda: "on string 1" in said(app, "#summary"))
        assert "100 pairs on string 1, about 15 minutes: an assessment" in said(app, "#summary")
        await pilot.press("m")
        assert "60 pairs on string 1, about 9 minutes: a drill" in said(app, "#summary")
        await pilot.press("minus", "minus")
        assert "20 pairs on string 1, about 3 minutes: a drill" in said(app, "#summary")
        for button in ("#string-3", "#more", "#kind", "#fewer"):
            assert await pilot.click(button)
        assert "80 pairs on string 3" in said(app, "#summary")
        await pilot.click("#start")
        await until(pilot, lambda: phase(app) == "asking")
        assert drill(app).plan.assess
        assert drill(app).plan.trials == 80
        assert drill(app).plan.condition.string == 3


async def test_a_number_of_pairs_asked_for_outlives_a_look_at_the_other_kind(known_world: FakeWorld) -> None:
    app = make_app(known_world, trials=25)
    async with running(app) as pilot:
        await through(pilot, "enter")
        await pilot.press("m")
        assert said(app, "#summary").startswith("100 pairs")
        await pilot.press("plus", "m")
        assert said(app, "#summary").startswith("25 pairs")
        await pilot.press("m")
        assert said(app, "#summary").startswith("150 pairs")


@pytest.mark.parametrize(
    ("warm_up", "told"),
    [(None, "3 more come first that do not count."), (1, "1 more comes first that does not count."), (0, "explained.")],
)
async def test_pairs_that_do_not_count_are_announced(known_world: FakeWorld, warm_up: int | None, told: str) -> None:
    app = make_app(known_world, warm_up=warm_up)
    async with running(app, (60, 20)) as pilot:
        await through(pilot, "enter")
        assert said(app, "#summary").endswith(told)
        announced = warm_up if warm_up is not None else 3
        await pilot.press("m")
        assert "At the instrument" in screen_text(app)
        await pilot.press("m")
        await through(pilot, "enter")
        await until(pilot, lambda: phase(app) == "asking")
        assert drill(app).total == 40 + announced


async def test_fewer_and_more_never_go_the_wrong_way(known_world: FakeWorld) -> None:
    app = make_app(known_world, trials=7)
    async with running(app) as pilot:
        await through(pilot, "enter")
        await pilot.press("minus")
        assert said(app, "#summary").startswith("7 pairs")
        app.desk.ask_for(trials=500)
        await pilot.press("plus")
        assert said(app, "#summary").startswith("500 pairs")


async def test_listener_named_on_the_command_line_goes_straight_to_the_block(known_world: FakeWorld) -> None:
    app = make_app(known_world, listener="Adam", string=2)
    async with running(app) as pilot:
        assert isinstance(app.screen, BlockScreen)
        assert "on string 2" in said(app, "#summary")
        await pilot.press("q")
        assert isinstance(app.screen, ListenerScreen)
        await pilot.press("escape")
    assert app.return_value == 0


async def test_a_broken_store_ends_the_app_with_its_error(world: FakeWorld) -> None:
    world.store.broken.add("listeners")
    app = make_app(world)
    async with running(app):
        pass
    assert app.failure is not None
    assert app.return_code == app.failure.exit_code == 5


async def test_a_listener_who_cannot_be_kept_is_told(world: FakeWorld) -> None:
    world.store.broken.add("add_listener")
    app = make_app(world)
    async with running(app) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: "cannot add_listener" in said(app, "#said"))
        assert isinstance(app.screen, ListenerScreen)


NASTY = ("[b]x[/b]", "\x1b[31mred\x1b[0m", "a\u202eb\u200fc", "[", "@click=app.quit", "n" * 200, "נעמה", "😀 e\u0301")


async def test_any_name_is_shown_harmlessly(world: FakeWorld) -> None:
    for number, name in enumerate(NASTY):
        world.store.add_listener(Listener(f"known-{number}", name))
    app = make_app(world)
    async with running(app, (60, 20)) as pilot:
        for name in NASTY:
            app.screen.query_one(Input).value = name
            await pilot.pause()
            first = screen_text(app)
            app.screen.query_one(Input).value = plain_text(name)[:1]
            await pilot.pause()
            for _ in NASTY:
                if marked(app) == name:
                    break
                await pilot.press("down")
            assert marked(app) == name
            await pilot.press("enter")
            await until(pilot, lambda: isinstance(app.screen, BlockScreen))
            second = screen_text(app)
            for text in (first, second):
                assert not {"\x1b", "\u202e", "\u200f"} & set(text)
            # All of the place still stands in 20 rows, and markup is letters.
            assert "your next block" in second
            assert "At the instrument" in second
            assert "Quit" in first
            if name.isprintable() and len(name) < 30:
                assert name in second
            await pilot.press("q")


CHECK = """
import sys
from pathlib import Path
from textual.app import App
from centwise.bootstrap import build_services
from centwise.planning import BlockRequest
from centwise.settings.load import Settings
from centwise.tui.app import CentwiseApp
from centwise.tui.desk import Desk
from centwise.tui.listener_screen import ListenerScreen

settings = Settings(Path(sys.argv[1]), player="silent")
services = build_services(settings)
seen = []

class Watched(Desk):
    def warm_up(self):
        seen.append("numpy" in sys.modules)
        seen.append(len(app.screen._compositor.render_strips()))
        app.exit(0)

desk = Watched(services, settings, BlockRequest(), silent_player=lambda: None)
app = CentwiseApp(desk)
app.run(headless=True)
print(seen)
"""


def test_numpy_is_not_loaded_before_the_first_frame(tmp_path: object) -> None:
    done = subprocess.run(
        [sys.executable, "-c", CHECK, str(tmp_path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.stdout.strip() == "[False, 24]", done.stderr


async def test_slow_work_is_followed_by_nothing_once_its_screen_has_gone(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, LevelScreen))
        level = app.screen
        assert isinstance(level, LevelScreen)
        assert await level.in_turn(lambda: 7) == 7
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        with pytest.raises(asyncio.CancelledError):
            await level.in_turn(lambda: 7)
