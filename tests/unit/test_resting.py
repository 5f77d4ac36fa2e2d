"""A rest is proposed after twenty minutes of listening: over blocks, between two pairs, by every line front end."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.bench_planning import BenchRequest, open_rehearsal
from centwise.cli.bench_events import BenchEventsFace
from centwise.cli.bench_lines import run_bench_lines
from centwise.cli.bench_plain import BenchPlainFace
from centwise.cli.events import EventsFace
from centwise.cli.lines import run_lines
from centwise.cli.plain import PlainFace
from centwise.conductor import Sitting
from centwise.model import BenchAct, BenchPlan, Listener
from centwise.resting import PAUSE_S, REST_AFTER_S, EarTime, ear_time
from fakes import START, FakeWorld, ManualClock, MemoryStore, block_plan

if TYPE_CHECKING:
    from collections.abc import Iterator

    from centwise.cli.lines import Face

ADA = Listener("listener-1", "Ada")
SAID = "You have been listening for 20 minutes. Rest your ears for five: what is answered is kept."


@pytest.fixture
def world() -> FakeWorld:
    world = FakeWorld()
    world.player.rate_hz = 22_050
    world.store.add_listener(ADA)
    return world


def test_twenty_minutes_without_a_rest() -> None:
    clock = ManualClock()
    ears = EarTime(clock)
    assert ears.rest_due() is None
    for minute in range(20):
        ears.heard()
        assert ears.rest_due() is None, minute
        clock.advance(60.0)
    ears.heard()
    assert ears.rest_due() == 20
    # It was proposed: whoever goes on all the same is asked again after twenty more, not at every pair.
    assert ears.rest_due() is None
    for _ in range(20):
        clock.advance(60.0)
        ears.heard()
    assert ears.rest_due() == 20


def test_five_minutes_of_quiet_are_a_rest() -> None:
    clock = ManualClock()
    ears = EarTime(clock, listened_s=19.0 * 60.0)
    ears.heard()
    clock.advance(PAUSE_S)
    assert ears.rest_due() is None
    ears.heard()
    clock.advance(60.0)
    assert ears.rest_due() is None
    # Four minutes are none.
    ears = EarTime(clock, listened_s=17.0 * 60.0)
    ears.heard()
    clock.advance(240.0)
    ears.heard()
    assert ears.rest_due() == 21


@given(st.lists(st.floats(1.0, 900.0), max_size=60))
def test_it_is_due_just_when_twenty_minutes_lie_behind_the_last_rest(gaps_s: list[float]) -> None:
    clock = ManualClock()
    ears = EarTime(clock)
    ears.heard()
    began_s = clock.monotonic_s()
    for gap_s in gaps_s:
        clock.advance(gap_s)
        if gap_s >= PAUSE_S:
            began_s = clock.monotonic_s()
        ears.heard()
        due = ears.rest_due()
        assert (due is not None) == (clock.monotonic_s() - began_s >= REST_AFTER_S)
        if due is not None:
            began_s = clock.monotonic_s()


def taken(store: MemoryStore, number: int, begin_min: float, minutes: float, **changes: object) -> None:
    """Keep a block of one pair a minute."""
    clock = ManualClock(START + timedelta(minutes=begin_min))
    world = FakeWorld(clock=clock)
    plan = block_plan(id=f"block-{number}", started_at=clock.now(), trials=100, **changes)
    with Sitting(store, clock, world.player, plan) as sitting:
        for _ in range(round(minutes)):
            clock.advance(60.0)
            sitting.answer("flat")


def due_after(store: MemoryStore, now_min: float) -> int | None:
    clock = ManualClock(START + timedelta(minutes=now_min))
    ears = ear_time(store, clock, ADA.id)
    ears.heard()
    return ears.rest_due()


def test_what_the_store_knows_counts_on() -> None:
    store = MemoryStore()
    store.add_listener(ADA)
    taken(store, 1, 0.0, 10.0)
    taken(store, 2, 12.0, 9.0)
    # From minute 0 or 1 to minute 21, with two minutes between the blocks; asked as the next pair sounds.
    assert due_after(store, 22.0) in {21, 22}
    assert due_after(store, 26.5) is None  # five and a half minutes later ears have rested
    taken(store, 3, 60.0, 5.0)
    assert due_after(store, 66.0) is None


def test_a_block_that_was_left_over_night_is_no_night_of_listening() -> None:
    store = MemoryStore()
    store.add_listener(ADA)
    taken(store, 1, -1000.0, 3.0)
    clock = ManualClock(START)
    (left,) = store.blocks(ADA.id)
    with Sitting(store, clock, FakeWorld(clock=clock).player, left.plan, left.trials) as sitting:
        sitting.answer("flat")
    assert due_after(store, 1.0) is None


def test_blocks_without_sound_and_a_store_that_fails_count_nothing() -> None:
    store = MemoryStore()
    store.add_listener(ADA)
    taken(store, 1, 0.0, 25.0, player="silent")
    assert due_after(store, 26.0) is None
    store.broken.add("summaries")
    assert due_after(store, 26.0) is None


@pytest.mark.parametrize(("player", "due"), [("recording", 25), ("silent", None)])
def test_a_rehearsal_counts_where_it_was_heard(player: str, due: int | None) -> None:
    store = MemoryStore()
    store.add_listener(ADA)
    plan = BenchPlan("bench-1", ADA.id, "five-string", "straight", "easy", True, 7, 666.75, player, START)
    store.begin_bench(plan)
    for n in range(1, 26):
        store.add_bench_act(plan.id, BenchAct(n, "chime 4", START + timedelta(minutes=n)))
    assert due_after(store, 26.0) == due


def answers(world: FakeWorld, count: int, minutes_each: float = 1.0) -> Iterator[str]:
    for _ in range(count):
        world.clock.advance(60.0 * minutes_each)
        yield "flat\n"


def drilled(world: FakeWorld, face: Face, lines: Iterator[str], **changes: object) -> None:
    ears = ear_time(world.store, world.clock, ADA.id)
    plan = block_plan(started_at=world.clock.now(), **changes)
    with Sitting(world.store, world.clock, world.player, plan, ears=ears) as sitting:
        run_lines(sitting, lines, face)


def plain_face(world: FakeWorld, *, waits: bool) -> PlainFace:
    return PlainFace(
        ADA, new=False, player=world.player, store=world.store, as_json=False, waits=waits, sleep=world.clock.sleep
    )


def test_in_sentences_it_comes_after_an_answer_and_waits_at_a_terminal(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    def typed() -> Iterator[str]:
        yield from answers(world, 20)
        yield "\n"
        yield from answers(world, 2)
        yield "quit\n"

    drilled(world, plain_face(world, waits=True), typed())
    said = capsys.readouterr().out
    assert said.count(SAID) == 1
    # After the truth of pair 20, before pair 21.
    after = said[said.index("Pair 20 of 40") :]
    places = [after.index(words) for words in ("Answer flat", SAID, "Press enter to go on, or say quit.", "Pair 21")]
    assert places == sorted(places)
    assert len(world.store.blocks(ADA.id)[0].trials) == 22


def test_over_a_pipe_it_waits_for_nothing_and_after_the_last_pair_it_comes_last(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    drilled(world, plain_face(world, waits=False), answers(world, 20), trials=20)
    said = capsys.readouterr().out.splitlines()
    assert said[-1] == SAID
    assert "Press enter to go on, or say quit." not in said


def test_it_counts_over_several_blocks_and_is_an_event_of_its_own(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(3):
        face = EventsFace(ADA, player=world.player, store=world.store)
        drilled(world, face, answers(world, 8), trials=8, id=f"block-{number}")
    events = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    (rest,) = [event for event in events if event["event"] == "rest"]
    assert rest == {"event": "rest", "minutes": 20, "message": SAID}
    assert [event["event"] for event in events].count("result") == 3
    assert events[events.index(rest) - 1]["event"] == "answer"
    assert [event["event"] for event in events].index("rest") > [event["event"] for event in events].index("result")


def test_the_rest_of_a_long_assessment_is_one_too(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    # The fiftieth pair comes in minute 20: one proposal, not two.
    drilled(world, plain_face(world, waits=False), answers(world, 52, 0.395), assess=True, trials=60)
    said = capsys.readouterr().out
    assert "50 pairs are done and 10 are left. Rest your ears for a minute." in said
    assert "You have been listening" not in said


def test_at_the_bench_it_comes_between_two_comparisons(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    def acts() -> Iterator[str]:
        yield "mute\n"
        for _ in range(11):
            world.clock.advance(60.0)
            yield "chime 4\n"
            world.clock.advance(60.0)
            yield "fret 4\n"
        yield "bass back 1/16in\n"
        yield "quit\n"

    for face in ("plain", "events"):
        rehearsal, taken_up = open_rehearsal(
            BenchRequest(anew=True), ADA, world.services, world.player, first_is_guided=False
        )
        run_bench_lines(
            rehearsal,
            acts(),
            BenchPlainFace(ADA, new=False, player=world.player, store=world.store, as_json=False)
            if face == "plain"
            else BenchEventsFace(ADA, player=world.player, store=world.store),
            taken_up=taken_up,
        )
        rehearsal.close()
        world.clock.advance(PAUSE_S)
        said = capsys.readouterr().out.splitlines()
        (rest,) = [n for n, line in enumerate(said) if "You have been listening for 21 minutes." in line]
        assert any("bass" in line for line in said[rest - 2 : rest])


def test_without_sound_nobody_is_sent_to_rest(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    drilled(world, plain_face(world, waits=False), answers(world, 30), player="silent")
    assert "You have been listening" not in capsys.readouterr().out
