"""The one door to players and the microphone. Libraries are loaded when theirs is chosen. Imports ports and below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.audio.level import gain_from_db
from centwise.errors import CentwiseError, DeviceError, UsageError
from centwise.systems import expanded

if TYPE_CHECKING:
    from centwise.audio.miniaudio_player import MiniaudioPlayer
    from centwise.ports import Clock, Player, Recorder

CHOICES = ("auto", "miniaudio", "simpleaudio", "silent", "silent:hurry", "file:DIR")
"""The words a player is chosen by; DIR stands for a folder."""


def check_choice(choice: str) -> str:
    """Return a choice of player if its words are known: worth knowing before a store or a device is opened.

    Raises:
        UsageError: they are not.
    """
    kind, _, folder = choice.partition(":")
    if choice in CHOICES[:-1] or (kind == "file" and folder):
        return choice
    raise UsageError(f"there is no player {choice!r}", f"choose one of {', '.join(CHOICES)}")


def open_player(choice: str, clock: Clock, *, level_db: float = 0.0) -> Player:
    """Open a player.

    Args:
        choice: one of CHOICES. `auto` takes miniaudio, else simpleaudio where it is installed and works.
        clock: the time.
        level_db: gain on every sound, 0 dB at most.

    Raises:
        UsageError: another choice, a level above 0 dB, or a player that is not installed.
        DeviceError: there is no sound device.
        InputError: the folder of `file:DIR` cannot be written to.
    """
    gain_from_db(level_db)
    check_choice(choice)
    if choice == "auto":
        return _open_any(clock, level_db)
    if choice == "miniaudio":
        return _open_miniaudio(clock, level_db)
    if choice == "simpleaudio":
        return _open_simpleaudio(clock, level_db)
    if choice in {"silent", "silent:hurry"}:
        from centwise.audio.silent_player import SilentPlayer  # noqa: PLC0415  each player on its own

        return SilentPlayer(clock, hurry=choice == "silent:hurry", level_db=level_db)
    from centwise.audio.file_player import FilePlayer  # noqa: PLC0415  each player on its own

    return FilePlayer(expanded(choice.partition(":")[2]), level_db=level_db)


def device_name(player: Player) -> str:
    """Return the system's name of the output a player speaks to; empty where there is none or it is not told."""
    description = getattr(player, "description", None)
    return "" if description is None else str(description.name)


def open_sided_player(clock: Clock, *, level_db: float = 0.0) -> MiniaudioPlayer:
    """Open a player whose left and right can be sounded apart; only miniaudio can.

    Raises:
        UsageError: a level above 0 dB.
        DeviceError: there is no sound device.
    """
    from centwise.audio.miniaudio_player import MiniaudioPlayer  # noqa: PLC0415  each player on its own

    return MiniaudioPlayer(clock, level_db=level_db, channels=2)


def open_recorder(clock: Clock, *, rate_hz: int = 48_000) -> Recorder:
    """Open the system's standard microphone.

    Args:
        clock: the time.
        rate_hz: frames per second to be handed over, 16 000 to 192 000.

    Raises:
        UsageError: another rate.
        DeviceError: there is no microphone.
    """
    from centwise.audio.miniaudio_recorder import MiniaudioRecorder  # noqa: PLC0415  loaded on use

    return MiniaudioRecorder(clock, rate_hz=rate_hz)


def _open_miniaudio(clock: Clock, level_db: float) -> Player:
    from centwise.audio.miniaudio_player import MiniaudioPlayer  # noqa: PLC0415  each player on its own

    return MiniaudioPlayer(clock, level_db=level_db)


def _open_simpleaudio(clock: Clock, level_db: float) -> Player:
    from centwise.audio.simpleaudio_player import SimpleaudioPlayer  # noqa: PLC0415  each player on its own

    return SimpleaudioPlayer(clock, level_db=level_db)


def _open_any(clock: Clock, level_db: float) -> Player:
    try:
        return _open_miniaudio(clock, level_db)
    except DeviceError as no_device:
        try:
            return _open_simpleaudio(clock, level_db)
        except CentwiseError:
            # The second player is optional: what stands in its way is no news to whoever asked for any player.
            raise no_device from None
