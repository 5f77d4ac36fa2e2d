"""A player that writes each sound into a folder and never waits: for scripts, other players and pages in braille.

Imports model and below.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from centwise.audio.samples import PLAYER_RATE_HZ, levelled
from centwise.audio.sound_file import write_sound
from centwise.errors import InputError, reason_of

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.model import Sound

_SAFE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,99}")
_DEVICE_NAME = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)
"""Names that Windows keeps for devices, whatever their suffix (Microsoft, "Naming Files, Paths, and Namespaces")."""


class FilePlayback:
    """A sound that was written; it is over from the start."""

    def __init__(self, path: Path, duration_s: float) -> None:
        self.path: Path | None = path
        self._duration_s = duration_s

    def position_s(self) -> float:
        """Return its whole length."""
        return self._duration_s

    def wait(self, timeout_s: float | None = None) -> bool:  # noqa: ARG002  the port's signature
        """Return True at once."""
        return True

    def lost_s(self) -> float:
        """Return 0: a file is whole."""
        return 0.0

    def stop(self) -> None:
        """Do nothing: the file stays."""


class FilePlayer:
    """Writes `<name>.wav`, 24 bits, for each sound; a sound played again writes the same bytes again.

    Args:
        folder: made when it is missing.
        level_db: gain on every sound, 0 dB at most.

    Raises:
        InputError: the folder cannot be made or written to.
    """

    rate_hz = PLAYER_RATE_HZ

    def __init__(self, folder: Path, *, level_db: float = 0.0) -> None:
        self.name = f"file:{folder}"
        self.level_db = level_db
        self._folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
            probe = folder / ".centwise-probe"
            probe.touch()
            probe.unlink(missing_ok=True)  # another window may try the same folder
        except OSError as error:
            reason = reason_of(error)
            raise InputError(
                f"the folder {folder} cannot be written to ({reason})", "choose another with --player file:DIR"
            ) from error

    def play(self, sound: Sound) -> FilePlayback:
        """Write a sound; see ports.Player."""
        samples = levelled(sound, self.level_db)
        if not _SAFE_NAME.fullmatch(sound.name) or _DEVICE_NAME.fullmatch(sound.name):
            raise InputError(f"{sound.name!r} is no name for a file", "use letters, digits, - and _ only")
        path = self._folder / f"{sound.name}.wav"
        write_sound(path, samples, sound.rate_hz)
        return FilePlayback(path, sound.duration_s)

    def close(self) -> None:
        """Do nothing: each file is complete when `play` returns."""
