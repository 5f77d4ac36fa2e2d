"""A listener's progress: what belongs to which condition, how long, how it moved."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from centwise.ear.history import history_of
from centwise.model import BlockResult, Listener
from centwise.past import session_of
from centwise.ports import BlockSummary, StoredBlock
from centwise.progress import class_row_of, progress_of, progress_of_all
from centwise.trend import TREND_SIGNS, TRENDS, trend_word
from fakes import START, block_plan, summary_of

ANN, BO = Listener("listener-1", "Ann"), Listener("listener-2", "Bo")
NOW = START + timedelta(days=60)


def block(cents: float | None, day: float = 0.0, *, seconds: float = 300.0, **changes: Any) -> BlockSummary:
    ends = (None, None) if cents is None else (cents * 2**-0.4, cents * 2**0.4)
    result = BlockResult(40, 30, cents, *ends, 0.0, -1.0, 1.0, cents, 3.0, 2.0, 4.0, 8)
    plan = block_plan(started_at=START + timedelta(days=day), **changes)
    at = plan.started_at + timedelta(seconds=seconds)
    summary = summary_of(StoredBlock(plan, (), result))
    return replace(summary, answered=40, practised_s=seconds, last_answer_at=at)


def test_who_has_not_begun_has_no_progress_and_is_told_to_begin() -> None:
    found = progress_of(ANN, [block(8.0, listener_id="listener-2")], NOW)
    assert (found.conditions, found.blocks, found.practised_s, found.answered, found.last_seen) == (
        (),
        (),
        0.0,
        0,
        None,
    )
    assert found.latest is None
    assert found.next.reason == "first"


def test_blocks_compare_within_their_condition_the_latest_practised_first() -> None:
    blocks = [block(9.0, 1, string=4), block(7.0, 2, string=1), block(20.0, 0, string=4), block(6.0, 3, order="both")]
    found = progress_of(ANN, blocks, NOW)
    assert [(c.condition.string, c.condition.order, len(c.sessions)) for c in found.conditions] == [
        (4, "both", 1),
        (1, "harmonic-first", 1),
        (4, "harmonic-first", 2),
    ]
    latest = found.latest
    assert latest is not None
    assert latest.now.threshold_cents == 6.0
    assert [s.result.threshold_cents for s in found.conditions[2].sessions if s.result] == [20.0, 9.0], "oldest first"


def test_what_nobody_heard_counts_for_nothing_but_is_listed() -> None:
    blocks = [block(9.0, 1), block(1.0, 2, player="silent"), block(None, 3), replace(block(None, 4), result=None)]
    found = progress_of(ANN, blocks, NOW)
    assert len(found.blocks) == 4
    assert [len(c.sessions) for c in found.conditions] == [1]
    assert (found.practised_s, found.answered) == (900.0, 120), "minutes count without a threshold too, not in silence"
    assert found.last_seen == START + timedelta(days=4, seconds=300)


def test_the_trend_is_the_histories_own() -> None:
    blocks = [block(cents, 7.0 * week) for week, cents in enumerate((30.0, 20.0, 12.0, 9.0, 7.0))]
    (condition,) = progress_of(ANN, blocks, NOW).conditions
    history = history_of([session for b in blocks if (session := session_of(b.outline)) is not None])
    assert condition.history == history
    assert condition.now.threshold_cents == history.trend[-1].threshold_cents
    assert condition.improvement_chance == history.improvement_chance(history.compared[0].days)
    assert condition.trend == "finer"
    assert condition.since == START + timedelta(days=7)


@pytest.mark.parametrize(
    ("chance", "word"),
    [
        (None, "too early"),
        (0.97, "finer"),
        (0.95, "finer"),
        (0.8, "probably finer"),
        (0.5, "no change"),
        (0.25, "probably coarser"),
        (0.03, "coarser"),
    ],
)
def test_a_trend_in_words(chance: float | None, word: str) -> None:
    assert trend_word(chance) == word
    assert word in TRENDS
    assert len(set(TREND_SIGNS.values())) == len(TRENDS)


def test_good_enough_in_millimetres_follows_the_string_and_the_scale() -> None:
    # cents = 1200 log2((S + 2d)/(S + d)), which for a small d is 1200 log2(1 + d/S): d = S (2^(2/1200) - 1) within 1 %.
    (condition,) = progress_of(ANN, [block(8.0)], NOW).conditions
    assert condition.good_enough_mm == pytest.approx(666.75 * (2 ** (2 / 1200) - 1), rel=0.01)
    (fifth,) = progress_of(ANN, [block(8.0, string=5)], NOW).conditions
    assert fifth.good_enough_mm / condition.good_enough_mm == pytest.approx(2 ** (-5 / 12), rel=0.01)


def test_all_at_once_is_each_alone() -> None:
    rng = np.random.default_rng(3)
    blocks = [
        block(float(np.exp2(rng.uniform(1, 5))), day, string=int(rng.choice([1, 4])), listener_id=who.id)
        for who in (ANN, BO)
        for day in range(12)
    ]
    nobody = Listener("listener-3", "Cy")
    together = progress_of_all([BO, nobody, ANN], blocks, NOW)
    assert together == tuple(progress_of(who, blocks, NOW) for who in (BO, nobody, ANN))


def test_a_row_of_the_class_says_what_the_page_says() -> None:
    blocks = [
        *(block(cents, 7.0 * week, string=4) for week, cents in enumerate((30.0, 20.0, 12.0, 9.0))),
        block(15.0, 10.0, string=1),
        block(None, 40.0),
        block(1.0, 50.0, player="silent"),
    ]
    blocks.sort(key=lambda one: one.plan.started_at)
    page, row = progress_of(ANN, blocks, NOW), class_row_of(ANN, [one.outline for one in blocks])
    latest = page.latest
    assert latest is not None
    assert (row.listener, row.blocks, row.answered) == (ANN, 6, page.answered)
    assert (row.practised_s, row.last_seen) == (page.practised_s, page.last_seen)
    assert (row.instrument, row.string) == ("five-string", 4) == (latest.condition.instrument, latest.condition.string)
    assert (row.threshold_cents, row.low_cents, row.high_cents) == (
        latest.now.threshold_cents,
        latest.now.low_cents,
        latest.now.high_cents,
    )
    assert row.improvement_chance == latest.improvement_chance
    nothing = class_row_of(BO, ())
    assert (nothing.blocks, nothing.last_seen, nothing.string, nothing.threshold_cents) == (0, None, None, None)


@pytest.mark.parametrize("ends", [(-1.0, 4.0), (4.0, 4.0), (9.0, 4.0), (2.0, float("inf"))])
def test_a_result_that_cannot_be_one_hides_nobody(ends: tuple[float, float]) -> None:
    odd = block(8.0, 1)
    assert odd.result is not None
    odd = replace(odd, result=replace(odd.result, low_cents=ends[0], high_cents=ends[1]))
    found = progress_of(ANN, [block(9.0, 0), odd], NOW)
    assert [len(condition.sessions) for condition in found.conditions] == [1]
    assert class_row_of(ANN, [block(9.0, 0).outline, odd.outline]).threshold_cents == 9.0
