"""An assessment tells nothing until its end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from driving import KEYS, drill, drilling, phase, said, screen_text, until

from centwise.tui.result_screen import ResultScreen

if TYPE_CHECKING:
    from fakes import FakeWorld


@pytest.fixture(autouse=True)
def _short_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("centwise.tui.drill_screen.NOTED_S", 0.02)


@pytest.fixture
def long_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("centwise.tui.drill_screen.NOTED_S", 600.0)


@pytest.mark.usefixtures("long_pause")
async def test_an_answer_is_noted_and_the_next_pair_waits_a_moment(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20), assess=True, trials=8) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        assert said(app, "#asked") == "Noted."
        assert said(app, "#told") == "Pair 1 is kept: ♭ flat."
        assert "cents" not in said(app, "#told")
        sounds = len(known_world.player.sounds)
        await pilot.press("a", "h", "t", "f")
        await pilot.pause()
        assert (len(known_world.player.sounds), phase(app)) == (sounds, "told")
        await pilot.press("f1", "escape")
        assert said(app, "#asked") == "Enter: go on."
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking" and "pair 2 of 8" in said(app, "#where"))


@pytest.mark.usefixtures("long_pause")
@pytest.mark.parametrize("name", ["file:somewhere", "silent:hurry"])
async def test_where_nobody_waits_there_is_no_pause(known_world: FakeWorld, name: str) -> None:
    known_world.player.name = name
    async with drilling(known_world, assess=True, trials=8) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "asking" and "pair 2 of 8" in said(app, "#where"))


async def test_an_assessment_keeps_silent_to_the_end(known_world: FakeWorld) -> None:
    async with drilling(known_world, assess=True, trials=8) as (app, pilot):
        for n in range(1, 9):
            await until(pilot, lambda n=n: phase(app) == "asking" and f"pair {n} of 8" in said(app, "#where"))
            shown = screen_text(app)
            for word in ("cents", "Right", "Not this time", "Bridge:", "forward", "back ──▶", "leave it", "◆", "["):
                assert word not in shown
            if n > 1:
                assert f"Pair {n - 1} is kept: " in shown
            pair = drill(app).pair
            assert pair is not None
            await pilot.press(KEYS["flat" if pair.offset_cents < 0 else "sharp"])
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        assert "of 8 right" in said(app, "#count")


async def test_the_first_tone_is_named_in_both_orders(known_world: FakeWorld) -> None:
    seen = set()
    async with drilling(known_world, assess=True, trials=12) as (app, pilot):
        for n in range(1, 12):
            await until(pilot, lambda n=n: phase(app) == "asking" and f"pair {n} of" in said(app, "#where"))
            pair = drill(app).pair
            assert pair is not None
            seen.add(pair.first)
            other = "fretted" if pair.first == "harmonic" else "harmonic"
            assert said(app, "#asked").startswith(f"Listen: {pair.first}, then {other}.")
            await pilot.press("u")
    assert seen == {"harmonic", "fretted"}


async def test_a_long_assessment_rests_until_the_listener_goes_on(
    known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("centwise.drill.machine.REST_EVERY", 2)
    async with drilling(known_world, (60, 20), assess=True, trials=6) as (app, pilot):
        for n in (1, 2):
            await until(pilot, lambda n=n: phase(app) == "asking" and f"pair {n} of 6" in said(app, "#where"))
            await pilot.press("u")
        await until(pilot, lambda: phase(app) == "told")
        assert "2 pairs done, 4 to come. Rest a minute, then enter." in screen_text(app)
        sounds = len(known_world.player.sounds)
        await pilot.press("a", "h")
        await pilot.pause()
        assert len(known_world.player.sounds) == sounds
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking" and "pair 3 of 6" in said(app, "#where"))
