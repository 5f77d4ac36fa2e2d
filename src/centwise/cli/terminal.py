"""Whether there is somebody at a terminal. Imports nothing of centwise."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def at_a_terminal(*, platform: str = sys.platform, size: Callable[[int], object] = os.get_terminal_size) -> bool:
    """Return whether stdin and stdout are a terminal that can be drawn on.

    One that says of itself it is dumb (`TERM`, as an editor's shell window does) moves no cursor (terminfo).

    Windows calls its null device one too (documentation of the C runtime, `_isatty`); only a real one has a size.
    """
    if sys.stdin is None or sys.stdout is None or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return False
    if os.environ.get("TERM") == "dumb":
        return False
    if platform != "win32":
        return True
    try:
        size(sys.stdout.fileno())
    except (OSError, ValueError):
        return False
    return True
