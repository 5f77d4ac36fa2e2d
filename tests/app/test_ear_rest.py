"""The app proposes a rest after twenty minutes: after an answer, over several blocks, and never in a pair."""

from __future__ import annotations

from typing import TYPE_CHECKING

from driving import drilling, phase, said, screen_text, until

from centwise.tui.bench_screen import BenchScreen
from centwise.tui.block_screen import BlockScreen
from centwise.tui.drill_screen import DrillScreen
from centwise.tui.result_screen import ResultScreen

if TYPE_CHECKING:
    from textual.pilot import Pilot

    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

RESTS = "rest your ears for five"


async def answered(app: CentwiseApp, pilot: Pilot[int], world: FakeWorld, minutes: float) -> None:
    """Judge a pair after so many minutes, and stay with its truth."""
    await until(pilot, lambda: phase(app) == "asking")
    world.clock.advance(60.0 * minutes)
    await pilot.press("f")
    await until(pilot, lambda: phase(app) == "told")


async def test_after_twenty_minutes_the_truth_waits_with_a_proposal_over_blocks(
    known_world: FakeWorld, monkeypatch: object
) -> None:
    async with drilling(known_world, (60, 20), trials=3) as (app, pilot):
        for _ in range(3):
            await answered(app, pilot, known_world, 4.0)
            assert RESTS not in said(app, "#asked")
            await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        assert RESTS.capitalize() not in screen_text(app)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, DrillScreen))
        await answered(app, pilot, known_world, 4.0)
        assert RESTS not in said(app, "#asked")
        await pilot.press("enter")
        await answered(app, pilot, known_world, 4.0)
        # The truth of the pair stands as ever; only the next one waits.
        assert said(app, "#asked").startswith("You have listened for 20 minutes: rest your ears for five")
        assert said(app, "#told")
        assert drilling_screen(app)._next_timer is None
        sounds = len(known_world.player.sounds)
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking" and len(known_world.player.sounds) == sounds + 1)


def drilling_screen(app: CentwiseApp) -> DrillScreen:
    assert isinstance(app.screen, DrillScreen)
    return app.screen


async def test_with_the_last_pair_the_result_proposes_it(known_world: FakeWorld) -> None:
    for size in ((60, 20), (120, 40)):
        known_world.clock.advance(400.0)
        async with drilling(known_world, size, trials=6) as (app, pilot):
            for _ in range(6):
                await answered(app, pilot, known_world, 4.0)
                await pilot.press("enter")
            await until(pilot, lambda app=app: isinstance(app.screen, ResultScreen))
            if size == (60, 20):
                assert said(app, "#rest-ears") == ""  # proposed after the fifth, at minute 20
        known_world.clock.advance(400.0)
        async with drilling(known_world, size, trials=5) as (app, pilot):
            for _ in range(5):
                await answered(app, pilot, known_world, 4.0)
                await pilot.press("enter")
            await until(pilot, lambda app=app: isinstance(app.screen, ResultScreen))
            assert said(app, "#rest-ears").startswith("You have been listening for 20 minutes.")
            assert "Rest your ears for five" in " ".join(screen_text(app).split())


async def test_at_the_bench_it_stands_where_the_cautions_stand(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20), trials=3) as (app, pilot):
        app.push_screen(BenchScreen())
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        bench = app.screen
        assert isinstance(bench, BenchScreen)
        for number in range(1, 7):
            known_world.clock.advance(240.0)
            await pilot.press("c")
            await until(pilot, lambda number=number: bench.bench is not None and bench.bench.acts == number)
        await pilot.press("m")
        await until(pilot, lambda: bench.bench is not None and bench.bench.acts == 7)
        assert "minutes of listening: rest your ears for five." in screen_text(app)
