"""Whom a listener joins: found by typing, then asked. Imports Textual, tui and below."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.containers import Vertical
from textual.widgets import Footer, Static

from centwise.progress_text import holdings_text, merge_conflicts
from centwise.tui.acts import MERGE, bindings
from centwise.tui.choosing import Choosing
from centwise.tui.place import shown_name
from centwise.tui.question_screen import QuestionScreen

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Listener


class MergeScreen(Choosing[bool]):
    """Asks whom to join; dismissed with True once the two are one."""

    ACTS = MERGE
    ABOUT = (
        "All that is the one listener's becomes the other's, who keeps name, scale length and instrument; "
        "the notes are joined, and each block keeps the scale length it was taken with."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(MERGE)]

    def __init__(self, goes: Listener) -> None:
        super().__init__()
        self._goes = goes

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static(f"Whom does {shown_name(self._goes.name)} join?", classes="title", markup=False)
            yield from self.choice("part of a name", "«choose» join", ("go_back", "«back» back"), compact=True)
        yield Footer()

    def on_mount(self) -> None:
        """List everybody else."""
        with self.telling():
            everybody = self.desk.services.store.listeners()
            self._among = [listener for listener in everybody if listener.id != self._goes.id]
            self.offer("")
            if not self._among:
                self.say("There is nobody else to join. ‹Back› goes back.")

    def chosen(self, listener: Listener) -> None:
        """Ask whether to join the listener chosen; once, however often enter is pressed."""
        if not self.is_current:
            return
        store, goes = self.desk.services.store, self._goes
        with self.telling():
            theirs, others = (holdings_text(store.holdings(one.id)) for one in (goes, listener))
            said = f"{goes.name}, with {theirs}, joins {listener.name}, with {others}."
            question = QuestionScreen(
                f"Merge {shown_name(goes.name)} into {shown_name(listener.name)}?",
                " ".join((said, *merge_conflicts(goes, listener), "A copy is kept beside the store.")),
                yes="merge",
            )
            self.app.push_screen(question, partial(self._answered, listener))

    def action_go_back(self) -> None:
        """Go back and change nothing."""
        self.dismiss(False)

    def _answered(self, stays: Listener, answer: str | None) -> None:
        if answer == "yes":
            self._merge(stays)

    @work(exclusive=True)
    async def _merge(self, stays: Listener) -> None:
        with self.telling():
            await self.in_turn(partial(self.desk.services.store.merge_listeners, self._goes.id, stays.id))
            # Somebody may be reading help meanwhile.
            self.in_front(partial(self.dismiss, True))
