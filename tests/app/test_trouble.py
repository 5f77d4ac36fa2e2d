"""Devices that are missing or go away, and a store that will not write: nothing is lost, and one may try again."""

from __future__ import annotations

import asyncio

import pytest
from driving import (
    KEYS,
    answer_all,
    drill,
    drilling,
    make_app,
    phase,
    running,
    said,
    screen_text,
    through,
    truth,
    until,
)

from centwise.conductor import Sitting
from centwise.model import Trial
from centwise.tui.block_screen import BlockScreen
from centwise.tui.drill_screen import DrillScreen
from centwise.tui.help_screen import HelpScreen
from centwise.tui.result_screen import ResultScreen
from centwise.tui.too_small_screen import TooSmallScreen
from centwise.tui.trouble_screen import TroubleScreen
from fakes import START, FakeWorld, ManualClock, RecordingPlayer

pytestmark = pytest.mark.usefixtures("slow_feedback")


def in_trouble(app: object) -> bool:
    return isinstance(app.screen, TroubleScreen)  # type: ignore[attr-defined]


async def test_no_device_then_retry_finds_one(known_world: FakeWorld) -> None:
    known_world.no_device = True
    app = make_app(known_world, seed=77, string=2)
    async with running(app, (60, 20)) as pilot:
        await through(pilot, "enter", "enter")
        await until(pilot, lambda: in_trouble(app))
        assert "There is no sound device: plug one in" in " ".join(said(app, "#trouble-said").split())
        assert not known_world.store._blocks
        await pilot.press("r")
        await until(pilot, lambda: in_trouble(app))
        known_world.no_device = False
        await pilot.click("#retry")
        await until(pilot, lambda: phase(app) == "asking")
        assert (drill(app).plan.seed, drill(app).plan.condition.string) == (77, 2)


@pytest.mark.parametrize("by", ["key", "mouse"])
async def test_no_device_then_on_without_sound(known_world: FakeWorld, by: str) -> None:
    known_world.no_device = True
    app = make_app(known_world)
    async with running(app, (60, 20)) as pilot:
        await through(pilot, "enter", "enter")
        await until(pilot, lambda: in_trouble(app))
        await (pilot.press("n") if by == "key" else pilot.click("#silent"))
        await until(pilot, lambda: phase(app) == "asking")
        assert drill(app).plan.player == "silent"


async def test_no_device_then_leave(known_world: FakeWorld) -> None:
    known_world.no_device = True
    app = make_app(known_world)
    async with running(app) as pilot:
        await through(pilot, "enter", "enter")
        await until(pilot, lambda: in_trouble(app))
        assert "q back" in screen_text(app)
        assert "leave" not in screen_text(app)
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert phase(app) is None


async def test_a_device_that_dies_in_a_tone_gives_the_same_pair_again(known_world: FakeWorld) -> None:
    clock = ManualClock()
    player = known_world.player = RecordingPlayer(known_world.calls, clock)
    async with drilling(known_world) as (app, pilot):
        clock.advance(9.0)
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        pair = drill(app).pair
        clock.advance(0.4)
        player.fails_at_wait = player.fails_at_play = True
        await until(pilot, lambda: in_trouble(app))
        assert "every answer so far is kept" in screen_text(app)
        await pilot.press("r")
        await until(pilot, lambda: in_trouble(app) and "No loudspeaker takes the sound" in said(app, "#trouble-said"))
        player.fails_at_wait = player.fails_at_play = False
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        assert drill(app).pair is pair
        assert player.sounds[-1] is player.sounds[-2]
        assert len(drill(app).trials) == 1
        clock.advance(9.0)
        await pilot.press("u")
        await until(pilot, lambda: phase(app) == "told")
        (block,) = known_world.store._blocks.values()
        assert [(trial.n, trial.answer, trial.replays) for trial in block.trials] == [(1, "flat", 0), (2, "unison", 0)]


async def test_a_device_gone_between_answer_and_next_pair_keeps_the_answer(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        known_world.player.fails_at_play = True
        await pilot.press("s")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: in_trouble(app))
        (block,) = known_world.store._blocks.values()
        assert len(block.trials) == 1
        assert "q leave" in screen_text(app)
        await pilot.press("f1")
        await until(pilot, lambda: "Leave the block; what was answered is kept." in screen_text(app))
        assert "No sound" not in screen_text(app)
        assert "without sound" not in screen_text(app)
        await pilot.press("escape", "q")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        assert known_world.store.block(block.plan.id).result is not None


async def test_a_device_gone_in_a_judged_pair_leaves_its_truth_standing(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.press("s")
        await until(pilot, lambda: phase(app) == "told")
        told = said(app, "#told")
        known_world.player.fails_at_play = True
        await pilot.press("h")
        await until(pilot, lambda: in_trouble(app))
        known_world.player.fails_at_play = False
        await pilot.press("r")
        await until(pilot, lambda: len(known_world.player.sounds) == 2)
        assert phase(app) == "told"
        assert said(app, "#told") == told


async def test_an_answer_the_store_refuses_is_told_and_kept_at_the_retry(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        word, pair = truth(app), drill(app).pair
        known_world.store.broken.add("add_trial")
        await pilot.press(KEYS[word])
        await until(pilot, lambda: in_trouble(app))
        assert "cannot add_trial" in said(app, "#trouble-said")
        assert "Your last answer is not kept yet" in screen_text(app)
        assert not app.screen.query("#silent")
        assert drill(app).pair is pair
        known_world.store.broken.clear()
        await pilot.press("r")
        await until(pilot, lambda: phase(app) == "told")
        (block,) = known_world.store._blocks.values()
        assert [trial.answer for trial in block.trials] == [word]


async def test_a_result_the_store_refuses_is_kept_at_the_retry(known_world: FakeWorld) -> None:
    async with drilling(known_world, trials=2) as (app, pilot):
        await answer_all(app, pilot, 1, truth)
        known_world.store.broken.add("end_block")
        await until(pilot, lambda: phase(app) == "asking")
        await pilot.press("f")
        await until(pilot, lambda: in_trouble(app))
        assert "only the result is not written down yet" in screen_text(app)
        await pilot.press("r")
        await until(pilot, lambda: in_trouble(app) and phase(app) == "trouble")
        known_world.store.broken.clear()
        await pilot.press("r")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        (block,) = known_world.store._blocks.values()
        assert len(block.trials) == 2
        assert block.result is not None


async def test_one_can_leave_though_the_result_cannot_be_written(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        known_world.store.broken.add("end_block")
        await pilot.press("q")
        await until(pilot, lambda: in_trouble(app))
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))


async def test_trouble_waits_behind_the_help_page(known_world: FakeWorld) -> None:
    clock = ManualClock()
    player = known_world.player = RecordingPlayer(known_world.calls, clock)
    async with drilling(known_world) as (app, pilot):
        await pilot.press("f1")
        player.fails_at_wait = True
        await until(pilot, lambda: phase(app) == "trouble")
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("escape")
        await until(pilot, lambda: in_trouble(app))
        await pilot.press("f1")
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("escape")
        player.fails_at_wait = False
        await pilot.press("r")
        await until(pilot, lambda: phase(app) == "asking")


async def test_leaving_while_the_device_is_opening_begins_no_block(known_world: FakeWorld) -> None:
    import threading

    gate = threading.Event()
    player = known_world.player

    def slow_opening() -> RecordingPlayer:
        gate.wait(600.0)
        return player

    known_world._open_player = slow_opening  # type: ignore[method-assign]
    app = make_app(known_world)
    async with running(app) as pilot:
        await through(pilot, "enter", "enter")
        assert isinstance(app.screen, DrillScreen)
        await pilot.press("f", "a", "enter", "q")
        assert isinstance(app.screen, BlockScreen)
        gate.set()
        await asyncio.sleep(0.1)
        await pilot.pause()
        assert not known_world.store._blocks
        assert not player.sounds
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")


async def test_a_pair_answered_in_another_window_is_told_and_the_next_one_asked(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        (block,) = known_world.store._blocks.values()
        known_world.store.add_trial(block.plan.id, Trial(1, 40.0, "harmonic", "sharp", START))
        await pilot.press("f")
        await until(pilot, lambda: in_trouble(app))
        assert "The answer given there stands; yours to that pair was not kept." in screen_text(app)
        await pilot.press("r")
        await until(pilot, lambda: phase(app) == "asking")
        assert said(app, "#where").startswith("String 4 · pair 2 of ")
        await pilot.press("u")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
    kept = known_world.store.block(block.plan.id)
    assert [(trial.n, trial.answer) for trial in kept.trials] == [(1, "sharp"), (2, "unison")]
    assert kept.result is not None


async def test_a_block_ended_in_another_window_shows_its_result(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        (block,) = known_world.store._blocks.values()
        with Sitting(known_world.store, known_world.clock, RecordingPlayer(), block.plan, ()) as elsewhere:
            elsewhere.answer("sharp")
            result = elsewhere.leave()
        await pilot.press("f")
        await until(pilot, lambda: in_trouble(app))
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
    kept = known_world.store.block(block.plan.id)
    assert (len(kept.trials), kept.result) == (1, result)


async def test_a_pair_with_a_hole_in_it_is_sounded_once_more_by_itself(known_world: FakeWorld) -> None:
    clock = ManualClock()
    player = known_world.player = RecordingPlayer(known_world.calls, clock)
    async with drilling(known_world, (60, 20)) as (app, pilot):
        pair = drill(app).pair
        for hearing in (2, 3):
            clock.advance(0.5)
            player.playbacks[-1].holes = 0.2
            await until(pilot, lambda hearing=hearing: len(player.sounds) == hearing and phase(app) == "asking")
            assert "A hole of 0.20 s fell into that pair: here it is again. Flat, unison or sharp?" in flat(
                said(app, "#asked")
            )
        clock.advance(9.0)
        player.playbacks[-1].holes = 0.2
        # The key itself looks, however quick it is; the third time it is left to the listener.
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        assert drill(app).trials[0].replays == 0
        assert len(player.sounds) == 3
        assert {sound.name for sound in player.sounds} == {player.sounds[0].name}
        assert pair is not None
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        clock.advance(9.0)
        player.playbacks[-1].holes = 0.2
        await pilot.press("s")
        await until(pilot, lambda: len(player.sounds) == 5 and phase(app) == "asking")
        assert len(drill(app).trials) == 1


def flat(text: str) -> str:
    return " ".join(text.split())


async def test_in_a_terminal_made_too_small_no_key_judges_anything(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.resize_terminal(40, 12)
        await until(pilot, lambda: isinstance(app.screen, TooSmallScreen))
        await pilot.press("s", "enter", "q")
        await pilot.resize_terminal(120, 40)
        await until(pilot, lambda: isinstance(app.screen, DrillScreen))
        assert phase(app) == "asking"
        assert drill(app).trials == ()
