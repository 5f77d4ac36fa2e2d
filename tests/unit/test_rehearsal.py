"""The rehearsal's conductor on fakes: what is kept when, what failing devices and stores cost, and going on."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from centwise.bench.acts import parse_act
from centwise.bench_planning import BenchRequest, known_thresholds, left_rehearsal, open_rehearsal
from centwise.errors import DeviceError, InputError, StoreError, UsageError
from centwise.model import BenchAct, BlockResult, Listener
from centwise.ports import BlockSummary
from centwise.rehearsal import Answer, Rehearsal
from centwise.strings.library import BUILT_IN
from fakes import START, FakeWorld, block_plan

ADA = Listener("listener-1", "Ada")
FIVE_STRING = BUILT_IN.named("five-string")


@pytest.fixture
def world() -> FakeWorld:
    world = FakeWorld()
    world.player.rate_hz = 22_050
    world.store.add_listener(ADA)
    world.calls.clear()
    return world


def opened(world: FakeWorld, *, guide: bool = False, **request: Any) -> tuple[Rehearsal, bool]:
    return open_rehearsal(BenchRequest(**request), ADA, world.services, world.player, first_is_guided=guide)


def do(rehearsal: Rehearsal, *words: str) -> list[Answer]:
    return [rehearsal.do(parse_act(text)) for text in words]


def test_a_sound_begins_at_once_and_every_act_is_kept_before_it_is_answered(world: FakeWorld) -> None:
    rehearsal, taken_up = opened(world)
    assert not taken_up
    do(rehearsal, "mute", "chime 4", "bass back 1/16in")
    name = "".join(filter(str.isalnum, rehearsal.bench.plan.id))[:8]
    assert [call for call in world.calls if call.startswith(("play", "add", "begin"))] == [
        "begin_bench",
        "add_bench_act",
        f"play bench-{name}-0002-chime-4",
        "add_bench_act",
        "add_bench_act",
    ]
    (kept,) = world.store.benches(ADA.id)
    assert [act.words for act in kept.acts] == ["mute", "chime 4", "bass back 1/16in"]


def test_the_mark_keeps_its_reckoning_with_the_thresholds_beside_it(world: FakeWorld) -> None:
    rehearsal, _ = opened(world)
    *_, answer = do(rehearsal, "mute", "retune", "mark")
    assert answer.result == rehearsal.result == world.store.benches(ADA.id)[0].result
    assert answer.result is not None
    assert [share.threshold_cents for share in answer.result.shares] == [None, None]
    assert world.store.unfinished_bench(ADA.id) is None


def test_a_rehearsal_that_was_left_goes_on_where_it_was(world: FakeWorld) -> None:
    rehearsal, _ = opened(world)
    do(rehearsal, "mute", "retune", "chime 4", "fret 4", "bass forward 1/16in", "retune")
    rehearsal.close()
    again, taken_up = opened(world)
    assert taken_up
    assert again.bench == rehearsal.bench
    one, other = (do(each, "fret 4")[0].heard for each in (again, never_left(rehearsal)))
    assert one is not None
    assert other is not None
    assert np.array_equal(one.sound.sound.samples, other.sound.sound.samples)


def never_left(left: Rehearsal) -> Rehearsal:
    """Return the rehearsal that was never left, on a store of its own."""
    other = FakeWorld()
    other.player.rate_hz = 22_050
    unbroken = Rehearsal(
        other.store, other.clock, other.player, left.bench.plan, left.instrument, new_id=lambda: "id", thresholds={}
    )
    do(unbroken, "mute", "retune", "chime 4", "fret 4", "bass forward 1/16in", "retune")
    return unbroken


@pytest.mark.parametrize(
    ("request_", "goes_on"),
    [
        ({}, True),
        ({"seed": 11}, True),
        ({"bridge": "straight", "difficulty": "middle"}, True),
        ({"anew": True}, False),
        ({"seed": 12}, False),
        ({"difficulty": "hard"}, False),
        ({"bridge": "compensated"}, False),
        ({"scale_mm": 600.0}, False),
        ({"guided": True}, False),
    ],
)
def test_it_goes_on_only_if_it_is_what_was_asked_for(world: FakeWorld, request_: dict[str, Any], goes_on: bool) -> None:
    opened(world)
    assert (left_rehearsal(BenchRequest(**request_), ADA, world.services) is not None) == goes_on


def test_the_very_first_is_guided_and_easy_unless_asked_otherwise(world: FakeWorld) -> None:
    first, _ = opened(world, guide=True)
    assert (first.bench.plan.guided, first.bench.plan.difficulty) == (True, "easy")
    second, _ = opened(world, guide=True, anew=True)
    assert (second.bench.plan.guided, second.bench.plan.difficulty) == (False, "middle")
    script, _ = opened(world_with_ada(), guide=False)
    assert (script.bench.plan.guided, script.bench.plan.difficulty) == (False, "middle")


def world_with_ada() -> FakeWorld:
    world = FakeWorld()
    world.store.add_listener(ADA)
    return world


def test_a_device_that_fails_changes_nothing(world: FakeWorld) -> None:
    rehearsal, _ = opened(world)
    do(rehearsal, "mute")
    before = rehearsal.bench
    world.player.fails_at_play = True
    with pytest.raises(DeviceError):
        do(rehearsal, "chime 4")
    assert rehearsal.bench == before
    assert len(world.store.benches(ADA.id)[0].acts) == 1
    world.player.fails_at_play = False
    do(rehearsal, "chime 4")
    assert rehearsal.bench.acts == 2


@pytest.mark.parametrize("words", ["bass back 1/16in", "fret 4", "mark", "start over"])
def test_a_store_that_fails_changes_nothing(world: FakeWorld, words: str) -> None:
    rehearsal, _ = opened(world)
    do(rehearsal, "mute")
    before = rehearsal.bench
    world.store.broken = {"add_bench_act"}
    with pytest.raises(StoreError):
        do(rehearsal, words)
    assert rehearsal.bench == before
    assert rehearsal.result is None
    world.store.broken = set()
    do(rehearsal, words)


def test_bad_words_reach_neither_player_nor_store(world: FakeWorld) -> None:
    rehearsal, _ = opened(world)
    calls = list(world.calls)
    for words in ("chime 9", "bass back 90mm", "slide bass 30mm"):
        with pytest.raises(UsageError):
            do(rehearsal, words)
    assert world.calls == calls


def test_after_the_mark_starting_over_is_a_rehearsal_of_its_own_with_the_old_line_on_the_head(
    world: FakeWorld,
) -> None:
    rehearsal, _ = opened(world)
    do(rehearsal, "bass back 1/16in", "mark")
    marked_at = rehearsal.bench.feet
    do(rehearsal, "chime 4")  # listening is not kept once the feet are marked
    do(rehearsal, "start over")
    first, second = world.store.benches(ADA.id)
    assert len(first.acts) == 2
    assert first.result is not None
    assert second.result is None
    assert second.plan.id != first.plan.id
    assert rehearsal.bench.pencil == marked_at
    assert rehearsal.bench.feet == rehearsal.bench.setting.start
    assert rehearsal.result is None
    assert rehearsal.bench.own_acts == 1
    assert [(act.n, act.words) for act in second.acts] == [(4, "start over")]
    # The job is the same, but no hand does the same twice.
    do(rehearsal, "bass back 1/16in")
    assert rehearsal.bench.feet != marked_at


def test_the_line_of_before_is_there_when_the_next_is_left_and_taken_up(world: FakeWorld) -> None:
    rehearsal, _ = opened(world)
    do(rehearsal, "bass back 1/16in", "mark", "start over", "mute", "margins")
    for _ in range(2):
        taken, taken_up = opened(world)
        assert taken_up
        assert taken.bench == rehearsal.bench
        assert taken.bench.pencil is not None
        assert taken.bench.margins is not None
        do(rehearsal, "treble forward 1/32in")
    # One begun by itself has no line of another, though its seed be the same.
    apart, _ = opened(world, anew=True, seed=rehearsal.bench.plan.seed)
    do(apart, "mute")
    assert opened(world)[0].bench.pencil is None


def test_what_the_listener_hears_is_taken_from_the_condition_heard_last() -> None:
    def summary(string: int, threshold: float | None, **changes: Any) -> BlockSummary:
        result = BlockResult(40, 30, threshold, 4.0, 9.0, 0.0, -1.0, 1.0, 3.0, 2.0, 1.5, 3.0, 5)
        return BlockSummary(block_plan(string=string, **changes), result, 40, 300.0, START, 1)

    known = known_thresholds([summary(4, 6.0), summary(4, None)], FIVE_STRING, START)
    assert known[1] is None
    assert known[4] == pytest.approx(6.0, rel=0.25)
    assert known_thresholds([], FIVE_STRING, START) == {4: None, 1: None}
    assert known_thresholds([summary(3, 6.0)], FIVE_STRING, START) == {4: None, 1: None}


def test_closing_stops_the_sound(world: FakeWorld) -> None:
    rehearsal, _ = opened(world)
    do(rehearsal, "chime 4")
    rehearsal.close()
    assert world.player.playbacks[-1].stopped_at_s is not None


@pytest.mark.parametrize("words", ["undo", "chime 9", "bass back 99mm"])
def test_one_that_cannot_be_taken_up_again_says_so_and_another_may_begin(world: FakeWorld, words: str) -> None:
    rehearsal, _ = opened(world)
    world.store.add_bench_act(rehearsal.bench.plan.id, BenchAct(1, words, START))
    with pytest.raises(InputError, match="cannot be taken up again"):
        opened(world)
    another, taken_up = opened(world, anew=True)
    assert not taken_up
    assert another.bench.acts == 0


def test_what_was_prepared_sounds_as_it_would_have(world: FakeWorld) -> None:
    prepared, _ = opened(world)
    do(prepared, "mute", "chime 4")
    prepared.expect(*map(parse_act, ("mute", "chime 9", "fret 4", "chime 4")))
    prepared._pool.submit(lambda: None).result()
    assert [tone.act for tone, _ in prepared._ready] == [parse_act("fret 4"), parse_act("chime 4")]
    there = world_with_ada()
    there.player.rate_hz = 22_050
    plain, _ = opened(there, seed=prepared.bench.plan.seed)
    do(plain, "mute", "chime 4")
    for words in ("fret 4", "chime 4"):
        one, other = (do(rehearsal, words)[0].heard for rehearsal in (prepared, plain))
        assert one is not None
        assert other is not None
        assert one.tone == other.tone
        assert np.array_equal(one.sound.sound.samples, other.sound.sound.samples)


def test_what_was_prepared_for_a_bench_of_before_is_not_used(world: FakeWorld) -> None:
    rehearsal, _ = opened(world)
    rehearsal.expect(parse_act("fret 4"))
    rehearsal._pool.submit(lambda: None).result()
    (ready,) = rehearsal._ready
    do(rehearsal, "bass back 1/16in")
    (answer,) = do(rehearsal, "fret 4")
    assert answer.heard is not None
    assert answer.heard.sound is not ready[1]
    rehearsal.close()
    rehearsal.expect(parse_act("fret 4"))
