"""Catching one note out of what a microphone hands over: wait until it sounds, let it ring, stop.

No clock: time is counted in samples. Imports numpy and nothing of centwise.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

State = Literal["waiting", "sounding", "caught", "missed"]

HOP_S = 0.01
RISE_DB = 12.0
"""A note stands so far over the background (judgement)."""
HOLD_DB = 6.0
QUIETEST_DBFS = -60.0
LOUDEST_FLOOR_DBFS = -30.0
"""However loud it was before, a note this loud is noticed."""
SUSTAIN_S = 0.6
"""What falls back sooner, a word or a knock, is no note: go on waiting."""
NOTE_S = 2.5
"""So long a note is let ring (judgement: pitch is read from the first 2 seconds of a banjo's note)."""
GONE_S = 0.3
BEFORE_S = 0.4
"""Kept from before the note: the background its noise is judged by."""
WAIT_S = 8.0
"""How long a pluck is waited for (judgement)."""


class Catcher:
    """Takes blocks in their order.

    Args:
        rate_hz: frames per second.
        wait_s: how long a note is waited for.
    """

    def __init__(self, rate_hz: int, wait_s: float = WAIT_S) -> None:
        self.state: State = "waiting"
        self._rate_hz = rate_hz
        self._hop = round(HOP_S * rate_hz)
        self._wait_hops = round(wait_s / HOP_S)
        self._lead: Samples = np.zeros(0, np.float32)
        self._kept: list[Samples] = []
        self._rest: Samples = np.zeros(0, np.float32)
        self._hops = 0
        self._ambient: deque[float] = deque(maxlen=round(3.0 / HOP_S))
        self._begun: int | None = None
        self._last_loud = 0

    def background(self, block: Samples) -> None:
        """Take what sounds before the note is asked for, shape (frames,); it sets what counts as loud."""
        whole = len(block) // self._hop
        self._ambient.extend(_levels_db(block[: whole * self._hop], self._hop))
        self._lead = np.concatenate((self._lead, block))[-round(BEFORE_S * self._rate_hz) :]

    def add(self, block: Samples) -> State:
        """Take the next block of what may hold the note, shape (frames,), and return how things stand."""
        if self.state in {"caught", "missed"}:
            return self.state
        self._kept.append(block)
        joined = np.concatenate((self._rest, block))
        whole = len(joined) // self._hop
        self._rest = joined[whole * self._hop :]
        for level in _levels_db(joined[: whole * self._hop], self._hop):
            self._take(float(level))
            if self.state in {"caught", "missed"}:
                break
        return self.state

    def note(self) -> Samples:
        """Return what was caught, with a little before it; all that came in where nothing was. Shape (frames,)."""
        whole = np.concatenate((self._lead, *self._kept))
        if self._begun is None:
            return whole[len(self._lead) :]
        begun, end = (len(self._lead) + hops * self._hop for hops in (self._begun, self._hops))
        return whole[max(0, begun - round(BEFORE_S * self._rate_hz)) : end]

    def _take(self, level_db: float) -> None:
        here = self._hops
        self._hops += 1
        floor_db = float(np.median(self._ambient)) if self._ambient else QUIETEST_DBFS - RISE_DB
        floor_db = min(max(floor_db, QUIETEST_DBFS - RISE_DB), LOUDEST_FLOOR_DBFS)
        if level_db > floor_db + (HOLD_DB if self._begun is not None else RISE_DB):
            self._last_loud = here
            if self._begun is None:
                self._begun, self.state = here, "sounding"
        if self._begun is not None:
            rung_s, quiet_s = (here - self._begun) * HOP_S, (here - self._last_loud) * HOP_S
            if rung_s >= NOTE_S or (quiet_s >= GONE_S and rung_s - quiet_s >= SUSTAIN_S):
                self.state = "caught"
                return
            if quiet_s >= GONE_S:
                self._begun, self.state = None, "waiting"
        if self._begun is None and here >= self._wait_hops:
            self.state = "missed"


def _levels_db(samples: Samples, hop: int) -> NDArray[np.float64]:
    power = np.square(samples, dtype=np.float64).reshape(-1, hop).mean(axis=1)
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-20)))
