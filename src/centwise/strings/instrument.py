"""Instruments as data: the five-string banjo in open G (g D G B D).

Pitches from ISO 16:1975 and twelve-tone equal temperament; gauges are those of a light set (common practice, no
source); B and EA/T of plain strings follow from physics, those of the wound 4th are stated values.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from centwise.errors import UsageError
from centwise.model import DEFAULT_SCALE_MM
from centwise.strings.geometry import check_scale_mm
from centwise.strings.physics import (
    STEEL_DENSITY_KG_M3,
    STEEL_MODULUS_PA,
    inharmonicity,
    linear_density_kg_m,
    tension_n,
)
from centwise.units import note_hz

BridgeKind = Literal["straight", "compensated"]
BRIDGE_KINDS: tuple[BridgeKind, ...] = ("straight", "compensated")


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
    """How much room a foot has on the head or top, counted from its true place, millimetres."""

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

    def string(self, number: int) -> StringSpec:
        """Return a string by its number, or raise UsageError naming the numbers there are."""
        for spec in self.strings:
            if spec.number == number:
                return spec
        numbers = sorted(spec.number for spec in self.strings)
        raise UsageError(f"the {self.title} has no string {number}", f"choose one from {numbers[0]} to {numbers[-1]}")

    def with_scale(self, scale_mm: float) -> Instrument:
        """Return the same instrument at another scale length: same pitches and wire, so other tensions."""
        factor = check_scale_mm(scale_mm) / self.scale_mm
        strings = tuple(replace(spec, length_mm=spec.length_mm * factor) for spec in self.strings)
        return replace(self, scale_mm=scale_mm, strings=strings)

    def with_bridge(self, kind: BridgeKind) -> Instrument:
        """Return the same instrument with a bridge of that kind."""
        return replace(self, bridge=replace(self.bridge, kind=kind))


_INCH = 25.4
_WOUND_4TH_DENSITY = 0.923  # share of solid steel that a .020 wound string weighs, for 56 N at pitch
_WOUND_4TH_CORE_IN = 0.0110  # gives EA/T 218 and B 2.4e-5, taken from the same stated values


def _string(
    number: int,
    note: str,
    midi: int,
    gauge_in: float,
    *,
    start_fret: int = 0,
    core_in: float | None = None,
    compensation_mm: float = 0.0,
) -> StringSpec:
    gauge_mm = gauge_in * _INCH
    density = STEEL_DENSITY_KG_M3 * (_WOUND_4TH_DENSITY if core_in else 1.0)
    return StringSpec(
        number=number,
        note=note,
        open_hz=note_hz(midi),
        length_mm=DEFAULT_SCALE_MM * math.exp2(-start_fret / 12.0),
        gauge_mm=gauge_mm,
        core_mm=core_in * _INCH if core_in else gauge_mm,
        winding="wound" if core_in else "plain",
        start_fret=start_fret,
        octave_fret=12 + start_fret,
        linear_kg_m=linear_density_kg_m(gauge_mm, density),
        compensation_mm=compensation_mm,
    )


FIVE_STRING = Instrument(
    name="five-string",
    title="five-string banjo",
    scale_mm=DEFAULT_SCALE_MM,
    strings=(
        _string(1, "D4", 62, 0.010),
        _string(2, "B3", 59, 0.011, compensation_mm=0.8),
        _string(3, "G3", 55, 0.013, compensation_mm=2.5),
        _string(4, "D3", 50, 0.020, core_in=_WOUND_4TH_CORE_IN),
        _string(5, "G4", 67, 0.010, start_fret=5),
    ),
    # Spacing, action, fingerboard and room are those of usual instruments (common practice, no source).
    action_bass_mm=3.2,
    action_treble_mm=3.2,
    afterlength_mm=155.0,
    bridge=Bridge(kind="straight", foot_span_mm=70.0, spacing_mm=42.0),
    neck=Neck(frets=22, nut_spacing_mm=32.0, margin_fret=22, width_mm=47.0),
    top=Top(forward_mm=60.0, back_mm=60.0, side_mm=40.0),
)

INSTRUMENTS: dict[str, Instrument] = {FIVE_STRING.name: FIVE_STRING}


def instrument_named(name: str) -> Instrument:
    """Return an instrument by its name, or raise UsageError naming those there are."""
    try:
        return INSTRUMENTS[name]
    except KeyError:
        known = ", ".join(sorted(INSTRUMENTS))
        raise UsageError(f"there is no instrument named {name!r}", f"choose one of: {known}") from None
