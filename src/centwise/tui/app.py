"""The app: wires screens, themes and the desk together. The App class holds no logic of its own.

Imports Textual, tui and below.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Any, ClassVar, cast

from rich.console import Console
from textual.app import App
from textual.binding import Binding
from textual.constants import COLOR_SYSTEM
from textual.screen import Screen

from centwise.errors import SIGNALLED, STOPPED_BY, CentwiseError, StoppedError, StoreError
from centwise.tui.desk import Desk
from centwise.tui.first_place import first_place
from centwise.tui.hang_up import hung_up
from centwise.tui.key_names import key_name
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.signalled import stop_on_signals
from centwise.tui.stderr_guard import stderr_guard
from centwise.tui.themes import themes_for
from centwise.tui.too_small_screen import TooSmallScreen

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from textual.actions import ActionParseResult
    from textual.binding import BindingType
    from textual.dom import DOMNode
    from textual.events import Resize

    from centwise.bench_planning import BenchRequest
    from centwise.lessons.lesson import Lesson
    from centwise.planning import BlockRequest
    from centwise.ports import Player, Services
    from centwise.settings.load import Settings
    from centwise.takes.session import RecordingRequest

THEME_KEY = "theme"
LEAST_COLUMNS, LEAST_ROWS = 60, 20
LOOK_AGAIN_S = 0.05
LOOK_FOR_TERMINAL_S = 1.0
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
        color_system: str | None = None,
    ) -> None:
        super().__init__()
        self.desk = desk
        self.failure: CentwiseError | None = None
        self.stopped_by: signal.Signals | None = None
        self._listener_name = listener_name
        self._recording = recording
        self._resume = resume
        self._put_on_colours(color_system)
        if desk.settings.motion == "reduced":
            self.animation_level = "none"

    def _put_on_colours(self, color_system: str | None) -> None:
        """Put on the colours kept from last time, before any style is read: each change of them has all read anew."""
        self._light, self._dark = themes_for(color_system)
        for theme in (self._light, self._dark):
            self.register_theme(theme)
        kept: str = self.desk.settings.theme
        with suppress(CentwiseError):  # a store that cannot be read is told of by the first screen
            kept = self.desk.services.store.setting(THEME_KEY) or kept
        self.set_reactive(CentwiseApp.theme, self._light.name if kept == "light" else self._dark.name)
        self.stylesheet.set_variables(self.get_css_variables())

    def get_default_screen(self) -> Screen[None]:
        """Return the first screen; there is no empty one beneath, which would have to be styled and drawn too."""
        try:
            listeners = self.desk.services.store.listeners()
        except CentwiseError as error:
            self.failure = error
            return Screen()
        return ListenerScreen(listeners)

    def on_mount(self) -> None:
        """Open what the command line asked for, on top of the first screen."""
        try:
            self._go_straight_on()
        except CentwiseError as error:
            self.failure = self.failure or error
        if self.failure is not None:
            self.exit(return_code=self.failure.exit_code)
            return
        if not self.is_headless:
            stop_on_signals(self._stop)
            self.set_interval(LOOK_FOR_TERMINAL_S, self._end_if_terminal_gone)
        self._warm_up_once_drawn()

    def get_key_display(self, binding: Binding) -> str:
        """Return a key as the footer shows it: as buttons and help do."""
        return binding.key_display or key_name(binding.key, short=True)

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
        light = self.theme != self._light.name
        self.theme = self._light.name if light else self._dark.name
        with suppress(CentwiseError):
            self.desk.services.store.set_setting(THEME_KEY, "light" if light else "dark")

    async def run_action(
        self,
        action: str | ActionParseResult,
        default_namespace: DOMNode | None = None,
        namespaces: Mapping[str, DOMNode] | None = None,
    ) -> bool:
        """Do an act of a page, once the page stands: a quick hand is ahead of the drawing."""
        place = default_namespace
        if isinstance(place, Screen) and not place.is_mounted:
            return place.call_later(super().run_action, action, place, namespaces)
        return await super().run_action(action, place, namespaces)

    async def action_stop(self) -> None:
        """Leave the app at once, wherever one is."""
        self._stop(signal.SIGINT)

    def action_switch_theme(self) -> None:
        """Change between the light and the dark colours, for screens without acts of their own."""
        self.switch_theme()

    def _go_straight_on(self) -> None:
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

    def _warm_up_once_drawn(self) -> None:
        """Load the heavy half once the first frame stands: the footer's keys come last, painted a little later."""
        drawn = any(key.size for screen in self.screen_stack for key in screen.query("FooterKey"))
        self.set_timer(LOOK_AGAIN_S, self._warm_up if drawn else self._warm_up_once_drawn)

    def _warm_up(self) -> None:
        if not gc.isenabled():
            # Held back for a quick start; what start-up made stays until the end and need never be looked through.
            gc.freeze()
            gc.enable()
        self.desk.warm_up()

    def _end_if_terminal_gone(self) -> None:
        if self.stopped_by is None and sys.__stdin__ is not None and hung_up(sys.__stdin__.fileno()):
            self._stop(signal.Signals["SIGHUP"])

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
    follow_the_terminal()
    # Textual's own choice of colours, asked for before the app is made: its styles are read only once.
    colours = Console(color_system=cast("Any", COLOR_SYSTEM), force_terminal=True).color_system
    app = CentwiseApp(desk, listener_name=listener_name, resume=resume, recording=recording, color_system=colours)
    try:
        with stderr_guard(settings.data_dir / "centwise.log"):
            code = app.run()
    except BaseException:
        desk.close()
        raise
    left(app)
    return code if code is not None else app.return_code or 0


def follow_the_terminal() -> None:
    """Let the terminal itself say how large it is, where it can.

    COLUMNS and LINES in the environment, which some shells put there, would hold for ever, however it is resized.
    """
    try:
        size = os.get_terminal_size(sys.__stdout__.fileno() if sys.__stdout__ is not None else 1)
    except (OSError, ValueError):
        return
    if size.columns and size.lines:
        for name in ("COLUMNS", "LINES"):
            os.environ.pop(name, None)


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
    ended, sitting = app.stopped_by == signal.SIGINT, app.desk.sitting
    recorded = sitting is not None and sitting.drill.plan.take_sha256 is not None
    try:
        answers = app.desk.close(ending=ended)
    except StoreError:
        # The page said what is not kept; the block stays open with what is.
        ended, sitting = False, app.desk.sitting
        answers = len(sitting.drill.trials) if sitting is not None else None
    by, exit_code = STOPPED_BY[app.stopped_by.name], SIGNALLED + app.stopped_by
    raise StoppedError(by, exit_code, answers=answers, ended=ended, recorded=recorded)
