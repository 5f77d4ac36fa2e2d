"""The app's pages for one's own instrument: record, judge by ear before the meter tells, drill, measure."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from driving import make_app, phase, running, screen_text, through, until
from driving import said as said_there

from centwise.model import Condition, Sound
from centwise.takes.folder import MANIFEST, read_takes
from centwise.takes.session import PluckNow, RecordingRequest, RecordingSession
from centwise.tui import record_words as words
from centwise.tui.own_screen import OwnScreen
from centwise.tui.record_screen import RecordScreen
from microphones import Player, noise, pluck

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray
    from textual.pilot import Pilot

    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

HAPPENINGS = RecordingSession.happenings
D4_HZ = 293.6648
"""Octave of the 4th string."""
OWN_CENTS = (5.0, -3.0, 4.0)
THREE = [sound for cents in OWN_CENTS for sound in (pluck(0.0, hz=D4_HZ), pluck(cents, hz=D4_HZ))]
SIZES = [(60, 20), (80, 24), (120, 40)]

pytestmark = pytest.mark.usefixtures("slow_feedback")


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Let a microphone's sounds be played whenever a note may be."""

    def plug_in(world: FakeWorld, sounds: list[NDArray[Any]], **how: Any) -> Player:
        player = Player(sounds, **how)
        world.recorder, world.clock = player.recorder, player.clock

        def happenings(session: RecordingSession) -> Iterator[Any]:
            for happening in HAPPENINGS(session):
                if isinstance(happening, PluckNow):
                    player.now()
                yield happening

        monkeypatch.setattr(RecordingSession, "happenings", happenings)
        return player

    return plug_in


def said(app: CentwiseApp, selector: str) -> str:
    """Return the text of one widget, nothing while a page is not laid out yet."""
    return said_there(app, selector) if app.screen.query(selector) else ""


class OwnApp:
    """The app at the page for one's own instrument, its takes in a folder of the test's."""

    def __init__(self, world: FakeWorld, folder: Path, size: tuple[int, int] = (80, 24)) -> None:
        self.app: CentwiseApp = make_app(world)
        self.app.desk.settings = replace(self.app.desk.settings, data_dir=folder)
        self.size = size

    async def __aenter__(self) -> tuple[CentwiseApp, Pilot[int]]:
        self._running = running(self.app, self.size)
        pilot = await self._running.__aenter__()
        await through(pilot, "enter", "enter", "o")
        await until(pilot, lambda: isinstance(self.app.screen, OwnScreen) and said(self.app, "#said"))
        return self.app, pilot

    async def __aexit__(self, *error: object) -> None:
        await self._running.__aexit__(*error)


def files(folder: Path, suffix: str) -> list[Path]:
    """Return the files of the takes in a folder."""
    return list(folder.glob(f"takes/*/*{suffix}"))


async def click(app: CentwiseApp, pilot: Pilot[int], selector: str) -> None:
    """Click a button once it has its place."""
    await until(pilot, lambda: app.screen.query(selector) and app.screen.query_one(selector).region.width)
    await pilot.pause()
    await pilot.click(selector)


async def record_all(app: CentwiseApp, pilot: Pilot[int]) -> None:
    await pilot.press("r")
    await until(pilot, lambda: isinstance(app.screen, RecordScreen) and "Microphone" in said(app, "#said"))
    await pilot.press("enter")
    await until(pilot, lambda: said(app, "#said") == words.ALL_KEPT)


@pytest.mark.parametrize("size", SIZES)
async def test_takes_are_recorded_judged_by_ear_and_only_then_told(
    world: FakeWorld, tmp_path: Path, played: Any, size: tuple[int, int]
) -> None:
    player = played(world, THREE)
    async with OwnApp(world, tmp_path, size) as (app, pilot):
        assert "No takes yet" in said(app, "#said")
        await record_all(app, pilot)
        text = screen_text(app)
        assert text.count("● harmonic good") == text.count("● fretted note good") == 3
        for label in ("⏎ judge by ear", "m meter", "⏎ By ear"):
            assert label in text
        assert "⏎ Begin" not in text
        (folder,) = (tmp_path / "takes").iterdir()
        takes = read_takes(folder)
        assert (takes.string, len(takes.pairs()), takes.device) == (4, 3, "a microphone of the tests")
        # Nothing of a reading before it was judged.
        assert "cents" not in text
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        assert player.recorder.closed
        assert "cents" not in said(app, "#told")
        assert said(app, "#where") == "Own string 4 · pair 1 of 3"
        await pilot.press("s")
        await until(pilot, lambda: phase(app) == "told")
        told = said(app, "#told")
        assert told.startswith("Meter: ♯ sharp by 5.00 ± 0.01 cents. You agree.\nBridge: back ")
        assert all(len(line) <= 56 for line in told.splitlines())
        for key in "uf":
            await pilot.press("enter")
            await until(pilot, lambda: phase(app) == "asking")
            await pilot.press(key)
            await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: "Ear and meter agree on 1 of 3 pairs" in screen_text(app))
        assert "standard error" in screen_text(app)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, OwnScreen) and "3 takes" in screen_text(app))
        (block,) = world.store.blocks("id-1")
        assert block.plan.condition == Condition(voice="recorded")
        assert [trial.answer for trial in block.trials] == ["sharp", "unison", "flat"]


async def test_the_very_notes_are_drilled_and_the_next_block_is_rendered_again(
    world: FakeWorld, tmp_path: Path, played: Any
) -> None:
    played(world, THREE)
    async with OwnApp(world, tmp_path) as (app, pilot):
        await record_all(app, pilot)
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, OwnScreen) and "3 takes" in screen_text(app))
        await pilot.press("d")
        await until(pilot, lambda: phase(app) == "asking")
        assert said(app, "#where").startswith("Own notes, string 4 · pair 1 of 40")
        assert isinstance(world.player.sounds[-1], Sound)
        plan = app.desk.sitting.drill.plan if app.desk.sitting is not None else None
        assert plan is not None
        assert (plan.condition.voice, plan.given_cents, plan.trials) == ("shifted", (), 40)
        assert plan.take_error_cents is not None
        assert (app.desk.request.take, app.desk.request.shifted) == (None, False)


async def test_what_the_meter_reads(world: FakeWorld, tmp_path: Path, played: Any) -> None:
    played(world, THREE)
    async with OwnApp(world, tmp_path) as (app, pilot):
        await record_all(app, pilot)
        await pilot.press("m")
        await until(pilot, lambda: "Your ear first?" in said(app, "#said"))
        assert isinstance(app.screen, RecordScreen)
        assert "cents" not in screen_text(app)
        await pilot.press("m")
        await until(pilot, lambda: "too uncertain to tell flat from sharp" in screen_text(app))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, OwnScreen) and "3 takes" in screen_text(app))
        # Among the takes too it is asked first, and told after all.
        await pilot.press("m")
        await until(pilot, lambda: "Your ear first? enter" in said(app, "#said"))
        await pilot.press("m")
        await until(pilot, lambda: "too uncertain to tell flat from sharp" in screen_text(app))


async def test_a_note_that_will_not_do_is_told_kindly_and_asked_for_again(
    world: FakeWorld, tmp_path: Path, played: Any
) -> None:
    played(world, [noise(1.0), *THREE])
    seen: list[str] = []
    async with OwnApp(world, tmp_path) as (app, pilot):
        await pilot.press("r")
        await until(pilot, lambda: isinstance(app.screen, RecordScreen) and "Microphone" in said(app, "#said"))
        screen = app.screen
        say = screen.say  # type: ignore[attr-defined]
        screen.say = lambda text: (seen.append(text), say(text))  # type: ignore[attr-defined]
        await pilot.press("enter")
        await until(pilot, lambda: said(app, "#said") == words.ALL_KEPT)
    assert any(text.startswith("Harmonic: Nothing was heard.") and text.endswith("Once more, please.") for text in seen)
    assert any(text.startswith("Fretted note: Good, at -") for text in seen)
    (folder,) = (tmp_path / "takes").iterdir()
    assert read_takes(folder).notes[0].quality == "silent"


async def test_no_microphone_is_told_and_tried_again(world: FakeWorld, tmp_path: Path, played: Any) -> None:
    async with OwnApp(world, tmp_path) as (app, pilot):
        await pilot.press("r")
        await until(pilot, lambda: isinstance(app.screen, RecordScreen) and "no microphone" in screen_text(app))
        assert "centwise measure" in screen_text(app)
        await until(pilot, lambda: "⏎ Try again" in screen_text(app))
        assert "Begin" not in screen_text(app)
        played(world, THREE)
        await pilot.press("r")
        await until(pilot, lambda: "Microphone: " in said(app, "#said") and "⏎ Begin" in screen_text(app))


async def test_a_microphone_that_goes_away_keeps_what_was_heard(world: FakeWorld, tmp_path: Path, played: Any) -> None:
    played(world, THREE, lost_at_s=60.0)
    async with OwnApp(world, tmp_path) as (app, pilot):
        await pilot.press("r")
        await until(pilot, lambda: isinstance(app.screen, RecordScreen))
        await pilot.press("enter")
        await until(pilot, lambda: "went away" in said(app, "#said"))
        assert "r try again" in screen_text(app)


async def test_leaving_lets_the_microphone_go_and_keeps_the_notes(
    world: FakeWorld, tmp_path: Path, played: Any
) -> None:
    player = played(world, [*THREE[:2], *[noise(1.0)] * 5])
    async with OwnApp(world, tmp_path) as (app, pilot):
        await pilot.press("r")
        await until(pilot, lambda: isinstance(app.screen, RecordScreen) and "Microphone" in said(app, "#said"))
        await pilot.press("3", "4", "minus", "enter")
        await until(pilot, lambda: len(files(tmp_path, ".wav")) >= 2)
        await pilot.press("q")
        await until(pilot, lambda: player.recorder.closed)
    (folder,) = (tmp_path / "takes").iterdir()
    assert (folder / MANIFEST).exists()
    assert read_takes(folder).notes[0].quality == "good"


async def test_buttons_do_what_the_keys_do(world: FakeWorld, tmp_path: Path, played: Any) -> None:
    played(world, THREE)
    async with OwnApp(world, tmp_path) as (app, pilot):
        await click(app, pilot, "#do-record")
        await until(pilot, lambda: isinstance(app.screen, RecordScreen) and "Microphone" in said(app, "#said"))
        await click(app, pilot, "#do-fewer")
        await until(pilot, lambda: said(app, "#do").startswith("2 takes"))
        await click(app, pilot, "#do-more")
        await click(app, pilot, "#do-begin")
        await until(pilot, lambda: said(app, "#said") == words.ALL_KEPT)
        await click(app, pilot, "#do-judge")
        await until(pilot, lambda: phase(app) == "asking")


async def test_a_take_named_on_the_command_line_comes_first(world: FakeWorld, tmp_path: Path, played: Any) -> None:
    played(world, THREE)
    async with OwnApp(world, tmp_path) as (app, pilot):
        await record_all(app, pilot)
    (folder,) = (tmp_path / "takes").iterdir()
    app = make_app(world, take=folder)
    app.desk.settings = replace(app.desk.settings, data_dir=tmp_path / "elsewhere")
    async with running(app) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, OwnScreen) and "as named" in screen_text(app))
        assert "Judge the marked takes" in screen_text(app)
        await pilot.press("j")
        await until(pilot, lambda: phase(app) == "asking")
        assert said(app, "#where") == "Own string 4 · pair 1 of 3"


async def test_a_take_that_cannot_be_read_is_told_and_costs_no_later_block(
    world: FakeWorld, tmp_path: Path, played: Any
) -> None:
    played(world, THREE)
    async with OwnApp(world, tmp_path) as (app, pilot):
        await record_all(app, pilot)
        (folder,) = (tmp_path / "takes").iterdir()
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, OwnScreen) and "3 takes" in screen_text(app))
        next(folder.glob("*.wav")).unlink()
        await pilot.press("j")
        await until(pilot, lambda: "is missing:" in screen_text(app))
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, OwnScreen))
        await pilot.press("q", "enter")
        await until(pilot, lambda: phase(app) == "asking")
        assert said(app, "#where").startswith("String ")


async def test_record_opens_the_app_at_the_microphone(world: FakeWorld, tmp_path: Path, played: Any) -> None:
    from centwise.tui.app import CentwiseApp

    played(world, THREE)
    desk = make_app(world).desk
    desk.settings = replace(desk.settings, data_dir=tmp_path)
    app = CentwiseApp(desk, recording=RecordingRequest(1, "flac"))
    async with running(app) as pilot:
        await until(pilot, lambda: isinstance(app.screen, RecordScreen) and "Microphone" in said(app, "#said"))
        assert said(app, "#do").startswith("1 take;")
        await pilot.press("enter")
        await until(pilot, lambda: said(app, "#said") == words.ALL_KEPT)
        assert len(files(tmp_path, ".flac")) == 2
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, OwnScreen))


def test_the_level_is_told_by_number_word_and_length() -> None:
    nothing = float("-inf")
    assert words.meter_text(nothing, nothing) == f"Level {'▯' * 24}  nothing"
    assert words.meter_text(-90.0, -90.0) == f"Level {'▯' * 24}  -90 dB  quiet"
    assert words.meter_text(-20.0, -12.0) == f"Level {'▮' * 16}{'▯' * 8}  -12 dB  good"
    assert words.meter_text(0.0, 0.0) == f"Level {'▮' * 24}    0 dB  too loud"
    assert words.meter_text(3.0, 3.0).count("▮") == 24


def test_the_loudest_is_held_long_enough_to_be_read() -> None:
    assert words.held_level(float("-inf"), float("-inf"), 0.1) == float("-inf")
    assert words.held_level(-12.0, -50.0, 0.5) == -16.0
    assert words.held_level(-12.0, -10.0, 0.5) == -10.0
    assert words.held_level(-59.0, float("-inf"), 1.0) == float("-inf")


def test_many_takes_show_those_about_the_one_wanted() -> None:
    text = words.rows_text(9, [], (7, "fretted"))
    assert [line.split()[1] for line in text.splitlines()] == ["6", "7", "8", "9"]
    assert "▶ fretted note now" in text.splitlines()[1]
    assert len(words.rows_text(3, [], None).splitlines()) == 3
    assert all(len(line) <= 56 for line in text.splitlines())
