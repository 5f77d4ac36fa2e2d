"""A real instrument's recorded notes, shifted: the shift is what was asked, by a method the shifting knows nothing of.

The notes are those of `test_measure_recorded`: a sampled five-string banjo, MIT licence.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import soundfile
from pitch_meter import partial_hz
from test_measure_recorded import OCTAVE_KEYS, RATE_HZ, moved, plucked
from test_measure_recorded import pytestmark as pytestmark  # noqa: PLC0414  the same programs are needed

from centwise.model import Condition, PairSpec
from centwise.takes.voice import OwnVoice, open_take

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from centwise.model import PairSound

__all__ = ["plucked"]

SETTLE_S = 0.1
MOST_CENTS = 0.02
"""A real note is not steady, and a shift moves another part of it into the window: on steady notes 0.01 cents are held
in every partial (tests/unit/tones/test_recorded.py)."""

ASKED = (-20.0, -4.0, -0.5, 0.5, 2.0, 11.3, 20.0)


def pair_of(voice: OwnVoice, offset_cents: float, seed: int) -> PairSound:
    spec = PairSpec(n=1, condition=Condition(voice="shifted"), offset_cents=offset_cents, first="harmonic")
    return voice.render_pairs([spec], np.random.default_rng(seed))[0]


def fretted_hz(pair: PairSound) -> float:
    """Heterodyne, low-pass and phase fit of the first partial."""
    span = pair.fretted
    part = pair.sound.samples[round((span.start_s + SETTLE_S) * RATE_HZ) : round((span.end_s - SETTLE_S) * RATE_HZ)]
    return partial_hz(part.astype(np.float64), RATE_HZ, span.frequency_hz)


@pytest.mark.parametrize("string", OCTAVE_KEYS)
def test_recorded_notes_are_shifted_by_exactly_what_was_asked(
    plucked: dict[int, NDArray[np.float64]],
    string: int,
    tmp_path: Path,
) -> None:
    fretted, exact = moved(plucked[string], 4.0)
    whole = np.concatenate((plucked[string], 0.7 * fretted))
    whole += np.random.default_rng(string).normal(0.0, 1e-4 * np.abs(whole).max(), whole.size)
    soundfile.write(tmp_path / "take.flac", whole, RATE_HZ, subtype="PCM_24")
    take = open_take(tmp_path / "take.flac")
    assert (take.string, take.own_cents[0]) == (string, pytest.approx(exact, abs=0.15))
    voice = OwnVoice(take, RATE_HZ)
    assert voice.shift_cents < 0.05
    still_hz = fretted_hz(pair_of(voice, 0.0, 1))
    worst = 0.0
    for asked in ASKED:
        worst = max(worst, abs(1200.0 * np.log2(fretted_hz(pair_of(voice, asked, 1)) / still_hz) - asked))
    print(f"string {string}: within {worst:.4f} cents, read by the project's meter within {voice.shift_cents:.4f}")
    assert worst <= MOST_CENTS
