"""The help page of the place one is at. Imports Textual and tui."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Horizontal
from textual.widgets import Static

from centwise.tui.page_screen import CoverScreen

if TYPE_CHECKING:
    from collections.abc import Iterable

    from textual.widget import Widget

    from centwise.tui.acts import Act


class HelpLine(Horizontal):
    """One act with its keys; a click does it, so that every act can be done by mouse alone."""

    def __init__(self, act: Act) -> None:
        super().__init__(
            Static(act.keys_text, classes="help-keys", markup=False),
            Static(act.help, classes="help-text", markup=False),
            classes="help-line",
        )
        self._act = act

    def on_click(self) -> None:
        """Do the act; one whose keys are numbers wants to know which, and is left to them."""
        if not self._act.numbered:
            self.screen.dismiss(self._act.id)


class HelpScreen(CoverScreen[str]):
    """Lists the acts of a place with their keys; dismissed with the id of the act that was clicked, or None.

    Args:
        about: what the place is for.
        acts: what can be done there, with the keys it has now.
    """

    FRAME_TITLE = "A click on a line does it."

    def __init__(self, about: str, acts: Iterable[Act]) -> None:
        super().__init__()
        self._about = about
        self._acts = tuple(acts)

    def contents(self) -> Iterable[Widget]:
        """Return what the place is for, and a line for each act."""
        yield Static(self._about, id="help-about", markup=False)
        for act in (*self._acts, *self.everywhere()):
            yield HelpLine(act)
