"""The app: wires screens, themes and the desk together. The App class holds no logic of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import App

from centwise.tui.desk import Desk
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.stderr_guard import stderr_guard
from centwise.tui.themes import DARK, LIGHT
from centwise.tui.too_small_screen import TooSmallScreen

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.binding import BindingType
    from textual.events import Resize

    from centwise.planning import BlockRequest
    from centwise.ports import Player, Services
    from centwise.settings.load import Settings

THEME_KEY = "theme"
LEAST_COLUMNS, LEAST_ROWS = 60, 20


class CentwiseApp(App[int]):
    """The terminal app."""

    TITLE = "centwise"
    CSS_PATH = "centwise.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, desk: Desk, *, listener_name: str | None = None) -> None:
        super().__init__()
        self.desk = desk
        self._listener_name = listener_name

    def on_mount(self) -> None:
        """Put on the colours kept from last time, and open the first screen."""
        for theme in (LIGHT, DARK):
            self.register_theme(theme)
        kept = self.desk.services.store.setting(THEME_KEY) or self.desk.settings.theme
        self.theme = LIGHT.name if kept == "light" else DARK.name
        self._open_first_screen()
        # The heavy half loads once the first frame stands.
        self.call_after_refresh(
            lambda: self.run_worker(self.desk.warm_up, thread=True, group="warm-up", exit_on_error=False)
        )

    def on_resize(self, event: Resize) -> None:
        """Say so where the terminal is too small to hold the app."""
        too_small = event.size.width < LEAST_COLUMNS or event.size.height < LEAST_ROWS
        covered = isinstance(self.screen, TooSmallScreen)
        if too_small and not covered:
            self.push_screen(TooSmallScreen(LEAST_COLUMNS, LEAST_ROWS))
        elif covered and not too_small:
            self.pop_screen()

    def action_switch_theme(self) -> None:
        """Change between the light and the dark colours, and keep the choice."""
        light = self.theme != LIGHT.name
        self.theme = LIGHT.name if light else DARK.name
        self.desk.services.store.set_setting(THEME_KEY, "light" if light else "dark")

    def _open_first_screen(self) -> None:
        self.push_screen(ListenerScreen(self.desk.services.store.listeners()))
        if self._listener_name is not None:
            from centwise.tui.block_screen import BlockScreen  # noqa: PLC0415  start-up path
            from centwise.tui.level_screen import LevelScreen  # noqa: PLC0415

            self.desk.choose_listener(self._listener_name)
            self.push_screen(LevelScreen(then=BlockScreen) if self.desk.new_listener else BlockScreen())


def run_app(
    services: Services,
    settings: Settings,
    request: BlockRequest,
    *,
    listener_name: str | None,
    scale_mm: float | None,
    silent_player: Callable[[], Player],
) -> int:
    """Run the app until it is left, and return the exit code."""
    desk = Desk(services, settings, request, scale_mm=scale_mm, silent_player=silent_player)
    try:
        with stderr_guard(settings.data_dir / "centwise.log"):
            return CentwiseApp(desk, listener_name=listener_name).run() or 0
    finally:
        desk.close()
