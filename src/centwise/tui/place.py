"""What every screen of the app shares: its acts as keys, its help, the colours, and the app's desk.

Imports Textual, acts and what lies below tui.
"""

from __future__ import annotations

import asyncio
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, ClassVar, TypeVar, cast

from textual.events import Key
from textual.screen import Screen, ScreenResultType
from textual.widgets import Input, Static

from centwise.errors import CentwiseError, DeviceError
from centwise.harmless import harmless

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from textual.widget import Widget

    from centwise.tui.acts import Act
    from centwise.tui.app import CentwiseApp
    from centwise.tui.desk import Desk

Result = TypeVar("Result")

BUSY_S = 0.2
"""Whatever takes longer says that it goes on."""
BUSY = "One moment ..."


class Acting(Screen[ScreenResultType]):
    """A screen with acts.

    Class attributes:
        ACTS: what can be done here.
        ABOUT: what this place is for, in one or two sentences, shown on its help page.
    """

    # Nothing is focused by itself: enter belongs to the place, not to whichever button comes first.
    AUTO_FOCUS = ""
    ACTS: ClassVar[tuple[Act, ...]] = ()
    ABOUT: ClassVar[str] = ""

    def __init__(self) -> None:
        super().__init__()
        self._postponed: Callable[[], object] | None = None

    @property
    def desk(self) -> Desk:
        """The app's desk."""
        return cast("CentwiseApp", self.app).desk

    def on_mount(self) -> None:
        """Put the acts on the keys somebody has set."""
        if self.desk.keymap.rebind(self.ACTS, self._bindings):
            self.refresh_bindings()

    def on_key(self, event: Key) -> None:
        """Give a line what was typed before the cursor stood in it: what is typed later never comes this far."""
        if event.is_printable and isinstance(line := self.focused, Input):
            event.stop()
            line.post_message(Key(event.key, event.character))

    def acts_here(self) -> tuple[Act, ...]:
        """Return what can be done here, with the keys it has now."""
        return self.desk.keymap.acts(self.ACTS)

    def told(self, text: str) -> str:
        """Return a text with the keys of this place in it; see `Keymap.told`."""
        return self.desk.keymap.told(text, self.ACTS)

    def say(self, text: str) -> None:
        """Say something in the line that a place has for it, with the keys of this place in it."""
        self.query_one("#said", Static).update(plain_text(self.told(text)))

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Say an error there and go on after what it ended."""
        try:
            yield
        except CentwiseError as error:
            self.say(error.sentence)

    def call_act(self, act_id: str, label: str) -> None:
        """Have the footer call an act otherwise from now on, where what its key does has changed."""
        held = self._bindings.key_to_bindings
        for key, bindings in held.items():
            held[key] = [replace(one, description=label) if one.id == act_id else one for one in bindings]
        self.refresh_bindings()

    def action_help(self) -> None:
        """Show what can be done here."""
        from centwise.tui.help_screen import HelpScreen  # noqa: PLC0415  start-up path

        self.app.push_screen(HelpScreen(self.ABOUT, self.acts_here()), self.do_act)

    async def do_act(self, name: str | None) -> None:
        """Do an act that was clicked on the help page, where it can be done now."""
        if name is not None:
            await self.run_action(name)

    def action_switch_theme(self) -> None:
        """Change between the light and the dark colours."""
        cast("CentwiseApp", self.app).switch_theme()

    async def in_turn(self, work: Callable[[], Result], *, keeps: bool = False) -> Result:
        """Do slow work in its turn and return what it returns; where this screen has gone meanwhile, nothing follows.

        Args:
            work: what is to be done.
            keeps: whether it keeps an answer, which is done even when the app is left before its turn.

        Raises:
            CentwiseError: the work failed.
            CancelledError: the screen has gone, and whoever awaits this is to stop quietly.
        """
        busy = self.set_timer(BUSY_S, partial(self.show_busy, busy=True))
        try:
            return await self.desk.in_turn(work, keeps=keeps)
        finally:
            busy.stop()
            if self.is_attached:
                self.show_busy(busy=False)
            if not self.is_attached or self not in self.app.screen_stack:
                raise asyncio.CancelledError

    def show_busy(self, *, busy: bool) -> None:
        """Say that work goes on, where this place says things and nothing stands there; and take it away again."""
        for said in self.query("#said").results(Static):
            standing = str(said.render())
            if busy and not standing:
                said.update(BUSY)
            elif not busy and standing == BUSY:
                said.update("")

    def in_front(self, change: Callable[[], object]) -> None:
        """Make a change now, or once what covers this screen (help, say) has gone."""
        if self.is_active:
            change()
        else:
            self._postponed = change

    def ask_about_trouble(
        self,
        error: CentwiseError,
        *,
        kept: str,
        begun: bool,
        retry: Callable[[], object],
        leave: Callable[[], object],
        in_a_block: bool = False,
    ) -> None:
        """Tell an error in front of this screen, and do what is then chosen.

        Args:
            error: what failed.
            kept: one sentence on what is kept.
            begun: whether what this place is for has begun; before it, a missing device may be done without.
            retry: does again what failed.
            leave: what leaving means here.
            in_a_block: whether leaving leaves a block; else it goes back to the page before.
        """
        from centwise.tui.trouble_screen import TroubleScreen  # noqa: PLC0415  rarely needed

        silent = not begun and isinstance(error, DeviceError)
        page = TroubleScreen(error, kept=kept, may_go_silent=silent, in_a_block=in_a_block)

        def chosen(choice: str | None) -> None:
            if choice == "leave":
                leave()
                return
            if choice == "silent":
                self.desk.sound.go_silent()
            retry()

        self.in_front(lambda: self.app.push_screen(page, chosen))

    def on_screen_resume(self) -> None:
        """Make the change that waited."""
        self.call_later(self._make_postponed)

    def _make_postponed(self) -> None:
        """Make it without awaiting what it returns: a page that awaits its own end waits for ever."""
        if self.is_active and (change := self._postponed) is not None:
            self._postponed = None
            change()


class Place(Acting[None]):
    """A screen one goes to and comes back from."""

    def action_volume(self) -> None:
        """Set the listening level, where an act offers it."""
        from centwise.tui.level_screen import LevelScreen  # noqa: PLC0415  start-up path

        self.app.push_screen(LevelScreen())


def told_at(widget: Widget, text: str) -> str:
    """Return a text with the keys in it that the place of a widget has; see `Acting.told`."""
    return cast("Acting[object]", widget.screen).told(text)


def plain_text(text: str) -> str:
    """Return a text without control and direction marks, which could upset the terminal or turn its line round."""
    return harmless(text, instead="")


def shown_name(name: str, most: int = 30) -> str:
    """Return a name fit to stand in a line: plain, and no longer than `most` characters."""
    kept = plain_text(name)
    return kept if len(kept) <= most else f"{kept[: most - 1].rstrip()}…"
