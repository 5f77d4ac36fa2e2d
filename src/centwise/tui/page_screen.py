"""Pages that cover the place one is at until they are closed. Imports Textual and acts."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, cast

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen, ScreenResultType
from textual.widgets import Static

from centwise.tui.acts import EVERYWHERE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from textual.app import ComposeResult
    from textual.events import Click
    from textual.widget import Widget

    from centwise.tui.acts import Act
    from centwise.tui.app import CentwiseApp

CLOSES = "Scroll with ↑ and ↓, close with esc."


class CoverScreen(ModalScreen[ScreenResultType]):
    """A page that is read, scrolled and closed, by the keys that open it too, whatever they are.

    Args:
        opened_by: the keys of the act that opens it, beside those of help.

    Class attributes:
        FRAME_TITLE: what stands in the upper line of the frame.
    """

    # The page itself takes the arrow keys, so that it can be scrolled.
    AUTO_FOCUS = "#cover"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,enter,q", "dismiss", "Close")]
    FRAME_TITLE: ClassVar[str] = ""

    def __init__(self, opened_by: Sequence[str] = ()) -> None:
        super().__init__()
        self._opened_by = opened_by

    def contents(self) -> Iterable[Widget]:
        """Return what stands on the page."""
        raise NotImplementedError

    def everywhere(self) -> tuple[Act, ...]:
        """Return the acts that can be done everywhere, with the keys they have now."""
        return cast("CentwiseApp", self.app).desk.keymap.acts(EVERYWHERE)

    def compose(self) -> ComposeResult:
        """Lay out the page."""
        with VerticalScroll(id="cover") as page:
            # In the frame, where it is seen however long the page is.
            page.border_title, page.border_subtitle = self.FRAME_TITLE, CLOSES
            yield from self.contents()

    def on_mount(self) -> None:
        """Put closing it, and the colours, on the keys somebody has set."""
        opens, colours = self.everywhere()
        self._bindings.bind(",".join((*self._opened_by, *opens.keys)), "dismiss")
        self._bindings.bind(",".join(colours.keys), f"app.{colours.id}")

    def on_click(self, event: Click) -> None:
        """Close when somebody clicks beside the page."""
        if self.get_widget_at(*event.screen_offset)[0] is self:
            self.dismiss()


class PageScreen(CoverScreen[None]):
    """Shows sentences under a title.

    Args:
        title: what it is about.
        sentences: one paragraph each.
        opened_by: the keys of the act that opens it.
    """

    def __init__(self, title: str, sentences: Sequence[str], opened_by: Sequence[str]) -> None:
        super().__init__(opened_by)
        self._title = title
        self._sentences = tuple(sentences)

    def contents(self) -> Iterable[Widget]:
        """Return title and sentences."""
        yield Static(self._title, classes="title", markup=False)
        for sentence in self._sentences:
            yield Static(sentence, classes="page-line", markup=False)
