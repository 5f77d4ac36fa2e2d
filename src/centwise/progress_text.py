"""Progress in whole sentences: where each string stands, how it moved, what to practise next and why. No I/O.

Imports standing_text and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.bench.told import error_text
from centwise.drill.advice import scale_text
from centwise.model import GOOD_ENOUGH_CENTS
from centwise.practice import AWAY_DAYS, DRILLS_BEFORE_ASSESSMENT
from centwise.standing_text import day_text
from centwise.strings.names import DEFAULT_NAME
from centwise.systems import local_time
from centwise.trend import TREND_SIGNS, Trend
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from centwise.model import Condition, Listener, Order
    from centwise.ports import Holdings, StoredBench
    from centwise.practice import NextPractice
    from centwise.progress import ConditionProgress, ListenerProgress

ORDER_WORDS: dict[Order, str] = {
    "harmonic-first": "harmonic first",
    "fretted-first": "fretted first",
    "both": "both orders",
}
_VOICES = {"rendered": "", "recorded": "your recorded pairs", "shifted": "your recorded notes"}
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
TREND_BLOCKS = 2
"""So many blocks have no trend whichever day it is counted from: the first is not compared."""


def short_day(instant: datetime | None) -> str:
    """Write the day of an instant here, for a narrow column, as in `3 Mar 2026`; `never` for None."""
    if instant is None:
        return "never"
    local = local_time(instant)
    return f"{local.day} {_MONTHS[local.month - 1]} {local.year}"


def trend_text(trend: Trend) -> str:
    """Write a trend with its sign before its word, as in `↓ probably finer`."""
    return f"{TREND_SIGNS[trend]} {trend}"


def minutes_text(seconds: float) -> str:
    """Write a time of practice in whole minutes, as in `1 minute`."""
    minutes = round(seconds / 60.0)
    return counted(minutes, "minute")


def condition_text(condition: Condition) -> str:
    """Say what was heard: `String 4, harmonic first`, and whatever else is not as usual."""
    parts = [f"String {condition.string}"]
    if condition.instrument != DEFAULT_NAME:
        parts.append(condition.instrument)
    parts.append(ORDER_WORDS[condition.order])
    if not condition.muted:
        parts.append("other strings ringing")
    if condition.likeness:
        parts.append(f"likeness {condition.likeness:g}")
    if voice := _VOICES.get(condition.voice, condition.voice):
        parts.append(voice)
    return ", ".join(parts)


def now_sentence(progress: ConditionProgress) -> str:
    """Say where the threshold stands, with its band."""
    now = progress.now
    return (
        f"{condition_text(progress.condition)}: {now.threshold_cents:.1f} cents, "
        f"90 % sure between {now.low_cents:.1f} and {now.high_cents:.1f}."
    )


def good_enough_sentence(progress: ConditionProgress) -> str:
    """Say what a bridge needs, in cents and millimetres."""
    reached = progress.now.threshold_cents <= GOOD_ENOUGH_CENTS
    return (
        f"Good enough for a bridge is {GOOD_ENOUGH_CENTS:g} cents, {progress.good_enough_mm:.1f} mm of travel"
        f"{': reached' if reached else ''}."
    )


def trend_sentence(progress: ConditionProgress) -> str:
    """Say how it moved since the first block that is compared."""
    count = len(progress.sessions)
    if progress.improvement_chance is None or progress.since is None:
        if count > TREND_BLOCKS:
            return f"{count} blocks, but not two compared ones since that day: count from an earlier one."
        said = "1 block so far" if count == 1 else f"{count} blocks so far"
        return f"{said}: a trend is told from the third on, because the first is mostly learning the task."
    chance = round(100 * progress.improvement_chance)
    since = f"since {day_text(progress.since)}, over {count} blocks"
    if progress.trend in {"finer", "probably finer"}:
        return f"{progress.trend.capitalize()} {since}: {min(chance, 99)} % sure."
    if progress.trend in {"coarser", "probably coarser"}:
        return f"{progress.trend.capitalize()} {since}: {min(100 - chance, 99)} % sure."
    return f"No change that one could be sure of {since}."


def practised_sentence(progress: ListenerProgress) -> str:
    """Say how much was practised, and when last."""
    heard = sum(block.plan.heard for block in progress.blocks)
    if progress.last_seen is None:
        return "No block yet."
    return (
        f"{counted(heard, 'block')}, {progress.answered:,} pairs judged, "
        f"{minutes_text(progress.practised_s)} practised; last on {day_text(progress.last_seen)}."
    )


def practised_line(progress: ListenerProgress) -> str:
    """Say the same in one short line."""
    if progress.last_seen is None:
        return "No block yet."
    heard = sum(block.plan.heard for block in progress.blocks)
    return (
        f"{counted(heard, 'block')}, {progress.answered:,} pairs, "
        f"{minutes_text(progress.practised_s)}; last on {short_day(progress.last_seen)}."
    )


def bench_sentence(benches: Sequence[StoredBench]) -> str:
    """Say what was rehearsed at the bench, and what the last one brought; empty where nothing was."""
    if not benches:
        return ""
    ended = [(bench, bench.result) for bench in benches if bench.result is not None]
    count = f"At the bench: {counted(len(benches), 'rehearsal')}"
    if not ended:
        return f"{count}, none brought to its end yet."
    bench, result = ended[-1]
    left = " and ".join(f"string {share.string} {error_text(share.left_cents)}" for share in result.shares)
    well = all(abs(share.left_cents) <= GOOD_ENOUGH_CENTS for share in result.shares)
    silent = "" if bench.plan.heard else " without sound"
    return (
        f"{count}; the last one ended, on {short_day(bench.plan.started_at)}, left {left}: "
        f"{'set' if well else 'not set yet'}, after {counted(result.moves, 'move')}{silent}."
    )


def next_sentence(practice: NextPractice) -> str:
    """Say what to practise next, and why."""
    what = "an assessment" if practice.assess else "a block"
    return f"Next: {what} on string {practice.string}. {next_reason(practice)}"


def next_reason(practice: NextPractice) -> str:  # noqa: PLR0911  one return a reason
    """Say why that comes next."""
    side = practice.side
    match practice.reason:
        case "first":
            return f"It sets the {side} side of the bridge, and shows where your ear stands."
        case "other side":
            return f"It sets the {side} side of the bridge, and your ear has not been tried there."
        case "coarser":
            return (
                f"There you hear {practice.string_cents or 0.0:.1f} cents, on the other side of the bridge "
                f"{practice.other_cents or 0.0:.1f}: the coarser side gains most."
            )
        case "away":
            days = practice.days_away or AWAY_DAYS
            return f"After {days} days a short block shows where your ear stands."
        case "assess":
            return (
                f"{DRILLS_BEFORE_ASSESSMENT} drills or more have gone by since the last one, "
                "and a hundred pairs without a word tell what they brought."
            )
        case "keep":
            return "Both sides are as fine as a bridge needs: a block a week keeps them."
        case "turn":
            return f"It is the {side} side's turn."


def holdings_text(holdings: Holdings) -> str:
    """Say how much the store holds of a listener, as in `12 blocks with 480 answers`."""
    counts = dict(holdings.counts)
    if not counts:
        return "no block yet"
    blocks, answers = counts.pop("blocks", 0), counts.pop("trials", 0)
    said = [f"{counted(blocks, 'block')} with {counted(answers, 'answer')}"]
    others = sum(count for table, count in counts.items() if table != "bench_acts")
    if rounds := counts.pop("benches", 0):
        others -= rounds
        said.append(f"{counted(rounds, 'rehearsal')} at the bench")
    if others > 0:
        said.append(counted(others, "other record"))
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def merge_conflicts(goes: Listener, stays: Listener) -> list[str]:
    """Say what the two differ in, and which of it stays."""
    said = []
    if goes.scale_mm != stays.scale_mm:
        said.append(
            f"The scale length stays {scale_text(stays.scale_mm)}, not {scale_text(goes.scale_mm)}; "
            "each block keeps the one it was taken with."
        )
    if goes.instrument != stays.instrument:
        said.append(f"The instrument stays {stays.instrument}, not {goes.instrument}.")
    if goes.note and stays.note and goes.note != stays.note:
        said.append("The notes are put one under the other.")
    return said
