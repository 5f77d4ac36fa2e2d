"""Whom a listener joins: found by typing, then asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Input, OptionList, Static

from centwise.errors import CentwiseError
from centwise.progress_text import holdings_text, merge_conflicts
from centwise.tui.acts import MERGE, bindings
from centwise.tui.finding import found
from centwise.tui.known_list import fill
from centwise.tui.place import Acting, plain_text, sentence, shown_name
from centwise.tui.plain_input import PlainInput
from centwise.tui.question_screen import QuestionScreen

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Listener


class MergeScreen(Acting[bool]):
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
        self._others: list[Listener] = []
        self._offered: list[Listener] = []

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static(f"Whom does {shown_name(self._goes.name)} join?", classes="title", markup=False)
            yield PlainInput(placeholder="part of a name", max_length=200, id="name", compact=True)
            yield OptionList(id="known")
            with Horizontal(classes="row"):
                yield Button(self.told("«choose» join"), id="choose", variant="primary", compact=True)
                yield Button(self.told("«back» back"), id="go_back", compact=True)
            yield Static("", id="said", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """List everybody else."""
        self.query_one(OptionList).can_focus = False
        try:
            everybody = self.desk.services.store.listeners()
        except CentwiseError as error:
            self._say(sentence(error))
            everybody = ()
        self._others = [listener for listener in everybody if listener.id != self._goes.id]
        self._offer("")
        if not self._others:
            self._say("There is nobody else to join. Esc goes back.")
        self.query_one(Input).focus()

    @on(Input.Changed)
    def _narrow(self, event: Input.Changed) -> None:
        self._offer(event.value)

    @on(Input.Submitted)
    def _typed(self) -> None:
        self.action_choose()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        # The keys stay the line's, whoever clicks.
        self.query_one(Input).focus()
        getattr(self, f"action_{event.button.id}")()

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        self._ask(self._offered[event.option_index])

    def action_mark(self, steps: int) -> None:
        """Move the mark."""
        if self._offered:
            known = self.query_one(OptionList)
            known.highlighted = min(max((known.highlighted or 0) + steps, 0), len(self._offered) - 1)

    def action_choose(self) -> None:
        """Join the listener marked, after a question."""
        if self._offered:
            self._ask(self._offered[self.query_one(OptionList).highlighted or 0])

    def action_go_back(self) -> None:
        """Go back and change nothing."""
        self.dismiss(False)

    @work(exclusive=True)
    async def _ask(self, stays: Listener) -> None:
        store, goes = self.desk.services.store, self._goes
        try:
            theirs, others = holdings_text(store.holdings(goes.id)), holdings_text(store.holdings(stays.id))
        except CentwiseError as error:
            self._say(sentence(error))
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
            self._say(sentence(error))
            return
        self.dismiss(True)

    def _offer(self, typed: str) -> None:
        shown = fill(self.query_one(OptionList), found(self._others, typed))
        self._offered = shown

    def _say(self, text: str) -> None:
        self.query_one("#said", Static).update(plain_text(text))
