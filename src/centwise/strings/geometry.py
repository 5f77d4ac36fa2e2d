"""The exact law between cents and bridge travel, and where the frets lie.

With S the nominal scale length, the 12th fret at S/2 and the bridge at S + d (d > 0 away from the neck), the touched
harmonic is mode 2 of the open string, c/(S+d), and the fretted note is c/(2(S/2+d)); so
cents(fretted - harmonic) = -1200 log2((S+2d)/(S+d)). Derived here; rederived numerically in the tests.
Imports model and below.
"""

from __future__ import annotations

import math

from centwise.errors import UsageError
from centwise.model import Direction, Travel, direction_of, judgement_of
from centwise.units import CENTS_PER_OCTAVE, nearest_64ths

MIN_SCALE_MM = 200.0
MAX_SCALE_MM = 1500.0


def check_scale_mm(scale_mm: float) -> float:
    """Return `scale_mm` if a fretted instrument can have it (200 to 1500 mm), else raise UsageError."""
    if not MIN_SCALE_MM <= scale_mm <= MAX_SCALE_MM:
        raise UsageError(
            f"a scale length of {scale_mm:.10g} mm is outside {MIN_SCALE_MM:g} to {MAX_SCALE_MM:g} mm",
            "measure from the nut to the 12th fret and double it, for example --scale 26.25in",
        )
    return scale_mm


def cents_at_bridge(offset_mm: float, scale_mm: float) -> float:
    """Return the fretted note's cents over the harmonic for a bridge `offset_mm` away from its place.

    Args:
        offset_mm: + away from the neck, - toward it; above -scale_mm/2.
        scale_mm: the string's own nominal length S, above 0.
    """
    return -CENTS_PER_OCTAVE * math.log2((scale_mm + 2.0 * offset_mm) / (scale_mm + offset_mm))


def fret_cents_at_bridge(offset_mm: float, scale_mm: float, frets: int) -> float:
    """Return how far a fretted note lies from its place over the open string, for a bridge away from its place.

    With the fret at S(1 - 2^(-n/12)) and the bridge at S + d: 1200 log2((S+d)/(S 2^(-n/12) + d)) - 100 n; at the 12th
    fret the same as `cents_at_bridge`.

    Args:
        offset_mm: as there; the bridge stays beyond the fret.
        scale_mm: as there.
        frets: n, how many frets above the string's own nut, 0 or more.
    """
    sounding_mm = scale_mm * math.exp2(-frets / 12.0)
    whole = (scale_mm + offset_mm) / (sounding_mm + offset_mm)
    return CENTS_PER_OCTAVE * math.log2(whole) - 100.0 * frets


def retuning_cents(from_mm: float, to_mm: float, scale_mm: float) -> float:
    """Return what an open string changes by when its contact moves at constant tension: -2.595 c for 1 mm back.

    Args:
        from_mm: offset of the contact before, + away from the neck.
        to_mm: after.
        scale_mm: the string's own nominal length S, above 0.
    """
    return -CENTS_PER_OCTAVE * math.log2((scale_mm + to_mm) / (scale_mm + from_mm))


def bridge_offset_mm(cents: float, scale_mm: float) -> float:
    """Return how far from its place the bridge stands, the exact inverse: S(r-1)/(2-r) with r = 2^(-cents/1200).

    Args:
        cents: the fretted note over the harmonic, within -1200 and 1200.
        scale_mm: the string's own nominal length S, above 0.

    Returns:
        Millimetres, + away from the neck (the fretted note is flat), - toward it.
    """
    ratio = math.exp2(-cents / CENTS_PER_OCTAVE)
    return scale_mm * (ratio - 1.0) / (2.0 - ratio)


def travel_for(cents: float, scale_mm: float) -> Travel:
    """Return the move that brings a note heard `cents` off into unison: flat, forward; sharp, back."""
    offset_mm = bridge_offset_mm(cents, scale_mm)
    direction: Direction = direction_of(judgement_of(cents))
    return Travel(travel_mm=abs(offset_mm), sixty_fourths=abs(nearest_64ths(offset_mm)), direction=direction)


def fret_distance_mm(fret: int, scale_mm: float) -> float:
    """Return the distance from the nut to a fret in twelve-tone equal temperament, S(1 - 2^(-n/12))."""
    return scale_mm * (1.0 - math.exp2(-fret / 12.0))
