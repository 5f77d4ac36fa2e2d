"""Progress in words: what stands, why, and what was done at the bench."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import Any

import pytest

from centwise.model import BenchPlan, BenchResult, BenchShare, Condition, Listener, OrderPoint
from centwise.ports import Holdings, StoredBench
from centwise.practice import NextPractice
from centwise.progress_text import (
    bench_sentence,
    condition_text,
    holdings_text,
    merge_conflicts,
    minutes_text,
    next_sentence,
    short_day,
)
from centwise.standing_text import day_text
from fakes import START


def rehearsal(day: int, left: tuple[float, float] | None) -> StoredBench:
    plan = BenchPlan(
        f"r{day}", "listener-1", "five-string", "straight", "easy", True, 7, 666.75, "x", START + timedelta(days=day)
    )
    if left is None:
        return StoredBench(plan, (), None)
    shares = tuple(BenchShare(n, cents, 0.0, cents, None, True) for n, cents in zip((4, 1), left, strict=True))
    order = (OrderPoint("muted", True, "why"), OrderPoint("retuned", False, "why"))
    cents = dict(zip((4, 1), left, strict=True))
    return StoredBench(plan, (), BenchResult(cents, {}, {}, 0.1, 0.2, 0.0, 5, 9, (), order, shares, 12.0))


@pytest.mark.parametrize(
    ("benches", "said"),
    [
        ((), ""),
        ((rehearsal(0, None),), "At the bench: 1 rehearsal, none brought to its end yet."),
        (
            (rehearsal(0, (9.0, 9.0)), rehearsal(3, (0.84, -1.5)), rehearsal(4, None)),
            (
                "At the bench: 3 rehearsals; the last one ended, on 5 Jan 2026, left string 4 ♯ sharp by 0.8 cents and "
                "string 1 ♭ flat by 1.5 cents: set, after 5 moves."
            ),
        ),
        (
            (rehearsal(0, (2.01, 0.0)),),
            (
                "At the bench: 1 rehearsal; the last one ended, on 2 Jan 2026, left string 4 ♯ sharp by 2.0 cents and "
                "string 1 in unison: not set yet, after 5 moves."
            ),
        ),
    ],
)
def test_what_was_done_at_the_bench(benches: tuple[StoredBench, ...], said: str) -> None:
    assert bench_sentence(benches) == said


@pytest.mark.parametrize(
    ("practice", "said"),
    [
        (NextPractice(4, False, "first"), "a block on string 4. It sets the bass side of the bridge, and shows"),
        (NextPractice(1, False, "other side", None, 8.0, 1, "treble"), "string 1. It sets the treble side"),
        (NextPractice(1, False, "coarser", 20.0, 5.0, 1), "you hear 20.0 cents, on the other side of the bridge 5.0"),
        (NextPractice(1, False, "away", 8.0, 9.0, 30), "After 30 days a short block"),
        (NextPractice(1, True, "assess", 8.0, 9.0, 3), "Next: an assessment on string 1. 8 drills or more"),
        (NextPractice(1, False, "keep", 1.9, 2.0, 3), "Both sides are as fine as a bridge needs"),
        (NextPractice(6, False, "turn", 8.0, 9.0, 3, "bass"), "string 6. It is the bass side's turn."),
    ],
)
def test_what_to_practise_next_says_why(practice: NextPractice, said: str) -> None:
    assert said in next_sentence(practice)


@pytest.mark.parametrize(
    ("condition", "said"),
    [
        ({}, "String 4, harmonic first"),
        ({"order": "both", "muted": False}, "String 4, both orders, other strings ringing"),
        ({"likeness": 0.5, "voice": "shifted"}, "String 4, harmonic first, likeness 0.5, your recorded notes"),
        ({"instrument": "mandolin", "string": 1}, "String 1, mandolin, harmonic first"),
    ],
)
def test_what_was_heard(condition: dict[str, Any], said: str) -> None:
    assert condition_text(Condition(**condition)) == said


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ({}, "no block yet"),
        ({"blocks": 1, "trials": 1}, "1 block with 1 answer"),
        ({"blocks": 1200, "trials": 48000}, "1,200 blocks with 48,000 answers"),
        (
            {"blocks": 2, "trials": 3, "benches": 1, "bench_acts": 9},
            "2 blocks with 3 answers and 1 rehearsal at the bench",
        ),
        ({"benches": 2, "letters": 3}, "0 blocks with 0 answers, 2 rehearsals at the bench and 3 other records"),
    ],
)
def test_what_somebody_has_in_the_store(counts: dict[str, int], said: str) -> None:
    assert holdings_text(Holdings(Listener("a", "Ann"), counts)) == said


def test_small_words() -> None:
    assert [minutes_text(s) for s in (0.0, 61.0, 3600.0 * 20)] == ["0 minutes", "1 minute", "1,200 minutes"]
    assert (short_day(None), short_day(START)) == ("never", "2 Jan 2026")


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="Windows takes no time zone from a program")
def test_a_day_is_told_where_the_listener_is(monkeypatch: pytest.MonkeyPatch) -> None:
    try:
        with monkeypatch.context() as there:
            there.setenv("TZ", "HST10")
            time.tzset()
            assert (short_day(START), day_text(START)) == ("1 Jan 2026", "1 January 2026")
    finally:
        time.tzset()
    assert (short_day(START), day_text(START)) == ("2 Jan 2026", "2 January 2026")
    same = Listener("a", "Ann", 660.0, note="n")
    assert merge_conflicts(same, Listener("b", "Bo", 660.0, note="n")) == []
    assert len(merge_conflicts(same, Listener("b", "Bo", 640.0, "mandolin", "m"))) == 3
