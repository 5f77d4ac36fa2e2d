"""The order of the trade: which of its points a rehearsal kept, each with its reason (common practice, no source).

Imports strings and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.bench.acts import Look, Move, Slide
from centwise.bench.log import last_change
from centwise.model import OrderPoint
from centwise.strings.bridge import LONGEST_MOVE_MM, margins_mm
from centwise.strings.geometry import cents_at_bridge
from centwise.units import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.bench.log import Comparison, Entry
    from centwise.strings.bridge import Feet
    from centwise.strings.instrument import Instrument

RECHECK_MM = MM_PER_INCH / 32
"""The longest move that still counts as touching up what centring turned (judgement): a slide turns each foot by a
tenth of its way."""
EVEN_MM = 0.8
"""Margins closer than this look even (judgement: what an eye without a rule tells)."""

MUTED = "muted"
RETUNED = "retuned"
BASS_FIRST = "bass first"
TREBLE_NEXT = "treble next"
BASS_AGAIN = "bass again"
SMALL_MOVES = "small moves"
CENTRED_LAST = "centred last"
RECHECKED = "rechecked"

REASONS = {
    MUTED: "strings left free ring along and beat with the one you listen to, so mute the others before you compare",
    RETUNED: "a move takes every string off pitch, and at another tension a string frets otherwise, so retune before "
    "you compare",
    BASS_FIRST: "the {bass} string sets the bass side, and the other side is heard against a side that stands",
    TREBLE_NEXT: "the {treble} string sets the treble side, and a foot is moved by what its own string says",
    BASS_AGAIN: "moving the treble foot turns the bridge about the bass foot and takes the {bass} string along, so the "
    "bass side is heard again",
    SMALL_MOVES: "an eighth of an inch is {eighth:.0f} cents here: a longer move goes past the place "
    "and can tip the bridge",
    CENTRED_LAST: "the margins hardly change a note, but sliding turns the bridge a little, so it waits until both "
    "sides stand, is done until they look even, and leaves no foot more than 1/32 in to go",
    RECHECKED: "the last move or slide can have turned the bridge, so both outer strings are heard once more before "
    "the mark",
}


def reason_of(point: str, instrument: Instrument) -> str:
    """Return why a point of the order matters, in one sentence."""
    text = REASONS[point].format(
        bass=_ordinal(instrument.bass_string),
        treble=_ordinal(instrument.treble_string),
        eighth=cents_at_bridge(-LONGEST_MOVE_MM, instrument.scale_mm),
    )
    return f"{text[:1].upper()}{text[1:]}."


def looks_even(instrument: Instrument, feet: Feet) -> bool:
    """Return whether the margins look as they do with the bridge in the middle, as anybody can see them."""
    margins, middle = (margins_mm(instrument, side_mm) for side_mm in (feet.side_mm, 0.0))
    return abs((margins.bass_mm - margins.treble_mm) - (middle.bass_mm - middle.treble_mm)) <= EVEN_MM


def order_points(
    instrument: Instrument, feet: Feet, log: Sequence[Entry], compared: Sequence[Comparison]
) -> tuple[OrderPoint, ...]:
    """Return the points of the order, kept or not; whoever compared nothing kept at most the small moves.

    Args:
        instrument: what was set.
        feet: where the bridge was marked.
        log: what was done.
        compared: the comparisons in it.
    """
    bass, treble = instrument.side_strings
    foot_moves = {at: entry.act for at, entry in enumerate(log) if isinstance(entry.act, Move)}
    slides = [at for at, entry in enumerate(log) if isinstance(entry.act, Slide)]
    looks = [at for at, entry in enumerate(log) if isinstance(entry.act, (Slide, Look))]
    treble_moves = [at for at, move in foot_moves.items() if move.side == "treble"]
    of_bass = [comparison.at for comparison in compared if comparison.string == bass]
    of_treble = [comparison.at for comparison in compared if comparison.string == treble]
    first_treble = min([*of_treble, *treble_moves], default=None)
    last_treble = max(treble_moves, default=first_treble)
    again = [at for at in of_bass if last_treble is not None and at > last_treble]
    both_heard = [at for at in of_bass if first_treble is not None and at > first_treble]
    changed = last_change(log)
    kept = {
        MUTED: bool(compared) and all(comparison.muted for comparison in compared),
        RETUNED: bool(compared) and all(comparison.in_tune for comparison in compared),
        BASS_FIRST: bool(of_bass) and all(of_bass[0] < at for at in (*foot_moves, *of_treble)),
        TREBLE_NEXT: bool(of_treble) and _by_own_string(log, compared, {"bass": bass, "treble": treble}),
        BASS_AGAIN: bool(again),
        SMALL_MOVES: all(move.amount_mm <= LONGEST_MOVE_MM * 1.001 for move in foot_moves.values()),
        CENTRED_LAST: bool(both_heard)
        and any(at > both_heard[0] for at in looks)
        and looks_even(instrument, feet)
        and all(at > both_heard[0] for at in slides[:1])
        and all(move.amount_mm <= RECHECK_MM * 1.001 for at, move in foot_moves.items() if slides and at > slides[0]),
        RECHECKED: any(at > changed for at in of_bass) and any(at > changed for at in of_treble),
    }
    return tuple(OrderPoint(point, kept[point], reason_of(point, instrument)) for point in REASONS)


def _by_own_string(log: Sequence[Entry], compared: Sequence[Comparison], own: dict[str, int]) -> bool:
    """Return whether every foot was moved by what its own string said last, with nothing moved in between."""
    since = -1
    for at, entry in enumerate(log):
        if isinstance(entry.act, Move):
            fresh = [comparison for comparison in compared if since < comparison.at < at]
            if not fresh or fresh[-1].string != own[entry.act.side]:
                return False
        if isinstance(entry.act, (Move, Slide)):
            since = at
    return True


def _ordinal(number: int) -> str:
    return f"{number}{_ENDINGS.get(number, 'th')}"


_ENDINGS = {1: "st", 2: "nd", 3: "rd"}
