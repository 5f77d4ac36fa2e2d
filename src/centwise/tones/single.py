"""One tone by itself: a harmonic, the note fretted at its place, or an open string.

Imports numpy, strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.model import Sound, ToneSpan
from centwise.tones.layout import lay_out, peak_dbfs, span_of
from centwise.tones.limits import check_likeness, check_offset_cents, check_rate_hz
from centwise.tones.pluck import first_partial_hz, headroom_gain, pluck, render
from centwise.tones.touch import draw_touch

if TYPE_CHECKING:
    import numpy as np

    from centwise.model import ToneKind
    from centwise.strings.instrument import Instrument

SINGLE_S = 3.0
"""Long enough to measure well, and for two beats of an unmuted string."""


@dataclass(frozen=True, slots=True)
class SingleSound:
    """A rendered tone: its sound, where the tone lies in it, and its largest sample in decibels of full scale."""

    sound: Sound
    span: ToneSpan
    peak_dbfs: float


def render_single(
    kind: ToneKind,
    instrument: Instrument,
    string_number: int,
    *,
    offset_cents: float,
    rate_hz: int,
    rng: np.random.Generator,
    likeness: float = 0.0,
    muted: bool = True,
    duration_s: float = SINGLE_S,
    touched: int = 2,
) -> SingleSound:
    """Render one tone in silence.

    Args:
        kind: harmonic, fretted or open.
        instrument: whose string it is.
        string_number: as players count.
        offset_cents: how far every partial of a fretted note lies above the harmonic's, -100 to 100. It moves the
            fretted note alone: a harmonic and an open string are what it is measured from.
        rate_hz: frames per second, 22 050 to 192 000.
        rng: every draw comes from it, in the same number whatever is asked.
        likeness: 0, the harmonic has its own rounder voice, to 1, it has the fretted note's.
        muted: whether the other strings are kept from ringing along.
        duration_s: length of the tone without the silence round it, 0.5 s or more to be judged by ear.
        touched: which mode of the open string a harmonic is: 2 over the octave fret, 3 over a third of the string.

    Raises:
        UsageError: a value is out of range, or the instrument has no such string.
    """
    check_rate_hz(rate_hz)
    check_offset_cents(offset_cents)
    check_likeness(likeness)
    string = instrument.string(string_number)
    frames = round(duration_s * rate_hz)
    plucked = pluck(
        kind,
        instrument,
        string,
        draw_touch(rng),
        likeness=likeness,
        muted=muted,
        rate_hz=rate_hz,
        touched=touched,
    )
    moved_cents = offset_cents if kind == "fretted" else 0.0
    tone = render(plucked, offset_cents=moved_cents, gain=headroom_gain(plucked), frames=frames, rate_hz=rate_hz)
    samples = lay_out([tone], rate_hz)
    return SingleSound(
        sound=Sound(samples, rate_hz, f"{kind}-string-{string_number}"),
        span=span_of(0, frames, rate_hz, first_partial_hz(plucked, moved_cents)),
        peak_dbfs=peak_dbfs(samples),
    )
