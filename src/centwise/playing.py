"""What a block and a rehearsal do alike with their sounds: play one at a time, tell a hole, prepare the next ahead.

Imports resting and below.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import TYPE_CHECKING

from centwise.holes import HOLE_S

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType
    from typing import Self

    from centwise.model import Sound
    from centwise.ports import Playback, Player
    from centwise.resting import EarTime


class Playing:
    """One listener's sounds, from the first to the last; what plays and prepares them ends with it.

    Args:
        player: makes them heard; it stays open.
        ears: counts how long the listener has been listening; None where nobody does.
    """

    def __init__(self, player: Player, ears: EarTime | None) -> None:
        self._player = player
        self._ears = ears
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="prepare")
        self._latest: Playback | None = None
        self._watched: Playback | None = None

    def hole_s(self) -> float | None:
        """Return the length in seconds of a hole in what is watched, told once for each time it sounds; else None."""
        if self._watched is None or (lost_s := self._watched.lost_s()) < HOLE_S:
            return None
        self._watched = None
        return lost_s

    def hush(self) -> None:
        """Stop what sounds."""
        if self._latest is not None:
            self._latest.stop()

    def close(self) -> None:
        """Stop the sound and the preparing. In the store all stays as it is: what is not over stays open."""
        self.hush()
        self._pool.shutdown(wait=False, cancel_futures=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _play(self, sound: Sound, *, watched: bool = True) -> Playback:
        """Start a sound, stopping what sounded before; where it is watched, `hole_s` tells of it from now on."""
        self._latest = playback = self._player.play(sound)
        if watched:
            self._watched = playback
        if self._ears is not None:
            self._ears.heard()
        return playback

    def _prepare(self, work: Callable[[], object]) -> None:
        """Let work be done in the preparing thread, one piece after the other."""
        with suppress(RuntimeError):  # closed meanwhile: nothing follows
            self._pool.submit(work)
