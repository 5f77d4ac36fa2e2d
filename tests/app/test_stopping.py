"""Ctrl+c leaves the app from every place at once: one sentence, 130, and every answer kept."""

from __future__ import annotations

import signal
import threading
from typing import TYPE_CHECKING, Any

import pytest
from driving import drill, drilling, make_app, phase, running, said, screen_text, through, until
from test_result import RESULT

from centwise.drill import machine
from centwise.errors import DeviceError, StoppedError, StoreError, UsageError
from centwise.model import Trial
from centwise.resuming import block_to_resume
from centwise.tui.app import left
from centwise.tui.block_screen import BlockScreen
from centwise.tui.help_screen import HelpScreen
from centwise.tui.level_screen import LevelScreen
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.result_screen import ResultScreen
from centwise.tui.too_small_screen import TooSmallScreen
from centwise.tui.trouble_screen import TroubleScreen
from fakes import START, FakeWorld, ManualClock, RecordingPlayer, block_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.ports import StoredBlock
    from centwise.tui.app import CentwiseApp

pytestmark = pytest.mark.usefixtures("slow_feedback")

PLACES: dict[str, Callable[[], Any]] = {
    "listeners": lambda: ListenerScreen(()),
    "level": LevelScreen,
    "block": BlockScreen,
    "result": lambda: ResultScreen(RESULT, machine.begin(block_plan())),
    "trouble": lambda: TroubleScreen(DeviceError("no device", "plug one in")),
    "help": lambda: HelpScreen("What this is for.", ()),
    "too small": lambda: TooSmallScreen(60, 20),
}


def stopped(app: CentwiseApp) -> StoppedError:
    """Put the app away as the program does, and return how that is told."""
    assert not app.is_running
    with pytest.raises(StoppedError) as told:
        left(app)
    return told.value


def flat_text(app: CentwiseApp) -> str:
    return " ".join(screen_text(app).split())


def only_block(world: FakeWorld) -> StoredBlock:
    (block,) = world.store._blocks.values()
    return block


@pytest.mark.parametrize("place", PLACES)
async def test_ctrl_c_leaves_from_every_place(known_world: FakeWorld, place: str) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        app.desk.choose_listener(None)
        app.push_screen(PLACES[place]())
        await pilot.pause()
        await pilot.press("ctrl+c")
        await until(pilot, lambda: not app.is_running)
    told = stopped(app)
    assert str(told) == "stopped by ctrl+c, and everything answered so far is kept: type centwise to go on."
    assert told.exit_code == 130


async def test_ctrl_c_in_a_line_with_a_selection_leaves(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app) as pilot:
        await pilot.press(*"Ada", "home", "shift+end", "ctrl+c")
        await until(pilot, lambda: not app.is_running)
    assert stopped(app).exit_code == 130


@pytest.mark.parametrize("answers", [0, 1, 2])
async def test_ctrl_c_in_a_block_keeps_its_answers_and_ends_it(known_world: FakeWorld, answers: int) -> None:
    async with drilling(known_world) as (app, pilot):
        for _ in range(answers):
            await until(pilot, lambda: phase(app) == "asking")
            await pilot.press("f")
            await until(pilot, lambda: phase(app) == "told")
            await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        await pilot.press("ctrl+c")
        await until(pilot, lambda: not app.is_running)
        told = stopped(app)
    words = ("before the first answer of the block", "with 1 answer of the block kept", "with 2 answers of the")[
        answers
    ]
    assert words in str(told)
    assert str(told).endswith(": type centwise drill for the next block.")
    block = only_block(known_world)
    assert len(block.trials) == answers
    assert block.result is not None


@pytest.mark.parametrize("keys", [("w", *"fla"), ("f",), ("a",), ("f1",), ("v",)])
async def test_ctrl_c_whatever_a_block_is_busy_with(known_world: FakeWorld, keys: tuple[str, ...]) -> None:
    clock = ManualClock()
    known_world.player = RecordingPlayer(known_world.calls, clock)
    async with drilling(known_world) as (app, pilot):
        await pilot.press(*keys, "ctrl+c")
        await until(pilot, lambda: not app.is_running)
        assert stopped(app).exit_code == 130
    assert known_world.player.playbacks[-1].stopped_at_s is not None
    assert known_world.player.closed
    assert only_block(known_world).result is not None


async def test_an_answer_whose_turn_had_not_come_is_kept(known_world: FakeWorld) -> None:
    gate = threading.Event()
    async with drilling(known_world) as (app, pilot):
        # The answer waits behind a tone that the device takes long to begin.
        app.desk._turns._pool.submit(gate.wait, 600.0)
        await pilot.press("s")
        assert phase(app) == "keeping"
        await pilot.press("ctrl+c")
        await until(pilot, lambda: not app.is_running)
        assert not only_block(known_world).trials
        gate.set()
        told = stopped(app)
    assert "with 1 answer of the block kept" in str(told)
    assert [trial.answer for trial in only_block(known_world).trials] == ["sharp"]


async def test_an_answer_the_store_refused_is_tried_once_more(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        known_world.store.broken.add("add_trial")
        await pilot.press("s")
        await until(pilot, lambda: isinstance(app.screen, TroubleScreen))
        known_world.store.broken.clear()
        await pilot.press("ctrl+c")
        await until(pilot, lambda: not app.is_running)
        assert "with 1 answer" in str(stopped(app))
    assert only_block(known_world).result is not None


async def test_a_store_that_still_refuses_leaves_the_block_open_and_counts_what_is_kept(
    known_world: FakeWorld,
) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.press("s")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        known_world.store.broken |= {"add_trial", "end_block"}
        await pilot.press("f")
        await until(pilot, lambda: isinstance(app.screen, TroubleScreen))
        await pilot.press("ctrl+c")
        await until(pilot, lambda: not app.is_running)
        told = stopped(app)
    assert "with 1 answer of the block kept: type centwise drill --resume to go on." in str(told)
    assert only_block(known_world).result is None


async def test_ctrl_c_while_the_device_is_opening_begins_no_block(known_world: FakeWorld) -> None:
    gate = threading.Event()
    player = known_world.player

    def slow_opening() -> RecordingPlayer:
        gate.wait(600.0)
        return player

    known_world._open_player = slow_opening  # type: ignore[method-assign]
    app = make_app(known_world)
    async with running(app) as pilot:
        await through(pilot, "enter", "enter")
        await pilot.press("ctrl+c")
        await until(pilot, lambda: not app.is_running)
        threading.Timer(0.3, gate.set).start()
        assert "type centwise to go on" in str(stopped(app))
    assert not known_world.store._blocks
    assert not player.sounds


async def test_ctrl_q_in_a_block_ends_it_as_leaving_does(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("ctrl+q")
        await until(pilot, lambda: not app.is_running)
        left(app)
    assert app.return_code == 0
    assert only_block(known_world).result is not None


async def test_ctrl_q_where_the_result_cannot_be_kept_says_so(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        known_world.store.broken.add("end_block")
        await pilot.press("ctrl+q")
        await until(pilot, lambda: not app.is_running)
        with pytest.raises(StoreError, match="cannot end_block"):
            left(app)
    assert known_world.player.closed


async def test_a_signal_from_outside_leaves_the_block_open(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        app._stop(signal.SIGTERM)
        await until(pilot, lambda: not app.is_running)
        told = stopped(app)
    assert told.exit_code == 143
    assert str(told) == "told to end by SIGTERM with 1 answer of the block kept: type centwise drill --resume to go on."
    assert only_block(known_world).result is None
    assert drill(app).trials == only_block(known_world).trials


async def test_a_signal_before_the_first_answer_sends_nobody_to_resume(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await until(pilot, lambda: phase(app) == "asking")
        app._stop(signal.SIGTERM)
        await until(pilot, lambda: not app.is_running)
        told = stopped(app)
    # There is no answer to go on from: --resume would refuse.
    assert str(told) == (
        "told to end by SIGTERM before the first answer of the block: type centwise drill for the next block."
    )
    with pytest.raises(UsageError, match="has no block that was cut off"):
        block_to_resume(known_world.store, None)


async def test_a_block_that_was_cut_off_is_offered_and_gone_on_with(known_world: FakeWorld) -> None:
    async with drilling(known_world, trials=6) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        app._stop(signal.SIGTERM)
        await until(pilot, lambda: not app.is_running)
        stopped(app)
    for resume in (False, True):
        again = make_app(known_world, resume=resume)
        async with running(again, (60, 20)) as pilot:
            if not resume:
                await pilot.press("enter")
                await until(pilot, lambda again=again: isinstance(again.screen, BlockScreen))
                assert "A block on string 4 was cut off after 1 of 6 pairs: g goes on with it." in flat_text(again)
                assert "g go on " in screen_text(again)
                await pilot.press("g")
            await until(pilot, lambda again=again: phase(again) == "asking")
            assert said(again, "#where") == f"String 4 · pair {2 + resume} of 6"
            await pilot.press("u")
            await until(pilot, lambda again=again: phase(again) == "told")
            again._stop(signal.SIGTERM)
            await until(pilot, lambda again=again: not again.is_running)
            stopped(again)
    assert [trial.answer for trial in only_block(known_world).trials] == ["flat", "unison", "unison"]


async def test_another_block_may_be_begun_all_the_same(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert "g go on" not in screen_text(app)
        await pilot.press("g")
        assert isinstance(app.screen, BlockScreen)
    who = known_world.store.listeners()[0]
    plan = block_plan(listener_id=who.id)
    known_world.store.begin_block(plan)
    known_world.store.add_trial(plan.id, Trial(1, 40.0, "harmonic", "sharp", START))
    second = make_app(known_world)
    async with running(second) as pilot:
        await pilot.press("enter")
        await until(pilot, lambda: "g goes on with it." in screen_text(second))
        await pilot.press("enter")
        await until(pilot, lambda: phase(second) == "asking")
        assert drill(second).plan.id != plan.id


async def test_a_block_whose_result_alone_is_missing_gets_it(known_world: FakeWorld) -> None:
    async with drilling(known_world, trials=1) as (app, pilot):
        known_world.store.broken.add("end_block")
        await pilot.press("f")
        await until(pilot, lambda: isinstance(app.screen, TroubleScreen))
        await pilot.press("ctrl+c")
        await until(pilot, lambda: not app.is_running)
        assert "--resume" in str(stopped(app))
    known_world.store.broken.clear()
    again = make_app(known_world, resume=True)
    async with running(again) as pilot:
        await until(pilot, lambda: isinstance(again.screen, ResultScreen))
    assert only_block(known_world).result is not None
