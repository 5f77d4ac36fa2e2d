"""Set the listening level by a quiet tone, before the first pair and whenever wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.containers import Vertical
from textual.widgets import Footer, Static

from centwise.errors import DeviceError
from centwise.tui.acts import LEVEL, bindings
from centwise.tui.place import Place, sentence

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.screen import Screen

SOFTEST_DB = -42.0


class LevelScreen(Place):
    """Hear a quiet tone, make it softer or louder, go on."""

    ACTS = LEVEL
    ABOUT = (
        "The app cannot know how loud it is at your ear. Begin with the volume of the computer low, "
        "hear the quiet tone, and raise it until it is as loud as quiet talk."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(LEVEL)]

    def __init__(self, then: Callable[[], Screen[None]] | None = None) -> None:
        super().__init__()
        self._then = then

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static("First, a comfortable level", classes="title", markup=False)
            yield Static(
                "Turn this computer's volume down. Press t for a quiet tone, then raise the volume, here with + or "
                "on the computer, until the tone is as loud as quiet talk.",
                classes="lead",
                markup=False,
            )
            yield Static("", id="level", markup=False)
            yield Static("", id="said", markup=False)
            yield Static(
                "Safe listening for adults: 80 dB(A) for at most 40 hours a week, and half the hours for every 3 dB "
                "more. This is no hearing test: a worry about hearing belongs to an audiologist.",
                classes="caution",
                markup=False,
            )
        yield Footer()

    def on_mount(self) -> None:
        """Show the level kept from last time."""
        self._read_level()

    @work(thread=True, group="level")
    def _read_level(self) -> None:
        self.app.call_from_thread(self._show_level, self.desk.level_db())

    @work(thread=True, exclusive=True, group="tone")
    def _sound(self, steps: int) -> None:
        try:
            if steps:
                self.app.call_from_thread(self._show_level, self.desk.change_level(steps))
            self.desk.tone()
        except DeviceError as error:
            self.app.call_from_thread(self._say, sentence(error))
        else:
            self.app.call_from_thread(self._say, "A quiet tone sounds.")

    def action_tone(self) -> None:
        """Hear the quiet tone."""
        self._sound(0)

    def action_softer(self) -> None:
        """Make everything softer, and hear it."""
        self._sound(-1)

    def action_louder(self) -> None:
        """Make everything louder, and hear it."""
        self._sound(1)

    def action_go_on(self) -> None:
        """Keep the level and go on."""
        if self._then is not None:
            self.app.switch_screen(self._then())
        else:
            self.app.pop_screen()

    def action_go_back(self) -> None:
        """Go back to where one came from."""
        self.app.pop_screen()

    def _show_level(self, level_db: float) -> None:
        filled = round((level_db - SOFTEST_DB) / 2)
        self.query_one("#level", Static).update(
            f"Level {'▮' * filled}{'▯' * (round(-SOFTEST_DB / 2) - filled)} {level_db:+.0f} dB"
        )

    def _say(self, sentence: str) -> None:
        self.query_one("#said", Static).update(sentence)
