"""The chart of a threshold over time as a widget, in the app's own colours.

Loads plotext; imports charting and below.
"""

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
        self._progress: ConditionProgress | None = None

    def on_mount(self) -> None:
        """Follow the app's colours, however they are changed."""
        self.app.theme_changed_signal.subscribe(self, lambda _theme: self._draw())

    def draw(self, progress: ConditionProgress) -> None:
        """Draw these blocks."""
        self._progress = progress
        self._draw()

    def _draw(self) -> None:
        if self._progress is None:
            return
        theme = self.app.current_theme
        good, trend, marks = (Color.parse(c or "white").rgb for c in (theme.success, theme.accent, theme.primary))
        self.plt.clear_figure()
        draw_threshold(self.plt, self._progress, good=good, trend_line=trend, marks=marks)
        self.refresh()
