"""Rehearsals at the bench as rows of a table. No I/O."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.progress_text import short_day

if TYPE_CHECKING:
    from collections.abc import Iterable

    from centwise.ports import StoredBench


def rehearsal_rows(benches: Iterable[StoredBench]) -> list[dict[str, str]]:
    """Return the rehearsals whose feet were marked, the latest first."""
    return [_row(bench) for bench in reversed(tuple(benches)) if bench.result is not None]


def _row(bench: StoredBench) -> dict[str, str]:
    plan, result = bench.plan, bench.result
    if result is None:
        raise ValueError("a rehearsal that is shown has a reckoning")
    # The strings the bridge is set by, whatever instrument it was: the bass side has the higher number.
    outer = sorted(share.string for share in result.shares) or sorted(result.cents)
    return {
        "day": short_day(plan.started_at),
        "bridge": f"{plan.bridge}, {plan.difficulty}{', guided' if plan.guided else ''}",
        "bass": _left(result.cents.get(outer[-1]) if outer else None),
        "treble": _left(result.cents.get(outer[0]) if outer else None),
        "moves": str(result.moves),
        "comparisons": str(result.comparisons),
        "order": f"{sum(point.kept for point in result.order)} of {len(result.order)}",
        "hand": "none" if result.hand_percent is None else f"{result.hand_percent:.0f} %",
    }


def _left(cents: float | None) -> str:
    if cents is None:
        return ""
    word = "unison" if abs(cents) < 0.05 else "sharp" if cents > 0 else "flat"
    return f"{cents:+.1f} {word}"
