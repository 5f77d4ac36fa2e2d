"""Whether the terminal has gone without a word: closed, with no SIGHUP sent. Standard library only."""

from __future__ import annotations

import select


def hung_up(descriptor: int) -> bool:
    """Return whether nobody is at the other end of a terminal any more.

    A program that leads its session is sent SIGHUP then; one started otherwise, by a supervisor say, is told nothing
    and would wait for keys for ever. Where the system has no poll, as on Windows, this is never seen.

    Args:
        descriptor: of the terminal the program reads from.
    """
    if not hasattr(select, "poll"):
        return False
    looked = select.poll()
    looked.register(descriptor, 0)  # a hang-up is told without being asked for
    return any(seen & (select.POLLHUP | select.POLLNVAL) for _descriptor, seen in looked.poll(0))
