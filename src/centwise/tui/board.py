"""What drill and bench show alike: a line of what is said, and a line for words in the buttons' place.

Imports Textual and tui.
"""

from __future__ import annotations

from typing import ClassVar

from textual.containers import Vertical
from textual.widgets import Input, Static

from centwise.tui.place import BUSY, told_at


class Board(Vertical):
    """Everything between the top of such a screen and its footer. It decides nothing.

    Args:
        opening: what is said first.

    Class attributes:
        SAID: where things are said.
        LINE: the line for words.
        BUTTONS: what that line takes the place of.
    """

    SAID: ClassVar[str]
    LINE: ClassVar[str]
    BUTTONS: ClassVar[str]

    def __init__(self, opening: str, *, id: str) -> None:  # noqa: A002  as Textual calls it
        super().__init__(id=id)
        self._said = opening

    def say(self, sentence: str) -> None:
        """Say one sentence, with the keys of this place in it."""
        self._said = told_at(self, sentence)
        self.query_one(self.SAID, Static).update(self._said)

    def busy(self, *, busy: bool) -> None:
        """Say in the same place that work goes on, until it does no more or something else is said."""
        said = self.query_one(self.SAID, Static)
        if busy:
            said.update(BUSY)
        elif str(said.render()) == BUSY:
            said.update(self._said)

    @property
    def line_open(self) -> bool:
        """Whether acts are done in words."""
        return self.query_one(self.LINE, Input).display

    def show_line(self, *, shown: bool) -> None:
        """Open or close the line for words; it takes the place of the buttons."""
        line = self.query_one(self.LINE, Input)
        line.display = shown
        line.value = ""
        for buttons in self.query(self.BUTTONS):
            buttons.display = not shown
        self.screen.set_focus(line if shown else None)
        self.screen.refresh_bindings()
