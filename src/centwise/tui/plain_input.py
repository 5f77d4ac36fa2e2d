"""A line to type in that takes letters only: pasted control and direction marks are left out."""

from __future__ import annotations

from textual.widgets import Input

from centwise.tui.place import plain_text


class PlainInput(Input):
    """An input whose value never holds a mark that could upset the terminal."""

    def validate_value(self, value: str) -> str:
        """Leave such marks out, however they came."""
        return plain_text(value)
