"""What was done at the bench, act by act, and the comparisons and judgements it shows. Imports strings and below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.bench.acts import Act, Chime, Fret, Move, Retune, Slide

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.strings.bridge import Feet
    from centwise.strings.instrument import Instrument


@dataclass(frozen=True, slots=True)
class Entry:
    """One act as it was done.

    Attributes:
        n: its number.
        act: what was done.
        feet: where the bridge stood before it.
        muted: whether the others were muted before it.
        in_tune: whether every string was at pitch before it.
        done_mm: how far a move really went: + away from the neck, or + toward the treble side.
        truth_cents: of the string that sounded, fretted over harmonic at its octave fret; 0 for other acts.
    """

    n: int
    act: Act
    feet: Feet
    muted: bool
    in_tune: bool
    done_mm: float = 0.0
    truth_cents: float = 0.0


@dataclass(frozen=True, slots=True)
class Comparison:
    """A string's octave note heard against its harmonic, with nothing moved or tuned between them.

    `at` is the place in the log of the entry that completed it.
    """

    at: int
    string: int
    muted: bool
    in_tune: bool
    truth_cents: float


def comparisons(log: Sequence[Entry], instrument: Instrument) -> tuple[Comparison, ...]:
    """Return the comparisons in a log.

    Every octave note after its harmonic is one; so is the first harmonic after octave notes that came alone.
    """
    found = []
    chimed: dict[int, Entry] = {}
    fretted: dict[int, Entry] = {}
    for at, entry in enumerate(log):
        act = entry.act
        if isinstance(act, (Move, Slide, Retune)):
            chimed.clear()
            fretted.clear()
        if not isinstance(act, (Chime, Fret)) or act.fret not in {None, instrument.string(act.string).octave_fret}:
            continue
        mine, other = (chimed, fretted) if isinstance(act, Chime) else (fretted, chimed)
        before = other.get(act.string)
        if before is not None:
            found.append(
                Comparison(
                    at, act.string, entry.muted and before.muted, entry.in_tune and before.in_tune, entry.truth_cents
                )
            )
        if isinstance(act, Chime):
            fretted.pop(act.string, None)
        if isinstance(act, Chime) or before is None:
            mine[act.string] = entry
    return tuple(found)


def last_change(log: Sequence[Entry]) -> int:
    """Return the place in a log of the last move or slide, -1 where there was none."""
    return max((at for at, entry in enumerate(log) if isinstance(entry.act, (Move, Slide))), default=-1)
