"""Runs centwise and sends it a signal from within, always at the same place.

python tests/system/struck.py SIGNAL FILE FUNCTION TIMES ARGUMENT...

The place is a call of a function in a source file; with `function>built-in` the moment a built-in called there returns,
with `function<` the moment it returns itself.
"""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING

from centwise.__main__ import main

if TYPE_CHECKING:
    from types import FrameType

name, file, place, times = sys.argv[1:5]
function, _, built_in = place.removesuffix("<").partition(">")
WANTED = "c_return" if built_in else "return" if place.endswith("<") else "call"
left = int(times)


def strike(frame: FrameType, event: str, argument: object) -> None:
    """Send the signal at that place; the interpreter calls this at every call and return."""
    global left  # noqa: PLW0603  the profiler has no other memory
    here = frame.f_code.co_name == function and frame.f_code.co_filename.endswith(file)
    if here and event == WANTED and (not built_in or getattr(argument, "__name__", "") == built_in):
        left -= 1
        if left == 0:
            sys.setprofile(None)
            os.kill(os.getpid(), getattr(signal, name))


if name == "SIGINT":
    # As a terminal starts a program: a job in the background has ctrl+c ignored.
    signal.signal(signal.SIGINT, signal.default_int_handler)
sys.argv[1:] = sys.argv[5:]
sys.setprofile(strike)
main()
