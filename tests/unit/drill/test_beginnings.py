"""What comes before and between the pairs that count: warm-up, swapped directions, practice, rests."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.drill import machine
from centwise.drill.words import Answered, Ask, Feedback, Keep, PractiseDirections, Rest, Swapped
from centwise.model import JUDGEMENTS, judgement_of
from fakes import START, block_plan

if TYPE_CHECKING:
    from centwise.drill.machine import Drill
    from centwise.drill.words import Effect
    from centwise.model import Judgement


def answer(drill: Drill, judgement: Judgement | None = None, *, wrong_way: bool = False) -> tuple[Drill, list[Effect]]:
    """Answer as told, else rightly or exactly the wrong way round."""
    assert drill.pair is not None
    if judgement is None:
        judgement = judgement_of(-drill.pair.offset_cents if wrong_way else drill.pair.offset_cents)
    drill, effects = machine.step(drill, Answered(judgement, START))
    return drill, list(effects)


def warmed_up(*judgements: Judgement | None, wrong_way: bool = False) -> tuple[Drill, list[Effect]]:
    drill, effects = machine.begin(block_plan(warm_up=3, trials=6)), []
    for judgement in judgements:
        drill, effects = answer(drill, judgement, wrong_way=wrong_way)
    return drill, effects


def test_directions_swapped_throughout_the_warm_up_are_noticed_after_the_truth_is_told() -> None:
    _, effects = warmed_up(None, None, None, wrong_way=True)
    assert [type(effect) for effect in effects] == [Keep, Feedback, Swapped, Ask]


@pytest.mark.parametrize("judgements", [(None, None, None), ("unison", "unison", "unison"), ("unison", "unison", None)])
def test_nothing_is_noticed_where_nothing_is_swapped(judgements: tuple[Judgement | None, ...]) -> None:
    _, effects = warmed_up(*judgements)
    assert [type(effect) for effect in effects] == [Keep, Feedback, Ask]


def test_one_slip_is_not_taken_for_swapped_directions() -> None:
    drill, _ = warmed_up(None, None)
    _, effects = answer(drill, wrong_way=True)
    assert [type(effect) for effect in effects] == [Keep, Feedback, Ask]


def test_practice_brings_four_large_pairs_that_do_not_count_and_then_the_whole_block() -> None:
    drill, _ = warmed_up(None, None, None, wrong_way=True)
    drill, effects = machine.step(drill, PractiseDirections())
    assert [type(effect) for effect in effects] == [Ask]
    assert drill.total == 3 + 4 + 6
    for _ in range(4):
        assert drill.pair is not None
        assert abs(drill.pair.offset_cents) >= 25.0
        drill, _ = answer(drill)
    while not drill.over:
        drill, _ = answer(drill)
    assert [trial.scored for trial in drill.trials] == [False] * 7 + [True] * 6


def test_directions_still_swapped_after_the_practice_are_noticed_again() -> None:
    drill, _ = warmed_up(None, None, None, wrong_way=True)
    drill, _ = machine.step(drill, PractiseDirections())
    effects: list[Effect] = []
    for _ in range(4):
        drill, effects = answer(drill, wrong_way=True)
    assert Swapped in {type(effect) for effect in effects}


def test_practice_comes_too_late_once_a_pair_counted() -> None:
    drill, _ = warmed_up(None, None, None)
    drill, _ = answer(drill)
    assert machine.step(drill, PractiseDirections()) == (drill, ())


def test_practice_asked_for_over_and_over_comes_once_until_it_has_begun() -> None:
    drill, _ = warmed_up(None)
    for _ in range(50):
        drill, _ = machine.step(drill, PractiseDirections())
    assert (drill.total, drill.practice_ahead, drill.may_practise) == (3 + 4 + 6, 4, False)
    assert machine.step(drill, PractiseDirections()) == (drill, ())
    for _ in range(3):
        drill, _ = answer(drill)
    assert (len(drill.trials), drill.practice_ahead, drill.may_practise) == (4, 3, True)
    for _ in range(50):
        drill, _ = machine.step(drill, PractiseDirections())
    assert (drill.total, drill.practice_ahead) == (3 + 8 + 6, 7)


@given(st.lists(st.sampled_from(JUDGEMENTS), min_size=7, max_size=12))
def test_a_block_with_practice_resumes_as_it_was_left(judgements: list[Judgement]) -> None:
    drill = machine.begin(block_plan(warm_up=3, trials=6))
    for number, judgement in enumerate(judgements):
        if number == 3:
            drill, _ = machine.step(drill, PractiseDirections())
        drill, _ = answer(drill, judgement)
    assert machine.resume(drill.plan, drill.trials) == drill


@pytest.mark.parametrize(("trials", "rests"), [(50, []), (51, [(50, 1)]), (120, [(50, 70), (100, 20)])])
def test_an_assessment_rests_every_fifty_pairs_that_count(trials: int, rests: list[tuple[int, int]]) -> None:
    drill = machine.begin(block_plan(warm_up=3, trials=trials, assess=True))
    found = []
    while not drill.over:
        drill, effects = answer(drill, "unison")
        found += [(effect.done, effect.left) for effect in effects if isinstance(effect, Rest)]
    assert found == rests


def test_a_drill_does_not_rest() -> None:
    drill = machine.begin(block_plan(trials=60))
    while not drill.over:
        drill, effects = answer(drill, "unison")
        assert Rest not in {type(effect) for effect in effects}
