"""Where notes begin and end in a recording: by the sudden rise of its level.

Imports numpy and nothing outside its package.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.pitch.records import RefusedNoteError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.pitch.intake import Recording

HOP_S = 0.005
BEFORE_HOPS = 40
"""So long, 200 ms, that a beat's silence is not taken for the silence before a pluck."""
GAP_HOPS = 2
PEAK_HOPS = 12
AFTER_HOPS = 6
RISE_DB = 9.0
"""A pluck lifts the level over what rang before it by so much within 30 ms (judgement)."""
APART_S = 0.12
QUIETEST_DB = 35.0
"""What rises this far below the loudest note is no note (judgement)."""
UNDER_PERCENT = 10.0
CUT_INTO_DB = 12.0
"""A recording that begins so near its loudest begins with a note (judgement)."""
SILENCE_DBFS = -75.0
"""A recording whose loudest 30 ms stay below this holds no note (judgement)."""
FADED_DB = 55.0
LEAD_S = 0.02
"""A note ends so long before the next begins."""
LONGEST_S = 4.0
"""A banjo's note has gone by then."""


@dataclass(frozen=True, slots=True)
class NoteSpan:
    """One sudden sound: from its attack to the next one, or until it has faded; seconds from the recording's start."""

    start_s: float
    end_s: float


def find_notes(recording: Recording) -> tuple[NoteSpan, ...]:
    """Return what begins suddenly in a recording, in order; knocks are among it.

    Raises:
        RefusedNoteError: the recording is silent.
    """
    level_db = _levels_db(recording.samples, recording.rate_hz)
    after = _mean_db(level_db, AFTER_HOPS)
    loudest_db = float(after.max())
    if loudest_db < SILENCE_DBFS:
        raise RefusedNoteError(
            "silent",
            f"{recording.name} is silent",
            "check the microphone and its level, then record harmonic and fretted note",
        )
    floor_db = loudest_db - 2.0 * QUIETEST_DB
    # Before the recording there was what lies under its notes: its first noise is no note, and a cut attack is one.
    cut_into = after[0] > loudest_db - CUT_INTO_DB
    under_db = floor_db if cut_into else max(floor_db, float(np.percentile(level_db, UNDER_PERCENT)))
    padded = np.concatenate((np.full(BEFORE_HOPS + GAP_HOPS, under_db), np.maximum(level_db, floor_db)))
    before = _mean_db(padded, BEFORE_HOPS)[: after.size]
    rise = np.where(after > loudest_db - QUIETEST_DB, after - before, 0.0)
    starts = _summits(rise, round(APART_S / HOP_S))
    spans = []
    for place, start in enumerate(starts):
        stop = starts[place + 1] - round(LEAD_S / HOP_S) if place + 1 < len(starts) else level_db.size
        stop = min(stop, start + round(LONGEST_S / HOP_S))
        peak_db = float(level_db[start : start + PEAK_HOPS].max())
        faded = np.flatnonzero(level_db[start + PEAK_HOPS : stop] < peak_db - FADED_DB)
        if faded.size:
            stop = start + PEAK_HOPS + int(faded[0])
        spans.append(NoteSpan(start * HOP_S, min(stop * HOP_S, recording.duration_s)))
    return tuple(spans)


def _levels_db(samples: NDArray[np.float32], rate_hz: float) -> NDArray[np.float64]:
    """Return the level of every 5 ms, without the mean, in decibels of full scale."""
    edges = np.round(np.arange(0, int(len(samples) / rate_hz / HOP_S) + 1) * HOP_S * rate_hz).astype(np.intp)
    if edges.size < AFTER_HOPS + 1:
        return np.full(AFTER_HOPS, -200.0)
    # A difference instead of a high-pass: handling noise and hum lose 20 dB to a tone ten times as high.
    steps = np.diff(samples, prepend=samples[:1]).astype(np.float64) * (rate_hz / (2.0 * np.pi * 1000.0))
    power = np.add.reduceat(np.square(steps[: edges[-1]]), edges[:-1]) / np.diff(edges)
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-20)))


def _mean_db(level_db: NDArray[np.float64], hops: int) -> NDArray[np.float64]:
    """Return the level of `hops` together, from each on."""
    total = np.concatenate(([0.0], np.cumsum(10.0 ** (level_db / 10.0))))
    return np.asarray(10.0 * np.log10(np.maximum(total[hops:] - total[:-hops], 1e-20) / hops))


def _summits(rise: NDArray[np.float64], apart: int) -> list[int]:
    """Return where the rise is steepest, no two within `apart`."""
    found: list[int] = []
    for place in np.flatnonzero(rise >= RISE_DB):
        if found and place - found[-1] <= apart:
            if rise[place] > rise[found[-1]]:
                found[-1] = int(place)
        else:
            found.append(int(place))
    return found
