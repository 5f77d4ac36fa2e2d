"""From a sound decided at the bench to samples: every string at the pitch it is really at, so unmuted ones beat.

Imports tones and below.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from centwise.bench.acts import Chime, Fret
from centwise.draws import Draws, Purpose
from centwise.model import Sound
from centwise.strings.fretted import frets_above_nut, fretted_hz
from centwise.tones.single import SingleSound, render_single
from centwise.units import ratio_from_cents

if TYPE_CHECKING:
    from centwise.bench.words import BenchTone
    from centwise.strings.instrument import Instrument, StringSpec

BENCH_TONE_S = 3.0
"""Long enough for two beats of an unmuted string."""

ID_LETTERS = 8


def render_tone(tone: BenchTone, instrument: Instrument, *, seed: int, rate_hz: int, bench_id: str) -> SingleSound:
    """Render one sound of the bench; the same seed, number and state give the same samples.

    Args:
        tone: what sounds, decided.
        instrument: whose strings they are, in tune.
        seed: the rehearsal's.
        rate_hz: frames per second, 22 050 to 192 000.
        bench_id: the rehearsal's, for the sound's name.
    """
    strings = tuple(_tuned(spec, tone.tuning_cents[spec.number]) for spec in instrument.strings)
    tuned = replace(instrument, strings=strings)
    plucked = tuned.string(tone.act.string)
    if isinstance(tone.act, Fret):
        # Stopped by a fret the string is an open one of that length and pitch; stiffness follows from both.
        frets = frets_above_nut(instrument, plucked, tone.fret)
        stopped = replace(
            plucked,
            open_hz=fretted_hz(tuned, plucked.number, tone.cents, fret=tone.fret),
            length_mm=plucked.length_mm * math.exp2(-frets / 12.0),
        )
        tuned = replace(tuned, strings=tuple(stopped if spec is plucked else spec for spec in strings))
    single = render_single(
        "harmonic" if isinstance(tone.act, Chime) else "open",
        tuned,
        tone.act.string,
        offset_cents=0.0,
        rate_hz=rate_hz,
        rng=Draws(seed).stream(Purpose.TONES, tone.n),
        muted=tone.muted,
        duration_s=BENCH_TONE_S,
        touched=tone.mode or 2,
    )
    return replace(single, sound=Sound(single.sound.samples, rate_hz, sound_name(tone, bench_id)))


def sound_name(tone: BenchTone, bench_id: str) -> str:
    """Return a short file-safe name of its own: `bench-1f0c9a52-0012-fret-4`, `bench-1f0c9a52-0013-chime-5-at-12`.

    The first letters and digits of the rehearsal's id keep two rehearsals apart that write into one folder.
    """
    own = "".join(letter for letter in bench_id if letter.isascii() and letter.isalnum())[:ID_LETTERS]
    act = tone.act
    word = {Chime: "chime", Fret: "fret"}.get(type(act), "open")
    at = f"-at-{act.fret}" if isinstance(act, (Chime, Fret)) and act.fret is not None else ""
    return f"bench-{own}-{tone.n:04d}-{word}-{act.string}{at}"


def _tuned(spec: StringSpec, cents: float) -> StringSpec:
    return replace(spec, open_hz=spec.open_hz * ratio_from_cents(cents))
