"""A list whose mark a place's own keys move: the focus stays where it is, and the mouse may choose.

Imports Textual only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import OptionList
from textual.widgets.option_list import Option

if TYPE_CHECKING:
    from collections.abc import Iterable


class MarkedList(OptionList, can_focus=False):
    """Lines of text, one of them marked while there are any."""

    @property
    def place(self) -> int:
        """Which line is marked, from 0; 0 too where there are none."""
        return self.highlighted or 0

    def show(self, lines: Iterable[str], more: str = "", *, mark: int = 0) -> None:
        """Replace what is listed.

        Args:
            lines: what can be marked, text as it is.
            more: a last line that cannot be; empty for none.
            mark: the line to mark; the last one where there are fewer.
        """
        # As content, so that no name is read as markup.
        options = [Option(Content(line)) for line in lines]
        most = len(options) - 1
        if more:
            options.append(Option(Content(more), disabled=True))
        self.clear_options()
        self.add_options(options)
        self.highlighted = min(mark, most) if most >= 0 else None

    def move(self, steps: int) -> None:
        """Move the mark by so many lines, to the first or the last one at most."""
        most = max((place for place, option in enumerate(self.options) if not option.disabled), default=None)
        if most is not None:
            self.highlighted = min(max(self.place + steps, 0), most)
