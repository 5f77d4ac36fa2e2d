"""Something failed: what, what to do, and a way to go on. No answer is ever lost here."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Button, Static

from centwise.tui.acts import TROUBLE
from centwise.tui.place import sentence

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.errors import CentwiseError


class TroubleScreen(ModalScreen[str]):
    """Tells an error and asks: `retry`, `silent` or `leave`."""

    BINDINGS: ClassVar[list[BindingType]] = [act.binding() for act in TROUBLE]

    def __init__(self, error: CentwiseError, *, may_go_silent: bool) -> None:
        super().__init__()
        self._error = error
        self._may_go_silent = may_go_silent

    def compose(self) -> ComposeResult:
        """Lay out the page."""
        with Vertical(id="trouble"):
            yield Static("One thing first", classes="title", markup=False)
            yield Static(sentence(self._error), id="trouble-said", markup=False)
            yield Static("Nothing is lost: every answer so far is kept.", classes="lead", markup=False)
            with Horizontal(classes="row"):
                yield Button("r try again", id="retry", compact=True)
                if self._may_go_silent:
                    yield Button("n no sound, just look", id="silent", compact=True)
                yield Button("q leave", id="leave", compact=True)

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.dismiss(event.button.id or "retry")

    def action_retry(self) -> None:
        """Try again."""
        self.dismiss("retry")

    def action_silent(self) -> None:
        """Go on without sound, where no block has begun yet."""
        if self._may_go_silent:
            self.dismiss("silent")

    def action_leave(self) -> None:
        """Leave."""
        self.dismiss("leave")
