"""Records of the data format, made by hypothesis within what the format allows."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from hypothesis import strategies as st

from centwise.exchange.records import BenchRecord, BlockRecord, ListenerRecord
from centwise.model import (
    DIFFICULTIES,
    JUDGEMENTS,
    ORDERS,
    RULES,
    TONES,
    VOICES,
    BenchAct,
    BenchJudgement,
    BenchPlan,
    BenchResult,
    BenchShare,
    BlockPlan,
    BlockResult,
    Condition,
    Listener,
    OrderPoint,
    Trial,
)

INSTANTS = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001  bounds are naive
CENTS = st.floats(-100.0, 100.0)
NAMES = st.text(min_size=1, max_size=200).filter(lambda name: name.strip())
SIZES = st.floats(0.01, 100.0)


def maybe(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | values


@st.composite
def listener_records(
    draw: st.DrawFn, ids: st.SearchStrategy[str] | None = None, names: st.SearchStrategy[str] = NAMES
) -> ListenerRecord:
    listener = Listener(
        id=draw(ids or st.uuids().map(str)),
        name=draw(names),
        scale_mm=draw(st.floats(200.0, 1500.0)),
        instrument=draw(st.sampled_from(["five-string", "mandolin"])),
        note=draw(st.text(max_size=40)),
    )
    return ListenerRecord(listener, draw(st.integers(1, 9)))


@st.composite
def results(draw: st.DrawFn, trials: int) -> BlockResult:
    low, threshold, high = sorted(draw(st.lists(SIZES, min_size=3, max_size=3, unique=True)))
    known = draw(st.booleans())
    return BlockResult(
        trials=trials,
        correct=draw(st.integers(0, trials)),
        threshold_cents=threshold if known else None,
        low_cents=low if known else None,
        high_cents=high if known else None,
        bias_cents=draw(maybe(CENTS)),
        bias_low_cents=draw(maybe(CENTS)),
        bias_high_cents=draw(maybe(CENTS)),
        unison_window_cents=draw(maybe(SIZES)),
        travel_mm=draw(maybe(SIZES)),
        travel_low_mm=draw(maybe(SIZES)),
        travel_high_mm=draw(maybe(SIZES)),
        travel_sixty_fourths=draw(maybe(st.integers(0, 1000))),
        order_error_cents=draw(maybe(CENTS)),
    )


@st.composite
def block_records(
    draw: st.DrawFn, listener_id: str = "somebody", ids: st.SearchStrategy[str] | None = None
) -> BlockRecord:
    trials = tuple(
        Trial(
            n=n,
            offset_cents=draw(CENTS),
            first=draw(st.sampled_from(TONES)),
            answer=draw(st.sampled_from(JUDGEMENTS)),
            answered_at=draw(INSTANTS),
            replays=draw(st.integers(0, 3)),
            scored=draw(st.booleans()),
        )
        for n in range(1, draw(st.integers(0, 3)) + 1)
    )
    ended = draw(st.booleans())
    plan = BlockPlan(
        id=draw(ids or st.uuids().map(str)),
        listener_id=listener_id,
        condition=Condition(
            instrument="five-string",
            string=draw(st.integers(1, 5)),
            muted=draw(st.booleans()),
            likeness=draw(st.floats(0.0, 1.0)),
            order=draw(st.sampled_from(ORDERS)),
            voice=draw(st.sampled_from(VOICES)),
        ),
        rule=draw(st.sampled_from(RULES)),
        trials=draw(st.integers(1, 1000)),
        assess=draw(st.booleans()),
        seed=draw(st.integers(0, 2**32 - 1)),
        scale_mm=draw(st.floats(200.0, 1500.0)),
        player=draw(st.sampled_from(["miniaudio", "silent", "file:/home/ada/wavs"])),
        started_at=draw(INSTANTS),
        warm_up=draw(st.integers(0, 20)),
        until_octaves=draw(maybe(SIZES)),
        prior_threshold_cents=draw(maybe(SIZES)),
        prior_sd_octaves=draw(maybe(SIZES)),
        take_sha256=draw(maybe(st.just("0f" * 32))),
        take_error_cents=draw(maybe(SIZES)),
        given_cents=tuple(draw(st.lists(CENTS, max_size=2))),
        string_length_mm=draw(maybe(st.floats(1.0, 1500.0))),
        octave_hz=draw(maybe(st.floats(1.0, 20_000.0))),
    )
    return BlockRecord(
        plan=plan,
        trials=trials,
        result=draw(results(len(trials))) if ended else None,
        ended_at=draw(INSTANTS) if ended else None,
        method=1 if ended else None,
    )


HEARD = st.builds(
    BenchJudgement, st.integers(1, 9), st.integers(1, 5), st.sampled_from(JUDGEMENTS), CENTS, st.booleans()
)
POINTS = st.builds(OrderPoint, st.text(max_size=9), st.booleans(), st.text(max_size=9))
SHARES = st.builds(BenchShare, st.integers(1, 5), CENTS, CENTS, CENTS, maybe(CENTS), st.booleans())
BY_STRING = st.dictionaries(st.integers(1, 5), CENTS, max_size=3)


@st.composite
def bench_results(draw: st.DrawFn) -> BenchResult:
    return BenchResult(
        cents=draw(BY_STRING),
        string_mm=draw(BY_STRING),
        must_leave_cents=draw(BY_STRING),
        bass_mm=draw(CENTS),
        treble_mm=draw(CENTS),
        side_mm=draw(CENTS),
        moves=draw(st.integers(0, 9)),
        comparisons=draw(st.integers(0, 9)),
        judgements=tuple(draw(st.lists(HEARD, max_size=2))),
        order=tuple(
            draw(st.lists(st.builds(OrderPoint, st.text(max_size=9), st.booleans(), st.text(max_size=9)), max_size=2))
        ),
        shares=tuple(draw(st.lists(SHARES, max_size=2))),
        hand_percent=draw(maybe(SIZES)),
    )


@st.composite
def bench_records(
    draw: st.DrawFn, listener_id: str = "somebody", ids: st.SearchStrategy[str] | None = None
) -> BenchRecord:
    ended = draw(st.booleans())
    plan = BenchPlan(
        id=draw(ids or st.uuids().map(str)),
        listener_id=listener_id,
        instrument="five-string",
        bridge=draw(st.sampled_from(["straight", "compensated"])),
        difficulty=draw(st.sampled_from(DIFFICULTIES)),
        guided=draw(st.booleans()),
        seed=draw(st.integers(0, 2**32 - 1)),
        scale_mm=draw(st.floats(200.0, 1500.0)),
        player=draw(st.sampled_from(["miniaudio", "file:/home/ada/wavs"])),
        started_at=draw(INSTANTS),
    )
    acts = tuple(
        BenchAct(n, draw(st.sampled_from(["chime 4", "bass forward 1/16in"])), draw(INSTANTS))
        for n in range(1, draw(st.integers(0, 3)) + 1)
    )
    return BenchRecord(plan, acts, draw(bench_results()) if ended else None, draw(INSTANTS) if ended else None)
