"""From plain data to a rehearsal at the bench, every value held to its kind and range. Imports draws and below."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from centwise.draws import MAX_SEED
from centwise.exchange import values
from centwise.exchange.records import BY_STRING, BenchRecord
from centwise.model import (
    BRIDGE_KINDS,
    DIFFICULTIES,
    JUDGEMENTS,
    BenchAct,
    BenchJudgement,
    BenchPlan,
    BenchResult,
    BenchShare,
    OrderPoint,
)

if TYPE_CHECKING:
    from collections.abc import Callable

MOST_ACTS = 10_000
MOST_STRINGS = 24
WIDEST_MM = 1_000.0
LONGEST_WORDS, LONGEST_POINT = 200, 2_000

REHEARSAL_KEYS = frozenset(
    {
        "record",
        "id",
        "listener_id",
        "instrument",
        "bridge",
        "difficulty",
        "guided",
        "seed",
        "scale_mm",
        "player",
        "started_at",
        "ended_at",
        "acts",
        "reckoning",
    }
)
ACT_KEYS = frozenset({"n", "words", "at"})
RECKONING_KEYS = frozenset(
    {
        *BY_STRING,
        "bass_mm",
        "treble_mm",
        "side_mm",
        "moves",
        "comparisons",
        "judgements",
        "order",
        "shares",
        "hand_percent",
    }
)
JUDGEMENT_KEYS = frozenset({"n", "string", "heard", "truth_cents", "right"})
POINT_KEYS = frozenset({"point", "kept", "reason"})
SHARE_KEYS = frozenset({"string", "left_cents", "hand_cents", "ear_cents", "threshold_cents", "rechecked"})


def bench_record(data: dict[str, Any]) -> BenchRecord:
    """Read a rehearsal.

    Raises:
        ValueError: a value is not as it should be.
    """
    values.check_keys(data, REHEARSAL_KEYS)
    ended_at = None if data["ended_at"] is None else values.instant(data, "ended_at")
    result = None if data["reckoning"] is None else _reckoning(data["reckoning"])
    if (ended_at is None) != (result is None):
        values.wrong(data, "reckoning", "ended_at and reckoning together, or null for both")
    plan = BenchPlan(
        id=values.matching(data, "id", values.ID, "an id of letters, digits and -"),
        listener_id=values.matching(data, "listener_id", values.ID, "an id of letters, digits and -"),
        instrument=values.instrument(data),
        bridge=values.one_of(data, "bridge", BRIDGE_KINDS),
        difficulty=values.one_of(data, "difficulty", DIFFICULTIES),
        guided=values.yes_or_no(data, "guided"),
        seed=values.whole(data, "seed", 0, MAX_SEED),
        scale_mm=values.number(data, "scale_mm", *values.SCALE_MM),
        player=values.text(data, "player", values.LONGEST_TEXT),
        started_at=values.instant(data, "started_at"),
    )
    acts = _each(data, "acts", _act)
    if any(before.n >= after.n for before, after in pairwise(acts)):
        values.wrong(data, "acts", "rising numbers")
    return BenchRecord(plan, acts, result, ended_at)


def _each(data: dict[str, Any], key: str, read: Callable[[dict[str, Any]], Any]) -> tuple[Any, ...]:
    found = data[key]
    if not isinstance(found, list) or len(found) > MOST_ACTS or not all(isinstance(one, dict) for one in found):
        values.wrong(data, key, f"a list of at most {MOST_ACTS} objects")
    return tuple(read(one) for one in found)


def _act(data: dict[str, Any]) -> BenchAct:
    values.check_keys(data, ACT_KEYS)
    return BenchAct(
        values.whole(data, "n", 1, MOST_ACTS), values.text(data, "words", LONGEST_WORDS), values.instant(data, "at")
    )


def _reckoning(data: Any) -> BenchResult:  # noqa: ANN401  JSON holds anything
    if not isinstance(data, dict):
        raise ValueError(f"'reckoning' is {values.shown(data)} (expected an object or null)")  # noqa: TRY004
    values.check_keys(data, RECKONING_KEYS)
    return BenchResult(
        cents=_by_string(data, "cents"),
        string_mm=_by_string(data, "string_mm"),
        must_leave_cents=_by_string(data, "must_leave_cents"),
        bass_mm=values.number(data, "bass_mm", -WIDEST_MM, WIDEST_MM),
        treble_mm=values.number(data, "treble_mm", -WIDEST_MM, WIDEST_MM),
        side_mm=values.number(data, "side_mm", -WIDEST_MM, WIDEST_MM),
        moves=values.whole(data, "moves", 0, MOST_ACTS),
        comparisons=values.whole(data, "comparisons", 0, MOST_ACTS),
        judgements=_each(data, "judgements", _judgement),
        order=_each(data, "order", _point),
        shares=_each(data, "shares", _share),
        hand_percent=values.maybe(data, "hand_percent", 0.0, values.WIDEST_RESULT),
    )


def _by_string(data: dict[str, Any], key: str) -> dict[int, float]:
    found = data[key]
    strings = {str(number) for number in range(1, MOST_STRINGS + 1)}
    if not isinstance(found, dict) or not strings.issuperset(found):
        values.wrong(data, key, f"an object with numbers of strings from 1 to {MOST_STRINGS} as keys")
    widest = values.WIDEST_RESULT
    return {int(string): values.number(found, string, -widest, widest) for string in found}


def _judgement(data: dict[str, Any]) -> BenchJudgement:
    values.check_keys(data, JUDGEMENT_KEYS)
    return BenchJudgement(
        n=values.whole(data, "n", 1, MOST_ACTS),
        string=values.whole(data, "string", 1, MOST_STRINGS),
        heard=values.one_of(data, "heard", JUDGEMENTS),
        truth_cents=values.number(data, "truth_cents", -values.WIDEST_RESULT, values.WIDEST_RESULT),
        right=values.yes_or_no(data, "right"),
    )


def _point(data: dict[str, Any]) -> OrderPoint:
    values.check_keys(data, POINT_KEYS)
    return OrderPoint(
        values.text(data, "point", LONGEST_POINT),
        values.yes_or_no(data, "kept"),
        values.text(data, "reason", LONGEST_POINT),
    )


def _share(data: dict[str, Any]) -> BenchShare:
    values.check_keys(data, SHARE_KEYS)
    widest = values.WIDEST_RESULT
    return BenchShare(
        string=values.whole(data, "string", 1, MOST_STRINGS),
        left_cents=values.number(data, "left_cents", -widest, widest),
        hand_cents=values.number(data, "hand_cents", -widest, widest),
        ear_cents=values.number(data, "ear_cents", -widest, widest),
        threshold_cents=values.maybe(data, "threshold_cents", -widest, widest),
        rechecked=values.yes_or_no(data, "rechecked"),
    )
