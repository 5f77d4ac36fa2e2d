"""How a device of miniaudio's is let go, whatever became of it; shared by player and recorder."""

from __future__ import annotations

from contextlib import suppress
from threading import Thread
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

CLOSE_LIMIT_S = 0.5
"""How long closing is waited for; it takes 2 ms where the sound server answers (measured)."""


def let_go(device: Any) -> None:  # noqa: ANN401  untyped library
    """Close a device and its context; not for the audio thread."""
    device.close()
    # miniaudio's Python layer never lets its context go: a sound server would keep one connection per opening.
    with suppress(ImportError, AttributeError, TypeError):
        import _miniaudio  # noqa: PLC0415  part of miniaudio

        _miniaudio.lib.ma_context_uninit(device._context)  # noqa: SLF001


def close_in_time(closing: Callable[[], object]) -> None:
    """Close, waiting a while: a sound server that hangs holds this up for half a minute, so it goes on in a thread."""
    thread = Thread(target=closing, name="miniaudio-close", daemon=True)
    try:
        thread.start()
    except RuntimeError:
        # No thread starts any more at the interpreter's exit.
        closing()
    else:
        thread.join(CLOSE_LIMIT_S)
