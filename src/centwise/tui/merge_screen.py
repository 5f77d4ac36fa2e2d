"""Whom a listener joins: found by typing, then asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.containers import Vertical
from textual.widgets import Footer, Static

from centwise.errors import CentwiseError
from centwise.progress_text import holdings_text, merge_conflicts
from centwise.tui.acts import MERGE, bindings
from centwise.tui.choosing import Choosing
from centwise.tui.place import sentence, shown_name
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
        try:
            everybody = self.desk.services.store.listeners()
        except CentwiseError as error:
            self.say(sentence(error))
            return
        self._among = [listener for listener in everybody if listener.id != self._goes.id]
        self.offer("")
        if not self._among:
            self.say(self.told("There is nobody else to join. ‹Back› goes back."))

    def chosen(self, listener: Listener) -> None:
        """Join the listener chosen, after a question."""
        self._ask(listener)

    def action_go_back(self) -> None:
        """Go back and change nothing."""
        self.dismiss(False)

    @work(exclusive=True)
    async def _ask(self, stays: Listener) -> None:
        store, goes = self.desk.services.store, self._goes
        try:
            theirs, others = holdings_text(store.holdings(goes.id)), holdings_text(store.holdings(stays.id))
        except CentwiseError as error:
            self.say(sentence(error))
            return
        said = f"{goes.name}, with {theirs}, joins {stays.name}, with {others}."
        answer = await self.app.push_screen_wait(
            QuestionScreen(
                f"Merge {shown_name(goes.name)} into {shown_name(stays.name)}?",
                " ".join((said, *merge_conflicts(goes, stays), "A copy is kept beside the store.")),
                yes="merge",
            )
        )
        if answer == "no":
            return
        try:
            await self.in_turn(lambda: store.merge_listeners(goes.id, stays.id))
        except CentwiseError as error:
            self.say(sentence(error))
            return
        self.dismiss(True)
