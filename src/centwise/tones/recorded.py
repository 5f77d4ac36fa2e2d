"""Pairs in the voice of a recorded instrument: its own harmonic and fretted note, shifted to any offset.

Both notes of a pair are read through the same filter, moved by a common draw, matched in loudness and roved; length,
attack, loudness and how the note dies away are those of the unshifted note. Under all lies one noise as loud as the
recordings' own. So nothing but pitch depends on the offset. Imports numpy, model and below.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from centwise.errors import InputError
from centwise.model import CEILING_DBFS, MAX_OFFSET_CENTS, TONES, Tone
from centwise.tones.layout import heard_order, lay_out_pair, rise
from centwise.tones.limits import check_offset_cents, check_rate_hz
from centwise.tones.loudness import k_weighted_loudness
from centwise.tones.pluck import FADE_OUT_S, LOUDNESS_LKFS, TONE_S
from centwise.tones.resample import Reader
from centwise.tones.touch import ROVE_DB
from centwise.units import ratio_from_cents

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from centwise.model import PairSound, PairSpec

    Array = NDArray[np.float64]

LEAD_S = 0.02
"""A tone begins so long before its attack: places of attacks are known to 5 ms."""
FADE_IN_S = 0.012
COMMON_CENTS = 5.0
"""Both notes of a pair are moved by up to so much together, so that neither is ever known by its own pitch."""
SHORTEST_S = 0.5
"""Below this a note is too short to be judged (judgement)."""
ENVELOPE_S = 0.03
BED_SIGMAS = 4.5
"""The noise under a pair is held within so many standard deviations."""
PEAK_ROOM_DB = 0.1
"""Room for what no sum of bounds foresees, the filter's own overshoot at the ends."""


@dataclass(frozen=True, slots=True)
class RecordedNote:
    """One pluck out of a recording.

    Attributes:
        samples: shape (frames,), one channel, with some background before the attack and the note to its end after it.
        rate_hz: frames per second.
        attack_s: where in `samples` the attack is.
        cents: its measured pitch over a reference common to all notes of the take.
        frequency_hz: its first partial.
    """

    samples: NDArray[np.float32] = field(repr=False)
    rate_hz: int
    attack_s: float
    cents: float
    frequency_hz: float


class RecordedVoice:
    """Makes pairs of recorded notes.

    Args:
        pairs: harmonic and fretted note as they were played one after the other; one or more.
        rate_hz: frames per second of what is made, 22 050 to 192 000.

    Attributes:
        tone_s: length of each tone.

    Raises:
        InputError: a note is too short, or has no sound.
        UsageError: the rate is out of range.
    """

    def __init__(self, pairs: Sequence[tuple[RecordedNote, RecordedNote]], rate_hz: int) -> None:
        check_rate_hz(rate_hz)
        self._rate_hz = rate_hz
        notes = [note for pair in pairs for note in pair]
        apart = float(np.ptp([note.cents for note in notes]))
        most_ratio = ratio_from_cents(MAX_OFFSET_CENTS + apart + COMMON_CENTS)
        self.tone_s = min(TONE_S, *(_length_s(note, most_ratio) for note in notes))
        if self.tone_s < SHORTEST_S:
            raise InputError(
                f"the shortest of the recorded notes can be heard for {max(self.tone_s, 0.0):.2f} s only",
                f"record notes that ring for {SHORTEST_S + 0.5:g} s or longer",
            )
        self._frames = round(self.tone_s * rate_hz)
        readers = {
            own_hz: Reader(0.5 * min(1.0, rate_hz / own_hz) / most_ratio) for own_hz in {note.rate_hz for note in notes}
        }
        self._pairs = [
            {
                tone: _Source(note, readers[note.rate_hz], self._frames, rate_hz)
                for tone, note in zip(TONES, pair, strict=True)
            }
            for pair in pairs
        ]
        self._bed = max(source.gain * source.background for pair in self._pairs for source in pair.values())

    def render_pairs(self, specs: Sequence[PairSpec], rng: np.random.Generator) -> tuple[PairSound, ...]:
        """Make several candidates for one place in a block, all from the same draws.

        With the condition's voice `recorded`, pair n is the n-th of the take as it was played, its loudness matched;
        after the last comes the first again. With `shifted`, notes are drawn from the take and moved so that the
        fretted one lies `offset_cents` over the harmonic.

        Raises:
            UsageError: an offset to be reached outside -100 to 100 cents.
        """
        count = len(self._pairs)
        drawn = {"harmonic": int(rng.integers(count)), "fretted": int(rng.integers(count))}
        common_cents = rng.uniform(-COMMON_CENTS, COMMON_CENTS)
        roves_db = {tone: rng.uniform(-ROVE_DB, ROVE_DB) for tone in TONES}
        bed = self._bed * _bounded_noise(rng, 2 * self._frames)
        ready: dict[tuple[int, float], Array] = {}

        def shifted(source: _Source, cents: float) -> Array:
            key = (id(source), cents)
            if key not in ready:
                ready[key] = source.shifted(cents)
            return ready[key]

        made = []
        for spec in specs:
            as_played = spec.condition.voice == "recorded"
            if as_played:
                chosen = {tone: self._pairs[(spec.n - 1) % count][tone] for tone in TONES}
                shifts = dict.fromkeys(TONES, 0.0)
                gains_db = dict.fromkeys(TONES, 0.0)
            else:
                check_offset_cents(spec.offset_cents)
                chosen = {tone: self._pairs[drawn[tone]][tone] for tone in TONES}
                apart = chosen["fretted"].note.cents - chosen["harmonic"].note.cents
                shifts = {"harmonic": common_cents, "fretted": common_cents + spec.offset_cents - apart}
                gains_db = roves_db
            sounds = {tone: shifted(chosen[tone], shifts[tone]) for tone in TONES}
            made.append(self._pair(spec, chosen, sounds, shifts, gains_db, bed))
        return tuple(made)

    def _pair(
        self,
        spec: PairSpec,
        chosen: dict[Tone, _Source],
        sounds: dict[Tone, Array],
        shifts: dict[Tone, float],
        gains_db: dict[Tone, float],
        bed: Array,
    ) -> PairSound:
        gains = {tone: chosen[tone].gain * 10.0 ** (gains_db[tone] / 20.0) for tone in TONES}
        # As with rendered pairs, the gain follows from what does not depend on the offset.
        loudest = max(gains[tone] * chosen[tone].peak for tone in TONES) + BED_SIGMAS * self._bed
        common = min(1.0, 10.0 ** ((CEILING_DBFS - PEAK_ROOM_DB) / 20.0) / loudest)
        fade = _fades(self._frames, self._rate_hz)
        tones = {
            tone: common * fade * (gains[tone] * sounds[tone] + bed[place * self._frames : (place + 1) * self._frames])
            for place, tone in enumerate(heard_order(spec.first))
        }
        frequencies_hz = {tone: chosen[tone].note.frequency_hz * ratio_from_cents(shifts[tone]) for tone in TONES}
        return lay_out_pair(spec, tones, frequencies_hz, self._rate_hz)


class _Source:
    """One note made ready: what does not depend on the shift is measured once."""

    def __init__(self, note: RecordedNote, reader: Reader, frames: int, rate_hz: int) -> None:
        self.note = note
        self._reader = reader
        self._times = (np.arange(frames) / rate_hz - LEAD_S) * note.rate_hz
        before = note.samples[: max(1, round((note.attack_s - LEAD_S) * note.rate_hz))]
        self.background = float(np.sqrt(np.mean(np.square(before - before.mean(), dtype=np.float64))))
        self._envelope = _envelope(note.samples, note.rate_hz)
        plain = self.shifted(0.0)
        loudness_lkfs = k_weighted_loudness(plain, rate_hz)
        if not np.isfinite(loudness_lkfs):
            raise InputError("a recorded note holds no sound", "record it again")
        self.gain = float(10.0 ** ((LOUDNESS_LKFS - loudness_lkfs) / 20.0))
        """Brings it to the loudness of every tone."""
        self.peak = _true_peak(plain * _fades(frames, rate_hz))

    def shifted(self, cents: float) -> Array:
        """Return the note with its pitch moved, its attack and its dying away where they were."""
        attack = self.note.attack_s * self.note.rate_hz
        still, moved = attack + self._times, attack + self._times * ratio_from_cents(cents)
        sound = self._reader.read(self.note.samples, moved)
        return sound * np.exp(self._loss(still) - self._loss(moved))

    def _loss(self, places: Array) -> Array:
        """Return the logarithm of the note's envelope at places."""
        return np.asarray(np.interp(places, *self._envelope))


def _length_s(note: RecordedNote, most_ratio: float) -> float:
    """Return how long a tone can be made of a note, whatever the shift."""
    after_s = len(note.samples) / note.rate_hz - note.attack_s
    return after_s / most_ratio + LEAD_S


def _envelope(samples: NDArray[np.float32], rate_hz: int) -> tuple[Array, Array]:
    """Return places and the logarithm of the smoothed envelope there, level before its summit and never rising after.

    It only has to say how fast the note dies away, so that a shift can undo the little it changes of that.
    """
    hop = round(ENVELOPE_S * rate_hz)
    blocks = len(samples) // hop
    power = np.square(samples[: blocks * hop].reshape(blocks, hop), dtype=np.float64).mean(axis=1)
    level = 0.5 * np.log(np.maximum(power, 1e-20))
    summit = int(np.argmax(level))
    level[: summit + 1] = level[summit]
    level = np.minimum.accumulate(level)
    return np.asarray((np.arange(blocks) + 0.5) * hop), np.asarray(level, dtype=np.float64)


def _true_peak(sound: Array) -> float:
    """Return the largest value between the samples too, by four times as many (ITU-R BS.1770, annex 2)."""
    spectrum = np.fft.rfft(sound)
    between = 4.0 * np.fft.irfft(spectrum, 4 * len(sound))
    return float(max(np.max(np.abs(between)), np.max(np.abs(sound))))


def _fades(frames: int, rate_hz: int) -> Array:
    fade = np.ones(frames)
    fade_in, fade_out = round(FADE_IN_S * rate_hz), round(FADE_OUT_S * rate_hz)
    fade[:fade_in] = rise(fade_in)
    fade[-fade_out:] = rise(fade_out)[::-1]
    return fade


def _bounded_noise(rng: np.random.Generator, frames: int) -> Array:
    return np.clip(rng.standard_normal(frames), -BED_SIGMAS, BED_SIGMAS)
