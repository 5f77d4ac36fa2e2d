"""Whether the terminal has gone without a word: closed, with no SIGHUP sent. Standard library only."""

from __future__ import annotations

import select
import sys
from typing import Any


def hung_up(descriptor: int, *, platform: str = sys.platform, system: Any = select) -> bool:  # noqa: ANN401  a module
    """Return whether nobody is at the other end of a terminal any more.

    A program that leads its session is sent SIGHUP then; one started otherwise, by a supervisor say, is told nothing
    and would wait for keys for ever. Where the system has no poll, as on Windows, this is never seen.

    Args:
        descriptor: of the terminal the program reads from.
        platform: as `sys.platform` has it.
        system: the module `select`, or what stands in for another system's.
    """
    if not hasattr(system, "poll"):
        return False
    # On macOS poll may call any terminal invalid, also one that is there (from memory, as event libraries note).
    gone = system.POLLHUP if platform == "darwin" else system.POLLHUP | system.POLLNVAL
    looked = system.poll()
    looked.register(descriptor, 0)  # a hang-up is told without being asked for
    return any(seen & gone for _descriptor, seen in looked.poll(0))
