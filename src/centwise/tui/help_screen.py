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
    from textual.events import Click

    from centwise.tui.acts import Act

CLOSES = "Scroll with ↑ and ↓, close with esc."
CLICKS = "A click on a line does it."


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


class HelpScreen(ModalScreen[str]):
    """Lists the acts of a place with their keys; dismissed with the id of the act that was clicked, or None."""

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
            page.border_title, page.border_subtitle = CLICKS, CLOSES
            yield Static(self._about, id="help-about", markup=False)
            for act in self._acts:
                yield HelpLine(act)

    def on_click(self, event: Click) -> None:
        """Close when somebody clicks beside the page."""
        if self.get_widget_at(*event.screen_offset)[0] is self:
            self.dismiss()
