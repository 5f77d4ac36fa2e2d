"""Instruments as records: strings, bridge, neck and the room on the head. The data are TOML, read in `reading`.

Imports model and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from centwise.errors import InputError, UsageError
from centwise.strings.geometry import check_scale_mm
from centwise.strings.physics import STEEL_MODULUS_PA, inharmonicity, tension_n
from centwise.units import cents_between

if TYPE_CHECKING:
    from centwise.model import BridgeKind

SAME_NOTE_CENTS = 1.0


@dataclass(frozen=True, slots=True)
class StringSpec:
    """One string of an instrument.

    Attributes:
        number: as players count it.
        note: its open note, scientific pitch.
        open_hz: its open frequency.
        length_mm: its own open length, from its own nut to the bridge.
        gauge_mm: outer diameter.
        core_mm: diameter of the core that gives stiffness; the gauge itself for plain wire.
        winding: plain or wound.
        start_fret: the fret its own nut stands at, 0 for strings that run to the head.
        octave_fret: where it is fretted to be compared with its harmonic.
        linear_kg_m: mass per metre.
        course: how many strings stand under this number, tuned alike and played as one.
        compensation_mm: how far a compensated bridge sets this string's contact back, + away from the neck.
    """

    number: int
    note: str
    open_hz: float
    length_mm: float
    gauge_mm: float
    core_mm: float
    winding: Literal["plain", "wound"]
    start_fret: int
    octave_fret: int
    linear_kg_m: float
    course: int = 1
    compensation_mm: float = 0.0

    @property
    def octave_hz(self) -> float:
        """The note of the comparison: the octave of the open string."""
        return 2.0 * self.open_hz

    @property
    def tension_n(self) -> float:
        """Tension at pitch, newtons."""
        return tension_n(self.open_hz, self.length_mm, self.linear_kg_m)

    @property
    def inharmonicity(self) -> float:
        """B of the open string."""
        return inharmonicity(self.core_mm, self.tension_n, self.length_mm)

    @property
    def spring_ratio(self) -> float:
        """EA/T of the core: how hard the string resists being stretched."""
        area_m2 = math.pi * self.core_mm**2 / 4e6
        return STEEL_MODULUS_PA * area_m2 / self.tension_n


@dataclass(frozen=True, slots=True)
class Bridge:
    """A free-standing bridge on two feet.

    Attributes:
        kind: straight, all strings in one line, or compensated, each string's contact set back by its own amount.
        foot_span_mm: from the middle of the bass foot to the middle of the treble foot.
        spacing_mm: from outer string to outer string (course to course); those between stand evenly.
    """

    kind: BridgeKind
    foot_span_mm: float
    spacing_mm: float


@dataclass(frozen=True, slots=True)
class Neck:
    """The fingerboard under the strings, its middle line being the bridge's when the strings are centred.

    Attributes:
        frets: how many there are.
        nut_spacing_mm: from outer string to outer string where their lines meet the nut; a string with a nut of its own
            counts by its line drawn on.
        margin_fret: where the strings' distances from the edges are looked at.
        width_mm: of the fingerboard there.
    """

    frets: int
    nut_spacing_mm: float
    margin_fret: int
    width_mm: float


@dataclass(frozen=True, slots=True)
class Top:
    """How much room a foot has on the head or top, counted from where it is found, millimetres."""

    forward_mm: float
    back_mm: float
    side_mm: float


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument with a free-standing bridge.

    Attributes:
        name: what it is chosen by.
        title: what it is called in a sentence, without an article.
        scale_mm: nominal scale length S, twice the way from nut to 12th fret.
        strings: by number, from 1 on the treble side to the last on the bass side; a course counts once.
        action_bass_mm: height of the bass-most string over its octave fret.
        action_treble_mm: the same of the 1st string; those between have theirs by their place.
        afterlength_mm: string beyond nut and bridge that shares the stretch of a pressed string.
        bridge: its feet and the strings on it.
        neck: frets and fingerboard.
        top: room for the feet.
    """

    name: str
    title: str
    scale_mm: float
    strings: tuple[StringSpec, ...]
    action_bass_mm: float
    action_treble_mm: float
    afterlength_mm: float
    bridge: Bridge
    neck: Neck
    top: Top

    @property
    def numbers(self) -> tuple[int, ...]:
        """The strings' numbers, from 1 up."""
        return tuple(spec.number for spec in self.strings)

    @property
    def bass_string(self) -> int:
        """The string that sets the bass side: the bass-most one that runs the whole length (common practice)."""
        return max(spec.number for spec in self.strings if spec.start_fret == 0)

    @property
    def treble_string(self) -> int:
        """The string that sets the treble side (common practice)."""
        return min(spec.number for spec in self.strings if spec.start_fret == 0)

    @property
    def side_strings(self) -> tuple[int, int]:
        """The strings that set the bass side and the treble side."""
        return self.bass_string, self.treble_string

    def string(self, number: int) -> StringSpec:
        """Return a string by its number, or raise UsageError naming the numbers there are."""
        for spec in self.strings:
            if spec.number == number:
                return spec
        low, high = min(self.numbers), max(self.numbers)
        raise UsageError(f"the {self.title} has no string {number}", f"choose one from {low} to {high}")

    def check_note(self, number: int, octave_hz: float) -> None:
        """Refuse a string that is tuned otherwise than it was in an earlier block.

        Args:
            number: the string.
            octave_hz: the note of the comparison then.

        Raises:
            InputError: the two are more than a cent apart: blocks on either would be taken for blocks on one string.
        """
        string = self.string(number)
        if abs(cents_between(string.octave_hz, octave_hz)) > SAME_NOTE_CENTS:
            raise InputError(
                f"string {number} of {self.name!r} was tuned to {octave_hz / 2.0:.1f} Hz in earlier blocks, "
                f"now it is {string.open_hz:.1f} Hz",
                "give the changed instrument a file name of its own, so that the two are not taken for one another",
            )

    def with_scale(self, scale_mm: float) -> Instrument:
        """Return the same instrument at another scale length: same pitches and wire, so other tensions."""
        factor = check_scale_mm(scale_mm) / self.scale_mm
        strings = tuple(replace(spec, length_mm=spec.length_mm * factor) for spec in self.strings)
        return replace(self, scale_mm=scale_mm, strings=strings)

    def with_bridge(self, kind: BridgeKind) -> Instrument:
        """Return the same instrument with a bridge of that kind."""
        return replace(self, bridge=replace(self.bridge, kind=kind))
