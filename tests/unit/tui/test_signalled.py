"""What ends the app from outside, with the signals each system has."""

from __future__ import annotations

import asyncio
import signal
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from centwise.tui.signalled import stop_on_signals

if TYPE_CHECKING:
    from collections.abc import Callable


class WindowsSignals(SimpleNamespace):
    """The signals of Windows, and its way of handling them (Python's documentation of `signal.signal`)."""

    def __init__(self) -> None:
        super().__init__(SIGINT=2, SIGTERM=15, SIGBREAK=21)
        self.handlers: dict[int, Callable[[int, object], None]] = {}

    def signal(self, number: int, handler: Callable[[int, object], None]) -> None:
        if number not in {2, 15, 21}:
            raise ValueError("invalid signal value")
        self.handlers[number] = handler

    @staticmethod
    def Signals(number: int) -> str:  # noqa: N802  as the module has it
        return {2: "SIGINT", 15: "SIGTERM", 21: "SIGBREAK"}[number]


def no_handlers(*_arguments: Any) -> None:
    raise NotImplementedError


async def test_on_windows_each_of_its_signals_stops_the_app_in_the_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    # Python's documentation of loop.add_signal_handler: "Availability: Unix".
    monkeypatch.setattr(asyncio.get_running_loop(), "add_signal_handler", no_handlers)
    signals, stopped = WindowsSignals(), []
    stop_on_signals(stopped.append, signals=signals)
    assert sorted(signals.handlers) == [2, 15, 21]
    for number in (21, 15, 2):
        signals.handlers[number](number, None)
    assert stopped == []
    await asyncio.sleep(0)
    assert stopped == ["SIGBREAK", "SIGTERM", "SIGINT"]


def test_on_windows_ctrl_c_after_the_app_is_ctrl_c() -> None:
    signals = WindowsSignals()

    async def app() -> None:
        asyncio.get_running_loop().add_signal_handler = no_handlers  # type: ignore[method-assign]
        stop_on_signals(lambda _number: None, signals=signals)

    asyncio.run(app())
    with pytest.raises(KeyboardInterrupt):
        signals.handlers[2](2, None)


async def test_elsewhere_the_loop_itself_handles_them(monkeypatch: pytest.MonkeyPatch) -> None:
    taken: list[int] = []
    monkeypatch.setattr(asyncio.get_running_loop(), "add_signal_handler", lambda number, *_: taken.append(number))
    posix = SimpleNamespace(SIGINT=signal.SIGINT, SIGTERM=signal.SIGTERM, SIGHUP=1)
    stop_on_signals(lambda _number: None, signals=posix)
    assert sorted(taken) == [1, 2, 15]
