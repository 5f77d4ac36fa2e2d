"""What ends the app from outside, on every system. Imports the standard library and errors."""

from __future__ import annotations

import asyncio
import signal
from typing import TYPE_CHECKING, Any

from centwise.errors import STOPPED_BY

if TYPE_CHECKING:
    from collections.abc import Callable


def stop_on_signals(stop: Callable[[signal.Signals], None], *, signals: Any = signal) -> None:  # noqa: ANN401  a module
    """Call `stop` in the running event loop when ctrl+c, ctrl+break or a signal asks the program to end.

    Args:
        stop: gets the signal.
        signals: the module `signal`, or what stands in for another system's.
    """
    loop = asyncio.get_running_loop()

    def told(number: int, _frame: object) -> None:
        if loop.is_closed():
            raise KeyboardInterrupt
        loop.call_soon_threadsafe(stop, signals.Signals(number))

    for name in STOPPED_BY:
        number = getattr(signals, name, None)
        if number is None:  # Windows has no SIGHUP, and nobody else SIGBREAK
            continue
        try:
            loop.add_signal_handler(number, stop, number)
        except NotImplementedError:  # the event loops of Windows
            signals.signal(number, told)
