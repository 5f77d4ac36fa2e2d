"""The two pictures of the drill as widgets: the string, and the scale it leans on. Imports Textual and the drawings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widget import Widget

from centwise.tui.drawing import string_picture
from centwise.tui.lean_scale import lean_lines

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.model import Direction, Judgement, Tone

MOST_WIDTH = 96
LEAST_WIDTH = 40


def drawn(widget: Widget, lines: Callable[[int], list[str]], least_width: int = LEAST_WIDTH) -> Content:
    """Return lines of text as wide as the widget's place allows, from `least_width` to 96 columns."""
    width = min(max(widget.content_size.width, least_width), MOST_WIDTH)
    return Content("\n".join(lines(width)))


class StringPicture(Widget):
    """The string, its node and the bridge."""

    def __init__(self) -> None:
        super().__init__(id="string")
        self._tone: Tone | None = None
        self._swing = 0.0
        self._direction: Direction | None = None

    def swing(self, tone: Tone | None, swing: float) -> None:
        """Show which tone sounds and how wide it swings, 0 to 1."""
        if (tone, swing) != (self._tone, self._swing):
            self._tone, self._swing = tone, swing
            self.refresh()

    def advise(self, direction: Direction | None) -> None:
        """Show the move the bridge would want, or none."""
        self._direction = direction
        self.refresh()

    def render(self) -> Content:
        """Draw the string."""
        return drawn(self, self.lines)

    def lines(self, width: int) -> list[str]:
        """Return the string's picture, `width` columns each line."""
        return string_picture(width, self._tone, self._swing, self._direction)


class LeanPicture(Widget):
    """The scale from flat to sharp, with the truth and the answer on it once they may be told."""

    def __init__(self) -> None:
        super().__init__(id="lean")
        self._truth_cents: float | None = None
        self._answer: Judgement | None = None

    def show(self, truth_cents: float | None, answer: Judgement | None) -> None:
        """Show truth and answer, or neither."""
        self._truth_cents, self._answer = truth_cents, answer
        self.refresh()

    def render(self) -> Content:
        """Draw the scale."""
        return drawn(self, self.lines)

    def lines(self, width: int) -> list[str]:
        """Return the scale's picture, `width` columns each line."""
        return lean_lines(width, self._truth_cents, self._answer)
