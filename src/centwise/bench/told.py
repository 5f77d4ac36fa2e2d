"""What is said at the bench, in whole sentences: each act, why something is so, and the reckoning.

Imports strings and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.bench.acts import (
    Act,
    Chime,
    Fret,
    Look,
    Mark,
    Move,
    Mute,
    Open,
    Retune,
    Slide,
    StartOver,
)
from centwise.bench.guide import advice
from centwise.model import GOOD_ENOUGH_CENTS, SIGNS, judgement_of
from centwise.strings.fretted import fretted_hz, touched_mode
from centwise.units import CENTS_PER_OCTAVE, cents_between, counted

if TYPE_CHECKING:
    from centwise.bench.machine import Bench
    from centwise.bench.words import BenchTone
    from centwise.model import BenchJudgement, BenchResult, BenchShare
    from centwise.strings.bridge import Margins
    from centwise.strings.instrument import Instrument

WORD_SENTENCES = (
    "chime 4 touches string 4 over its octave fret, fret 4 presses it there, open 4 plucks it; fret 4 7 names a fret.",
    "mute and unmute are for the other strings; retune brings every string to pitch.",
    "bass forward 1/16in moves the bass foot toward the neck, treble back 0.5mm the treble foot away from it.",
    "slide bass 1mm slides the bridge toward the bass side; margins looks at the edges of the fingerboard.",
    "mark draws the pencil line, which ends it; start over puts the bridge back where it was found; there is no undo.",
)
"""What the words of the acts do, as a listener says them."""
NO_SOUND = "There was no sound, so nothing here tells of your ear."
_NOTES = ("C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B")


def found_sentences(bench: Bench) -> tuple[str, ...]:
    """Say what is there at the beginning."""
    instrument = bench.setting.instrument
    return (
        f"The bridge of this {instrument.title} was knocked out of its place, and the strings went out of tune.",
        f"Set the bass side by string {instrument.bass_string}, the treble side by string {instrument.treble_string}.",
        "Then hear the bass side again, centre the bridge, and mark its feet.",
        "Fretted flat, the bridge goes forward, toward the neck; fretted sharp, back.",
    )


def tone_sentence(tone: BenchTone, instrument: Instrument) -> str:
    """Say what sounds; nothing of its pitch."""
    number = tone.act.string
    along = "" if tone.muted else " The other strings ring along."
    if isinstance(tone.act, Open):
        return f"String {number}, open.{along}"
    how = "touched over" if isinstance(tone.act, Chime) else "pressed at"
    octave = ", its octave" if tone.fret == instrument.string(number).octave_fret else ""
    return f"String {number}, {how} fret {tone.fret}{octave}.{along}"


def done_sentence(act: Act, margins: Margins | None, *, in_tune: bool) -> str:  # noqa: PLR0911  one return an act
    """Say that an act was done; nothing of how far a foot is from its place.

    Args:
        act: what was done.
        margins: what was seen, where that was looked at.
        in_tune: whether every string still counts as at its pitch after it.
    """
    match act:
        case Mute(muted=True):
            return "The other strings are muted."
        case Mute():
            return "The other strings are free and ring along."
        case Move(side=side, way=way, amount=amount):
            tuning = "" if in_tune else " The strings are out of tune now."
            return f"The {side} foot goes {way}, about {amount}.{tuning}"
        case Slide(toward=toward, amount=amount):
            return f"The bridge slides toward the {toward} side, about {amount}."
        case Look():
            return "" if margins is None else margins_sentence(margins)
        case Retune():
            return "Every string is at its pitch."
        case Mark():
            return "A pencil line runs along the feet."
        case StartOver():
            return "The bridge stands where it was found. Nothing of before counts."
        case Chime() | Fret() | Open():
            return ""


def margins_sentence(margins: Margins) -> str:
    """Say how far the outer strings lie from the edges of the fingerboard, as near as an eye with a rule tells."""
    return (
        f"From the edges of the fingerboard to the outer strings: {margins.bass_mm:.1f} mm on the bass side, "
        f"{margins.treble_mm:.1f} mm on the treble side."
    )


def why_sentence(bench: Bench) -> str:
    """Say why: of a string just touched elsewhere than at its octave, else of the step that comes next."""
    if isinstance(bench.last, Chime):
        trap = touched_sentence(bench.setting.instrument, bench.last)
        if trap:
            return trap
    return advice(bench).why


def touched_sentence(instrument: Instrument, act: Chime) -> str:
    """Say what a string touched elsewhere than at its octave rings, and why that is a trap; empty at the octave."""
    string = instrument.string(act.string)
    fret = string.octave_fret if act.fret is None else act.fret
    mode = touched_mode(instrument, act.string, fret)
    if mode is None or mode == 2:
        return ""
    rung_hz = mode * string.open_hz
    distance = _above_text(cents_between(rung_hz, fretted_hz(instrument, act.string, 0.0, fret=fret)))
    starts = f"String {act.string} begins at fret {string.start_fret}, so over" if string.start_fret else "Over"
    return (
        f"{starts} fret {fret} the finger touches a {_ORDINALS[mode]} of its length, not the half: it rings "
        f"{rung_hz:.1f} Hz, {distance} the note fretted there. It is no octave to compare with: "
        f"use fret {string.octave_fret}."
        + (" Bridges are not set by this string: its nut is often high." if string.start_fret else "")
    )


def _above_text(cents: float) -> str:
    """Say how far above a note another lies: `an octave and 1.955 cents above`, `0.4 cents below`."""
    # Up to a semitone short of one still counts as an octave less something.
    octaves = math.floor((cents + 100.0) / CENTS_PER_OCTAVE)
    rest = cents - CENTS_PER_OCTAVE * octaves
    if not octaves:
        return f"{abs(rest):.3f} cents {'above' if rest >= 0 else 'below'}"
    size = {1: "an octave", 2: "two octaves"}.get(octaves, f"{octaves} octaves")
    return f"{size} {'and' if rest >= 0 else 'less'} {abs(rest):.3f} cents above"


_ORDINALS = {3: "third", 4: "fourth", 5: "fifth", 6: "sixth"}


def reckoning_sentences(result: BenchResult, instrument: Instrument, *, heard: bool) -> tuple[str, ...]:
    """Say the whole reckoning, the outcome first.

    Args:
        result: what the rehearsal came to.
        instrument: the one it was at.
        heard: whether there was sound; without it nothing is said of what was judged, nor of an ear's share.
    """
    return (
        outcome_sentence(result, instrument),
        *(() if heard else (NO_SOUND,)),
        feet_sentence(result),
        *left_sentences(result, instrument),
        counts_sentence(result),
        *(judgement_sentences(result) if heard else ()),
        *order_sentences(result),
        *(share_sentences(result) if heard else ()),
    )


def outcome_sentence(result: BenchResult, instrument: Instrument) -> str:
    """Say whether the bridge stands: both outer strings within what counts as set."""
    outer = instrument.side_strings
    each = " and ".join(f"string {number} {error_text(result.cents[number])}" for number in outer)
    well = all(abs(result.cents[number]) <= GOOD_ENOUGH_CENTS for number in outer)
    verdict = "The bridge is set" if well else "The bridge is not set yet"
    return f"{verdict}: {each}; within {GOOD_ENOUGH_CENTS:g} cents counts as set."


def error_text(cents: float) -> str:
    """Say an error with word and size: `sharp by 0.4 cents`, `in unison`."""
    rounded = round(cents, 1)
    if rounded == 0:
        return "in unison"
    word = judgement_of(rounded)
    return f"{SIGNS[word]} {word} by {abs(rounded):.1f} cents"


def feet_sentence(result: BenchResult) -> str:
    """Say where the feet stand against their right place."""
    side = "treble" if result.side_mm > 0 else "bass"
    aside = "in the middle" if abs(result.side_mm) < 0.05 else f"{abs(result.side_mm):.1f} mm toward the {side} side"
    return (
        f"The bass foot stands {_along(result.bass_mm)}, the treble foot {_along(result.treble_mm)}, "
        f"and the bridge {aside}."
    )


def _along(offset_mm: float) -> str:
    if abs(offset_mm) < 0.05:
        return "right"
    return f"{abs(offset_mm):.1f} mm too far {'back' if offset_mm > 0 else 'forward'}"


def left_sentences(result: BenchResult, instrument: Instrument) -> tuple[str, ...]:
    """Say what the other strings are left with, and what the bridge must leave on them wherever it stands."""
    others = [number for number in sorted(result.cents, reverse=True) if number not in instrument.side_strings]
    kind = instrument.bridge.kind
    return tuple(
        f"String {number} is left {error_text(result.cents[number])}; in its right place this {kind} bridge leaves it "
        f"{error_text(result.must_leave_cents[number])}."
        for number in others
    )


def counts_sentence(result: BenchResult) -> str:
    """Say how much was done."""
    said = f"{counted(result.moves, 'move')} and {counted(result.comparisons, 'comparison')}."
    if result.hand_percent is None:
        return said
    return f"{said} The hand went {result.hand_percent:.0f} % off what was asked; about 15 % is usual."


def judgement_sentences(result: BenchResult) -> tuple[str, ...]:
    """Say which judgements were right, and of each wrong one what was true."""
    if not result.judgements:
        return ("Nothing was moved by what was heard.",)
    right = sum(judgement.right for judgement in result.judgements)
    return (
        f"{right} of {counted(len(result.judgements), 'judgement')} heard right.",
        *(_wrong(judgement) for judgement in result.judgements if not judgement.right),
    )


def _wrong(judgement: BenchJudgement) -> str:
    truth = error_text(judgement.truth_cents)
    if judgement.heard == "unison":
        return f"You marked the feet with string {judgement.string} {truth}."
    way = "forward" if judgement.heard == "flat" else "back"
    near = ", near enough to leave" if abs(judgement.truth_cents) <= GOOD_ENOUGH_CENTS else ""
    return f"At act {judgement.n} you moved {way} when string {judgement.string} was {truth}{near}."


def order_sentences(result: BenchResult) -> tuple[str, ...]:
    """Say how far the order of the trade was kept, and the reason for each point that was not."""
    kept = sum(point.kept for point in result.order)
    return (
        f"{kept} of {len(result.order)} points of the order were kept.",
        *(f"Not kept, {point.point}: {point.reason}" for point in result.order if not point.kept),
    )


def share_sentences(result: BenchResult) -> tuple[str, ...]:
    """Say for each outer string what was the ear and what the hand."""
    return tuple(_share(share) for share in result.shares)


def _share(share: BenchShare) -> str:
    hand = "nothing came from the hand"
    if round(share.hand_cents, 1):
        hand = f"{_signed(share.hand_cents)} came from the hand, whose last moves went otherwise than asked"
    said = f"String {share.string}: {hand}; {_signed(share.ear_cents)} was left by what was asked."
    if not share.rechecked:
        return f"{said} It was not compared after the last move, so your ear had no say in that."
    if share.threshold_cents is None:
        return f"{said} How finely you hear is not known yet: a block of the drill on this string measures it."
    threshold = f"Your threshold is {share.threshold_cents:.1f} cents"
    if abs(share.left_cents) <= max(share.threshold_cents, GOOD_ENOUGH_CENTS):
        return f"{said} {threshold}: this is as near as that ear goes."
    return f"{said} {threshold}: your ear can hear what is left, so compare more often before the mark."


def _signed(cents: float) -> str:
    return f"{abs(cents):.1f} cents {'flat' if round(cents, 1) < 0 else 'sharp'}" if round(cents, 1) else "0.0 cents"
