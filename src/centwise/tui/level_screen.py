"""Set the listening level by a quiet tone, before the first pair and whenever wanted.

Imports Textual, tui and below.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Static

from centwise.errors import CentwiseError
from centwise.tui.acts import LEVEL, bindings
from centwise.tui.place import Place

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.screen import Screen

    from centwise.ports import Playback

BUTTONS = (
    ("tone", "«quiet-tone» quiet tone"),
    ("softer", "«softer» softer"),
    ("louder", "«louder» louder"),
    ("go_on", "«go-on» go on"),
)


class LevelScreen(Place):
    """Hear a quiet tone, make it softer or louder, go on.

    Args:
        then: makes the screen that follows; None to go back to where one came from.
    """

    ACTS = LEVEL
    ABOUT = (
        "The app cannot know how loud it is at your ear. Begin with the volume of the computer low, "
        "hear the quiet tone, and raise it until it is as loud as quiet talk."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(LEVEL)]

    def __init__(self, then: Callable[[], Screen[None]] | None = None) -> None:
        super().__init__()
        self._then = then
        self._playback: Playback | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        title = "A comfortable level" if self._then is None else "First, a comfortable level"
        with Vertical(classes="page"):
            yield Static(title, classes="title", markup=False)
            yield Static(
                self.told(
                    "Turn this computer's volume down. Press ‹quiet-tone› for a quiet tone, then raise the volume, "
                    "here with ‹louder› or on the computer, until the tone is as loud as quiet talk."
                ),
                classes="lead",
                markup=False,
            )
            yield Static("Level", id="level", markup=False)
            yield Static("", id="said", markup=False)
            with Horizontal(classes="row"):
                for name, label in BUTTONS:
                    yield Button(self.told(label), id=name, compact=True)
            yield Static(
                "Safe listening for adults: 80 dB(A) for at most 40 hours a week, and half the hours for every 3 dB "
                "more (WHO and ITU, H.870). This is no hearing test: a worry about hearing belongs to an audiologist.",
                classes="caution",
                markup=False,
            )
        yield Footer()

    def on_mount(self) -> None:
        """Show the level kept from last time."""
        self._change(0, sound=False)

    def on_unmount(self) -> None:
        """Stop the tone with the screen."""
        if self._playback is not None:
            self._playback.stop()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.set_focus(None)
        getattr(self, f"action_{event.button.id}")()

    @work(group="level")
    async def _change(self, steps: int, *, sound: bool) -> None:
        try:
            self._show_level(
                await self.in_turn(partial(self.desk.sound.change_level, steps) if steps else self.desk.sound.level_db)
            )
            if sound:
                self._playback = await self.in_turn(self.desk.tone)
                self.say("A quiet tone sounds.")
        except CentwiseError as error:
            self.say(error.sentence)

    def action_tone(self) -> None:
        """Hear the quiet tone."""
        self._change(0, sound=True)

    def action_softer(self) -> None:
        """Make everything softer, and hear it."""
        self._change(-1, sound=True)

    def action_louder(self) -> None:
        """Make everything louder, and hear it."""
        self._change(1, sound=True)

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
        from centwise.listening import LOUDEST_DB, SOFTEST_DB, STEP_DB  # noqa: PLC0415  loads numpy

        filled, whole = (round((most_db - SOFTEST_DB) / STEP_DB) for most_db in (level_db, LOUDEST_DB))
        self.query_one("#level", Static).update(f"Level {'▮' * filled}{'▯' * (whole - filled)} {level_db:+.0f} dB")
