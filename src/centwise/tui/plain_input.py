"""A line to type in that takes letters only: pasted control and direction marks are left out.

Imports Textual and `place`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.widgets import Input

from centwise.tui.place import plain_text

if TYPE_CHECKING:
    from textual.binding import BindingType


class PlainInput(Input):
    """An input whose value never holds a mark that could upset the terminal."""

    def on_mount(self) -> None:
        """Let the cursor stand still where nothing is to move."""
        self.cursor_blink = self.app.animation_level != "none"

    def validate_value(self, value: str) -> str:
        """Leave such marks out, however they came."""
        return plain_text(value)


class WordLine(PlainInput):
    """A line for acts in words, over a place's own keys. While it is open the footer names what its keys do."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "submit", "Say it"),
        # The place's `leave` closes the line where one is open.
        Binding("escape", "screen.leave", "Close line"),
    ]
