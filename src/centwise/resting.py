"""How long somebody has been listening without a rest, and when one is proposed. Talks to the store through its port.

Twenty minutes, and five of quiet as a rest, are our judgement: short blocks of six to eight minutes learn fastest
(Molloy and others 2012, PLoS ONE 7:e36929), and three of them are twenty minutes. What is safe hangs on level and hours
a week (WHO-ITU safe listening, ITU-T H.870; see `listening.ADVICE`), which no program can know.
Imports ports and below.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta
from typing import TYPE_CHECKING

from centwise.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from centwise.ports import Clock, Store

REST_AFTER_S = 20.0 * 60.0
PAUSE_S = 5.0 * 60.0
"""So long without a sound is a rest."""
LATEST_BENCHES = 3


class EarTime:
    """One listener's time with sounds, over blocks and rehearsals alike.

    Args:
        clock: the time; only its monotonic seconds are used, so that a clock set back changes nothing.
        listened_s: how long they have been listening already, with no rest in it.
    """

    def __init__(self, clock: Clock, listened_s: float = 0.0) -> None:
        self._clock = clock
        self._last_s = clock.monotonic_s()
        self._began_s: float | None = self._last_s - listened_s if listened_s > 0.0 else None

    def heard(self) -> None:
        """Take note that something sounds now."""
        now_s = self._clock.monotonic_s()
        if self._began_s is None or now_s - self._last_s >= PAUSE_S:
            self._began_s = now_s
        self._last_s = now_s

    def rest_due(self) -> int | None:
        """Return how many minutes it has been if a rest is due, and count from here; None while none is.

        Ask only between two pairs: a rest never comes into the middle of one.
        """
        now_s = self._clock.monotonic_s()
        if self._began_s is None or now_s - self._last_s >= PAUSE_S or now_s - self._began_s < REST_AFTER_S:
            return None
        minutes = int((now_s - self._began_s) // 60.0)
        self._began_s = now_s
        return minutes

    def rested(self) -> None:
        """Count from here: a rest was proposed for another reason."""
        self._began_s = self._clock.monotonic_s()


def ear_time(store: Store, clock: Clock, listener_id: str) -> EarTime:
    """Return a listener's time with sounds, what the store knows of the last half hour included.

    A store that cannot be read counts as nothing heard: it keeps nobody from listening.
    """
    heard: list[tuple[datetime, datetime]] = []
    with suppress(StoreError):
        for block in store.summaries(listener_id):
            if block.plan.heard and block.last_answer_at is not None:
                # A block may have been left for a day in between: what counts is the time spent on it.
                began = max(block.plan.started_at, block.last_answer_at - timedelta(seconds=block.practised_s))
                heard.append((began, block.last_answer_at))
        for bench in store.benches(listener_id)[-LATEST_BENCHES:]:
            if bench.plan.heard:
                heard.extend((act.at, act.at) for act in bench.acts)
    return EarTime(clock, _listened_s(heard, clock.now()))


def rest_sentence(minutes: int) -> str:
    """Propose a rest: `You have been listening for 20 minutes. Rest your ears for five ...`."""
    return f"You have been listening for {minutes} minutes. Rest your ears for five: what is answered is kept."


def _listened_s(heard: Iterable[tuple[datetime, datetime]], now: datetime) -> float:
    """Return for how long before now sounds came without a rest, going back from the latest."""
    began = now
    for start, end in sorted(heard, key=lambda span: span[1], reverse=True):
        if end > now:
            continue
        if (began - end).total_seconds() >= PAUSE_S:
            break
        began = min(began, start)
    return (now - began).total_seconds()
