"""The bridge on its two feet: where each string rests on it, what moving a foot does, and the margins at the neck.

Along the strings, + is away from the neck; across them, + is toward the treble side. Zero is the nominal scale line and
the middle of the neck. Imports units and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from centwise.strings.geometry import fret_distance_mm
from centwise.units import MM_PER_INCH, cents_between

if TYPE_CHECKING:
    from collections.abc import Mapping

    from centwise.strings.instrument import Instrument

Side = Literal["bass", "treble"]
SIDES: tuple[Side, ...] = ("bass", "treble")

LONGEST_MOVE_MM = MM_PER_INCH / 8
"""A bridge is moved 1/16 in at a time, 1/8 in at most (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Feet:
    """Where the bridge stands.

    Attributes:
        bass_mm: the bass foot, + away from the neck.
        treble_mm: the treble foot.
        side_mm: the whole bridge, + toward the treble side.
    """

    bass_mm: float = 0.0
    treble_mm: float = 0.0
    side_mm: float = 0.0


def move_foot(feet: Feet, side: Side, travel_mm: float) -> Feet:
    """Return the feet after one was moved, the bridge pivoting about the other.

    Args:
        feet: where they stood.
        side: the foot that is pushed.
        travel_mm: how far, + away from the neck.
    """
    if side == "bass":
        return replace(feet, bass_mm=feet.bass_mm + travel_mm)
    return replace(feet, treble_mm=feet.treble_mm + travel_mm)


def slide(feet: Feet, side: Side, travel_mm: float) -> Feet:
    """Return the feet after the bridge was slid toward a side, `travel_mm` above 0."""
    return replace(feet, side_mm=feet.side_mm + (travel_mm if side == "treble" else -travel_mm))


def bridge_place_mm(instrument: Instrument, number: int) -> float:
    """Return how far across a string stands on the bridge, from the bridge's middle, + toward the treble side."""
    instrument.string(number)
    between = max(len(instrument.strings) - 1, 1)
    return instrument.bridge.spacing_mm * (0.5 - (number - 1) / between)


def foot_shares(instrument: Instrument, number: int) -> tuple[float, float]:
    """Return by how much a string's contact follows the bass foot and the treble foot; the two add up to 1.

    With a 70 mm foot span and 42 mm spacing: 0.65 and 0.35 for the 4th string, 0.20 and 0.80 for the 1st.
    """
    treble = 0.5 + bridge_place_mm(instrument, number) / instrument.bridge.foot_span_mm
    return 1.0 - treble, treble


def contact_mm(instrument: Instrument, number: int, feet: Feet) -> float:
    """Return where a string rests on the bridge, on the line between the feet and its own set-back.

    A bridge turned by a slant of a few millimetres is shorter across by less than a thousandth, which is left out.
    """
    bass, treble = foot_shares(instrument, number)
    own = instrument.string(number).compensation_mm if instrument.bridge.kind == "compensated" else 0.0
    return bass * feet.bass_mm + treble * feet.treble_mm + own


def contacts_mm(instrument: Instrument, feet: Feet) -> dict[int, float]:
    """Return every string's contact by its number."""
    return {number: contact_mm(instrument, number, feet) for number in instrument.numbers}


def feet_through(instrument: Instrument, contacts: Mapping[int, float]) -> Feet:
    """Return the feet that bring two strings' contacts where they are wanted.

    Args:
        instrument: its bridge, straight or compensated.
        contacts: two strings by number, each with its contact in millimetres.
    """
    (one, one_mm), (other, other_mm) = contacts.items()
    one_mm, other_mm = (
        wanted - contact_mm(instrument, number, Feet()) for number, wanted in ((one, one_mm), (other, other_mm))
    )
    place, reach = bridge_place_mm(instrument, one), instrument.bridge.foot_span_mm / 2.0
    slope = (other_mm - one_mm) / (bridge_place_mm(instrument, other) - place)
    return Feet(bass_mm=one_mm + slope * (-reach - place), treble_mm=one_mm + slope * (reach - place))


@dataclass(frozen=True, slots=True)
class Margins:
    """From the outer strings to the fingerboard's edges, millimetres; below 0 the string is beyond the edge."""

    bass_mm: float
    treble_mm: float


def string_place_mm(instrument: Instrument, number: int, fret: int, side_mm: float = 0.0) -> float:
    """Return how far across a string runs over a fret, from the neck's middle, the bridge slid by `side_mm`.

    The string turns about its own nut: over fret 12 it moves half as far as the bridge, over fret 22 0.72 as far.
    """
    string = instrument.string(number)
    own_nut_mm = fret_distance_mm(string.start_fret, instrument.scale_mm)
    fret_mm = fret_distance_mm(fret, instrument.scale_mm)
    at_bridge_mm = bridge_place_mm(instrument, number)
    at_nut_mm = at_bridge_mm * instrument.neck.nut_spacing_mm / instrument.bridge.spacing_mm
    along = fret_mm / instrument.scale_mm
    turned = (fret_mm - own_nut_mm) / (instrument.scale_mm - own_nut_mm)
    return at_nut_mm + (at_bridge_mm - at_nut_mm) * along + side_mm * turned


def margins_mm(instrument: Instrument, side_mm: float) -> Margins:
    """Return the margins of the outer strings where the neck is looked at, the bridge slid by `side_mm`."""
    fret, edge_mm = instrument.neck.margin_fret, instrument.neck.width_mm / 2.0
    bass, treble = (
        string_place_mm(instrument, number, fret, side_mm)
        for number in (max(instrument.numbers), min(instrument.numbers))
    )
    return Margins(bass_mm=edge_mm + bass, treble_mm=edge_mm - treble)


def sideways_cents(instrument: Instrument, number: int, side_mm: float) -> float:
    """Return what sliding the bridge changes an open string by; harmonic and fretted note change alike.

    The string gets longer as the hypotenuse over its sideways run; frets and nut stay where they are, so similar
    triangles leave the comparison as it was.
    """
    string = instrument.string(number)
    across_mm = bridge_place_mm(instrument, number)
    nut_mm = across_mm * instrument.neck.nut_spacing_mm / instrument.bridge.spacing_mm
    own_nut = fret_distance_mm(string.start_fret, instrument.scale_mm) / instrument.scale_mm
    run_mm = (across_mm - nut_mm) * (1.0 - own_nut)
    before, after = (math.hypot(string.length_mm, run) for run in (run_mm, run_mm + side_mm))
    return -cents_between(after, before)
