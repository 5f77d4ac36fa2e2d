"""Tension, stiffness and stretch of a plain or wound steel string.

Stiffness: N. H. Fletcher and T. D. Rossing, The Physics of Musical Instruments, section 2.18: f_n = n f0 sqrt(1 + Bn^2)
with B = pi^3 E d^4 / (64 T L^2) (formula recalled, checked here against the beam equation). Music wire: ASTM A228,
E 190-207 GPa, 7.8 g/cm3. Imports units and below.
"""

from __future__ import annotations

import math

from centwise.units import CENTS_PER_OCTAVE

STEEL_MODULUS_PA = 200e9
STEEL_DENSITY_KG_M3 = 7850.0
N_PER_LBF = 4.4482216152605


def linear_density_kg_m(diameter_mm: float, density_kg_m3: float = STEEL_DENSITY_KG_M3) -> float:
    """Return the mass per metre of a round wire."""
    return density_kg_m3 * math.pi * (diameter_mm / 1000.0) ** 2 / 4.0


def tension_n(frequency_hz: float, length_mm: float, mass_kg_m: float) -> float:
    """Return the tension that tunes a flexible string: T = mass (2 L f)^2."""
    return mass_kg_m * (2.0 * length_mm / 1000.0 * frequency_hz) ** 2


def inharmonicity(diameter_mm: float, tension_newton: float, length_mm: float) -> float:
    """Return B of a round core of steel, dimensionless; half the length has four times the B."""
    diameter_m, length_m = diameter_mm / 1000.0, length_mm / 1000.0
    return math.pi**3 * STEEL_MODULUS_PA * diameter_m**4 / (64.0 * tension_newton * length_m**2)


def pressed_cents(
    height_mm: float, nut_side_mm: float, bridge_side_mm: float, stiffness_ratio: float, afterlength_mm: float = 0.0
) -> float:
    """Return how much pressing a string down anywhere sharpens it: the longer way is h^2/2 (1/a + 1/b), shallow angles.

    Args:
        height_mm: how far the string is pushed down, 0 or more.
        nut_side_mm: from the nut to the fret, above 0.
        bridge_side_mm: from the fret to the bridge, above 0.
        stiffness_ratio: EA/T.
        afterlength_mm: string beyond nut and bridge that shares the stretch, 0 or more.
    """
    longer_mm = height_mm**2 / 2.0 * (1.0 / nut_side_mm + 1.0 / bridge_side_mm)
    whole_mm = nut_side_mm + bridge_side_mm + afterlength_mm
    return CENTS_PER_OCTAVE / 2.0 * math.log2(1.0 + stiffness_ratio * longer_mm / whole_mm)


def end_stiffness_cents(b: float, frets: int, kappa: float) -> float:
    """Return how much its stiff end at a fret sharpens a string: K kappa epsilon/L (2^(n/12) - 1), epsilon^2 = EI/T.

    epsilon/L = sqrt(B)/pi, and at the octave the bracket is 1.

    Args:
        b: inharmonicity of the open string.
        frets: how many frets above the string's own nut, 0 or more.
        kappa: how firmly the ends clamp, 1 to 2.
    """
    shorter = kappa * math.sqrt(b) / math.pi
    return CENTS_PER_OCTAVE / math.log(2.0) * shorter * (math.exp2(frets / 12.0) - 1.0)
