"""Runs centwise on a machine whose clock is set back by two days after every third look at it.

BACK_DAYS in the environment says by how many days it was set back before.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta

from centwise import bootstrap
from centwise.__main__ import main

looks = 0


def now(_clock: bootstrap.SystemClock) -> datetime:
    """Return an instant earlier and earlier."""
    global looks  # noqa: PLW0603  the clock's own state
    looks += 1
    return datetime.now(UTC) - timedelta(days=int(os.environ.get("BACK_DAYS", "0")) + 2 * (looks // 3))


bootstrap.SystemClock.now = now  # type: ignore[method-assign]
main()
