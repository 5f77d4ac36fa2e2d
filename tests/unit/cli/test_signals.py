"""Which signals end a command in order, by what the system has."""

from __future__ import annotations

import signal
from enum import IntEnum

import pytest

from centwise.cli.signals import EndedBySignal, ended_by_signals
from centwise.errors import STOPPED_BY


class WindowsSignals(IntEnum):
    """The signals Windows has besides those of C's own."""

    SIGINT = 2
    SIGTERM = 15
    SIGBREAK = 21


def test_on_windows_ctrl_break_ends_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("SIGHUP", "SIGBREAK"):
        monkeypatch.delattr(signal, name, raising=False)
    monkeypatch.setattr(signal, "SIGBREAK", WindowsSignals.SIGBREAK, raising=False)
    monkeypatch.setattr(signal, "Signals", WindowsSignals)
    handlers: dict[int, object] = {}
    monkeypatch.setattr(signal, "getsignal", lambda number: handlers.get(number, signal.SIG_DFL))
    monkeypatch.setattr(signal, "signal", lambda number, handler: handlers.update({number: handler}) or signal.SIG_DFL)

    def struck() -> None:
        with ended_by_signals():
            assert set(handlers) == {15, 21}
            handlers[21](21, None)  # type: ignore[operator]

    with pytest.raises(EndedBySignal) as caught:
        struck()
    assert caught.value.code == 149
    assert STOPPED_BY["SIGBREAK"] in str(caught.value.told())
    assert set(handlers.values()) == {signal.SIG_DFL}
