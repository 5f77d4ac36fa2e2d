"""Rehearsals at the bench as rows of a table. No I/O. Imports progress_text and below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.progress_text import short_day

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from centwise.ports import StoredBench


@dataclass(frozen=True, slots=True)
class Left:
    """What a rehearsal left on the two outer strings, in cents; None where it is not known."""

    started_at: datetime
    bass_cents: float | None
    treble_cents: float | None


def left_by(benches: Iterable[StoredBench]) -> list[Left]:
    """Return what the rehearsals whose feet were marked left, oldest first."""
    return [Left(bench.plan.started_at, *_outer(bench)) for bench in benches if bench.result is not None]


def _outer(bench: StoredBench) -> tuple[float | None, float | None]:
    """Return what the bass side and the treble side were left with."""
    result = bench.result
    if result is None:
        return None, None
    # The strings the bridge is set by, whatever instrument it was: the bass side has the higher number.
    strings = sorted(share.string for share in result.shares) or sorted(result.cents)
    return (result.cents.get(strings[-1]), result.cents.get(strings[0])) if strings else (None, None)


def rehearsal_rows(benches: Iterable[StoredBench]) -> list[dict[str, str]]:
    """Return the rehearsals whose feet were marked, the latest first."""
    return [_row(bench) for bench in reversed(tuple(benches)) if bench.result is not None]


def _row(bench: StoredBench) -> dict[str, str]:
    plan, result = bench.plan, bench.result
    if result is None:
        raise ValueError("a rehearsal that is shown has a reckoning")
    bass_cents, treble_cents = _outer(bench)
    guided, silent = ", guided" if plan.guided else "", "" if plan.heard else ", without sound"
    return {
        "day": short_day(plan.started_at),
        "bridge": f"{plan.bridge}, {plan.difficulty}{guided}{silent}",
        "bass": _left(bass_cents),
        "treble": _left(treble_cents),
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
