"""Whatever it is given, it answers with a finite reading or with a sentence: drawn notes, noise, silence, clipping."""

from __future__ import annotations

import math
from contextlib import suppress

import numpy as np
import pytest
from takes import note, recording

from banjo import FIVE_STRING
from centwise.errors import InputError
from centwise.pitch.measure import measure_take


def any_sound(rng: np.random.Generator) -> np.ndarray:
    kind = rng.integers(0, 7)
    pitch_hz = float(np.exp(rng.uniform(np.log(60.0), np.log(2500.0))))
    if kind <= 2:
        return note(
            pitch_hz,
            seconds=float(rng.uniform(0.05, 3.0)),
            decay_per_s=float(rng.uniform(0.0, 20.0)),
            partials=int(rng.integers(1, 9)),
            glide_cents=float(rng.normal(0.0, 10.0)),
        )
    if kind == 3:
        return rng.normal(0.0, 0.1, int(rng.integers(1, 48_000)))
    if kind == 4:
        return np.zeros(int(rng.integers(1, 48_000)))
    if kind == 5:
        return np.clip(5.0 * note(pitch_hz), -1.0, 1.0)
    return note(587.33 * 2.0 ** (rng.normal(0.0, 5.0) / 1200.0), seconds=float(rng.uniform(0.3, 2.0)))


@pytest.mark.parametrize("seed", range(60))
def test_any_sound_is_read_or_refused_in_a_sentence(seed: int) -> None:
    rng = np.random.default_rng(seed)
    samples = np.concatenate([any_sound(rng) for _ in range(rng.integers(1, 6))])
    if rng.random() < 0.5:
        samples = samples + 1e-4 * rng.standard_normal(samples.size)
    found = None
    with suppress(InputError):  # any other error is a fault
        found = measure_take(recording(samples), FIVE_STRING)
    if found is not None:
        assert math.isfinite(found.cents)
        assert abs(found.cents) < 130.0
        assert 0.0 < found.std_error_cents < math.inf
