"""The first screen: who listens. A name typed finds a known listener or makes a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Input, OptionList, Static

from centwise.errors import CentwiseError
from centwise.tui.acts import LISTENERS, bindings
from centwise.tui.drawing import string_picture
from centwise.tui.finding import found
from centwise.tui.first_place import first_place
from centwise.tui.known_list import fill
from centwise.tui.place import Place, sentence
from centwise.tui.plain_input import PlainInput

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Listener

PICTURE_WIDTH = 54


class ListenerScreen(Place):
    """Choose or name a listener. The cursor stays in the line; arrows move the mark in the list beneath."""

    ACTS = LISTENERS
    ABOUT = (
        "centwise trains and measures how small a difference of pitch you hear. "
        "Say who listens: each listener's answers are kept apart, on this machine only."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(LISTENERS)]

    def __init__(self, listeners: Sequence[Listener]) -> None:
        super().__init__()
        self._listeners = listeners
        self._offered: list[str] = []
        self._marked: list[Listener] = []
        self._left = False
        self._edited: Listener | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static(
                "\n".join(string_picture(PICTURE_WIDTH, "harmonic", 1.0, None)[:-1]), classes="string", markup=False
            )
            yield Static("How small a difference do you hear?", classes="title", markup=False)
            yield Static("", id="ask-name", markup=False)
            yield PlainInput(placeholder="a name", max_length=200, id="name")
            yield OptionList(id="known")
            with Horizontal(classes="row"):
                yield Button(self.told("«choose» go on"), id="choose", variant="primary", compact=True)
            yield Static("", id="said", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """Fill the list, and put the cursor in the line."""
        self.query_one(OptionList).can_focus = False
        self._show_known()
        self.query_one(Input).focus()

    def on_screen_resume(self) -> None:
        """Ask afresh when one comes back: somebody may have been added."""
        if not self._left:
            return
        self._left = False
        try:
            self._listeners = self.desk.services.store.listeners()
        except CentwiseError as error:
            self.query_one("#said", Static).update(sentence(error))
        edited, self._edited = self._edited, None
        typed = self.query_one(Input).value if edited is not None else ""
        self._show_known()
        self._offer(typed)
        if edited is not None and not self._mark(edited) and any(one.id == edited.id for one in self._listeners):
            # Called by another name now, which what was typed does not find.
            typed = ""
            self._offer(typed)
            self._mark(edited)
        place = self.query_one(OptionList).highlighted
        with self.prevent(Input.Changed):
            self.query_one(Input).value = typed
        self.query_one(OptionList).highlighted = place

    @on(Input.Changed)
    def _narrow(self, event: Input.Changed) -> None:
        self._offer(event.value)

    @on(Input.Submitted)
    def _typed(self) -> None:
        self.action_choose()

    @on(Button.Pressed)
    def _pressed(self) -> None:
        # The keys stay the line's, whoever clicks.
        self.query_one(Input).focus()
        self.action_choose()

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        self._go_on(self._offered[event.option_index])

    def action_mark(self, steps: int) -> None:
        """Move the mark in the list."""
        if self._offered:
            known = self.query_one(OptionList)
            known.highlighted = min(max((known.highlighted or 0) + steps, 0), len(self._offered) - 1)

    def action_choose(self) -> None:
        """Go on as the listener marked; on the first start as the name typed."""
        if self._offered:
            self._go_on(self._offered[self.query_one(OptionList).highlighted or 0])
        else:
            self._go_on(self.query_one(Input).value.strip() or None)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer what wants somebody to be known once somebody is."""
        if action in {"class", "edit"}:
            return bool(self._listeners)
        return super().check_action(action, parameters)

    def action_class(self) -> None:
        """See everybody in rows."""
        from centwise.tui.class_screen import ClassScreen  # noqa: PLC0415  start-up path

        self._left = True
        self.app.push_screen(ClassScreen())

    def action_edit(self) -> None:
        """Change the listener marked."""
        from centwise.tui.edit_screen import EditScreen  # noqa: PLC0415  start-up path

        place = self.query_one(OptionList).highlighted or 0
        if place < len(self._marked):
            self._left = True
            self._edited = self._marked[place]
            self.app.push_screen(EditScreen(self._marked[place]))
        else:
            self.query_one("#said", Static).update("Nobody is marked who could be changed: choose a name first.")

    def action_leave_app(self) -> None:
        """Leave the app."""
        self.app.exit(0)

    def _show_known(self) -> None:
        known = bool(self._listeners)
        self.query_one("#ask-name", Static).update(
            "Who listens? Type to find a name, or to add a new one."
            if known
            else self.told("Type your name and press ‹choose›; ‹choose› alone will do.")
        )
        self.query_one(OptionList).display = known
        # The list takes the room of the line's frame.
        self.query_one(Input).compact = known
        self.refresh_bindings()
        self._offer("")

    def _offer(self, typed: str) -> None:
        """List the names that hold what was typed, that very name first, and last the typed one if it is new."""
        if not self._listeners:
            return
        wanted = typed.strip()
        known = found(self._listeners, wanted)
        new = wanted if wanted and not any(one.name.casefold() == wanted.casefold() for one in known) else None
        shown = fill(self.query_one(OptionList), known, new)
        self._marked = [*shown]
        self._offered = [listener.name for listener in shown]
        if new is not None:
            self._offered.append(new)

    def _mark(self, listener: Listener) -> bool:
        """Mark a listener in the list, and return whether they are in it."""
        places = [place for place, one in enumerate(self._marked) if one.id == listener.id]
        if places:
            self.query_one(OptionList).highlighted = places[0]
        return bool(places)

    def _go_on(self, name: str | None) -> None:
        # A second enter, pressed before the next place stands, must not lead there twice.
        if not self.is_current:
            return
        try:
            self.desk.choose_listener(name)
        except CentwiseError as error:
            self.query_one("#said", Static).update(sentence(error))
            return
        self._left = True
        self.query_one("#said", Static).update("")
        self.app.push_screen(first_place(self.desk))
