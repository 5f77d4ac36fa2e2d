"""Cents, hertz, millimetres and inches: conversions and their spellings. Standard library only.

Sources: the cent is 1/1200 of an octave (common to every text on tuning); A4 = 440 Hz (ISO 16:1975);
1 in = 25.4 mm (international inch, 1959). Imports errors and below.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction

from centwise.errors import UsageError

MM_PER_INCH = 25.4
CENTS_PER_OCTAVE = 1200.0
A4_HZ = 440.0
A4_MIDI = 69

_LENGTH = re.compile(
    r"""\s*(?:
        (?P<decimal>\d+(?:\.\d*)?|\.\d+)
        |(?:(?P<whole>\d{1,6})[\s-]+)?(?P<top>\d{1,6})\s*/\s*(?P<bottom>\d{1,6})
    )\s*(?P<unit>mm|cm|in|inch|inches|")\s*""",
    re.VERBOSE,
)


def cents_between(frequency_hz: float, reference_hz: float) -> float:
    """Return how far `frequency_hz` lies above `reference_hz`, in cents; both above 0 Hz."""
    return CENTS_PER_OCTAVE * math.log2(frequency_hz / reference_hz)


def ratio_from_cents(cents: float) -> float:
    """Return the frequency ratio of an interval in cents, 2^(cents/1200)."""
    return math.exp2(cents / CENTS_PER_OCTAVE)


def note_hz(midi: float) -> float:
    """Return the frequency of a MIDI note number in twelve-tone equal temperament, A4 = 440 Hz (ISO 16:1975)."""
    return A4_HZ * math.exp2((midi - A4_MIDI) / 12.0)


def parse_length_mm(text: str) -> float:
    """Read a length with its unit: `26.25in`, `667mm`, `26 1/4in`, `1/16 in`.

    Args:
        text: a number, a fraction or a whole number and a fraction, then mm, cm, in or ".

    Returns:
        The length in millimetres, above 0.

    Raises:
        UsageError: the text is no such length.
    """
    match = _LENGTH.fullmatch(text)
    if match is None or (match["bottom"] is not None and int(match["bottom"]) == 0):
        raise UsageError(f"{text!r} is not a length", "write one with its unit, such as 26.25in, 26 1/4in or 667mm")
    if match["decimal"] is not None:
        number = float(match["decimal"])
    else:
        number = float(Fraction(int(match["whole"] or 0)) + Fraction(int(match["top"]), int(match["bottom"])))
    millimetres = number * {"mm": 1.0, "cm": 10.0}.get(match["unit"], MM_PER_INCH)
    if not 0.0 < millimetres < math.inf:
        raise UsageError(f"{text!r} is not a length above zero", "write one such as 26.25in or 667mm")
    return millimetres


def number_text(value: float) -> str:
    """Write a number as short as it can be without being mistaken for another: `-100.0001`, `120`, `0.1`."""
    return repr(float(value)).removesuffix(".0")


def nearest_64ths(length_mm: float) -> int:
    """Return the length in whole 64ths of an inch, the nearest, ties away from zero."""
    sixty_fourths = abs(length_mm) / MM_PER_INCH * 64.0
    return int(math.copysign(math.floor(sixty_fourths + 0.5), length_mm))


def inches_64ths_text(sixty_fourths: int) -> str:
    """Write a count of 64ths of an inch as the ruler says it: `3/64 in`, `1/16 in`, `1 1/8 in`, `0 in`."""
    whole, rest = divmod(abs(sixty_fourths), 64)
    sign = "-" if sixty_fourths < 0 else ""
    parts = [str(whole)] if whole or not rest else []
    if rest:
        fraction = Fraction(rest, 64)
        parts.append(f"{fraction.numerator}/{fraction.denominator}")
    return f"{sign}{' '.join(parts)} in"


def counted(number: int, what: str) -> str:
    """Write how many there are of something whose plural takes an s: `1 pair`, `0 pairs`, `1,000 pairs`."""
    return f"{number:,} {what}{'' if number == 1 else 's'}"
