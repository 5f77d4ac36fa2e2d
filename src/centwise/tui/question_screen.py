"""A question before something goes: what goes, and yes or no. Imports Textual, tui and below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Button, Static

from centwise.tui.acts import QUESTION, bindings
from centwise.tui.place import Acting, plain_text

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType


class QuestionScreen(Acting[str], ModalScreen[str]):
    """Asks, and is dismissed with `yes`, `final` or `no`.

    Args:
        title: the question.
        said: what would be done.
        yes: what the yes is called on its button.
        final: what doing it without a copy is called; None where that is not offered.
    """

    ACTS = QUESTION
    ABOUT = "Nothing has been changed yet. Yes keeps a copy of what goes."
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(QUESTION)]

    def __init__(self, title: str, said: str, *, yes: str, final: str | None = None) -> None:
        super().__init__()
        self._title, self._said, self._yes, self._final = title, said, yes, final

    def compose(self) -> ComposeResult:
        """Lay out the page."""
        with Vertical(id="question"):
            yield Static(plain_text(self._title), classes="title", markup=False)
            yield Static(plain_text(self._said), classes="lead", id="question-said", markup=False)
            with Horizontal(classes="row"):
                yield Button(f"{self.told('«yes»')} {self._yes}", id="yes", compact=True)
                if self._final is not None:
                    yield Button(f"{self.told('«for-good»')} {self._final}", id="final", compact=True)
                yield Button(self.told("«no» no"), id="no", compact=True)

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.dismiss(event.button.id or "no")

    def action_yes(self) -> None:
        """Do it."""
        self.dismiss("yes")

    def action_final(self) -> None:
        """Do it and keep no copy, where that is offered."""
        if self._final is not None:
            self.dismiss("final")

    def action_no(self) -> None:
        """Change nothing."""
        self.dismiss("no")
