"""The block as a state machine: what follows an answer, and in which order; the same block again from seed or store."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from centwise.drill import machine
from centwise.drill.verdict import verdict_of
from centwise.drill.words import (
    Answered,
    Ask,
    Conclude,
    Feedback,
    HeardAgain,
    Keep,
    Left,
    Noted,
    PractiseDirections,
    Swapped,
)
from centwise.ear.grid import standard_grid
from centwise.errors import UsageError
from centwise.model import JUDGEMENTS, MAX_OFFSET_CENTS, ORDERS, RULES, direction_of
from fakes import START, block_plan

if TYPE_CHECKING:
    from collections.abc import Iterable

    from centwise.drill.machine import Drill
    from centwise.drill.words import Effect
    from centwise.model import BlockPlan, Judgement

judgements = st.sampled_from(JUDGEMENTS)
plans = st.builds(
    block_plan,
    rule=st.sampled_from(RULES),
    seed=st.integers(0, 2**32 - 1),
    order=st.sampled_from(ORDERS),
    string=st.integers(1, 5),
    warm_up=st.integers(0, 3),
    trials=st.integers(1, 14),
    assess=st.booleans(),
    prior_threshold_cents=st.none() | st.floats(0.6, 70.0),
    prior_sd_octaves=st.none() | st.floats(0.2, 3.0),
)


def answered(drill: Drill, answers: Iterable[Judgement]) -> tuple[Drill, tuple[Effect, ...]]:
    effects: tuple[Effect, ...] = ()
    for number, answer in enumerate(answers):
        if drill.over:
            break
        drill, effects = machine.step(drill, Answered(answer, START + timedelta(seconds=5 * number)))
    return drill, effects


def truth(drill: Drill) -> Judgement:
    assert drill.pair is not None
    return machine.Trial(1, drill.pair.offset_cents, "harmonic", "flat", START).truth


def test_an_answer_is_kept_before_it_is_told_and_told_before_the_next_pair() -> None:
    drill = machine.begin(block_plan(trials=2))
    first = drill.pair
    drill, effects = machine.step(drill, Answered("flat", START))
    assert [type(effect) for effect in effects] == [Keep, Feedback, Ask]
    keep, feedback, ask = effects
    assert isinstance(keep, Keep)
    assert isinstance(feedback, Feedback)
    assert isinstance(ask, Ask)
    assert first is not None
    assert (keep.trial.n, keep.trial.offset_cents, keep.trial.first) == (1, first.offset_cents, first.first)
    assert keep.trial.answered_at == START
    assert feedback.trial == keep.trial
    assert ask.pair == drill.pair
    drill, effects = machine.step(drill, Answered("sharp", START))
    assert [type(effect) for effect in effects] == [Keep, Feedback, Conclude]
    assert drill.over
    assert machine.step(drill, Answered("flat", START)) == (drill, ())
    assert machine.step(drill, HeardAgain()) == (drill, ())


def test_an_assessment_tells_nothing_but_that_the_answer_was_taken() -> None:
    drill = machine.begin(block_plan(assess=True, trials=6))
    while not drill.over:
        asked = drill.pair
        drill, effects = machine.step(drill, Answered("sharp", START))
        told = [effect for effect in effects if not isinstance(effect, Keep | Ask | Conclude)]
        assert asked is not None
        assert told == [Noted(asked.n, "sharp")]


@pytest.mark.parametrize("string", [1, 2, 3, 4, 5])
def test_flat_wants_the_bridge_forward_and_sharp_back(string: int) -> None:
    # Fretted flat: toward the neck; fretted sharp: away from it (common practice, no source).
    wanted = {"flat": "forward", "sharp": "back", "unison": "leave"}
    drill = machine.begin(block_plan(string=string, seed=3))
    seen = set()
    while not drill.over:
        true = truth(drill)
        drill, effects = machine.step(drill, Answered("unison", START))
        feedback = next(effect for effect in effects if isinstance(effect, Feedback))
        assert feedback.travel.direction == wanted[true] == direction_of(true)
        seen.add(true)
    assert seen == set(wanted)


@given(plan=plans, answers=st.lists(judgements, min_size=1, max_size=17), data=st.data())
@settings(max_examples=60, deadline=None)
def test_replaying_stored_answers_rebuilds_the_very_state(
    plan: BlockPlan, answers: list[Judgement], data: st.DataObject
) -> None:
    unbroken, _ = answered(machine.begin(plan), answers)
    cut = data.draw(st.integers(0, len(unbroken.trials)))
    taken_up, _ = answered(machine.begin(plan), answers[:cut])
    resumed = machine.resume(plan, unbroken.trials[:cut])
    assert resumed == taken_up
    np.testing.assert_array_equal(resumed.track._weights, taken_up.track._weights)
    resumed = machine.resume(plan, unbroken.trials)
    assert resumed == unbroken
    np.testing.assert_array_equal(resumed.track._weights, unbroken.track._weights)
    _, left = machine.step(resumed, Left(START))
    _, left_unbroken = machine.step(unbroken, Left(START))
    assert left == left_unbroken


@given(plan=plans, answers=st.lists(judgements, min_size=1, max_size=17))
@settings(max_examples=60, deadline=None)
def test_every_pair_can_be_sounded_and_belongs_to_the_plan(plan: BlockPlan, answers: list[Judgement]) -> None:
    drill, _ = answered(machine.begin(plan), answers)
    assert [trial.n for trial in drill.trials] == list(range(1, len(drill.trials) + 1))
    assert all(abs(trial.offset_cents) <= MAX_OFFSET_CENTS for trial in drill.trials)
    assert [trial.scored for trial in drill.trials] == [trial.n > plan.warm_up for trial in drill.trials]
    assert drill.over == (len(drill.trials) == plan.warm_up + plan.trials)
    for earlier, later in zip(drill.trials, drill.trials[1:], strict=False):
        # An assessment draws each truth without regard to the one before, so a unison may follow a unison there.
        if later.n > plan.warm_up + 1 and not (plan.assess and later.offset_cents == 0.0):
            assert later.offset_cents != earlier.offset_cents


@pytest.mark.parametrize("rule", RULES)
def test_the_same_seed_asks_the_same_pairs_and_another_seed_others(rule: str) -> None:
    def asked(seed: int) -> list[tuple[float, str]]:
        drill = machine.begin(block_plan(rule=rule, seed=seed, order="both", trials=25))
        words = np.random.default_rng(5).choice(JUDGEMENTS, 25)
        drill, _ = answered(drill, words)
        return [(trial.offset_cents, trial.first) for trial in drill.trials]

    assert asked(8) == asked(8)
    assert asked(8) != asked(9)


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=25, deadline=None)
def test_both_orders_come_equally_often_in_every_two_pairs(seed: int) -> None:
    drill, _ = answered(machine.begin(block_plan(seed=seed, order="both", trials=20, rule="weighted")), ["flat"] * 20)
    firsts = [trial.first for trial in drill.trials]
    assert Counter(firsts) == {"harmonic": 10, "fretted": 10}
    assert all(len(set(firsts[i : i + 2])) == 2 for i in range(0, 20, 2))


def test_the_order_of_the_two_tones_cannot_be_foretold_from_pair_to_pair() -> None:
    starts = Counter(machine.begin(block_plan(seed=seed, order="both")).pair.first for seed in range(200))  # type: ignore[union-attr]
    # A fair coin lies outside 70 to 130 of 200 once in about 25,000 times (binomial, 4.2 standard deviations).
    assert 70 <= starts["harmonic"] <= 130


@pytest.mark.parametrize("order", ["harmonic-first", "fretted-first"])
def test_a_fixed_order_is_kept(order: str) -> None:
    drill, _ = answered(machine.begin(block_plan(order=order, trials=5)), ["flat"] * 5)
    assert {trial.first for trial in drill.trials} == {order.removesuffix("-first")}


def test_hearing_again_is_counted_with_the_answer_and_changes_nothing_else() -> None:
    drill = machine.begin(block_plan())
    pair = drill.pair
    for _ in range(2):
        drill, effects = machine.step(drill, HeardAgain())
        assert effects == (Ask(pair),)
    drill, _ = machine.step(drill, Answered("unison", START))
    assert drill.trials[0].replays == 2
    assert drill.replays == 0
    drill, _ = machine.step(drill, Answered("unison", START))
    assert drill.trials[1].replays == 0
    unheard, _ = answered(machine.begin(block_plan()), ["unison"] * 2)
    assert [t.offset_cents for t in unheard.trials] == [t.offset_cents for t in drill.trials]


def test_warm_up_pairs_are_large_unscored_and_left_out_of_the_result() -> None:
    plan = block_plan(warm_up=3, trials=6)
    drill = machine.begin(plan)
    assert drill.total == 9
    asked = []
    for _ in range(3):
        assert drill.pair is not None
        asked.append(drill.pair.offset_cents)
        drill, _ = machine.step(drill, Answered("unison", START))
    # Each of the three answers once, the differences clearly audible.
    assert sorted(np.sign(asked)) == [-1, 0, 1]
    assert sorted(np.abs(asked)) == [0.0, 45.0, 60.0]
    assert drill.track == machine.begin(plan).track
    effects: tuple[Effect, ...] = ()
    while not drill.over:
        drill, effects = machine.step(drill, Answered(truth(drill), START))
    assert [trial.scored for trial in drill.trials] == [False] * 3 + [True] * 6
    assert isinstance(effects[-1], Conclude)
    assert (effects[-1].result.trials, effects[-1].result.correct) == (6, 6)


@pytest.mark.parametrize("practise", [False, True])
@pytest.mark.parametrize("seed", range(40))
def test_the_limits_hold_from_the_warm_up_into_the_block(seed: int, practise: bool) -> None:
    drill = machine.begin(block_plan(warm_up=3, trials=12, seed=seed))
    swapped: dict[str, Judgement] = {"flat": "sharp", "sharp": "flat", "unison": "unison"}
    for _ in range(3):
        drill, effects = machine.step(drill, Answered(swapped[truth(drill)], START))
    assert Swapped() in effects
    if practise:
        drill, _ = machine.step(drill, PractiseDirections())
    while not drill.over:
        drill, _ = machine.step(drill, Answered(truth(drill), START))
    offsets = [trial.offset_cents for trial in drill.trials]
    assert len(offsets) == 15 + (machine.PRACTICE_PAIRS if practise else 0)
    assert all(a != b for a, b in itertools.pairwise(offsets))
    assert max(len(list(group)) for _, group in itertools.groupby(np.sign(offsets))) <= 4
    practised = offsets[3 : len(offsets) - 12]
    assert [abs(offset) for offset in practised] == [60.0, 45.0] * (len(practised) // 2)
    assert all(a * b < 0 for a, b in zip(practised[::2], practised[1::2], strict=True))


def test_whoever_says_one_word_alone_has_swapped_nothing() -> None:
    for seed in range(30):
        for word in JUDGEMENTS:
            drill = machine.begin(block_plan(warm_up=3, trials=6, seed=seed))
            for _ in range(3):
                drill, effects = machine.step(drill, Answered(word, START))
            assert Swapped() not in effects


def test_leaving_concludes_with_what_was_answered_and_once_more_when_asked_again() -> None:
    drill, _ = answered(machine.begin(block_plan()), ["flat"] * 7)
    over, effects = machine.step(drill, Left(START))
    assert over.over
    assert isinstance(effects[0], Conclude)
    assert effects[0].result.trials == 7
    assert effects[0].at == START
    assert machine.step(over, Left(START)) == (over, effects)


def test_a_block_ends_once_its_interval_is_narrow_enough() -> None:
    plan = block_plan(trials=200, until_octaves=1.5, seed=4)
    rng = np.random.default_rng(1)
    drill = machine.begin(plan)
    widths, effects = [], ()
    while not drill.over:
        assert drill.pair is not None
        heard = drill.pair.offset_cents + rng.normal(0.0, 8.0)
        answer = "flat" if heard < -5 else "sharp" if heard > 5 else "unison"
        drill, effects = machine.step(drill, Answered(answer, START))
        if len(drill.trials) >= machine.FEW_TRIALS and len(drill.trials) % machine.LOOK_EVERY == 0:
            widths.append(max(drill.track.interval_octaves, machine.block_interval_octaves(drill.trials)))
    assert len(drill.trials) < 200
    # What is told at the end is as narrow as was asked, not only what was kept on the way.
    told = effects[-1].result
    assert np.log2(told.high_cents / told.low_cents) <= 1.5
    assert all(width > 1.5 for width in widths[:-1])


def test_a_block_that_may_end_at_any_width_still_has_pairs_enough_for_its_number() -> None:
    drill, effects = answered(machine.begin(block_plan(warm_up=2, until_octaves=50.0)), ["flat", "sharp"] * 20)
    assert len(drill.trials) == 2 + machine.FEW_TRIALS
    assert isinstance(effects[-1], Conclude)
    assert verdict_of(effects[-1].result) != "few"


@pytest.mark.parametrize(
    ("threshold", "least", "most"), [(None, 40, 40), (4.0, 8, 16), (20.0, 40, 80), (30.0, 60, 100)]
)
def test_the_staircase_starts_at_two_to_four_times_the_last_threshold(
    threshold: float | None, least: float, most: float
) -> None:
    drill = machine.begin(block_plan(rule="weighted", prior_threshold_cents=threshold, prior_sd_octaves=0.5))
    assert least <= standard_grid().sizes_cents[drill.track.start] <= most


@pytest.mark.parametrize("changes", [{"trials": 0}, {"trials": -3}, {"warm_up": -1}])
def test_a_plan_without_pairs_is_refused(changes: dict[str, int]) -> None:
    with pytest.raises(UsageError, match="cannot be drilled"):
        machine.begin(replace(block_plan(), **changes))
