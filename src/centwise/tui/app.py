"""The app: wires screens, themes and the desk together. The App class holds no logic of its own."""

from __future__ import annotations

import asyncio
import signal
from contextlib import suppress
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import Binding

from centwise.errors import SIGNALLED, STOPPED_BY, CentwiseError, StoppedError, StoreError
from centwise.tui.desk import Desk
from centwise.tui.first_place import first_place
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.stderr_guard import stderr_guard
from centwise.tui.themes import DARK, LIGHT
from centwise.tui.too_small_screen import TooSmallScreen

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType
    from textual.events import Resize

    from centwise.bench_planning import BenchRequest
    from centwise.lessons.lesson import Lesson
    from centwise.planning import BlockRequest
    from centwise.ports import Player, Services
    from centwise.settings.load import Settings
    from centwise.takes.session import RecordingRequest

THEME_KEY = "theme"
LEAST_COLUMNS, LEAST_ROWS = 60, 20
ROOMY_ROWS = 26
"""With so many rows the longest page can have blank lines and margins."""


class CentwiseApp(App[int]):
    """The terminal app.

    Attributes:
        desk: what the run holds between its screens.
        failure: the error the app could not begin with, or None.
        stopped_by: the signal that ended the app, ctrl+c being SIGINT, or None.
    """

    TITLE = "centwise"
    CSS_PATH = "centwise.tcss"
    ENABLE_COMMAND_PALETTE = False
    # With priority, so that it ends the app from every page and every line one types in.
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+c", "stop", show=False, priority=True)]
    VERTICAL_BREAKPOINTS = [(0, "-short"), (ROOMY_ROWS, "-roomy")]  # noqa: RUF012  Textual declares it as no class variable

    def __init__(
        self,
        desk: Desk,
        *,
        listener_name: str | None = None,
        resume: bool = False,
        recording: RecordingRequest | None = None,
    ) -> None:
        super().__init__()
        self.desk = desk
        self.failure: CentwiseError | None = None
        self.stopped_by: signal.Signals | None = None
        self._listener_name = listener_name
        self._recording = recording
        self._resume = resume

    def on_mount(self) -> None:
        """Put on the colours kept from last time, and open the first screen."""
        for theme in (LIGHT, DARK):
            self.register_theme(theme)
        try:
            kept = self.desk.services.store.setting(THEME_KEY) or self.desk.settings.theme
            self.theme = LIGHT.name if kept == "light" else DARK.name
            self._open_first_screen()
        except CentwiseError as error:
            self.failure = error
            self.exit(return_code=error.exit_code)
            return
        if not self.is_headless:
            self._end_in_order()
        # The heavy half loads once the first frame stands.
        self.call_after_refresh(self.desk.warm_up)

    def on_resize(self, event: Resize) -> None:
        """Say so where the terminal is too small to hold the app."""
        too_small = event.size.width < LEAST_COLUMNS or event.size.height < LEAST_ROWS
        covered = isinstance(self.screen, TooSmallScreen)
        if too_small and not covered:
            self.push_screen(TooSmallScreen(LEAST_COLUMNS, LEAST_ROWS))
        elif covered and not too_small:
            self.pop_screen()

    def switch_theme(self) -> None:
        """Change between the light and the dark colours, and keep the choice if the store takes it."""
        light = self.theme != LIGHT.name
        self.theme = LIGHT.name if light else DARK.name
        with suppress(CentwiseError):
            self.desk.services.store.set_setting(THEME_KEY, "light" if light else "dark")

    async def action_stop(self) -> None:
        """Leave the app at once, wherever one is."""
        self._stop(signal.SIGINT)

    def action_switch_theme(self) -> None:
        """Change between the light and the dark colours, for screens without acts of their own."""
        self.switch_theme()

    def _open_first_screen(self) -> None:
        self.push_screen(ListenerScreen(self.desk.services.store.listeners()))
        if self._recording is not None:
            self._open_recording(self._recording)
            return
        if self._listener_name is not None or self._resume:
            self.desk.choose_listener(self._listener_name)
            self.push_screen(first_place(self.desk))
        if self._resume:
            from centwise.tui.drill_screen import DrillScreen  # noqa: PLC0415  start-up path

            self.desk.go_on()
            self.push_screen(DrillScreen())

    def _open_recording(self, request: RecordingRequest) -> None:
        """Go straight to the microphone, as the listener named or the one last used."""
        from centwise.tui.block_screen import BlockScreen  # noqa: PLC0415  start-up path
        from centwise.tui.own_screen import OwnScreen  # noqa: PLC0415
        from centwise.tui.record_screen import RecordScreen  # noqa: PLC0415

        self.desk.choose_listener(self._listener_name)
        for place in (BlockScreen(), OwnScreen(), RecordScreen(request)):
            self.push_screen(place)

    def _end_in_order(self) -> None:
        """Give the terminal back when the program is told to end or its terminal goes."""
        for name in STOPPED_BY:
            with suppress(AttributeError, NotImplementedError):  # Windows has no such handlers
                number = getattr(signal, name)
                asyncio.get_running_loop().add_signal_handler(number, self._stop, number)

    def _stop(self, number: signal.Signals) -> None:
        self.stopped_by = self.stopped_by or number
        self.exit(return_code=SIGNALLED + number)


def run_app(
    services: Services,
    settings: Settings,
    request: BlockRequest,
    *,
    listener_name: str | None,
    instrument_asked: bool = False,
    lesson: Lesson | None = None,
    recording: RecordingRequest | None = None,
    resume: bool = False,
    bench: BenchRequest | None = None,
    silent_player: Callable[[], Player],
) -> int:
    """Run the app until it is left, and return the exit code.

    Raises:
        StoppedError: ctrl+c or a signal ended it.
        CentwiseError: the app could not begin, or the result of the block that was left could not be kept.
    """
    desk = Desk(
        services,
        settings,
        request,
        instrument_asked=instrument_asked,
        lesson=lesson,
        bench=bench,
        silent_player=silent_player,
    )
    app = CentwiseApp(desk, listener_name=listener_name, resume=resume, recording=recording)
    try:
        with stderr_guard(settings.data_dir / "centwise.log"):
            code = app.run()
    except BaseException:
        desk.close()
        raise
    left(app)
    return code if code is not None else app.return_code or 0


def left(app: CentwiseApp) -> None:
    """Put everything away after the app.

    Whoever leaves the app in a block, by ctrl+c or otherwise, ends the block with its result; a signal from outside
    leaves it open.

    Raises:
        StoppedError: ctrl+c or a signal ended the app.
        CentwiseError: the app could not begin, or the result of the block that was left could not be kept.
    """
    if app.failure is not None:
        app.desk.close()
        raise app.failure
    if app.stopped_by is None:
        app.desk.close(ending=True)
        return
    ended = app.stopped_by == signal.SIGINT
    try:
        answers = app.desk.close(ending=ended)
    except StoreError:
        # The page said what is not kept; the block stays open with what is.
        ended, sitting = False, app.desk.sitting
        answers = len(sitting.drill.trials) if sitting is not None else None
    raise StoppedError(STOPPED_BY[app.stopped_by.name], SIGNALLED + app.stopped_by, answers=answers, ended=ended)
