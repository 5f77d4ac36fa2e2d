"""What ends a program from outside, in order: SIGTERM, SIGHUP when its terminal goes, SIGBREAK on Windows.

Imports errors and below.
"""

from __future__ import annotations

import signal
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

from centwise.errors import NOTHING_HALF_DONE, SIGNALLED, STOPPED_BY, StoppedError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import FrameType


class EndedBySignal(SystemExit):
    """A signal ended the run. As ctrl+c's own it is no error, so nothing that mends errors may catch it.

    An event loop lets a SystemExit through wherever it strikes, and where nobody tells of it the program still leaves
    with the right code.

    Attributes:
        number: the signal's number.
    """

    def __init__(self, number: int) -> None:
        super().__init__(SIGNALLED + number)
        self.number = number

    def told(
        self,
        *,
        answers: int | None = None,
        recorded: bool = False,
        kept: str | None = None,
        to_do: str = "give the same command again",
    ) -> StoppedError:
        """Return what to tell: with `answers`, that the block stays open, `recorded` or not; else what was kept."""
        by = STOPPED_BY[signal.Signals(self.number).name]
        if answers is not None:
            return StoppedError(by, SIGNALLED + self.number, answers=answers, ended=False, recorded=recorded)
        return StoppedError(by, SIGNALLED + self.number, kept=kept or NOTHING_HALF_DONE, to_do=to_do)


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Let SIGTERM, SIGHUP and SIGBREAK end what is under way by `EndedBySignal`; one that is ignored (nohup) stays so.

    After the first, further ones are passed over: what puts things away must not be cut off itself.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    ended = False

    def end(number: int, _frame: FrameType | None) -> None:
        nonlocal ended
        if not ended:
            ended = True
            raise EndedBySignal(number)

    before: list[tuple[int, Callable[[int, FrameType | None], object] | int | None]] = []
    try:
        for name in ("SIGTERM", "SIGHUP", "SIGBREAK"):
            number = getattr(signal, name, None)  # Windows has no SIGHUP, and nobody else ctrl+break
            if number is not None and signal.getsignal(number) != signal.SIG_IGN:
                before.append((number, signal.signal(number, end)))
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)
