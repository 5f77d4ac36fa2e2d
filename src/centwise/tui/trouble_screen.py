"""Something failed: what, what to do, and a way to go on. No answer is ever lost here.

Imports Textual, tui and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Button, Static

from centwise.tui.acts import TROUBLE, TROUBLE_IN_A_BLOCK, bindings
from centwise.tui.place import Acting

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.errors import CentwiseError
    from centwise.tui.acts import Act

ALL_KEPT = "Nothing is lost: every answer so far is kept."
ANSWERED_ELSEWHERE = "The answer given there stands; yours to that pair was not kept. Nothing else is lost."


class TroubleScreen(Acting[str], ModalScreen[str]):
    """Tells an error and asks: `retry`, `silent` or `leave`.

    Args:
        error: what failed.
        kept: one sentence on what is kept.
        may_go_silent: whether going on without sound is offered.
        in_a_block: whether leaving leaves a block; else it goes back to the page before.
    """

    ACTS = TROUBLE
    ABOUT = "Something did not work. Put it right and try again, or go back; nothing is lost."
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(TROUBLE)]

    def __init__(
        self, error: CentwiseError, *, kept: str = ALL_KEPT, may_go_silent: bool = False, in_a_block: bool = False
    ) -> None:
        super().__init__()
        self._error = error
        self._kept = kept
        self._may_go_silent = may_go_silent
        self._in_a_block = in_a_block

    def compose(self) -> ComposeResult:
        """Lay out the page."""
        with Vertical(id="trouble"):
            yield Static("One thing first", classes="title", markup=False)
            yield Static(self._error.sentence, id="trouble-said", markup=False)
            yield Static(self._kept, classes="lead", markup=False)
            with Horizontal(classes="row"):
                yield Button(self.told("«try-again» try again"), id="retry", compact=True)
                if self._may_go_silent:
                    yield Button(self.told("«no-sound» no sound"), id="silent", compact=True)
                yield Button(self.told("«back» leave" if self._in_a_block else "«back» back"), id="leave", compact=True)

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.dismiss(event.button.id or "retry")

    def acts_here(self) -> tuple[Act, ...]:
        """Return what can be done here, and only that."""
        here = self.desk.keymap.acts(TROUBLE_IN_A_BLOCK if self._in_a_block else TROUBLE)
        return tuple(act for act in here if self._may_go_silent or act.id != "silent")

    def action_retry(self) -> None:
        """Try again."""
        self.dismiss("retry")

    def action_silent(self) -> None:
        """Go on without sound, where no block has begun yet."""
        if self._may_go_silent:
            self.dismiss("silent")

    def action_leave(self) -> None:
        """Leave the block, or go back to the page before."""
        self.dismiss("leave")
