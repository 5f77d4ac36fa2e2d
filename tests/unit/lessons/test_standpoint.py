"""Where a listener stands in a lesson, by the blocks that are stored."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from centwise.lessons.finding import SHIPPED, shipped_lesson
from centwise.lessons.lesson import Lesson, Standpoint, standpoint
from centwise.lessons.reading import lesson_from_text
from centwise.lessons.telling import days_sentence, next_block_sentence, outline_sentences
from centwise.model import BlockResult
from centwise.planning import BlockRequest, check_request
from centwise.ports import BlockSummary
from fakes import START, block_plan

WEEK = """
title = "Week"
trials = 20
[[step]]
likeness = 1
blocks = 2
[[step]]
target = 6
[[step]]
strings = [4]
assess = true
"""


def lesson(text: str = WEEK) -> Lesson:
    return lesson_from_text(text, name="week", where="week.toml")


def block(
    string: int, threshold: float | None = 9.0, *, trials: int = 20, day: float = 0.0, **plan: Any
) -> BlockSummary:
    planned = block_plan(string=string, started_at=START + timedelta(days=day), **plan)
    result = BlockResult(trials, 15, threshold, *[None] * 10)
    return BlockSummary(planned, result, trials, 9.0 * trials, planned.started_at, 1)


def where(at: Standpoint) -> tuple[int, int, int]:
    return at.number, at.string, at.block


def test_a_newcomer_begins_with_the_first_string_of_the_first_step() -> None:
    at = standpoint(lesson(), [])
    assert where(at) == (1, 4, 1)
    assert not at.done
    request = at.request(BlockRequest(seed=7, warm_up=2, trials=99, string=5))
    assert request == BlockRequest(
        string=4, trials=20, order="harmonic-first", likeness=1.0, seed=7, warm_up=2, muted=True
    )


def test_strings_take_turns_and_a_step_follows_when_all_are_done() -> None:
    easy = {"likeness": 1.0}
    done = [block(4, **easy), block(1, **easy), block(4, **easy)]
    assert where(standpoint(lesson(), done[:1])) == (1, 1, 1)
    assert where(standpoint(lesson(), done)) == (1, 1, 2)
    assert where(standpoint(lesson(), [*done, block(1, **easy)])) == (2, 4, 1)


def test_what_does_not_count() -> None:
    others = [
        block(4),  # another likeness
        block(4, likeness=1.0, trials=19),  # left early
        block(4, likeness=1.0, player="silent:hurry"),  # heard by nobody
        block(4, likeness=1.0, assess=True),
        block(4, likeness=1.0, muted=False),
        block(4, likeness=1.0, order="both"),
        block(2, likeness=1.0),
        block(4, likeness=1.0, instrument="lute"),
        block(4, likeness=1.0, voice="shifted"),  # another sound
        replace(block(4, likeness=1.0), result=None),  # not ended
    ]
    assert where(standpoint(lesson(), others)) == (1, 4, 1)


def test_a_target_wants_two_blocks_in_a_row() -> None:
    goal = lesson('title = "T"\ntrials = 20\nstrings = [4]\n[[step]]\ntarget = 6\n[[step]]\ntarget = 3')
    assert standpoint(goal, [block(4, 5.0), block(4, 7.0), block(4, 5.9)]).number == 1
    assert standpoint(goal, [block(4, 5.0), block(4, None), block(4, 5.9)]).number == 1
    at = standpoint(goal, [block(4, 7.0), block(4, 6.0), block(4, 5.9)])
    assert where(at) == (2, 4, 1)
    # A block counts in one step: those two do not reach the next target again.
    assert standpoint(goal, [block(4, 2.0), block(4, 2.0)]).number == 2
    assert standpoint(goal, [block(4, 2.0)] * 4).done


def test_a_target_with_blocks_ends_with_whichever_comes_first() -> None:
    both = lesson('title = "T"\ntrials = 20\nstrings = [4]\ntarget = 6\nblocks = 3')
    assert not standpoint(both, [block(4, 9.0)] * 2).done
    assert standpoint(both, [block(4, 9.0)] * 3).done
    assert standpoint(both, [block(4, 5.0)] * 2).done


def test_a_lesson_done_goes_on_with_its_last_step() -> None:
    short = lesson('title = "T"\ntrials = 20')
    at = standpoint(short, [block(4), block(1), block(4)])
    assert at.done
    assert where(at) == (1, 1, 2)
    assert "the lesson is done" in next_block_sentence(at)


def test_only_blocks_on_its_days_count() -> None:
    dated = lesson('title = "T"\ntrials = 20\nblocks = 5\nfrom = 2026-01-03\nuntil = 2026-01-04')
    blocks = [block(4, day=day) for day in (-1.0, 0.0, 1.0, 2.0, 3.0, 9.0)]  # from 1 January on
    assert standpoint(dated, blocks).thresholds_cents == ()
    assert standpoint(dated, [b for b in blocks if b.plan.started_at.day in {3, 4}]) == standpoint(dated, blocks)
    assert standpoint(dated, [*blocks, block(1, day=1.0)]).block == 2


@pytest.mark.parametrize(
    ("today", "words"),
    [
        (date(2026, 1, 2), "It begins on 3 January 2026: blocks before that do not count in it."),
        (date(2026, 1, 3), "It ends on 4 January 2026."),
        (date(2026, 1, 5), "It ended on 4 January 2026: blocks no longer count in it."),
    ],
)
def test_its_days_are_told(today: date, words: str) -> None:
    dated = lesson('title = "T"\nfrom = 2026-01-03\nuntil = 2026-01-04')
    assert days_sentence(dated, today) == words
    assert days_sentence(lesson(), today) == ""


def test_where_one_stands_is_told() -> None:
    at = standpoint(lesson(), [block(s, likeness=1.0) for s in (4, 1, 4, 1)] + [block(4, 7.25), block(1, 6.0)])
    assert next_block_sentence(at) == (
        "Lesson Week, step 2 of 3: block 2 on string 4. "
        "Target: two blocks in a row at 6 cents or less; the last was 7.2."
    )
    assert next_block_sentence(standpoint(lesson(), [])) == "Lesson Week, step 1 of 3: block 1 of 2 on string 4."


@pytest.mark.parametrize("name", SHIPPED)
def test_a_lesson_that_ships_can_be_taken_from_its_first_block_to_its_last(name: str) -> None:
    shipped = shipped_lesson(name)
    assert len(outline_sentences(shipped)) == len(shipped.steps)
    blocks: list[BlockSummary] = []
    seen = set()
    for _ in range(100):
        at = standpoint(shipped, blocks)
        if at.done:
            break
        seen.add(at.number)
        request = check_request(at.request(BlockRequest()))
        assert request.order is not None
        blocks.append(
            block(
                request.string or 0,
                1.9,
                trials=request.trials or 0,
                order=request.order,
                likeness=request.likeness,
                assess=request.assess,
            )
        )
    assert at.done
    assert seen == set(range(1, len(shipped.steps) + 1))
    assert {b.plan.condition.string for b in blocks} == {1, 4}
