"""From a request and a listener's history to a plan."""

from __future__ import annotations

import math
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from centwise.errors import InputError, StoreError, UsageError
from centwise.model import BlockPlan, BlockResult, Condition, Listener
from centwise.planning import (
    BlockRequest,
    check_request,
    earlier_threshold,
    listener_for,
    listener_for_request,
    next_string,
    plan_block,
    request_on_their_instrument,
    with_instrument,
)
from centwise.planning import with_scale as with_new_scale
from centwise.ports import BlockSummary
from centwise.store.sqlite import SqliteStore
from centwise.strings.library import BUILT_IN
from fakes import START, FakeWorld, MemoryStore, block_plan

if TYPE_CHECKING:
    from pathlib import Path

ADA = Listener("listener-1", "Ada", 685.8)


def result(threshold: float | None, octaves: float = 1.0) -> BlockResult:
    if threshold is None:
        return BlockResult(3, 1, *([None] * 11))
    low, high = threshold * 2 ** (-octaves / 2), threshold * 2 ** (octaves / 2)
    return BlockResult(40, 30, threshold, low, high, 0.0, -1.0, 1.0, threshold, 3.0, 2.0, 4.0, 8)


def summary(plan: BlockPlan, result: BlockResult | None) -> BlockSummary:
    return BlockSummary(plan, result, 40, 300.0, None, None)


def planned(request: BlockRequest, store: MemoryStore | None = None, **changes: Any) -> BlockPlan:
    world = FakeWorld()
    values: dict[str, Any] = {
        "store": store or world.store,
        "at": START,
        "new_id": world.services.new_id,
        "new_seed": world.services.new_seed,
        "player": "recording",
    }
    return plan_block(request, ADA, **(values | changes))


def store_with(*blocks: tuple[BlockPlan, BlockResult | None]) -> MemoryStore:
    store = MemoryStore()
    for number, (plan, found) in enumerate(blocks):
        plan = replace(plan, id=f"block-{number}")  # noqa: PLW2901  each its own id
        store.begin_block(plan)
        if found is not None:
            store.end_block(plan.id, found, START)
    return store


def test_what_is_left_open_is_filled_in_for_a_drill() -> None:
    plan = planned(BlockRequest())
    octave_hz = pytest.approx(293.6648, abs=1e-4)
    assert plan == block_plan(
        id="id-1", trials=40, scale_mm=685.8, warm_up=3, string_length_mm=685.8, octave_hz=octave_hz
    )


def test_a_stranger_and_an_assessment_warm_up_and_a_known_listener_drills_at_once() -> None:
    store = store_with((block_plan(), result(8.0)))
    assert planned(BlockRequest(), store).warm_up == 0
    assert planned(BlockRequest(assess=True), store).warm_up == 3
    assert planned(BlockRequest(warm_up=0)).warm_up == 0
    assert planned(BlockRequest(warm_up=7), store).warm_up == 7


@pytest.mark.parametrize("warm_up", [-1, 21])
def test_a_warm_up_out_of_range_is_refused(warm_up: int) -> None:
    with pytest.raises(UsageError, match=f"cannot have {warm_up} pairs to warm up: ask for 0 to 20 with --warm-up"):
        planned(BlockRequest(warm_up=warm_up))


def test_an_assessment_has_a_hundred_pairs_in_both_orders_and_no_past() -> None:
    store = store_with((block_plan(order="both"), result(8.0)))
    plan = planned(BlockRequest(assess=True, string=4), store)
    assert (plan.trials, plan.condition.order, plan.assess) == (100, "both", True)
    assert (plan.prior_threshold_cents, plan.prior_sd_octaves) == (None, None)


def test_what_was_asked_for_is_kept() -> None:
    asked = BlockRequest(
        string=5,
        trials=7,
        order="fretted-first",
        rule="weighted",
        muted=False,
        likeness=0.5,
        seed=99,
        until_octaves=1.2,
    )
    plan = planned(asked)
    assert plan.condition == Condition("five-string", 5, muted=False, likeness=0.5, order="fretted-first")
    assert (plan.trials, plan.rule, plan.seed, plan.until_octaves) == (7, "weighted", 99, 1.2)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"trials": 0}, "0 pairs"),
        ({"trials": 1001}, "1001 pairs"),
        ({"string": 6}, "no string 6"),
        ({"instrument": "lute"}, "'lute'"),
        ({"likeness": -0.1}, "likeness of -0.1"),
        ({"likeness": math.nan}, "likeness of nan"),
        ({"until_octaves": 0.0}, "interval of 0 octaves"),
        ({"until_octaves": math.inf}, "interval of inf octaves"),
    ],
)
def test_impossible_requests_are_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        check_request(BlockRequest(**changes))
    with pytest.raises(UsageError, match=words):
        planned(BlockRequest(**changes))


def test_bass_and_treble_string_take_turns() -> None:
    assert next_string([]) == 4
    blocks = [summary(block_plan(string=string), None) for string in (4, 1, 3)]
    assert [next_string(blocks[:count]) for count in (1, 2, 3)] == [1, 4, 4]
    assert planned(BlockRequest(), store_with((block_plan(), result(8.0)))).condition.string == 1


def test_blocks_heard_in_this_condition_are_what_is_known_the_first_ever_left_out() -> None:
    condition = block_plan().condition
    blocks = [
        summary(block_plan(), result(20.0)),
        summary(block_plan(), result(8.0)),
        summary(block_plan(string=1), result(3.0)),
        summary(block_plan(likeness=1.0), result(3.0)),
        summary(block_plan(player="silent"), result(3.0)),
        summary(block_plan(player="silent:hurry"), result(3.0)),
        summary(block_plan(), result(None)),
        summary(block_plan(), None),
    ]
    threshold, spread = earlier_threshold(blocks, condition, START)
    assert threshold == pytest.approx(8.0)
    # The interval is narrower, yet an earlier block is never trusted further than an octave.
    assert spread == 1.0
    assert earlier_threshold(blocks[2:], condition, START) == (None, None)


def test_the_spread_grows_with_the_days() -> None:
    blocks = [summary(block_plan(), result(8.0))]
    later = START + timedelta(days=100)
    _, spread = earlier_threshold(blocks, block_plan().condition, later)
    # A 90 % interval one octave wide is 2 x 1.645 standard deviations; days scatter 0.1 and a hundred of them 1 octave;
    # practice moves it by 0.4 / (1 + n/10) after the first block that is compared.
    assert spread == pytest.approx(math.sqrt((1 / 3.28971) ** 2 + 0.1**2 + 1.0 + (0.4 / 1.1) ** 2), rel=1e-5)
    _, before = earlier_threshold(blocks, block_plan().condition, START - timedelta(days=3))
    assert before == 1.0


def test_a_plan_holds_what_earlier_blocks_say() -> None:
    plan = planned(BlockRequest(string=4), store_with((block_plan(), result(8.0))))
    assert plan.prior_threshold_cents == pytest.approx(8.0)
    assert plan.prior_sd_octaves == 1.0


def test_listeners_come_by_name_or_as_the_last() -> None:
    world = FakeWorld()
    nobody, new = listener_for(world.store, None, world.services.new_id, 666.75)
    assert (nobody.name, nobody.scale_mm, new) == ("listener 1", 666.75, True)
    ada, new = listener_for(world.store, "Ada", world.services.new_id, 685.8)
    assert (ada.name, ada.scale_mm, new) == ("Ada", 685.8, True)
    assert listener_for(world.store, "ADA", world.services.new_id, 1.0) == (ada, False)
    world.store.begin_block(block_plan(listener_id=ada.id))
    assert listener_for(world.store, None, world.services.new_id, 1.0) == (ada, False)
    with pytest.raises(UsageError, match="scale length of 1 mm"):
        listener_for(world.store, "Bo", world.services.new_id, 1.0)
    assert len(world.store.listeners()) == 2


def test_of_two_windows_that_add_a_name_at_once_the_second_takes_whom_the_first_added(tmp_path: Path) -> None:
    with closing(SqliteStore.open(tmp_path)) as one, closing(SqliteStore.open(tmp_path)) as two:

        def added_meanwhile() -> str:
            two.add_listener(Listener("first", "Ada"))
            return "second"

        ada, new = listener_for(one, "ada", added_meanwhile, 685.8)
        assert (ada.id, ada.name, new) == ("first", "Ada", False)
        assert len(one.listeners()) == 1
        with pytest.raises(StoreError, match="give a new id"):
            listener_for(one, "Bo", lambda: "first", 685.8)


def test_a_new_scale_is_kept() -> None:
    world = FakeWorld()
    ada, _ = listener_for(world.store, "Ada", world.services.new_id, 666.75)
    assert with_new_scale(world.store, ada, 685.8).scale_mm == 685.8
    assert world.store.listeners()[0].scale_mm == 685.8
    with pytest.raises(UsageError):
        with_new_scale(world.store, ada, math.nan)


def test_each_instrument_has_its_own_strings_scale_and_history() -> None:
    store = store_with((block_plan(), result(8.0)))
    plan = planned(BlockRequest(instrument="archtop-guitar"), store)
    assert (plan.condition.instrument, plan.condition.string) == ("archtop-guitar", 6)
    assert (plan.scale_mm, plan.string_length_mm) == (25.5 * 25.4, 25.5 * 25.4)
    assert plan.octave_hz == pytest.approx(164.8138, abs=1e-4)
    assert plan.prior_threshold_cents is None, "what is known of the banjo's string says nothing of the guitar's"
    store = store_with((block_plan(instrument="archtop-guitar", string=4, scale_mm=628.65), result(8.0)))
    assert planned(BlockRequest(), store).prior_threshold_cents is None
    assert planned(BlockRequest(instrument="archtop-guitar"), store).scale_mm == 628.65, "as it was last time"
    assert planned(BlockRequest(instrument="archtop-guitar", scale_mm=640.0), store).scale_mm == 640.0
    with pytest.raises(UsageError, match="archtop guitar has no string 7: choose one from 1 to 6"):
        planned(BlockRequest(instrument="archtop-guitar", string=7))


def test_a_banjo_tuned_otherwise_keeps_its_scale_length() -> None:
    assert planned(BlockRequest(instrument="five-string-double-c")).scale_mm == ADA.scale_mm == 685.8
    assert planned(BlockRequest(instrument="five-string-long-neck")).scale_mm == 32.0 * 25.4


def test_an_instrument_that_has_changed_wants_a_name_of_its_own() -> None:
    store = store_with((block_plan(instrument="mandolin", octave_hz=2.0 * 185.0), result(8.0)))
    words = r"string 4 of 'mandolin' was tuned to 185.0 Hz in earlier blocks, now it is 196.0 Hz: give the changed"
    with pytest.raises(InputError, match=words):
        planned(BlockRequest(instrument="mandolin", string=4), store)
    assert planned(BlockRequest(instrument="mandolin", string=1), store).condition.string == 1


class Asking:
    def __init__(self, *known: Listener) -> None:
        self.world = FakeWorld()
        for listener in known:
            self.world.store.add_listener(listener)

    def __call__(
        self, name: str | None, request: BlockRequest, *, asked: bool = False
    ) -> tuple[Listener, bool, BlockRequest]:
        store = self.world.store
        request = request_on_their_instrument(store, name, request, instrument_asked=asked)
        listener, new = listener_for_request(store, name, request, new_id=self.world.services.new_id, scale_mm=666.75)
        return listener, new, request


def test_who_names_no_instrument_means_what_the_listener_plays() -> None:
    asking = Asking(Listener("bo", "Bo", 350.0, "mandolin"))
    listener, new, request = asking("bo", BlockRequest(string=1))
    assert (listener.name, new, request.instrument, request.string) == ("Bo", False, "mandolin", 1)
    _, _, request = asking("Bo", BlockRequest(instrument="plectrum"), asked=True)
    assert request.instrument == "plectrum"
    with pytest.raises(UsageError, match="mandolin has no string 5"):
        asking("Bo", BlockRequest(string=5))


def test_a_new_listener_plays_the_instrument_named() -> None:
    asking = Asking()
    listener, new, _ = asking("Cy", BlockRequest(instrument="mandolin"), asked=True)
    assert (new, listener.instrument, listener.scale_mm) == (True, "mandolin", pytest.approx(13.875 * 25.4))
    listener, new, _ = asking("Di", BlockRequest())
    assert (new, listener.instrument, listener.scale_mm) == (True, "five-string", 666.75)
    with pytest.raises(UsageError, match="five-string banjo has no string 9"):
        asking("Ed", BlockRequest(string=9))
    assert asking.world.store.listener_named("Ed") is None, "nobody is added for a block that cannot be"


def test_a_scale_length_asked_for_is_the_listeners_on_what_they_play() -> None:
    asking = Asking(Listener("bo", "Bo"))
    listener, _, _ = asking("Bo", BlockRequest(scale_mm=685.8))
    assert listener.scale_mm == 685.8
    listener, _, request = asking("Bo", BlockRequest(instrument="mandolin", scale_mm=340.0), asked=True)
    assert (listener.scale_mm, request.scale_mm) == (685.8, 340.0)


def test_who_takes_up_another_instrument_is_kept_with_it() -> None:
    asking = Asking(Listener("bo", "Bo", 685.8))
    changed = with_instrument(asking.world.store, Listener("bo", "Bo", 685.8), "mandolin", (), BUILT_IN)
    assert asking.world.store.listener_named("Bo") == changed
    assert (changed.instrument, changed.scale_mm) == ("mandolin", pytest.approx(13.875 * 25.4))
