"""A page of sentences over the place one is at: read it, scroll it, close it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from centwise.tui.help_screen import CLOSES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult


class PageScreen(ModalScreen[None]):
    """Shows sentences under a title.

    Args:
        title: what it is about.
        sentences: one paragraph each.
    """

    # The page itself takes the arrow keys, so that it can be scrolled.
    AUTO_FOCUS = "#help"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter,q,y,n", "dismiss", "Close"),
        Binding("f2", "app.switch_theme", "Light/dark"),
    ]

    def __init__(self, title: str, sentences: Sequence[str]) -> None:
        super().__init__()
        self._title = title
        self._sentences = tuple(sentences)

    def compose(self) -> ComposeResult:
        """Lay out the page."""
        with VerticalScroll(id="help") as page:
            # In the frame, where it is seen however long the page is.
            page.border_subtitle = CLOSES
            yield Static(self._title, classes="title", markup=False)
            for sentence in self._sentences:
                yield Static(sentence, classes="page-line", markup=False)

    def on_click(self, event: object) -> None:
        """Close when somebody clicks beside the page."""
        if self.get_widget_at(*getattr(event, "screen_offset", (0, 0)))[0] is self:
            self.dismiss()
