"""The fretted note of a string against its harmonic: geometry, stretch, stiffness and the string's own quirk.

A fretted note is compared with the harmonic at the octave; at another fret with that harmonic taken to the fret's place
in twelve-tone equal temperament, so one figure means the same at every fret. Cents, + sharp. Imports units and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.errors import UsageError
from centwise.strings.bridge import bridge_place_mm
from centwise.strings.geometry import bridge_offset_mm, fret_cents_at_bridge
from centwise.strings.physics import end_stiffness_cents, pressed_cents
from centwise.units import ratio_from_cents

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument, StringSpec

END_KAPPA = 1.07
"""How firmly fret and bridge clamp a stiff string, between 1 and 2: chosen so that the stated sums come out."""
QUIRK_SD_CENTS = 1.5
"""Standard deviation of what one string of one instrument has on top (bridge reactance, fret wear): a model."""
NEAR_A_NODE = 0.006
"""A fingertip over a fret touches a node that lies within this share of the string (judgement: 4 mm at 26 in)."""
MOST_TOUCHED_MODE = 6


def frets_above_nut(instrument: Instrument, string: StringSpec, fret: int | None = None) -> int:
    """Return how many frets a fret lies above the string's own nut; None stands for the octave fret.

    Raises:
        UsageError: the instrument has no such fret under that string.
    """
    wanted = string.octave_fret if fret is None else fret
    if not string.start_fret < wanted <= instrument.neck.frets:
        raise UsageError(
            f"string {string.number} of the {instrument.title} has no fret {wanted}",
            f"choose one from {string.start_fret + 1} to {instrument.neck.frets}",
        )
    return wanted - string.start_fret


def press_height_mm(instrument: Instrument, number: int, fret: int | None = None, *, nut_rise_mm: float = 0.0) -> float:
    """Return how far a string is pressed down at a fret: its action there.

    The action is that of the octave fret by the string's place between the sides, growing evenly from the string's nut.

    Args:
        instrument: its action at both sides.
        number: the string.
        fret: as players count frets; None for the octave fret.
        nut_rise_mm: how much too high the string's own nut stands.
    """
    string = instrument.string(number)
    treble_share = bridge_place_mm(instrument, number) / instrument.bridge.spacing_mm + 0.5
    octave_mm = instrument.action_bass_mm + treble_share * (instrument.action_treble_mm - instrument.action_bass_mm)
    way = 1.0 - math.exp2(-frets_above_nut(instrument, string, fret) / 12.0)
    return 2.0 * octave_mm * way + nut_rise_mm * (1.0 - way)


def pressing_cents(instrument: Instrument, number: int, fret: int | None = None, *, nut_rise_mm: float = 0.0) -> float:
    """Return what stretch and stiffness add to a fretted note, wherever the bridge stands.

    The arguments are those of `press_height_mm`.
    """
    string = instrument.string(number)
    frets = frets_above_nut(instrument, string, fret)
    sounding_mm = string.length_mm * math.exp2(-frets / 12.0)
    stretch = pressed_cents(
        press_height_mm(instrument, number, fret, nut_rise_mm=nut_rise_mm),
        string.length_mm - sounding_mm,
        sounding_mm,
        string.spring_ratio,
        instrument.afterlength_mm,
    )
    return stretch + end_stiffness_cents(string.inharmonicity, frets, END_KAPPA)


def fretted_cents_over_harmonic(
    instrument: Instrument,
    number: int,
    contact_mm: float,
    *,
    fret: int | None = None,
    quirk_cents: float = 0.0,
    nut_rise_mm: float = 0.0,
) -> float:
    """Return a fretted note's cents over the harmonic, by the exact law of lengths and what pressing adds.

    Args:
        instrument: whose string it is.
        number: the string.
        contact_mm: where it rests on the bridge: offset from its nominal length, + away from the neck.
        fret: as players count frets; None for the octave fret (17 for the 5th string of a five-string).
        quirk_cents: what this string has on top.
        nut_rise_mm: how much too high its own nut stands.

    Raises:
        UsageError: no such string or fret.
    """
    string = instrument.string(number)
    frets = frets_above_nut(instrument, string, fret)
    lengths = fret_cents_at_bridge(contact_mm, string.length_mm, frets)
    return lengths + pressing_cents(instrument, number, fret, nut_rise_mm=nut_rise_mm) + quirk_cents


def null_contact_mm(instrument: Instrument, number: int, *, quirk_cents: float = 0.0) -> float:
    """Return where a string must rest on the bridge for harmonic and fretted note to agree at the octave fret."""
    added = pressing_cents(instrument, number) + quirk_cents
    return bridge_offset_mm(-added, instrument.string(number).length_mm)


def fretted_hz(instrument: Instrument, number: int, cents: float, *, fret: int | None = None) -> float:
    """Return the frequency of a fretted note `cents` from its place, the open string being in tune."""
    string = instrument.string(number)
    return string.open_hz * ratio_from_cents(100.0 * frets_above_nut(instrument, string, fret) + cents)


def touched_mode(instrument: Instrument, number: int, fret: int | None = None) -> int | None:
    """Return which mode of the open string rings when it is touched over a fret; None where no node is near.

    The 5th string of a five-string touched over fret 12 is touched at a third of its length: it rings its 3rd mode.
    """
    string = instrument.string(number)
    way = 1.0 - math.exp2(-frets_above_nut(instrument, string, fret) / 12.0)
    for mode in range(2, MOST_TOUCHED_MODE + 1):
        if abs(way - round(way * mode) / mode) < NEAR_A_NODE and 0 < round(way * mode) < mode:
            return mode
    return None
