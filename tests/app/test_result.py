"""The end of a block: the number, its interval, its travel, one next step; and where one goes from there."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from driving import answer_all, drill, drilling, make_app, phase, running, said, screen_text, truth, until

from centwise.drill import machine
from centwise.drill.advice import length_text
from centwise.drill.verdict import doubt_of
from centwise.model import BlockResult, Trial
from centwise.standing import Standing
from centwise.tui.block_screen import BlockScreen
from centwise.tui.result_screen import ResultScreen
from fakes import START, FakeWorld, block_plan

if TYPE_CHECKING:
    from centwise.tui.app import CentwiseApp

RESULT = BlockResult(40, 31, 12.3, 8.1, 18.2, -1.2, -4.0, 1.6, 6.0, 4.8, 3.1, 7.2, 12)


def ear(app: CentwiseApp) -> str:
    """Hear what is larger than 8 cents."""
    pair = drill(app).pair
    assert pair is not None
    return truth(app) if abs(pair.offset_cents) > 8.0 else "unison"


async def test_a_whole_block_ends_in_its_number(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20), trials=20) as (app, pilot):
        await answer_all(app, pilot, 20, ear)
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        (block,) = known_world.store._blocks.values()
        result = block.result
        assert result is not None
        assert result.threshold_cents is not None
        assert result.travel_mm is not None
        assert said(app, "#number") == f"You hear {result.threshold_cents:.1f} cents"
        assert f"between {result.low_cents:.1f} and {result.high_cents:.1f} cents" in said(app, "#threshold")
        assert length_text(result.travel_mm, result.travel_sixty_fourths or 0) in said(app, "#travel")
        assert f"{result.correct} of 20 right" in said(app, "#beside")
        assert said(app, "#next-step").startswith("Next: ")
        await pilot.press("enter")
        assert isinstance(app.screen, BlockScreen)
        assert "on string 1" in said(app, "#summary")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        assert drill(app).plan.condition.string == 1
        assert drill(app).plan.trials == 20


async def test_q_ends_the_block_and_q_again_the_app(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await answer_all(app, pilot, 2, truth)
        await until(pilot, lambda: phase(app) == "asking")
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        assert said(app, "#number") == "Too few pairs for a number"
        assert "2 of 2 right." in screen_text(app)
        await pilot.press("q")
    assert app.return_value == 0
    (block,) = known_world.store._blocks.values()
    assert len(block.trials) == 2
    assert block.result is not None


CHANGES: tuple[dict[str, Any], ...] = (
    {},
    {"unison_window_cents": 40.0},
    {"threshold_cents": 61.0, "low_cents": 40.0, "high_cents": 96.0},
    {"threshold_cents": 0.9, "low_cents": 0.4, "high_cents": 1.7},
    {"trials": 19},
    {"order_error_cents": -10.4, "bias_cents": -11.2, "unison_window_cents": 40.0},
    {"bias_cents": 9.0, "bias_low_cents": 8.0, "bias_high_cents": 10.0},
)


async def test_the_result_needs_no_scrolling_at_60_by_20(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app, (60, 20)) as pilot:
        state = machine.begin(block_plan(seed=2**31 - 1))
        for change in CHANGES:
            app.push_screen(ResultScreen(replace(RESULT, **change), state))
            await pilot.pause()
            assert app.screen.query_one("#result").max_scroll_y == 0
            assert "q quit" in screen_text(app)


async def test_bias_has_its_word_and_sign(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        app.push_screen(ResultScreen(RESULT, machine.begin(block_plan())))
        await pilot.pause()
        assert "A unison sounds ♭ flat by 1.2 cents to you" in said(app, "#beside")


async def test_a_second_tone_that_leans_is_told_where_both_orders_were_heard(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        app.push_screen(ResultScreen(replace(RESULT, order_error_cents=0.84), machine.begin(block_plan())))
        await pilot.pause()
        assert "flat by 1.2 cents to you, a second tone ♯ sharp by 0.8 cents" in " ".join(said(app, "#beside").split())


async def test_a_block_without_sound_says_that_its_number_says_nothing(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        app.push_screen(ResultScreen(RESULT, machine.begin(block_plan(player="silent"))))
        await pilot.pause()
        assert "Take a block with sound" in said(app, "#next-step")
        assert "12.3" not in screen_text(app)
        assert "Provisional" not in screen_text(app)
        assert said(app, "#number") == "No sound, no number"


SWAPPED = tuple(Trial(n, 40.0 * (-1) ** n, "harmonic", "flat" if n % 2 == 0 else "sharp", START) for n in range(1, 8))


@pytest.mark.parametrize("trials", [6, 40])
async def test_no_number_leads_where_flat_was_taken_for_sharp(world: FakeWorld, trials: int) -> None:
    app = make_app(world)
    async with running(app, (60, 20)) as pilot:
        drill = replace(machine.begin(block_plan()), trials=SWAPPED)
        app.push_screen(ResultScreen(replace(RESULT, trials=trials, correct=1, doubt=doubt_of(SWAPPED)), drill))
        await pilot.pause()
        assert said(app, "#number") == "Flat and sharp changed places"
        assert "12.3" not in screen_text(app)
        assert f"1 of {trials} right. Seed 11." in screen_text(app)
        assert "heard the wrong way round" in said(app, "#next-step")


async def test_few_pairs_lead_with_that_and_the_figure_is_provisional(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app, (60, 20)) as pilot:
        fine = replace(RESULT, trials=6, threshold_cents=0.9, low_cents=0.4, high_cents=1.7)
        app.push_screen(ResultScreen(fine, machine.begin(block_plan()), STANDING))
        await pilot.pause()
        lines = [line.strip() for line in screen_text(app).splitlines() if line.strip()]
        assert lines[0] == "Too few pairs to say"
        (figure,) = [line for line in lines if "0.9" in line]
        assert figure.startswith("Provisional: ")
        assert not app.screen.query("#standing")
        assert "6 pairs leave a wide range" in said(app, "#next-step")


STANDING = Standing(7, 12.3, 0.97, START, 7.0, 18.0)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_what_comes_next_stays_in_sight_however_much_is_told(world: FakeWorld, size: tuple[int, int]) -> None:
    app = make_app(world)
    async with running(app, size) as pilot:
        long = replace(RESULT, order_error_cents=-10.4, bias_cents=-11.2, unison_window_cents=40.0)
        app.push_screen(ResultScreen(long, machine.begin(block_plan(seed=2**31 - 1)), STANDING))
        await pilot.pause()
        # The foot of the page is painted a little later than the rest.
        wanted = (
            "You hear 12.3 cents",
            "costs nothing here.",
            "⏎ another block",
            "q quit",
            "Next: ",
            "⏎ Another block",
        )
        await until(pilot, lambda: all(words in screen_text(app) for words in wanted))
        figures = app.screen.query_one("#result")
        assert (figures.max_scroll_y > 0) == (size == (60, 20))
        await pilot.press("end")
        await until(pilot, lambda: "Seed 2147483647." in screen_text(app))
        await pilot.click("#another")
        await until(pilot, lambda: not isinstance(app.screen, ResultScreen))
