"""Says at a terminal that work is going on, where somebody would else look at nothing. On stderr, for people alone.

Imports nothing outside its package.
"""

from __future__ import annotations

import sys
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

from centwise.cli.diagnostics import narrate

if TYPE_CHECKING:
    from collections.abc import Iterator

SILENT_S = 0.2
"""Longer than this nobody is left without a word."""
AGAIN_S = 10.0
"""And as often again that it goes on: not so often that a screen reader would be kept busy (a judgement)."""


@contextmanager
def waiting(what: str) -> Iterator[None]:
    """Say `One moment: the recording is being measured.` once work takes longer than a moment, and that it goes on.

    Nothing is said where stderr is no terminal: there a program reads, or nobody.

    Args:
        what: the work, as a clause such as `the recording is being measured`.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    over = threading.Event()

    def speak() -> None:
        if over.wait(SILENT_S):
            return
        narrate(f"One moment: {what}.")
        tens = 0
        while not over.wait(AGAIN_S):
            tens += 1
            narrate(f"Still at it after {tens * AGAIN_S:.0f} seconds; ctrl+c stops.")

    speaker = threading.Thread(target=speak, name="waiting", daemon=True)
    speaker.start()
    try:
        yield
    finally:
        over.set()
        speaker.join()
