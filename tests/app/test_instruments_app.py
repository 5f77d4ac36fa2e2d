"""Another instrument in the app: chosen, its strings offered, kept with the listener, blocks kept apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from driving import drill, make_app, phase, running, said, screen_text, until
from textual.widgets import Button

import centwise.strings
from centwise.model import Listener
from centwise.settings.instruments import OwnInstruments
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES
from centwise.tui.block_screen import BlockScreen
from centwise.tui.instrument_screen import InstrumentScreen
from fakes import block_plan

if TYPE_CHECKING:
    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

pytestmark = pytest.mark.usefixtures("slow_feedback")


OTHER = (
    (Path(centwise.strings.__file__).parent / "instruments" / "mandolin.toml")
    .read_text(encoding="utf-8")
    .replace('title = "mandolin"', 'title = "[b]other[/b]"')
)


def offered(app: CentwiseApp) -> list[str]:
    """Return the strings offered, from left to right."""
    buttons = [button for button in app.screen.query(Button) if (button.id or "").startswith("string-")]
    return [str(button.label) for button in sorted(buttons, key=lambda b: b.region.x) if button.display]


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("name", BUILT_IN_NAMES)
async def test_the_strings_of_each_instrument_are_offered(
    known_world: FakeWorld, name: str, size: tuple[int, int]
) -> None:
    instrument = BUILT_IN.named(name)
    app = make_app(known_world, listener="Ada")
    app.desk.request = replace(app.desk.request, instrument=name)
    app.desk._instrument_asked = True
    async with running(app, size) as pilot:
        await pilot.pause()
        labels = offered(app)
        assert [int(label.removeprefix("● ")[0]) for label in labels] == sorted(
            instrument.numbers, key=lambda n: (instrument.string(n).start_fret > 0, -n)
        )
        for label in labels:
            assert label in screen_text(app)
        for number in instrument.numbers:
            await pilot.press(str(number))
            assert f"pairs on string {number}" in said(app, "#summary")
            words = "bridge is not set by it"
            outer = number in {instrument.bass_string, instrument.treble_string}
            assert (words in said(app, "#about-string")) == (not outer)
        await pilot.press(str(len(labels) + 1) if len(labels) < 9 else "9")
        assert f"has no string {len(labels) + 1}: choose one" in " ".join(said(app, "#said").split())
        assert f"pairs on string {instrument.numbers[-1]}" in said(app, "#summary")


async def test_an_instrument_is_chosen_played_and_kept(known_world: FakeWorld) -> None:
    app = make_app(known_world, listener="Ada", trials=6)
    async with running(app) as pilot:
        assert offered(app) == ["● 4 D", "3 G", "2 B", "1 D", "5 g"]
        await pilot.press("i")
        assert isinstance(app.screen, InstrumentScreen)
        banjo = "Tuned g4 D3 G3 B3 D4. Scale length 26.25 in, 22 frets."
        await until(pilot, lambda: said(app, "#about-instrument") == banjo)
        await pilot.press(*["down"] * 6)
        mandolin = "Tuned G3 D4 A4 E5, in courses of two. Scale length 13.875 in, 20 frets."
        await until(pilot, lambda: said(app, "#about-instrument") == mandolin)
        await pilot.press("enter")
        assert isinstance(app.screen, BlockScreen)
        await until(pilot, lambda: offered(app) == ["● 4 G", "3 D", "2 A", "1 E"])
        assert "6 pairs on string 4 of the mandolin" in said(app, "#summary")
        assert "a course of two, tuned alike" in said(app, "#about-string")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        plan = drill(app).plan
        assert (plan.condition.instrument, plan.condition.string) == ("mandolin", 4)
        assert plan.octave_hz == pytest.approx(391.9954, abs=1e-4)
    kept = known_world.store.listener_named("Ada")
    assert kept is not None
    assert (kept.instrument, kept.scale_mm) == ("mandolin", pytest.approx(13.875 * 25.4))
    again = make_app(known_world, listener="Ada")
    async with running(again):
        assert offered(again) == ["4 G", "3 D", "2 A", "● 1 E"], "the other side has its turn"
    other = make_app(known_world, listener="Adam")
    async with running(other):
        assert "● 4 D" in offered(other), "another listener plays what they play"


async def test_going_back_changes_nothing(known_world: FakeWorld) -> None:
    app = make_app(known_world, listener="Ada")
    async with running(app) as pilot:
        await pilot.press("i", "down", "escape")
        assert app.desk.request.instrument == "five-string"
        await pilot.press("i", "enter")
        assert app.desk.request.instrument == "five-string"


async def test_an_instrument_can_be_clicked(known_world: FakeWorld) -> None:
    app = make_app(known_world, listener="Ada")
    async with running(app) as pilot:
        assert await pilot.click("#instrument")
        await until(pilot, lambda: isinstance(app.screen, InstrumentScreen))
        await pilot.click("#known", offset=(4, 3))
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert app.desk.request.instrument == "plectrum"
        assert await pilot.click("#string-2")
        assert "string 2 of the plectrum banjo" in said(app, "#summary")


async def test_the_side_whose_turn_it_is_goes_by_the_instruments_own_blocks(known_world: FakeWorld) -> None:
    known_world.store.begin_block(block_plan(listener_id="known-0", instrument="archtop-guitar", string=6))
    app = make_app(known_world, listener="Ada", instrument="archtop-guitar")
    app.desk._instrument_asked = True
    async with running(app):
        assert "● 1 E" in offered(app)


async def test_ones_own_instrument_and_one_that_cannot_be_used(known_world: FakeWorld, tmp_path: Path) -> None:
    (tmp_path / "old.toml").write_text("title = 3\n")
    (tmp_path / "other.toml").write_text(OTHER)
    app = make_app(known_world, listener="Ada")
    app.desk.services = replace(app.desk.services, instruments=OwnInstruments(tmp_path))
    async with running(app) as pilot:
        await pilot.press("i")
        for _ in BUILT_IN_NAMES:
            await pilot.press("down")
        await until(pilot, lambda: "old (cannot be used)" in screen_text(app))
        await pilot.press("down")
        await until(pilot, lambda: "[b]other[/b]" in screen_text(app))
        await pilot.press("up")
        await until(pilot, lambda: "scale is missing" in " ".join(said(app, "#about-instrument").split()))
        await pilot.press("enter")
        assert isinstance(app.screen, InstrumentScreen)
        assert "scale is missing" in " ".join(said(app, "#said").split())
        await pilot.press("escape")
        assert offered(app)[0] == "● 4 D"


async def test_an_instrument_whose_file_has_gone_is_told_and_another_can_be_chosen(known_world: FakeWorld) -> None:
    known_world.store.add_listener(Listener("gone", "Gil", 500.0, "octave"))
    app = make_app(known_world, listener="Gil")
    async with running(app) as pilot:
        assert "no instrument named 'octave'" in " ".join(screen_text(app).split())
        await pilot.press("i", "down", "enter")
        await until(pilot, lambda: len(offered(app)) == 5)
        assert "of the five-string banjo in double C" in said(app, "#summary")


async def test_a_string_that_the_listeners_instrument_has_not_is_told(world: FakeWorld) -> None:
    world.store.add_listener(Listener("known-0", "Ada", instrument="mandolin"))
    app = make_app(world, listener="Ada", string=5)
    async with running(app) as pilot:
        await until(pilot, lambda: said(app, "#said") == "The mandolin has no string 5: choose one from 1 to 4.")
        assert "40 pairs on string 4 of the mandolin" in said(app, "#summary")
        # Nothing is said of the string that only the instrument of before had.
        app.desk.choose_instrument("five-string")
        await pilot.press("5", "i")
        await until(pilot, lambda: isinstance(app.screen, InstrumentScreen) and "five-string" in screen_text(app))
        await pilot.press(*["down"] * BUILT_IN_NAMES.index("mandolin"), "enter")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen) and "of the mandolin" in said(app, "#summary"))
        await until(pilot, lambda: said(app, "#said") == "")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
