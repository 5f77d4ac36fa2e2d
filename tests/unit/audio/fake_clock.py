"""A clock that runs only when somebody sleeps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


class FakeClock:
    def __init__(self) -> None:
        self.passed_s = 0.0

    def now(self) -> datetime:
        return datetime(2026, 3, 1, tzinfo=UTC) + timedelta(seconds=self.passed_s)

    def monotonic_s(self) -> float:
        return self.passed_s

    def sleep(self, seconds: float) -> None:
        assert seconds > 0.0
        self.passed_s += seconds
