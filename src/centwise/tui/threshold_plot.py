"""A threshold over time, drawn in a terminal: blocks as marks, the trend with its band, and what is good enough."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from textual.color import Color
from textual_plotext import PlotextPlot

from centwise.model import GOOD_ENOUGH_CENTS
from centwise.past import instant_of
from centwise.progress_text import short_day

if TYPE_CHECKING:
    from centwise.progress import ConditionProgress

TICKS_CENTS = (0.5, 1, 2, 4, 8, 16, 32, 64, 128)
MARKS = {False: "●", True: "■"}
BAND, TREND, GOOD = "·", "━", "─"
LEAST_DAYS = 1.0


def legend(progress: ConditionProgress) -> str:
    """Say what the chart's signs stand for, good enough in cents and in travel of the bridge."""
    return (
        f"{MARKS[False]} drill  {MARKS[True]} assessment  {TREND} trend  {BAND} its 90 % band  "
        f"{GOOD} good enough: {GOOD_ENOUGH_CENTS:g} c, {progress.good_enough_mm:.1f} mm"
    )


class ThresholdPlot(PlotextPlot):
    """The chart of one condition."""

    def __init__(self) -> None:
        super().__init__(id="plot")

    def draw(self, progress: ConditionProgress) -> None:
        """Draw these blocks; finer hearing lies lower, on a scale of doublings."""
        plot = self.plt
        plot.clear_figure()
        good_colour, trend_colour, mark_colour = self._colours()
        sessions, trend = progress.history.sessions, progress.history.trend
        start = sessions[0].days
        span = max(sessions[-1].days - start, LEAST_DAYS)
        low, high = _ends(progress)
        plot.xlim(-0.02 * span, 1.02 * span)
        plot.ylim(low, high)
        good = math.log2(GOOD_ENOUGH_CENTS)
        plot.plot([-0.02 * span, 1.02 * span], [good, good], marker=GOOD, color=good_colour)
        if len(trend) > 1:
            days = [point.days - start for point in trend]
            for ends in ([point.low_cents for point in trend], [point.high_cents for point in trend]):
                plot.plot(days, [math.log2(cents) for cents in ends], marker=BAND, color=trend_colour)
            plot.plot(days, [math.log2(point.threshold_cents) for point in trend], marker=TREND, color=trend_colour)
        for assess, mark in MARKS.items():
            chosen = [k for k, block in enumerate(progress.sessions) if block.plan.assess == assess]
            if chosen:
                plot.scatter(
                    [sessions[k].days - start for k in chosen],
                    [sessions[k].octaves for k in chosen],
                    marker=mark,
                    color=mark_colour,
                )
        ticks = [cents for cents in TICKS_CENTS if low <= math.log2(cents) <= high]
        plot.yticks([math.log2(cents) for cents in ticks], [f"{cents:g} c" for cents in ticks])
        places = [0.0, span] if len(sessions) > 1 else [0.0]
        plot.xticks(places, [short_day(instant_of(start + place)) for place in places])
        self.refresh()

    def _colours(self) -> list[tuple[int, int, int]]:
        theme = self.app.current_theme
        return [Color.parse(name or "white").rgb for name in (theme.success, theme.accent, theme.primary)]


def _ends(progress: ConditionProgress) -> tuple[float, float]:
    """Return the chart's lower and upper end as log2 of cents; what is good enough lies within."""
    cents = [session.threshold_cents for session in progress.history.sessions]
    cents += [end for point in progress.history.trend for end in (point.low_cents, point.high_cents)]
    return (
        min(math.log2(min(cents)), math.log2(GOOD_ENOUGH_CENTS)) - 0.4,
        max(math.log2(max(cents)), math.log2(GOOD_ENOUGH_CENTS)) + 0.4,
    )
