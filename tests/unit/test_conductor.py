"""A sitting on fakes of the ports: kept before told, nothing lost when a device or the store fails."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from banjo import FIVE_STRING
from centwise.conductor import Hole, Sitting
from centwise.draws import Draws, Purpose
from centwise.drill.words import Feedback, Noted
from centwise.errors import DeviceError, InputError, StoreError
from centwise.model import JUDGEMENTS, PairSpec
from centwise.tones.pair import render_pair, tone_alone
from fakes import FakeWorld, MemoryStore, RecordingPlayer, block_plan

if TYPE_CHECKING:
    from collections.abc import Iterator

    from centwise.model import BlockResult, Trial


@pytest.fixture
def world() -> FakeWorld:
    return FakeWorld()


@pytest.fixture
def sitting(world: FakeWorld) -> Iterator[Sitting]:
    with begun(world) as made:
        yield made


def begun(world: FakeWorld, **changes: Any) -> Sitting:
    return Sitting(world.store, world.clock, world.player, block_plan(**changes))


def rendered(spec: PairSpec) -> np.ndarray:
    rng = Draws(block_plan().seed).stream(Purpose.TONES, spec.n)
    return render_pair(spec, FIVE_STRING, rate_hz=RecordingPlayer.rate_hz, rng=rng).sound.samples


def settle(sitting: Sitting) -> None:
    """Wait until everything that was handed to the preparing thread is done."""
    sitting._pool.submit(lambda: None).result()


def test_the_block_is_in_the_store_before_anything_sounds(world: FakeWorld, sitting: Sitting) -> None:
    assert world.calls == ["begin_block"]
    sitting.sound()
    assert world.calls == ["begin_block", "play pair-0001"]


def test_an_answer_is_in_the_store_before_it_is_told(world: FakeWorld, sitting: Sitting) -> None:
    sitting.sound()
    seen: list[tuple[Trial, ...]] = []
    keep = world.store.add_trial

    def watched(block_id: str, trial: Trial) -> None:
        seen.append(sitting.drill.trials)
        keep(block_id, trial)

    world.store.add_trial = watched  # type: ignore[method-assign]
    world.clock.advance(4.0)
    taken = sitting.answer("flat")
    assert seen == [()]
    assert isinstance(taken.told, Feedback)
    assert world.store.block("block-1").trials == (taken.told.trial,)
    assert taken.told.trial.answered_at == world.clock.now()
    assert taken.result is None


def test_when_the_store_fails_nothing_is_told_and_the_pair_stays(world: FakeWorld, sitting: Sitting) -> None:
    pair = sitting.sound().pair
    before = sitting.drill
    world.store.broken.add("add_trial")
    with pytest.raises(StoreError, match="cannot add_trial"):
        sitting.answer("flat")
    assert sitting.drill == before
    assert sitting.judged is None
    assert sitting.sound().pair is pair
    world.store.broken.clear()
    assert isinstance(sitting.answer("flat").told, Feedback)
    assert len(world.store.block("block-1").trials) == 1


def test_a_failing_device_loses_nothing_and_plays_the_same_pair_afterwards(world: FakeWorld, sitting: Sitting) -> None:
    sitting.sound()
    sitting.answer("sharp")
    waiting = sitting.drill.pair
    world.player.fails_at_play = True
    for act in (sitting.sound, sitting.again):
        with pytest.raises(DeviceError, match="no loudspeaker"):
            act()
    assert sitting.drill.pair == waiting
    assert sitting.drill.replays == 0
    assert len(world.store.block("block-1").trials) == 1
    world.player.fails_at_play = False
    heard = sitting.sound()
    assert heard.spec == waiting
    np.testing.assert_array_equal(world.player.sounds[-1].samples, rendered(heard.spec))


def test_a_device_lost_while_it_plays_loses_nothing(world: FakeWorld, sitting: Sitting) -> None:
    heard = sitting.sound()
    world.player.fails_at_wait = True
    with pytest.raises(DeviceError, match="went away"):
        heard.playback.wait()
    world.player.fails_at_wait = False
    assert sitting.sound().pair is heard.pair
    assert isinstance(sitting.answer("unison").told, Feedback)


@pytest.mark.parametrize("order", ["harmonic-first", "fretted-first", "both"])
def test_pairs_prepared_ahead_are_those_rendered_afresh(world: FakeWorld, order: str) -> None:
    with begun(world, order=order) as sitting:
        for answer in (*JUDGEMENTS, *JUDGEMENTS):
            heard = sitting.sound()
            np.testing.assert_array_equal(world.player.sounds[-1].samples, rendered(heard.spec))
            settle(sitting)
            ahead = dict(sitting._ready)
            sitting.answer(answer)
            assert sitting.drill.pair in ahead


def test_a_hasty_listener_hears_the_same_pairs(world: FakeWorld, sitting: Sitting) -> None:
    for number in range(12):
        heard = sitting.sound()
        np.testing.assert_array_equal(heard.pair.sound.samples, rendered(heard.spec))
        sitting.answer(JUDGEMENTS[number % 3])


def test_preparing_neither_sounds_nor_keeps_anything(world: FakeWorld, sitting: Sitting) -> None:
    sitting.sound()
    settle(sitting)
    assert world.calls == ["begin_block", "play pair-0001"]
    assert len(sitting._ready) <= 4


def test_one_tone_alone_is_cut_from_the_pair_and_counts_as_heard_again(world: FakeWorld, sitting: Sitting) -> None:
    pair = sitting.sound().pair
    for number, part in enumerate(("harmonic", "fretted"), start=1):
        heard = sitting.again(part)  # type: ignore[arg-type]
        assert (heard.part, heard.pair) == (part, pair)
        np.testing.assert_array_equal(world.player.sounds[-1].samples, tone_alone(pair, part).samples)  # type: ignore[arg-type]
        assert sitting.drill.replays == number
    sitting.answer("flat")
    assert world.store.block("block-1").trials[0].replays == 2


def test_a_new_sound_stops_the_one_before(world: FakeWorld, sitting: Sitting) -> None:
    first = sitting.sound().playback
    sitting.again()
    assert first is world.player.playbacks[0]
    assert world.player.playbacks[0].stopped_at_s is not None
    sitting.hush()
    assert world.player.playbacks[1].stopped_at_s is not None


def test_a_judged_pair_may_be_heard_once_more_and_counts_as_nothing(world: FakeWorld, sitting: Sitting) -> None:
    assert sitting.sound_judged() is None
    assert sitting.judged is None
    pair = sitting.sound().pair
    sitting.answer("flat")
    waiting = sitting.drill
    assert sitting.sound_judged() is world.player.playbacks[-1]
    assert sitting.judged is pair
    np.testing.assert_array_equal(world.player.sounds[-1].samples, pair.sound.samples)
    sitting.sound_judged("harmonic")
    assert world.player.sounds[-1].name == "pair-0001-harmonic"
    assert sitting.drill is waiting


def test_the_last_answer_brings_the_result_and_it_is_kept(world: FakeWorld) -> None:
    with begun(world, trials=6) as sitting:
        for _ in range(6):
            assert sitting.result is None
            sitting.sound()
            taken = sitting.answer("sharp")
        assert taken.result is not None
        assert sitting.result is taken.result
        assert isinstance(taken.told, Feedback)
        assert world.store.block("block-1").result == taken.result
        assert world.calls[-3:] == ["add_trial", "end_block", "summaries"]
        with pytest.raises(RuntimeError, match="over"):
            sitting.sound()
        sitting.sound_judged()
        assert world.player.sounds[-1].name == "pair-0006"


def test_a_past_that_cannot_be_read_does_not_cost_the_result(world: FakeWorld) -> None:
    world.store.broken.add("summaries")
    with begun(world, trials=5) as sitting:
        for _ in range(5):
            taken = sitting.answer("sharp")
        assert taken.result is not None
        assert sitting.standing is None
        assert world.store.block("block-1").result == taken.result


def test_a_block_that_is_over_says_where_it_stands(world: FakeWorld) -> None:
    with begun(world, trials=5) as sitting:
        assert sitting.standing is None
        for _ in range(5):
            sitting.answer("sharp")
        assert sitting.standing is not None
        assert sitting.standing.number == 1


def test_an_assessment_tells_nothing(world: FakeWorld) -> None:
    with begun(world, assess=True, trials=5) as sitting:
        told = []
        for _ in range(5):
            sitting.sound()
            told.append(sitting.answer("unison").told)
    assert told == [Noted(n, "unison") for n in range(1, 6)]


def test_leaving_twice_gives_one_result_and_keeps_it_once(world: FakeWorld, sitting: Sitting) -> None:
    for _ in range(5):
        sitting.sound()
        sitting.answer("flat")
    first = sitting.leave()
    assert first.trials == 5
    assert sitting.leave() is first
    assert world.calls.count("end_block") == 1
    assert world.player.playbacks[-1].stopped_at_s is not None


def test_a_result_that_could_not_be_kept_is_kept_by_leaving(world: FakeWorld) -> None:
    with begun(world, trials=5) as sitting:
        world.store.broken.add("end_block")
        for _ in range(4):
            sitting.answer("flat")
        with pytest.raises(StoreError, match="cannot end_block"):
            sitting.answer("flat")
        assert len(world.store.block("block-1").trials) == 5
        assert sitting.drill.over
        assert sitting.result is None
        with pytest.raises(StoreError):
            sitting.leave()
        world.store.broken.clear()
        assert sitting.leave() == world.store.block("block-1").result


def test_closing_leaves_the_block_open_and_the_player_too(world: FakeWorld) -> None:
    sitting = begun(world)
    sitting.sound()
    sitting.answer("flat")
    sitting.sound()
    sitting.close()
    sitting.close()
    assert world.player.playbacks[-1].stopped_at_s is not None
    assert not world.player.closed
    left = world.store.block_with_id("block-1")
    assert left is not None
    assert len(left.trials) == 1


def test_no_preparing_thread_is_left_behind(world: FakeWorld) -> None:
    before = set(threading.enumerate())
    for _ in range(3):
        with begun(FakeWorld()) as sitting:
            sitting.sound()
    for thread in set(threading.enumerate()) - before:
        thread.join(5.0)
        assert not thread.is_alive()


@pytest.mark.parametrize("answered", [0, 3, 8])
def test_a_block_taken_up_again_goes_on_as_if_never_left(answered: int) -> None:
    def words(first: int, last: int) -> list[Any]:
        return [JUDGEMENTS[(number * 7) % 3] for number in range(first, last)]

    unbroken = FakeWorld()
    with begun(unbroken, trials=8) as sitting:
        for word in words(0, 8):
            sitting.answer(word)
        result: BlockResult | None = sitting.leave()
    left = FakeWorld()
    with begun(left, trials=8) as sitting:
        left.store.broken.add("end_block")
        for word in words(0, answered):
            try:
                sitting.answer(word)
            except StoreError:
                assert answered == 8
    left.store.broken.clear()
    kept = left.store.block_with_id("block-1")
    assert kept is not None
    with Sitting(left.store, left.clock, left.player, kept.plan, kept.trials) as sitting:
        for word in words(answered, 8):
            sitting.answer(word)
        assert sitting.leave() == result
    assert left.store.block("block-1").trials == unbroken.store.block("block-1").trials
    assert left.calls.count("begin_block") == 1


@pytest.mark.parametrize("kept", [True, False])
def test_ctrl_c_while_an_answer_is_written_counts_it_if_it_is_on_disk(kept: bool) -> None:
    class Interrupted(MemoryStore):
        def add_trial(self, block_id: str, trial: Trial) -> None:
            if kept:
                super().add_trial(block_id, trial)
            raise KeyboardInterrupt

    world = FakeWorld()
    world.store = Interrupted(world.calls)
    with begun(world) as sitting:
        sitting.sound()
        with pytest.raises(KeyboardInterrupt):
            sitting.answer("flat")
        assert len(sitting.drill.trials) == kept
        assert sitting.leave().trials == len(world.store.block("block-1").trials) == kept


@pytest.mark.parametrize("kept", [True, False])
def test_ctrl_c_while_the_result_is_written_ends_the_block_once(kept: bool) -> None:
    class InterruptedOnce(MemoryStore):
        done = False

        def end_block(self, block_id: str, result: BlockResult, ended_at: Any, *, answers: int | None = None) -> None:
            if self.done or kept:
                super().end_block(block_id, result, ended_at, answers=answers)
            if not self.done:
                self.done = True
                raise KeyboardInterrupt

    world = FakeWorld()
    world.store = InterruptedOnce(world.calls)
    with begun(world, trials=1) as sitting:
        with pytest.raises(KeyboardInterrupt):
            sitting.answer("flat")
        assert sitting.leave() == world.store.block("block-1").result


def test_a_block_is_not_taken_up_on_a_string_tuned_otherwise(world: FakeWorld) -> None:
    plan = block_plan(instrument="mandolin", string=3, octave_hz=2.0 * 261.6)
    with pytest.raises(InputError, match=r"string 3 of 'mandolin' was tuned to 261\.6 Hz in earlier blocks, now"):
        Sitting(world.store, world.clock, world.player, plan)
    assert world.store.blocks(plan.listener_id) == ()


def test_a_hole_in_a_pair_is_told_once_a_sounding_and_ends_asking_by_itself(world: FakeWorld, sitting: Sitting) -> None:
    world.player.holes = 0.25
    assert sitting.hole() is None
    for again in (True, True, False, False):
        sitting.sound()
        assert sitting.hole() == Hole(0.25, again=again)
        assert sitting.hole() is None
    world.player.holes = 0.009
    sitting.sound()
    assert sitting.hole() is None
    world.player.holes = 0.25
    sitting.answer("flat")
    # What is heard once more after its truth is none that is judged.
    sitting.sound_judged()
    assert sitting.hole() is None
    sitting.sound()
    assert sitting.hole() == Hole(0.25, again=True)
    assert world.store.block("block-1").trials[0].replays == 0
