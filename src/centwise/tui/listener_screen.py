"""The first screen: who listens. Known listeners by name, or a new name typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Vertical
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option

from centwise.errors import CentwiseError
from centwise.tui.acts import LISTENERS, bindings
from centwise.tui.drawing import string_picture
from centwise.tui.place import Place, sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Listener

PICTURE_WIDTH = 54


class ListenerScreen(Place):
    """Choose or name a listener."""

    ACTS = LISTENERS
    ABOUT = (
        "centwise trains and measures how small a difference of pitch you hear. "
        "Say who listens: each listener's answers are kept apart, on this machine only."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(LISTENERS)]

    def __init__(self, listeners: Sequence[Listener]) -> None:
        super().__init__()
        self._listeners = listeners

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        known = bool(self._listeners)
        with Vertical(classes="page"):
            yield Static(
                "\n".join(string_picture(PICTURE_WIDTH, "harmonic", 1.0, None)[:-1]), classes="string", markup=False
            )
            yield Static("How small a difference do you hear?", classes="title", markup=False)
            yield Static(
                "Choose who listens, or type a new name."
                if known
                else "Type your name and press enter; enter alone will do.",
                classes="lead",
                markup=False,
            )
            yield Input(placeholder="a name", max_length=200, id="name")
            if known:
                yield OptionList(id="known")
            yield Static("", id="said", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """Fill the list, and put the cursor where most will want it."""
        self._fill("")
        (self.query_one(OptionList) if self._listeners else self.query_one(Input)).focus()

    @on(Input.Changed)
    def _narrow(self, event: Input.Changed) -> None:
        self._fill(event.value)

    @on(Input.Submitted)
    def _typed(self) -> None:
        self.action_choose()

    @on(OptionList.OptionSelected)
    def _marked(self, event: OptionList.OptionSelected) -> None:
        self._go_on(self._listeners[int(event.option.id or 0)].name)

    def action_choose(self) -> None:
        """Go on as the name typed, or as the first of the list."""
        typed = self.query_one(Input).value.strip()
        self._go_on(typed or None)

    def action_leave_app(self) -> None:
        """Leave the app."""
        self.app.exit(0)

    def _fill(self, typed: str) -> None:
        if not self._listeners:
            return
        wanted = typed.strip().casefold()
        known = self.query_one(OptionList)
        known.clear_options()
        known.add_options(
            Option(_plain(listener.name), id=str(number))
            for number, listener in enumerate(self._listeners)
            if wanted in listener.name.casefold()
        )
        if known.option_count:
            known.highlighted = 0

    def _go_on(self, name: str | None) -> None:
        from centwise.tui.block_screen import BlockScreen  # noqa: PLC0415  start-up path
        from centwise.tui.level_screen import LevelScreen  # noqa: PLC0415

        try:
            self.desk.choose_listener(name)
        except CentwiseError as error:
            self.query_one("#said", Static).update(sentence(error))
            return
        self.app.push_screen(LevelScreen(then=BlockScreen) if self.desk.new_listener else BlockScreen())


def _plain(name: str) -> str:
    """Keep a name from being read as markup."""
    return name.replace("[", r"\[")
