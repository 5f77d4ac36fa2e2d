"""A threshold over time, drawn with signs: blocks as marks, the trend with its band, and what is good enough.

Draws on anything that has plotext's functions, so that the app and the command line share one chart.
Imports progress_text and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from centwise.model import GOOD_ENOUGH_CENTS
from centwise.past import instant_of
from centwise.progress_text import short_day

if TYPE_CHECKING:
    from centwise.progress import ConditionProgress

    Colour = tuple[int, int, int] | str

TICKS_CENTS = (0.5, 1, 2, 4, 8, 16, 32, 64, 128)
MARKS = {False: "●", True: "■"}
BAND, TREND, GOOD = "·", "━", "─"
LEAST_DAYS = 1.0
EDGE = 0.02
"""Room beside the first and the last mark, as a share of the time between them."""


def legend(progress: ConditionProgress) -> str:
    """Say what the chart's signs stand for, good enough in cents and in travel of the bridge."""
    return (
        f"{MARKS[False]} drill  {MARKS[True]} assessment  {TREND} trend  {BAND} its 90 % band  "
        f"{GOOD} good enough: {GOOD_ENOUGH_CENTS:g} c, {progress.good_enough_mm:.1f} mm"
    )


def draw_threshold(
    plot: Any,  # noqa: ANN401  plotext has no types
    progress: ConditionProgress,
    *,
    good: Colour = "default",
    trend_line: Colour = "default",
    marks: Colour = "default",
) -> None:
    """Draw the blocks of one condition; finer hearing lies lower, on a scale of doublings.

    Args:
        plot: plotext, or one of its figures, cleared.
        progress: what to draw.
        good: colour of the line at what is good enough.
        trend_line: colour of the trend and its band.
        marks: colour of the blocks.
    """
    sessions, trend = progress.history.sessions, progress.history.trend
    start = sessions[0].days
    span = max(sessions[-1].days - start, LEAST_DAYS)
    ends = (-EDGE * span, (1.0 + EDGE) * span)
    low, high = _heights(progress)
    plot.xlim(*ends)
    plot.ylim(low, high)
    good_enough = math.log2(GOOD_ENOUGH_CENTS)
    plot.plot(list(ends), [good_enough, good_enough], marker=GOOD, color=good)
    if len(trend) > 1:
        days = [point.days - start for point in trend]
        for edge in ([point.low_cents for point in trend], [point.high_cents for point in trend]):
            plot.plot(days, [math.log2(cents) for cents in edge], marker=BAND, color=trend_line)
        plot.plot(days, [math.log2(point.threshold_cents) for point in trend], marker=TREND, color=trend_line)
    for assess, mark in MARKS.items():
        chosen = [k for k, block in enumerate(progress.sessions) if block.plan.assess == assess]
        if chosen:
            plot.scatter(
                [sessions[k].days - start for k in chosen],
                [sessions[k].octaves for k in chosen],
                marker=mark,
                color=marks,
            )
    ticks = [cents for cents in TICKS_CENTS if low <= math.log2(cents) <= high]
    plot.yticks([math.log2(cents) for cents in ticks], [f"{cents:g} c" for cents in ticks])
    places = [0.0, span] if len(sessions) > 1 else [0.0]
    plot.xticks(places, [short_day(instant_of(start + place)) for place in places])


def _heights(progress: ConditionProgress) -> tuple[float, float]:
    """Return the chart's lower and upper end as log2 of cents; what is good enough lies within."""
    cents = [session.threshold_cents for session in progress.history.sessions]
    cents += [end for point in progress.history.trend for end in (point.low_cents, point.high_cents)]
    return (
        min(math.log2(min(cents)), math.log2(GOOD_ENOUGH_CENTS)) - 0.4,
        max(math.log2(max(cents)), math.log2(GOOD_ENOUGH_CENTS)) + 0.4,
    )
