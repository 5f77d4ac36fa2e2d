"""The first screen: who listens. A name typed finds a known listener or makes a new one.

Imports Textual, tui and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.containers import Vertical
from textual.widgets import Footer, Input, OptionList, Static

from centwise.tui.acts import LISTENERS, bindings
from centwise.tui.choosing import Choosing
from centwise.tui.drawing import string_picture
from centwise.tui.first_place import first_place

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Listener

PICTURE_WIDTH = 54


class ListenerScreen(Choosing[None]):
    """Choose or name a listener."""

    ACTS = LISTENERS
    ABOUT = (
        "centwise trains and measures how small a difference of pitch you hear. "
        "Say who listens: each listener's answers are kept apart, on this machine only."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(LISTENERS)]
    NEW_NAMES = True

    def __init__(self, listeners: Sequence[Listener]) -> None:
        super().__init__(listeners)
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
            yield from self.choice("a name", "«choose» go on")
        yield Footer()

    def on_mount(self) -> None:
        """Fill the list."""
        self._show_known()

    def on_screen_resume(self) -> None:
        """Ask afresh when one comes back: somebody may have been added."""
        if not self._left:
            return
        self._left = False
        with self.telling():
            self._among = self.desk.services.store.listeners()
        edited, self._edited = self._edited, None
        typed = self.query_one(Input).value if edited is not None else ""
        self._show_known()
        self.offer(typed)
        if edited is not None and not self.mark(edited) and any(one.id == edited.id for one in self._among):
            # Called by another name now, which what was typed does not find.
            typed = ""
            self.offer(typed)
            self.mark(edited)
        place = self.query_one(OptionList).highlighted
        with self.prevent(Input.Changed):
            self.query_one(Input).value = typed
        self.query_one(OptionList).highlighted = place

    def chosen(self, listener: Listener) -> None:
        """Go on as that listener."""
        self._go_on(listener.name)

    def named(self, name: str | None) -> None:
        """Go on as somebody new; on the first start enter alone will do."""
        self._go_on(name)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer what wants somebody to be known once somebody is."""
        if action in {"class", "edit"}:
            return bool(self._among)
        return super().check_action(action, parameters)

    def action_class(self) -> None:
        """See everybody in rows."""
        from centwise.tui.class_screen import ClassScreen  # noqa: PLC0415  start-up path

        self._left = True
        self.app.push_screen(ClassScreen())

    async def action_edit(self) -> None:
        """Change the listener marked."""
        from centwise.tui.edit_screen import EditScreen  # noqa: PLC0415  start-up path

        await self.typed_so_far()
        self._edited = self.marked()
        if self._edited is not None:
            self._left = True
            self.app.push_screen(EditScreen(self._edited))
        else:
            self.say("Nobody is marked who could be changed: choose a name first.")

    def action_leave_app(self) -> None:
        """Leave the app."""
        self.app.exit(0)

    def _show_known(self) -> None:
        known = bool(self._among)
        self.query_one("#ask-name", Static).update(
            "Who listens? Type to find a name, or to add a new one."
            if known
            else self.told("Type your name and press ‹choose›; ‹choose› alone will do.")
        )
        self.query_one(OptionList).display = known
        # The list takes the room of the line's frame.
        self.query_one(Input).compact = known
        self.refresh_bindings()
        self.offer("")

    def _go_on(self, name: str | None) -> None:
        # A second enter, pressed before the next place stands, must not lead there twice.
        if not self.is_current:
            return
        with self.telling():
            self.desk.choose_listener(name)
            self._left = True
            self.say("")
            self.app.push_screen(first_place(self.desk))
