"""One sentence in place of a screen that would not fit. It goes when the terminal grows again. Imports Textual only."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.screen import ModalScreen
from textual.widgets import Static

if TYPE_CHECKING:
    from textual.app import ComposeResult


class TooSmallScreen(ModalScreen[None]):
    """Says how much room the app needs."""

    def __init__(self, columns: int, rows: int) -> None:
        super().__init__()
        self._columns, self._rows = columns, rows

    def compose(self) -> ComposeResult:
        """Lay out the sentence."""
        yield Static(
            f"Please make this terminal {self._columns} columns by {self._rows} rows or more. Nothing is lost.",
            markup=False,
        )
