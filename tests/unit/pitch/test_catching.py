"""Catching a note: what is kept holds it whole, words and knocks are passed over, waiting ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from takes import D5_HZ, RATE_HZ, note, silence

from centwise.pitch.catching import BEFORE_S, NOTE_S, WAIT_S, Catcher

if TYPE_CHECKING:
    from centwise.pitch.catching import State

RNG = np.random.default_rng(3)


def noise(seconds: float, level: float = 1e-3) -> np.ndarray:
    return level * RNG.standard_normal(round(seconds * RATE_HZ))


def hand_over(catcher: Catcher, sound: np.ndarray, block: int = 960) -> State:
    samples = sound.astype(np.float32)
    for start in range(0, len(samples), block):
        if catcher.add(samples[start : start + block]) in {"caught", "missed"}:
            break
    return catcher.state


@settings(max_examples=20, deadline=None)
@given(wait_s=st.floats(0.0, 5.0), level=st.floats(0.03, 1.0), block=st.integers(100, 9000))
def test_a_note_is_caught_whole_with_a_little_before_it(wait_s: float, level: float, block: int) -> None:
    catcher = Catcher(RATE_HZ)
    catcher.background(noise(2.0).astype(np.float32))
    pluck = 5.0 * level * note(D5_HZ, seconds=4.0, decay_per_s=0.5)
    before = noise(wait_s)
    whole = np.concatenate([before, pluck + noise(4.0)])
    assert hand_over(catcher, whole, block) == "caught"
    caught = catcher.note()
    assert len(caught) / RATE_HZ == pytest.approx(BEFORE_S + NOTE_S, abs=0.06)
    attack = round(BEFORE_S * RATE_HZ)
    # The very samples, where they belong to within two hops.
    apart = [
        np.max(np.abs(caught[attack : attack + 4000] - whole[len(before) + shift :][:4000]))
        for shift in range(-960, 961)
        if len(before) + shift >= 0
    ]
    assert min(apart) < 1e-6


def test_a_note_that_dies_away_ends_it_sooner() -> None:
    catcher = Catcher(RATE_HZ)
    catcher.background(noise(1.0).astype(np.float32))
    pluck = note(D5_HZ, seconds=3.0, decay_per_s=4.0)
    assert hand_over(catcher, np.concatenate([noise(0.5), pluck + noise(3.0), noise(1.0)])) == "caught"
    assert 1.0 < len(catcher.note()) / RATE_HZ < 2.4


def test_a_word_and_a_knock_are_no_note() -> None:
    catcher = Catcher(RATE_HZ)
    catcher.background(noise(1.0).astype(np.float32))
    word = np.concatenate([noise(0.35, 0.1), noise(0.6)])
    knock = np.concatenate([noise(0.02, 0.5), noise(0.7)])
    assert hand_over(catcher, np.concatenate([word, knock])) == "waiting"
    assert hand_over(catcher, np.concatenate([note(D5_HZ, seconds=3.0), noise(1.0)])) == "caught"
    assert len(catcher.note()) / RATE_HZ < BEFORE_S + NOTE_S + 0.1


def test_nothing_is_waited_for_no_longer_than_agreed() -> None:
    catcher = Catcher(RATE_HZ)
    assert hand_over(catcher, silence(WAIT_S + 1.0)) == "missed"
    assert len(catcher.note()) / RATE_HZ == pytest.approx(WAIT_S, abs=0.05)
    assert catcher.add(np.ones(9, np.float32)) == "missed"
    assert Catcher(RATE_HZ).note().shape == (0,)


def test_a_note_after_a_loud_background_is_still_noticed() -> None:
    catcher = Catcher(RATE_HZ)
    catcher.background(noise(1.0, 0.3).astype(np.float32))
    assert hand_over(catcher, np.concatenate([noise(0.3), 3.0 * note(D5_HZ, seconds=3.0)])) == "caught"
