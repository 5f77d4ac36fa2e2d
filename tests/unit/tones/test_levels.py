"""No tone is too loud, clicks or carries a constant, whatever was asked or drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tone_measures import STRINGS, cut, single, tone_of

from banjo import FIVE_STRING
from centwise.model import Condition, PairSpec
from centwise.tones.pair import render_pair

if TYPE_CHECKING:
    from centwise.model import Tone, ToneKind

CEILING = 10.0 ** (-6.0 / 20.0)

rates = st.one_of(st.sampled_from([22_050, 44_100, 48_000, 192_000]), st.integers(22_050, 60_000))


def check_tone(tone: np.ndarray, rate_hz: int) -> None:
    assert np.isfinite(tone).all()
    assert np.max(np.abs(tone)) <= CEILING
    assert tone[0] == 0.0
    assert tone[-1] == 0.0
    assert abs(np.mean(tone)) < 1e-4
    # Soft at both ends: under 6 % of the peak in the first 0.1 ms, under 0.1 % in the last millisecond.
    peak = np.max(np.abs(tone))
    assert np.max(np.abs(tone[: round(1e-4 * rate_hz)])) < 0.06 * peak
    assert np.max(np.abs(tone[-round(1e-3 * rate_hz) :])) < 0.001 * peak


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(["harmonic", "fretted", "open"]),
    string=st.sampled_from(STRINGS),
    offset_cents=st.floats(-100.0, 100.0),
    rate_hz=rates,
    likeness=st.floats(0.0, 1.0),
    muted=st.booleans(),
    seed=st.integers(0, 2**32 - 1),
)
def test_any_single_tone(
    kind: ToneKind, string: int, offset_cents: float, rate_hz: int, likeness: float, muted: bool, seed: int
) -> None:
    rendered = single(
        kind, string, offset_cents=offset_cents, rate_hz=rate_hz, likeness=likeness, muted=muted, seed=seed
    )
    check_tone(tone_of(rendered), rate_hz)
    samples = rendered.sound.samples
    assert samples.dtype == np.float32
    assert samples[0] == samples[-1] == 0.0
    assert rendered.peak_dbfs == pytest.approx(20.0 * np.log10(np.max(np.abs(samples))))


@settings(max_examples=25, deadline=None)
@given(
    string=st.sampled_from(STRINGS),
    offset_cents=st.floats(-100.0, 100.0),
    rate_hz=rates,
    likeness=st.floats(0.0, 1.0),
    muted=st.booleans(),
    first=st.sampled_from(["harmonic", "fretted"]),
    seed=st.integers(0, 2**32 - 1),
)
def test_any_pair(
    string: int, offset_cents: float, rate_hz: int, likeness: float, muted: bool, first: Tone, seed: int
) -> None:
    condition = Condition(string=string, likeness=likeness, muted=muted)
    spec = PairSpec(n=1, condition=condition, offset_cents=offset_cents, first=first)
    pair = render_pair(spec, FIVE_STRING, rate_hz=rate_hz, rng=np.random.default_rng(seed))
    for span in (pair.harmonic, pair.fretted):
        check_tone(cut(pair.sound, span), rate_hz)
    assert pair.peak_dbfs <= -6.0
    assert pair.peak_dbfs == pytest.approx(20.0 * np.log10(np.max(np.abs(pair.sound.samples))))


def test_the_peak_holds_over_hundreds_of_touches_of_the_loudest_string() -> None:
    condition = Condition(string=4, muted=False)
    spec = PairSpec(n=1, condition=condition, offset_cents=0.0, first="harmonic")
    peaks = [
        render_pair(spec, FIVE_STRING, rate_hz=22_050, rng=np.random.default_rng(seed)).peak_dbfs for seed in range(300)
    ]
    assert max(peaks) <= -6.0
    # And no pair is lost in the noise of a room for it.
    assert min(peaks) > -24.0
