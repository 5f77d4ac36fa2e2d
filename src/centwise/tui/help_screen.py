"""The help page of the place one is at."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from centwise.tui.acts import EVERYWHERE

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from centwise.tui.acts import Act

CLOSES = "Scroll with ↑ and ↓, close with esc."


class HelpScreen(ModalScreen[None]):
    """Lists the acts of a place with their keys."""

    # The page itself takes the arrow keys, so that it can be scrolled.
    AUTO_FOCUS = "#help"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter,q,question_mark,f1", "dismiss", "Close"),
        Binding("f2", "app.switch_theme", "Light/dark"),
    ]

    def __init__(self, about: str, acts: tuple[Act, ...], everywhere: tuple[Act, ...] = EVERYWHERE) -> None:
        super().__init__()
        self._about = about
        self._acts = (*acts, *everywhere)

    def compose(self) -> ComposeResult:
        """Lay out the page."""
        with VerticalScroll(id="help") as page:
            # In the frame, where it is seen however long the page is.
            page.border_subtitle = CLOSES
            yield Static(self._about, id="help-about", markup=False)
            for act in self._acts:
                with Horizontal(classes="help-line"):
                    yield Static(act.keys_text, classes="help-keys", markup=False)
                    yield Static(act.help, classes="help-text", markup=False)
