"""A listener's blocks as progress: where each string stands, where it went, and what to practise next. No I/O.

Built from summaries alone, never from trials. Loads numpy, as `past` does. Imports past and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from centwise.drill.result import string_length_mm
from centwise.ear.history import history_of
from centwise.errors import CentwiseError
from centwise.model import GOOD_ENOUGH_CENTS
from centwise.past import days_of, instant_of, session_of
from centwise.ports import ClassRow
from centwise.practice import NextPractice, Sides, next_practice, sides_of
from centwise.strings.geometry import bridge_offset_mm
from centwise.strings.library import BUILT_IN
from centwise.trend import Trend, trend_word

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from centwise.ear.history import History, Session
    from centwise.model import Condition, Listener
    from centwise.ports import BlockOutline, BlockSummary, StoredBench
    from centwise.strings.library import Instruments


@dataclass(frozen=True, slots=True)
class Now:
    """Where the threshold stands after the last block, in cents with its 90 % band."""

    threshold_cents: float
    low_cents: float
    high_cents: float


@dataclass(frozen=True, slots=True)
class ConditionProgress:
    """What the blocks of one condition say together.

    Attributes:
        condition: instrument, string, muting, likeness and order: blocks compare only within one.
        sessions: the blocks that were heard and gave a threshold, oldest first, at least one. `sessions[i]` belongs to
            `history.sessions[i]`, and `sessions[1:][i]` to `history.trend[i]`: the first is mostly learning the task.
        history: the sessions forward and back, with the trend's band.
        now: where the threshold stands: the trend's last point, or with one session that one.
        improvement_chance: probability that the ear has really become finer since `since`, None below three sessions.
        since: the day it is counted from.
        trend: the same as a word.
        good_enough_mm: what 2 cents are in travel of the bridge, at the last block's scale length.
    """

    condition: Condition
    sessions: tuple[BlockSummary, ...]
    history: History
    now: Now
    improvement_chance: float | None
    since: datetime | None
    trend: Trend
    good_enough_mm: float

    @property
    def last(self) -> BlockSummary:
        """The last block."""
        return self.sessions[-1]


@dataclass(frozen=True, slots=True)
class ListenerProgress:
    """One listener's whole progress.

    Attributes:
        listener: who.
        conditions: each condition with a threshold, the one practised last first.
        blocks: every block there is, oldest first; also those nobody heard and those without a result.
        practised_s: seconds practised, blocks without sound left out.
        answered: pairs judged, blocks without sound left out.
        last_seen: the last answer, or without one the last block's beginning; None for who never began one.
        next: what to practise next, and why.
        benches: the rehearsals at the bench, oldest first.
    """

    listener: Listener
    conditions: tuple[ConditionProgress, ...]
    blocks: tuple[BlockSummary, ...]
    practised_s: float
    answered: int
    last_seen: datetime | None
    next: NextPractice
    benches: tuple[StoredBench, ...] = ()

    @property
    def latest(self) -> ConditionProgress | None:
        """The condition practised last, None where there is no threshold yet."""
        return self.conditions[0] if self.conditions else None


def progress_of(
    listener: Listener,
    blocks: Iterable[BlockSummary],
    now: datetime,
    *,
    instruments: Instruments = BUILT_IN,
    benches: Iterable[StoredBench] = (),
) -> ListenerProgress:
    """Return one listener's progress.

    Args:
        listener: who.
        blocks: all of the listener's blocks in any order; others' are left out.
        now: this instant, for what to practise next.
        instruments: where the listener's instrument is found, whose strings are proposed.
        benches: the listener's rehearsals, oldest first.
    """
    theirs = tuple(
        sorted(
            (block for block in blocks if block.plan.listener_id == listener.id),
            key=lambda block: block.plan.started_at,
        )
    )
    return replace(_progress(listener, theirs, now, instruments), benches=tuple(benches))


def counted_from(progress: ListenerProgress, day: datetime) -> ListenerProgress:
    """Return the same progress with the chance of improvement counted from a day on, not from the second block.

    Args:
        progress: a listener's.
        day: aware; the first compared block at or after it is the one that the last is held against.
    """
    conditions = tuple(_counted_from(each, days_of(day)) for each in progress.conditions)
    return replace(progress, conditions=conditions)


def _counted_from(progress: ConditionProgress, days: float) -> ConditionProgress:
    chance = progress.history.improvement_chance(days)
    first = next((session.days for session in progress.history.compared if session.days >= days), None)
    return replace(
        progress,
        improvement_chance=chance,
        since=None if chance is None or first is None else instant_of(first),
        trend=trend_word(chance),
    )


def progress_of_all(
    listeners: Sequence[Listener], blocks: Sequence[BlockSummary], now: datetime, *, instruments: Instruments = BUILT_IN
) -> tuple[ListenerProgress, ...]:
    """Return the progress of several listeners, in their order.

    Args:
        listeners: who.
        blocks: as `Store.summaries` gives them: each listener's together, oldest first.
        now: this instant.
        instruments: as in `progress_of`.
    """
    by_listener = {key: tuple(group) for key, group in groupby(blocks, key=lambda block: block.plan.listener_id)}
    return tuple(_progress(listener, by_listener.get(listener.id, ()), now, instruments) for listener in listeners)


def class_row_of(listener: Listener, blocks: Sequence[BlockOutline]) -> ClassRow:
    """Return a listener's row of the class view: the same figures as their progress, of the last condition alone.

    Args:
        listener: who.
        blocks: all of theirs, oldest first.
    """
    heard = [block for block in blocks if block.heard]
    row = ClassRow(
        listener,
        blocks=len(heard),
        answered=sum(block.answered for block in heard),
        practised_s=sum(block.practised_s for block in heard),
        last_seen=max((block.last_answer_at or block.started_at for block in heard), default=None),
    )
    last = next((block.condition for block in reversed(heard) if session_of(block) is not None), None)
    if last is None:
        return row
    sessions = [session for block in heard if block.condition == last and (session := session_of(block)) is not None]
    history = history_of(sessions)
    now = _now(history)
    return replace(
        row,
        instrument=last.instrument,
        string=last.string,
        threshold_cents=now.threshold_cents,
        low_cents=now.low_cents,
        high_cents=now.high_cents,
        improvement_chance=_chance(history),
    )


def class_rows_of(listeners: Sequence[Listener], blocks: Sequence[BlockOutline]) -> tuple[ClassRow, ...]:
    """Return several listeners' rows, in their order; `blocks` as `Store.outlines` gives them."""
    by_listener = {key: tuple(group) for key, group in groupby(blocks, key=lambda block: block.listener_id)}
    return tuple(class_row_of(listener, by_listener.get(listener.id, ())) for listener in listeners)


def _progress(
    listener: Listener, blocks: tuple[BlockSummary, ...], now: datetime, instruments: Instruments
) -> ListenerProgress:
    heard = [block for block in blocks if block.plan.heard]
    by_condition: dict[Condition, list[tuple[BlockSummary, Session]]] = {}
    for block in heard:
        if (session := session_of(block.outline)) is not None:
            by_condition.setdefault(block.plan.condition, []).append((block, session))
    conditions = [_condition(condition, found) for condition, found in by_condition.items()]
    conditions.sort(key=lambda found: found.last.plan.started_at, reverse=True)
    return ListenerProgress(
        listener=listener,
        conditions=tuple(conditions),
        blocks=blocks,
        practised_s=sum(block.practised_s for block in heard),
        answered=sum(block.answered for block in heard),
        last_seen=max((block.last_answer_at or block.plan.started_at for block in heard), default=None),
        next=next_practice(blocks, now, _sides(listener.instrument, blocks, instruments)),
    )


def _sides(name: str, blocks: tuple[BlockSummary, ...], instruments: Instruments) -> Sides:
    """Return the strings that set the listener's bridge; where the instrument's file has gone, the outermost heard."""
    try:
        return sides_of(instruments.named(name))
    except CentwiseError:
        heard = [block.plan.condition.string for block in blocks if block.plan.condition.instrument == name]
        return Sides(name, max(heard, default=1), 1)


def _now(history: History) -> Now:
    point = history.trend[-1] if history.trend else history.sessions[-1]
    return Now(point.threshold_cents, point.low_cents, point.high_cents)


def _chance(history: History) -> float | None:
    """Return how likely the ear has become finer since the first compared session."""
    return history.improvement_chance(history.compared[0].days) if history.compared else None


def _condition(condition: Condition, found: list[tuple[BlockSummary, Session]]) -> ConditionProgress:
    sessions = tuple(block for block, _session in found)
    history = history_of([session for _block, session in found])
    chance = _chance(history)
    return ConditionProgress(
        condition=condition,
        sessions=sessions,
        history=history,
        now=_now(history),
        improvement_chance=chance,
        since=None if chance is None else instant_of(history.compared[0].days),
        trend=trend_word(chance),
        good_enough_mm=bridge_offset_mm(-GOOD_ENOUGH_CENTS, string_length_mm(sessions[-1].plan)),
    )
