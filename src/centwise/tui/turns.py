"""Slow work off the screen's thread, one piece after the other. Imports the standard library and errors."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

from centwise.errors import ElsewhereError

if TYPE_CHECKING:
    from collections.abc import Callable

T = TypeVar("T")


class Turns:
    """A queue of one worker."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="desk")
        self._unkept: Callable[[], object] | None = None

    async def take(self, work: Callable[[], T], *, keeps: bool = False) -> T:
        """Do work in its turn, in the order asked for.

        What has begun is carried to its end even when whoever asked has gone.

        Args:
            work: what is to be done.
            keeps: whether it keeps an answer: it is handed back by `finish` if its turn never came, or if it failed.
        """
        if keeps:
            wanted = work

            def work() -> T:
                try:
                    done = wanted()
                except ElsewhereError:
                    # It was no answer to the pair that is asked now.
                    self._unkept = None
                    raise
                self._unkept = None
                return done

            self._unkept = wanted
        return await asyncio.get_running_loop().run_in_executor(self._pool, work)

    def finish(self) -> Callable[[], object] | None:
        """Wait for the work that has begun, drop the rest, and return what keeps an answer and is not done yet."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        unkept, self._unkept = self._unkept, None
        return unkept
