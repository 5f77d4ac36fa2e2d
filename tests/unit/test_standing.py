"""Where a block stands among the earlier ones: counted, compared, flagged; and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from centwise.ear.agreement import Agreement, limits_of_agreement
from centwise.ear.history import Session, history_of
from centwise.model import BlockResult
from centwise.past import days_of, instant_of
from centwise.standing import Standing, standing_of
from centwise.standing_text import standing_sentences
from fakes import START, MemoryStore, block_plan


def result(threshold: float | None, octaves: float = 0.6) -> BlockResult:
    if threshold is None:
        return BlockResult(3, 1, *([None] * 11))
    ends = threshold * 2 ** (-octaves / 2), threshold * 2 ** (octaves / 2)
    return BlockResult(100, 76, threshold, *ends, 0.0, -1.0, 1.0, threshold, 3.0, 2.0, 4.0, 8)


def store_of(*thresholds: float | None, **changes: Any) -> MemoryStore:
    """Blocks a week apart, one after the other."""
    store = MemoryStore()
    for week, threshold in enumerate(thresholds):
        plan = block_plan(id=f"block-{week}", started_at=START + timedelta(weeks=week), **changes)
        store.begin_block(plan)
        store.end_block(plan.id, result(threshold), plan.started_at)
    return store


def standing(store: MemoryStore, week: int, **changes: Any) -> Standing | None:
    return standing_of(store, block_plan(id=f"block-{week}", started_at=START + timedelta(weeks=week), **changes))


def test_days_and_instants_are_one_another() -> None:
    assert instant_of(days_of(START)) == START
    assert days_of(START + timedelta(days=2)) - days_of(START) == pytest.approx(2.0)


def test_the_first_block_is_shown_and_compared_with_nothing() -> None:
    found = standing(store_of(20.0), 0)
    assert found == Standing(1, 20.0)
    assert standing_sentences(found) == (
        "This is the first block of its kind, mostly learning the task: later ones are not compared with it.",
    )


def test_improvement_counts_from_the_second_block_and_is_the_histories_own() -> None:
    thresholds = (30.0, 20.0, 12.0, 9.0, 7.0)
    found = standing(store_of(*thresholds), 4)
    assert found is not None
    assert found.number == 5
    assert found.since == START + timedelta(weeks=1)
    sessions = [Session(7.0 * week, x, x * 2**-0.3, x * 2**0.3) for week, x in enumerate(thresholds)]
    assert found.improvement_chance == pytest.approx(history_of(sessions).improvement_chance(7.0), abs=1e-9)
    assert found.improvement_chance is not None
    assert found.improvement_chance > 0.95
    (said,) = standing_sentences(found)
    assert said.startswith("Your ear has become finer since ")


def test_a_drill_has_no_usual_range_and_no_agreement() -> None:
    found = standing(store_of(20.0, 9.0, 9.0, 9.0, 9.0, 9.0), 5)
    assert found is not None
    assert (found.usual_low_cents, found.usual_high_cents, found.agreement) == (None, None, None)
    assert not found.unusual


def test_an_assessment_far_from_the_earlier_ones_is_flagged_with_what_to_look_at_first() -> None:
    store = store_of(10.0, 6.0, 6.2, 5.9, 6.1, 30.0, assess=True)
    usual = standing(store, 4, assess=True)
    assert usual is not None
    today = standing(store, 5, assess=True)
    assert today is not None
    assert today.unusual
    assert today.usual_high_cents is not None
    assert today.usual_high_cents < 30.0
    said = standing_sentences(today)[0]
    for word in ("outside your usual range", "device", "volume", "noise", "tiredness"):
        assert word in said


def test_an_assessment_like_the_earlier_ones_is_not_flagged_and_agreement_leaves_the_first_out() -> None:
    found = standing(store_of(40.0, 6.0, 6.2, 5.9, 6.1, 6.0, assess=True), 5, assess=True)
    assert found is not None
    assert not found.unusual
    assert found.agreement is not None
    # Nor is today's among them: it is held against the limits.
    assert found.agreement.assessments == 4
    said = standing_sentences(found)
    assert said[0].startswith("Today lies within your usual range of ")
    assert said[-1].startswith("The next assessment has come to between ")


def test_twice_as_coarse_an_ear_is_flagged_after_six_that_agreed() -> None:
    found = standing(store_of(5.2, 4.7, 5.6, 5.0, 5.3, 4.9, 11.6, assess=True), 6, assess=True)
    assert found is not None
    assert found.unusual
    said = standing_sentences(found)
    assert "outside your usual range" in said[0]
    # One verdict on the day, not two that quarrel.
    assert not any("Your ear was finer" in sentence for sentence in said)


def test_blocks_in_doubt_count_for_nothing() -> None:
    store = store_of(5.5, 4.4, 6.5)
    swapped = block_plan(id="swapped", started_at=START + timedelta(weeks=3))
    store.begin_block(swapped)
    store.end_block(swapped.id, replace(result(82.8), doubt="swapped"), swapped.started_at)
    assert standing_of(store, swapped) is None
    good = block_plan(id="good", started_at=START + timedelta(weeks=4))
    store.begin_block(good)
    store.end_block(good.id, result(5.6), good.started_at)
    found = standing_of(store, good)
    assert found is not None
    assert found.number == 4
    assert not any("Your ear was finer" in sentence for sentence in standing_sentences(found))


def test_assessments_are_compared_with_assessments_alone() -> None:
    store = store_of(8.0, 8.0, assess=True)
    drill = block_plan(id="drill", started_at=START + timedelta(days=1))
    store.begin_block(drill)
    store.end_block(drill.id, result(2.0), START)
    found = standing(store, 1, assess=True)
    assert found is not None
    assert found.number == 2


def test_a_block_that_says_nothing_stands_nowhere() -> None:
    assert standing(store_of(None), 0) is None
    assert standing(store_of(8.0, player="silent"), 0, player="silent") is None
    assert standing(store_of(8.0), 7) is None


def test_a_clock_that_was_set_back_turns_nothing_round() -> None:
    store = store_of(8.0, 8.0, assess=True)
    early = block_plan(id="early", started_at=START - timedelta(days=400), assess=True)
    store.begin_block(early)
    store.end_block(early.id, result(8.0), START)
    found = standing_of(store, early)
    assert found is not None
    assert found.number == 3


def test_today_is_held_against_the_others_even_where_its_day_comes_first() -> None:
    thresholds = (5.8, 6.0, 6.2, 5.9, 6.1)
    store = store_of(*thresholds, assess=True)
    early = block_plan(id="early", started_at=START - timedelta(days=1), assess=True)
    store.begin_block(early)
    store.end_block(early.id, result(30.0), START)
    found = standing_of(store, early)
    assert found is not None
    assert found.unusual
    assert found.agreement == limits_of_agreement(thresholds[1:])


WHEN = datetime(2026, 3, 3, tzinfo=UTC)


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.999, "has become finer since 3 March 2026: 99 % sure."),
        (0.96, "has become finer since 3 March 2026: 96 % sure."),
        (0.8, "has probably become finer since 3 March 2026: 80 % sure, and more blocks will tell."),
        (0.5, "Since 3 March 2026 nothing has changed that one could be sure of"),
        (0.03, "Your ear was finer on 3 March 2026: 97 % sure."),
    ],
)
def test_the_chance_of_improvement_in_words(chance: float, words: str) -> None:
    (said,) = standing_sentences(Standing(5, 8.0, improvement_chance=chance, since=WHEN))
    assert words in said
    assert said.endswith(".")


def test_agreement_in_words() -> None:
    said = standing_sentences(Standing(5, 8.0, agreement=Agreement(0.8, 1.25, 5)))
    assert said == ("The next assessment has come to between 0.80 and 1.25 times the last, 19 times in 20.",)
    assert standing_sentences(replace(Standing(2, 8.0))) == ()
