"""The instruments there are: take one. Imports Textual, tui and below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Vertical
from textual.widgets import Footer, OptionList, Static

from centwise.errors import CentwiseError
from centwise.tui.acts import INSTRUMENTS, bindings
from centwise.tui.marked_list import MarkedList
from centwise.tui.place import Acting, plain_text, shown_name
from centwise.tui.string_words import about_instrument

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

TITLE_WIDTH = 50


class InstrumentScreen(Acting[bool]):
    """Choose an instrument. Its tuning stands beneath the list, or why it cannot be used.

    Dismissed with whether another one is played from now on.
    """

    ACTS = INSTRUMENTS
    ABOUT = (
        "The method serves every bridge that stands free on the head or the top. Blocks on different instruments are "
        "kept apart. Your own are files in the folder instruments beside the settings."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(INSTRUMENTS)]

    def __init__(self) -> None:
        super().__init__()
        self._names: tuple[str, ...] = ()

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static("Which instrument?", classes="title", markup=False)
            yield MarkedList(id="known")
            yield Static("", id="about-instrument", markup=False)
            yield Static("", id="said", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """List what there is and mark the one played."""
        played = self.desk.request.instrument
        with self.telling():
            self._names = self.desk.services.instruments.names()
        self.query_one(MarkedList).show(
            [f"{'● ' if name == played else '  '}{shown_name(self._title(name), TITLE_WIDTH)}" for name in self._names],
            mark=self._names.index(played) if played in self._names else 0,
        )

    def _title(self, name: str) -> str:
        try:
            return self.desk.services.instruments.named(name).title
        except CentwiseError:
            return f"{name} (cannot be used)"

    @on(OptionList.OptionHighlighted)
    def _describe(self, event: OptionList.OptionHighlighted) -> None:
        try:
            told = about_instrument(self.desk.services.instruments.named(self._names[event.option_index]))
        except CentwiseError as error:
            told = error.sentence
        self.query_one("#about-instrument", Static).update(plain_text(told))

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        self._take(event.option_index)

    def action_mark(self, steps: int) -> None:
        """Move the mark in the list."""
        self.query_one(MarkedList).move(steps)

    def action_take(self) -> None:
        """Play the instrument marked."""
        if self._names:
            self._take(self.query_one(MarkedList).place)

    def action_go_back(self) -> None:
        """Go back and change nothing."""
        self.dismiss(False)

    def _take(self, place: int) -> None:
        name = self._names[place]
        another = name != self.desk.request.instrument
        with self.telling():
            if another:
                self.desk.choose_instrument(name)
            self.dismiss(another)
