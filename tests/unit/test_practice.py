"""What to practise next: each rule, and which one comes first."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from centwise.model import BlockResult
from centwise.ports import BlockSummary, StoredBlock
from centwise.practice import NextPractice, next_practice, next_string, sides_of
from centwise.strings.library import BUILT_IN
from fakes import START, block_plan, summary_of


def block(string: int, cents: float | None, day: float = 0.0, octaves: float = 0.8, **changes: Any) -> BlockSummary:
    """Return a block on a string with a threshold whose 90 % interval is so many octaves wide."""
    ends = (None, None) if cents is None else (cents * 2 ** (-octaves / 2), cents * 2 ** (octaves / 2))
    result = BlockResult(40, 30, cents, *ends, 0.0, -1.0, 1.0, cents, 3.0, 2.0, 4.0, 8)
    plan = block_plan(string=string, started_at=START + timedelta(days=day), **changes)
    return summary_of(StoredBlock(plan, (), result))


def after(*blocks: BlockSummary, days: float = 1.0) -> NextPractice:
    found = next_practice(blocks, blocks[-1].plan.started_at + timedelta(days=days))
    assert found.string == next_string(blocks), "the app proposes what the advice says"
    return found


def test_nobody_begins_on_the_bass_side() -> None:
    assert next_practice([], START) == NextPractice(4, False, "first")
    silent = block(4, 9.0, player="silent")
    assert next_practice([silent], START).reason == "first", "nobody heard that one"


@pytest.mark.parametrize(("done", "wanted"), [(4, 1), (1, 4)])
def test_a_side_of_the_bridge_never_heard_comes_first(done: int, wanted: int) -> None:
    found = after(*[block(done, 8.0, day) for day in range(12)], days=30)
    assert (found.string, found.reason, found.string_cents, found.other_cents) == (wanted, "other side", None, 8.0)


def test_a_block_ended_early_says_nothing_of_its_side() -> None:
    assert after(block(4, 8.0), block(1, None)).reason == "other side"


def test_sides_heard_alike_take_turns() -> None:
    found = after(block(1, 8.0), block(4, 9.0))
    assert found == NextPractice(1, False, "turn", 8.0, 9.0, 1, "treble")


def test_the_side_heard_clearly_coarser_comes_twice_running_not_three_times() -> None:
    fine, coarse = block(4, 5.0, 0), block(1, 20.0, 1)
    assert after(fine, coarse) == NextPractice(1, False, "coarser", 20.0, 5.0, 1, "treble")
    twice = after(fine, coarse, replace(coarse))
    assert (twice.string, twice.reason) == (4, "turn")


def test_intervals_that_overlap_make_no_side_the_coarser() -> None:
    assert after(block(4, 5.0), block(1, 8.0)).reason == "turn"
    assert after(block(4, 5.0, octaves=0.4), block(1, 8.0, octaves=0.4)).reason == "coarser"


def test_after_two_weeks_away_it_is_seen_first_where_the_ear_stands() -> None:
    blocks = (block(1, 8.0), block(4, 9.0))
    assert after(*blocks, days=13.9).reason == "turn"
    found = after(*blocks, days=14)
    assert (found.reason, found.days_away) == ("away", 14)


def test_a_clock_set_back_is_no_time_away() -> None:
    assert after(block(1, 8.0), block(4, 9.0), days=-3).days_away == 0


def test_after_eight_drills_an_assessment_is_due_and_one_taken_settles_it() -> None:
    drills = [block((4, 1)[day % 2], 8.0, day) for day in range(8)]
    assert after(*drills[:7]).reason == "turn"
    found = after(*drills)
    assert (found.reason, found.assess) == ("assess", True)
    assert after(*drills, block(4, 8.0, 9, assess=True)).reason == "turn"


def test_two_sides_as_fine_as_a_bridge_needs_are_kept() -> None:
    assert after(block(1, 1.8), block(4, 2.0)).reason == "keep"
    assert after(block(1, 1.8), block(4, 2.1)).reason == "turn"


def test_blocks_on_other_instruments_say_nothing() -> None:
    sides = sides_of(BUILT_IN.named("archtop-guitar"))
    banjo = [block(4, 8.0), block(1, 20.0)]
    assert next_practice(banjo, START, sides) == NextPractice(6, False, "first")
    guitar = [*banjo, block(6, 8.0, 1.0, instrument="archtop-guitar")]
    found = next_practice(guitar, START + timedelta(days=1), sides)
    assert (found.string, found.reason, found.other_cents) == (1, "other side", 8.0)
    assert next_string(guitar) == next_string(banjo)
