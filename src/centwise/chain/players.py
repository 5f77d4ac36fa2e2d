"""Which players load on this machine, and why another does not. Nothing is sounded.

Imports nothing outside its package.
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import sys

from centwise.chain.line import CheckLine, not_checked

TITLE = "Player"


def check_players() -> tuple[CheckLine, ...]:
    """Load each player's library and say so."""
    return (_miniaudio(), _simpleaudio())


def _miniaudio() -> CheckLine:
    return _loaded("miniaudio", "install centwise anew, or pip install --force-reinstall miniaudio")


def _simpleaudio() -> CheckLine:
    title = f"{TITLE} simpleaudio"
    if sys.version_info >= (3, 12):
        version = ".".join(map(str, sys.version_info[:2]))
        return not_checked(
            "players", title, f"it brings Python {version} down after playing, so it is offered on 3.11 alone"
        )
    if importlib.util.find_spec("simpleaudio") is None:
        return not_checked(
            "players", title, "it is not installed, and only a second choice", "pip install 'centwise[simpleaudio]'"
        )
    return _loaded("simpleaudio", "pip uninstall simpleaudio, or install it anew; miniaudio does without it")


def _loaded(library: str, to_do: str) -> CheckLine:
    title = f"{TITLE} {library}"
    try:
        importlib.import_module(library)
    except Exception as error:  # noqa: BLE001  a broken library may raise anything while it loads
        reason = " ".join(str(error).split()) or type(error).__name__
        return CheckLine("players", title, "failed", f"it does not load ({reason})", to_do, {"player": library})
    version = importlib.metadata.version(library)
    return CheckLine(
        "players", title, "passed", f"version {version} loads", figures={"player": library, "version": version}
    )
