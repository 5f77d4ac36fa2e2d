"""A pair to judge: the harmonic and the note fretted at its place, one after the other.

Imports numpy, strings and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.model import TONES, PairSound, Sound, Tone
from centwise.tones.layout import PRE_ROLL_S, TAIL_S, lay_out_pair
from centwise.tones.limits import check_likeness, check_offset_cents, check_rate_hz
from centwise.tones.pluck import TONE_S, Plucked, first_partial_hz, headroom_gain, pluck, render
from centwise.tones.touch import Touch, draw_touch

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from centwise.model import Condition, PairSpec
    from centwise.strings.instrument import Instrument


def render_pair(spec: PairSpec, instrument: Instrument, *, rate_hz: int, rng: np.random.Generator) -> PairSound:
    """Render a pair: silence, the first tone, half a second of silence, the second tone, silence.

    Both tones have the same length and, before the rove of each, the same loudness. Phases, noise, plucked point and
    level come from `rng` alone: with a generator in the same state another offset changes nothing but the pitch of the
    fretted note, and the harmonic stays the same to the last bit.

    Args:
        spec: what to sound; the offset within -100 to 100 cents.
        instrument: whose string it is.
        rate_hz: frames per second, 22 050 to 192 000.
        rng: every draw comes from it.

    Raises:
        UsageError: a value is out of range, or the instrument has no such string.
    """
    return render_pairs([spec], instrument, rate_hz=rate_hz, rng=rng)[0]


def render_pairs(
    specs: Sequence[PairSpec], instrument: Instrument, *, rate_hz: int, rng: np.random.Generator
) -> tuple[PairSound, ...]:
    """Render several candidates for one place in a block, all from the same draws.

    Each comes out as `render_pair` would make it from a generator in the state `rng` is in now. Tones that candidates
    share are rendered once, so three offsets cost one harmonic and three fretted notes.

    Args:
        specs: the candidates.
        instrument: as in `render_pair`.
        rate_hz: as in `render_pair`.
        rng: as in `render_pair`; one pair's draws are taken from it.

    Raises:
        UsageError: as `render_pair`.
    """
    check_rate_hz(rate_hz)
    for spec in specs:
        check_offset_cents(spec.offset_cents)
        check_likeness(spec.condition.likeness)
        instrument.string(spec.condition.string)
    # The harmonic's draws come first whichever tone is heard first, so the order of the tones changes neither.
    touches: dict[Tone, Touch] = {tone: draw_touch(rng) for tone in TONES}
    frames = round(TONE_S * rate_hz)
    decided: dict[Condition, dict[Tone, Plucked]] = {}
    rendered: dict[tuple[Condition, Tone, float], NDArray[np.float64]] = {}

    def tone_samples(tone: Tone, condition: Condition, offset_cents: float, gain: float) -> NDArray[np.float64]:
        key = (condition, tone, offset_cents)
        if key not in rendered:
            rendered[key] = render(
                decided[condition][tone], offset_cents=offset_cents, gain=gain, frames=frames, rate_hz=rate_hz
            )
        return rendered[key]

    pairs = []
    for spec in specs:
        if spec.condition not in decided:
            decided[spec.condition] = {
                tone: _decide(tone, spec.condition, instrument, touch, rate_hz) for tone, touch in touches.items()
            }
        plucked = decided[spec.condition]
        gain = headroom_gain(*plucked.values())
        offsets: dict[Tone, float] = {"harmonic": 0.0, "fretted": spec.offset_cents}
        tones = {tone: tone_samples(tone, spec.condition, offsets[tone], gain) for tone in TONES}
        frequencies_hz = {tone: first_partial_hz(plucked[tone], offsets[tone]) for tone in TONES}
        pairs.append(lay_out_pair(spec, tones, frequencies_hz, rate_hz))
    return tuple(pairs)


def tone_alone(pair: PairSound, tone: Tone) -> Sound:
    """Return one tone cut from a pair, the very same samples, with its silence before and after."""
    rate_hz, span = pair.sound.rate_hz, pair.span(tone)
    start = round(span.start_s * rate_hz) - round(PRE_ROLL_S * rate_hz)
    end = round(span.end_s * rate_hz) + round(TAIL_S * rate_hz)
    return Sound(pair.sound.samples[start:end], rate_hz, f"{pair.sound.name}-{tone}")


def _decide(tone: Tone, condition: Condition, instrument: Instrument, touch: Touch, rate_hz: int) -> Plucked:
    return pluck(
        tone,
        instrument,
        instrument.string(condition.string),
        touch,
        likeness=condition.likeness,
        muted=condition.muted,
        rate_hz=rate_hz,
    )
