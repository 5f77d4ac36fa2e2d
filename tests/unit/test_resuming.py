"""A block that was cut off is found again and gone on with from the very pair it stood at."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from centwise.conductor import Sitting
from centwise.drill import machine
from centwise.drill.result import block_result
from centwise.errors import UsageError
from centwise.model import JUDGEMENTS, Listener
from centwise.practising import PRACTICE_KEY
from centwise.resuming import block_left, block_to_resume, check_player, left_text
from fakes import START, FakeWorld, block_plan

if TYPE_CHECKING:
    from centwise.model import BlockPlan


def cut_off(world: FakeWorld, plan: BlockPlan, answers: int) -> None:
    """Take a block and leave it without an end, as a kill does."""
    with Sitting(world.store, world.clock, world.player, plan) as sitting:
        for _ in range(answers):
            sitting.answer("flat")


@pytest.fixture
def world() -> FakeWorld:
    world = FakeWorld()
    world.store.add_listener(Listener("listener-1", "Ada"))
    return world


def test_the_latest_block_with_answers_and_no_result_is_found(world: FakeWorld) -> None:
    assert block_left(world.store, "listener-1") is None
    cut_off(world, block_plan(id="first", seed=1), 3)
    cut_off(world, block_plan(id="second", string=1, seed=2), 2)
    cut_off(world, block_plan(id="unanswered"), 0)
    left = block_left(world.store, "listener-1")
    assert left is not None
    assert (left.plan.id, len(left.trials)) == ("second", 2)
    assert left_text(left) == (
        "A block on string 1 was cut off after 2 of 40 pairs: centwise drill --resume goes on with it."
    )
    world.store.end_block("second", block_result(left.plan, left.trials), START)
    again = block_left(world.store, "listener-1")
    assert again is not None
    assert again.plan.id == "first"
    assert block_left(world.store, "nobody") is None


@pytest.mark.parametrize("answered", range(1, 13))
def test_pairs_to_practise_the_directions_count_among_those_there_are(world: FakeWorld, answered: int) -> None:
    # Asked for after the two that warm up, and once more when the first practice has begun.
    with Sitting(world.store, world.clock, world.player, block_plan(warm_up=2, trials=5)) as sitting:
        for number in range(answered):
            if number in {2, 4}:
                assert sitting.practise_directions()
            sitting.answer("flat")
    left = block_left(world.store, "listener-1")
    assert left is not None
    total = machine.resume(left.plan, left.trials).total
    assert f"was cut off after {answered} of {total} pairs" in left_text(left)
    assert total == 7 + 4 * (answered > 2) + 4 * (answered > 6)


@pytest.mark.parametrize("asked_after", [{3}, {2}, {1, 4}, {3, 5}, {3, 4, 5, 6}])
def test_practice_that_was_asked_for_and_not_begun_is_gone_on_with(world: FakeWorld, asked_after: set[int]) -> None:
    plan = block_plan(warm_up=3, trials=4)
    whole = machine.begin(plan)
    with Sitting(world.store, world.clock, world.player, plan) as sitting:
        while not sitting.drill.over:
            if len(sitting.drill.trials) in asked_after:
                sitting.practise_directions()
            # Cut off here and taken up again, it stands where it stood.
            with Sitting(world.store, world.clock, world.player, plan, sitting.drill.trials) as again:
                assert again.drill == sitting.drill
            sitting.answer(JUDGEMENTS[len(sitting.drill.trials) % 3])
            whole = sitting.drill
    assert sum(trial.scored for trial in whole.trials) == 4
    assert len(whole.trials) > 7


@pytest.mark.parametrize(
    "kept", ["", "block-1", "block-1 -4", "block-1 4 4", "block-1 99999", "another 4", "block-1 ⁴"]
)
def test_what_is_no_practice_of_this_block_changes_nothing(world: FakeWorld, kept: str) -> None:
    cut_off(world, block_plan(warm_up=3), 3)
    world.store.set_setting(PRACTICE_KEY, kept)
    left = block_to_resume(world.store, "Ada")
    with Sitting(world.store, world.clock, world.player, left.plan, left.trials) as sitting:
        assert sitting.drill == machine.resume(left.plan, left.trials)


def test_a_store_that_keeps_no_practice_stops_none(world: FakeWorld) -> None:
    with Sitting(world.store, world.clock, world.player, block_plan(warm_up=1)) as sitting:
        world.store.broken.add("set_setting")
        assert sitting.practise_directions()
        assert sitting.drill.practice == machine.PRACTICE_PAIRS


def test_a_block_in_recorded_notes_is_not_offered(world: FakeWorld) -> None:
    cut_off(world, replace(block_plan(), take_sha256="0" * 64), 3)
    assert block_left(world.store, "listener-1") is None
    with pytest.raises(UsageError, match="a block of Ada in recorded notes cannot be gone on with: its pairs need"):
        block_to_resume(world.store, "Ada")


def test_whose_block_is_meant(world: FakeWorld) -> None:
    with pytest.raises(UsageError, match="Ada has no block that was cut off: leave out --resume"):
        block_to_resume(world.store, None)
    with pytest.raises(UsageError, match="Bo has no block"):
        block_to_resume(world.store, "Bo")
    assert world.store.listener_named("Bo") is None
    with pytest.raises(UsageError, match="this store has no block"):
        block_to_resume(FakeWorld().store, None)
    cut_off(world, block_plan(), 1)
    assert block_to_resume(world.store, "ada") == block_to_resume(world.store, None)


def test_half_a_block_without_sound_is_refused() -> None:
    check_player(block_plan(), "miniaudio")
    check_player(block_plan(player="silent"), "silent:hurry")
    with pytest.raises(UsageError, match="taken with sound: go on with a player that sounds"):
        check_player(block_plan(), "silent")
    with pytest.raises(UsageError, match="taken without sound: go on with --player silent"):
        check_player(block_plan(player="silent"), "miniaudio")
