"""A block whose offsets are given: recorded pairs judged as they are."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from centwise.drill.machine import begin, resume, step
from centwise.drill.words import Answered, Conclude, Keep, PractiseDirections
from centwise.errors import UsageError
from fakes import START, block_plan

if TYPE_CHECKING:
    from centwise.drill.machine import Drill
    from centwise.model import BlockPlan, Judgement

GIVEN = (-3.25, 0.0, 104.5, -3.25, 7.5, 1.0)


def given_plan(**changes: Any) -> BlockPlan:
    values: dict[str, Any] = {"voice": "recorded", "trials": len(GIVEN), "given_cents": GIVEN, "take_error_cents": 0.2}
    return block_plan(**(values | changes))


def answered(drill: Drill, answer: Judgement) -> tuple[Drill, Any]:
    return step(drill, Answered(answer, START + timedelta(seconds=len(drill.trials))))


def test_the_offsets_are_asked_as_given_whatever_is_answered() -> None:
    drill = begin(given_plan(until_octaves=9.0))
    asked = []
    while drill.pair is not None:
        asked.append(drill.pair.offset_cents)
        drill, effects = answered(drill, "sharp")
    assert tuple(asked) == GIVEN
    kept = [effect.trial for effect in effects if isinstance(effect, Keep)]
    assert kept[0].offset_cents == GIVEN[-1]
    result = next(effect.result for effect in effects if isinstance(effect, Conclude))
    # Six answers would be enough for an estimate, were it one.
    assert (result.trials, result.correct, result.threshold_cents) == (6, 3, None)


def test_it_resumes_where_it_was_left() -> None:
    drill = begin(given_plan())
    for answer in ("flat", "unison"):
        drill, _ = answered(drill, answer)
    assert resume(given_plan(), drill.trials) == drill
    assert drill.pair is not None
    assert drill.pair.offset_cents == 104.5


def test_nothing_comes_in_front_of_it() -> None:
    drill = begin(given_plan())
    assert step(drill, PractiseDirections()) == (drill, ())
    for changes in ({"trials": 5}, {"warm_up": 1}):
        with pytest.raises(UsageError, match="was given 6 offsets: give one for each, no warm-up"):
            begin(given_plan(**changes))
