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
class Instrument:
    """An instrument with a free-standing bridge."""

    name: str
    title: str
    scale_mm: float
    strings: tuple[StringSpec, ...]

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


_INCH = 25.4
_WOUND_4TH_DENSITY = 0.923  # share of solid steel that a .020 wound string weighs, for 56 N at pitch
_WOUND_4TH_CORE_IN = 0.0110  # gives EA/T 218 and B 2.4e-5, taken from the same stated values


def _string(
    number: int, note: str, midi: int, gauge_in: float, *, start_fret: int = 0, core_in: float | None = None
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
    )


FIVE_STRING = Instrument(
    name="five-string",
    title="five-string banjo",
    scale_mm=DEFAULT_SCALE_MM,
    strings=(
        _string(1, "D4", 62, 0.010),
        _string(2, "B3", 59, 0.011),
        _string(3, "G3", 55, 0.013),
        _string(4, "D3", 50, 0.020, core_in=_WOUND_4TH_CORE_IN),
        _string(5, "G4", 67, 0.010, start_fret=5),
    ),
)

INSTRUMENTS: dict[str, Instrument] = {FIVE_STRING.name: FIVE_STRING}


def instrument_named(name: str) -> Instrument:
    """Return an instrument by its name, or raise UsageError naming those there are."""
    try:
        return INSTRUMENTS[name]
    except KeyError:
        known = ", ".join(sorted(INSTRUMENTS))
        raise UsageError(f"there is no instrument named {name!r}", f"choose one of: {known}") from None
