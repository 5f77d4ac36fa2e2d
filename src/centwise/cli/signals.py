"""What ends a program from outside: SIGTERM, and SIGHUP when its terminal goes."""

from __future__ import annotations

import signal
from contextlib import contextmanager
from typing import TYPE_CHECKING

from centwise.errors import SIGNALLED, STOPPED_BY, StoppedError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import FrameType


class EndedBySignal(BaseException):
    """A signal ended the run. As KeyboardInterrupt is: no error, so nothing that mends errors may catch it.

    Attributes:
        number: the signal's number.
    """

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number

    def told(self, answers: int) -> StoppedError:
        """Return what to tell: the block stays open, to be gone on with."""
        by = STOPPED_BY[signal.Signals(self.number).name]
        return StoppedError(by, SIGNALLED + self.number, answers=answers, ended=False)


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Let SIGTERM and SIGHUP end what is under way by `EndedBySignal`; one that is ignored (nohup) stays so."""
    before: list[tuple[int, Callable[[int, FrameType | None], object] | int | None]] = []
    try:
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)  # Windows has no SIGHUP
            if number is not None and signal.getsignal(number) != signal.SIG_IGN:
                before.append((number, signal.signal(number, _end)))
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def _end(number: int, _frame: FrameType | None) -> None:
    raise EndedBySignal(number)
