"""The progress page: for the pupil in plain words, for the teacher in figures, with a table behind every picture.

Imports numpy, progress_text and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from centwise.class_view import uncollected
from centwise.drill.advice import scale_text
from centwise.ear.curve import psychometric_curve
from centwise.ear.trials import FEWEST_TRIALS
from centwise.model import GOOD_ENOUGH_CENTS, JUDGEMENTS
from centwise.progress_text import (
    condition_text,
    good_enough_sentence,
    next_sentence,
    now_sentence,
    practised_sentence,
    short_day,
    trend_sentence,
    trend_text,
)
from centwise.report.answers import answer_rows, pooled_trials
from centwise.report.figures import (
    bench_picture,
    class_counts,
    class_picture,
    curve_picture,
    drawn_trend,
    history_picture,
    lean_picture,
)
from centwise.report.page import page_html
from centwise.report.rehearsals import left_by, rehearsal_rows
from centwise.trend import trend_word

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from centwise.ear.curve import Curve
    from centwise.ear.history import TrendPoint
    from centwise.ear.summary import Estimate
    from centwise.model import Condition, Listener, Trial
    from centwise.ports import BlockSummary, ClassRow, Store
    from centwise.progress import ConditionProgress, ListenerProgress

MOST_CONDITIONS = 4
"""So many conditions get pictures, the ones practised last: the two strings that set the bridge, drilled and assessed.
The others get their tables alone (a judgement: pictures and curves cost time, and paper)."""
CURVE_POINTS = 81
TABLED_CENTS = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0)
"""Where the table behind the curve reads it, on either side of unison."""
WIDEST_SHOWN_CENTS = 100.0


@dataclass(frozen=True, slots=True)
class Heard:
    """What the page needs of one listener beside their progress.

    Attributes:
        progress: from summaries and rehearsals.
        trials: the scored trials of each condition's last blocks.
    """

    progress: ListenerProgress
    trials: dict[Condition, tuple[Trial, ...]]


def heard_by(store: Store, progress: ListenerProgress) -> Heard:
    """Read from the store what the page needs of a listener.

    Raises:
        StoreError: the store cannot be read.
    """
    listener_id = progress.listener.id
    return Heard(
        replace(progress, benches=tuple(store.benches(listener_id))),
        {found.condition: pooled_trials(store.blocks(listener_id, found.condition)) for found in progress.conditions},
    )


def listeners_html(heard: Sequence[Heard], *, at: datetime) -> str:
    """Return the page of one or several listeners.

    Args:
        heard: who, in the order of the page.
        at: this instant.
    """
    return page_html(
        "progress.html",
        at=at,
        listeners=[_listener(one, f"l{number}") for number, one in enumerate(heard, start=1)],
        good_enough=GOOD_ENOUGH_CENTS,
    )


def class_html(rows: Sequence[ClassRow], *, at: datetime) -> str:
    """Return the page of the whole class: everybody in a row.

    Args:
        rows: in the order of the page.
        at: this instant.
    """
    return page_html(
        "class.html",
        at=at,
        picture=class_picture(rows, "class"),
        counts=[(f"{low:.1f} to {high:.1f}", count) for low, high, count in class_counts(rows)],
        rows=[_class_row(row) for row in rows],
        good_enough=GOOD_ENOUGH_CENTS,
    )


def _class_row(row: ClassRow) -> dict[str, object]:
    known = row.threshold_cents is not None
    return {
        "name": row.listener.name,
        "string": "" if row.string is None else str(row.string),
        "threshold": f"{row.threshold_cents:.1f}" if row.threshold_cents is not None else "none yet",
        "band": ""
        if row.low_cents is None or row.high_cents is None
        else f"{row.low_cents:.1f} to {row.high_cents:.1f}",
        "trend": trend_text(trend_word(row.improvement_chance)) if known else "",
        "seen": short_day(row.last_seen),
        "blocks": f"{row.blocks:,}",
        "minutes": f"{round(row.practised_s / 60.0):,}",
    }


def _listener(heard: Heard, key: str) -> dict[str, object]:
    with uncollected():
        return _shown(heard, key)


def _shown(heard: Heard, key: str) -> dict[str, object]:
    progress = heard.progress
    return {
        "key": key,
        "name": progress.listener.name,
        "about": _about(progress.listener),
        "note": progress.listener.note.splitlines(),
        "summary": _summary(progress),
        "conditions": [
            _condition(found, heard.trials.get(found.condition, ()), f"{key}c{number}", drawn=number <= MOST_CONDITIONS)
            for number, found in enumerate(progress.conditions, start=1)
        ],
        "overview": [_overview(found) for found in progress.conditions],
        "drawn": min(MOST_CONDITIONS, len(progress.conditions)),
        "rehearsals": rehearsal_rows(progress.benches),
        "bench": bench_picture(left_by(progress.benches), f"{key}-bench"),
        "technical": _technical(progress),
    }


def _about(listener: Listener) -> str:
    return f"{listener.instrument}, scale {scale_text(listener.scale_mm)}"


def _summary(progress: ListenerProgress) -> list[str]:
    """What a pupil wants to know, in whole sentences: of each string the way of hearing it that was practised last."""
    said = [practised_sentence(progress)]
    seen: set[tuple[str, int]] = set()
    for found in progress.conditions:
        which = (found.condition.instrument, found.condition.string)
        if which not in seen:
            seen.add(which)
            said.append(f"{now_sentence(found)} {good_enough_sentence(found)} {trend_sentence(found)}")
    others = len(progress.conditions) - len(seen)
    if others:
        more = "One more way of hearing has its part" if others == 1 else f"{others} more ways of hearing have parts"
        said.append(f"Each string is told by the way it was heard last. {more} below; ways are not compared.")
    return [*said, next_sentence(progress.next)]


def _condition(progress: ConditionProgress, trials: tuple[Trial, ...], key: str, *, drawn: bool) -> dict[str, object]:
    rows = answer_rows(trials)
    estimate, curve, tabled = None, None, []
    if drawn and len(trials) >= FEWEST_TRIALS:
        reach = max(20.0, 1.3 * max(abs(row.mean_cents) for row in rows))
        reach = min(reach, WIDEST_SHOWN_CENTS)
        estimate, found = psychometric_curve(*_columns(trials), _shown_cents(reach))
        curve = curve_picture(found, rows, f"{key}-curve")
        tabled = _curve_rows(found)
    return {
        "title": condition_text(progress.condition),
        "sentences": [now_sentence(progress), good_enough_sentence(progress), trend_sentence(progress)],
        "drawn": drawn,
        "curve": curve,
        "curve_rows": tabled,
        "answers": rows,
        "pooled": None if estimate is None else _estimate(estimate),
        "history": history_picture(progress, f"{key}-history") if drawn else None,
        "lean": lean_picture(progress, f"{key}-lean") if drawn else None,
        "blocks": [
            _block(block, point)
            for block, point in reversed(list(zip(progress.sessions, _trend_points(progress), strict=True)))
        ],
    }


def _shown_cents(reach: float) -> Any:  # noqa: ANN401  an array
    """Return the offsets at which the curve is worked out: even steps on the picture's own scale, and the table's."""
    steps = np.linspace(-1.0, 1.0, CURVE_POINTS)
    tabled = [cents for cents in TABLED_CENTS if cents <= reach]
    return np.unique(
        np.concatenate((np.sign(steps) * np.expm1(np.abs(steps) * np.log1p(reach)), [0.0], tabled, np.negative(tabled)))
    )


def _curve_rows(curve: Curve) -> list[dict[str, str]]:
    """The curve and its band in per cent, where the table reads it."""
    found = []
    for place, cents in enumerate(curve.offsets_cents):
        if abs(cents) in (0.0, *TABLED_CENTS):
            row = {"cents": f"{cents:+g}" if cents else "0"}
            for which, word in enumerate(JUDGEMENTS):
                mean, low, high = (100.0 * line[which, place] for line in (curve.chances, curve.low, curve.high))
                row[word] = _interval(mean, low, high, "{:.0f}")
            found.append(row)
    return found


def _columns(trials: Sequence[Trial]) -> tuple[Any, Any, Any]:
    return (
        [trial.offset_cents for trial in trials],
        [trial.answer for trial in trials],
        [trial.first for trial in trials],
    )


def _estimate(found: Estimate) -> list[tuple[str, str]]:
    rows = [
        ("threshold", _interval(found.threshold_cents, found.low_cents, found.high_cents, "{:.1f}")),
        ("σ, one judgement", f"{found.sigma_cents:.1f}"),
        ("bias", _interval(found.bias_cents, found.bias_low_cents, found.bias_high_cents, "{:+.1f}")),
        ("unison window", f"{found.window_cents:.1f}"),
    ]
    if found.order_error_cents is not None:
        order = (found.order_error_cents, found.order_error_low_cents, found.order_error_high_cents)
        rows.append(("order error, + for a second tone heard sharp", _interval(*order, "{:+.1f}")))
    return rows


def _interval(value: float | None, low: float | None, high: float | None, form: str) -> str:
    if value is None:
        return "none"
    if low is None or high is None:
        return form.format(value)
    return f"{form.format(value)} ({form.format(low)} to {form.format(high)})"


def _trend_points(progress: ConditionProgress) -> list[TrendPoint | None]:
    """The trend as the picture draws it, one point a session; the first session has none."""
    trend = drawn_trend(progress)
    return [None] * (len(progress.sessions) - len(trend)) + [*trend]


def _block(block: BlockSummary, trend: TrendPoint | None) -> dict[str, str]:
    plan, result = block.plan, block.result
    if result is None:
        raise ValueError("a session has a result")
    share = f"{100 * result.correct / result.trials:.0f}" if result.trials else ""
    return {
        "day": short_day(plan.started_at),
        "kind": "assessment" if plan.assess else "drill",
        "threshold": _interval(result.threshold_cents, result.low_cents, result.high_cents, "{:.1f}"),
        "trend": "" if trend is None else _interval(trend.threshold_cents, trend.low_cents, trend.high_cents, "{:.1f}"),
        "travel": "" if result.travel_mm is None else f"{result.travel_mm:.1f}",
        "bias": _interval(result.bias_cents, result.bias_low_cents, result.bias_high_cents, "{:+.1f}"),
        "window": "" if result.unison_window_cents is None else f"{result.unison_window_cents:.1f}",
        "pairs": str(result.trials),
        "right": share,
        "minutes": f"{block.practised_s / 60.0:.0f}",
    }


def _overview(progress: ConditionProgress) -> dict[str, str]:
    now = progress.now
    chance = progress.improvement_chance
    return {
        "title": condition_text(progress.condition),
        "blocks": str(len(progress.sessions)),
        "threshold": _interval(now.threshold_cents, now.low_cents, now.high_cents, "{:.1f}"),
        "good_enough": f"{progress.good_enough_mm:.1f}",
        "trend": trend_text(progress.trend),
        "chance": "" if chance is None else f"{chance:.2f}",
        "spread": f"{progress.history.level_sd_octaves:.2f}",
        "last": short_day(progress.last.plan.started_at),
    }


def _technical(progress: ListenerProgress) -> dict[str, str]:
    blocks = progress.blocks
    methods = sorted({block.method for block in blocks if block.method is not None})
    players = sorted({block.plan.player.partition(":")[0] for block in blocks})
    unheard = sum(not block.plan.heard for block in blocks)
    without = sum(block.result is None for block in blocks)
    return {
        "listener id": progress.listener.id,
        "blocks": f"{len(blocks)}; heard by nobody (silent player): {unheard}; without a result: {without}",
        "method of the estimate": ", ".join(str(method) for method in methods) or "none yet",
        "players": ", ".join(players) or "none yet",
    }
