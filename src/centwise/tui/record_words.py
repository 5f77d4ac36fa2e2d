"""What the recording screen says and draws, as text; each line fits 56 columns. Standard library only."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.model import Tone
    from centwise.takes.session import Judged

LISTENING = "See that the level moves when you pluck; then begin."
MONITOR = "That is what this computer plays, not a microphone; begin if you mean it."
OPENING = "One moment: the microphone is being opened."
STAYS = "What was recorded is kept."
ALL_KEPT = "All takes are kept. Judge them by ear, or see the meter."
METER_TWICE = "Your ear first? ‹by-ear› judges them, then the meter tells. ‹meter› once more shows it now."
NOT_ONE = "No take is whole: nothing to measure yet."
METER_CELLS = 24
METER_FLOOR_DB = -60.0
FALL_DB_PER_S = 8.0
QUIET_DB, LOUD_DB = -40.0, -3.0
"""Between these the level of a plucked note is good (judgement)."""
NAMES: dict[Tone, str] = {"harmonic": "harmonic", "fretted": "fretted note"}


def meter_text(level_dbfs: float, held_dbfs: float) -> str:
    """Draw the level of the microphone; beside it the loudest of the last moments, with a word about that."""
    share = (max(level_dbfs, METER_FLOOR_DB) - METER_FLOOR_DB) / -METER_FLOOR_DB
    filled = min(round(share * METER_CELLS), METER_CELLS)
    bar = "▮" * filled + "▯" * (METER_CELLS - filled)
    if held_dbfs == -math.inf:
        return f"Level {bar}  nothing"
    word = "quiet" if held_dbfs < QUIET_DB else "too loud" if held_dbfs > LOUD_DB else "good"
    return f"Level {bar} {held_dbfs:4.0f} dB  {word}"


def held_level(held_dbfs: float, level_dbfs: float, seconds: float) -> float:
    """Return the loudest level as it is held: it falls slowly, so that an eye can read it."""
    fallen = held_dbfs - FALL_DB_PER_S * seconds
    return level_dbfs if fallen < METER_FLOOR_DB else max(level_dbfs, fallen)


def count_text(left: int) -> str:
    """Say how many beats are left, each in its place."""
    return "   ".join(str(number) if number == left else "·" for number in (3, 2, 1)) + "   pluck"


PLUCK = "·   ·   ·   ▶ PLUCK, and let it ring"
SOUNDING = "·   ·   ·   ● it sounds, let it ring"


def rows_text(takes: int, judged: Sequence[Judged], asked: tuple[int, Tone] | None) -> str:
    """Show each take's two notes: good, wanted now, or still to come."""
    good = {(one.asked.take, one.asked.tone) for one in judged if one.quality.good}

    def mark(take: int, tone: Tone) -> str:
        if (take, tone) in good:
            return f"● {NAMES[tone]} good"
        if asked == (take, tone):
            return f"▶ {NAMES[tone]} now"
        return f"○ {NAMES[tone]}"

    first = max(1, min((asked[0] if asked is not None else 1) - 1, takes - 3))
    return "\n".join(
        f"Take {take}   {mark(take, 'harmonic'):<18} {mark(take, 'fretted')}"
        for take in range(first, min(first + 4, takes + 1))
    )
