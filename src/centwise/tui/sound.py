"""The player of one run of the app, opened when it is first needed, and its level.

No widgets; imports listening, late.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.ports import Playback, Player, Services
    from centwise.strings.instrument import Instrument


class Sound:
    """Any thread may ask.

    Args:
        services: open the player and keep the level.
        silent_player: makes a player without sound, for looking around where there is no device.
    """

    def __init__(self, services: Services, silent_player: Callable[[], Player]) -> None:
        self._services = services
        self._silent_player = silent_player
        self._player: Player | None = None
        self._lock = threading.Lock()

    def player(self) -> Player:
        """Return the player, opening it at the first call.

        Raises:
            DeviceError: there is no sound device.
        """
        with self._lock:
            if self._player is None:
                self._player = self._services.open_player()
            return self._player

    def go_silent(self) -> None:
        """From here on use a player that makes no sound."""
        with self._lock:
            if self._player is not None:
                self._player.close()
            self._player = self._silent_player()

    def tone(self, instrument: Instrument, string: int) -> Playback:
        """Sound the quiet tone for the listening level."""
        from centwise.listening import sound_level_tone  # noqa: PLC0415  loads numpy

        return sound_level_tone(self.player(), instrument, string)

    def level_db(self) -> float:
        """Return the listening level."""
        from centwise.listening import level_now  # noqa: PLC0415  loads numpy

        return level_now(self._player, self._services.store)

    def change_level(self, steps: int) -> float:
        """Change the listening level by small steps and return it."""
        from centwise.listening import change_level  # noqa: PLC0415  loads numpy

        return change_level(self.player(), self._services.store, steps)

    def close(self) -> None:
        """Let the device go, where it was opened."""
        if self._player is not None:
            self._player.close()
