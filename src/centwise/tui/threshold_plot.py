"""The chart of a threshold over time as a widget, in the app's own colours. Loads plotext."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.color import Color
from textual_plotext import PlotextPlot

from centwise.charting import draw_threshold

if TYPE_CHECKING:
    from centwise.progress import ConditionProgress


class ThresholdPlot(PlotextPlot):
    """The chart of one condition."""

    def __init__(self) -> None:
        super().__init__(id="plot")

    def draw(self, progress: ConditionProgress) -> None:
        """Draw these blocks."""
        theme = self.app.current_theme
        good, trend, marks = (Color.parse(c or "white").rgb for c in (theme.success, theme.accent, theme.primary))
        self.plt.clear_figure()
        draw_threshold(self.plt, progress, good=good, trend_line=trend, marks=marks)
        self.refresh()
