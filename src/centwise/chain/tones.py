"""Tones as asked: every string at every usual rate, rendered, then measured by two methods that know nothing of it.

`pitch` reads the difference of a pair as it would from a recording; the phase fit here reads each tone by itself, so
that the pitch is held as well as the difference. Imports numpy, pitch and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from centwise.chain.line import CheckLine
from centwise.draws import Draws, Purpose
from centwise.errors import InputError
from centwise.model import CEILING_DBFS, Condition, PairSpec
from centwise.pitch.intake import taken_in
from centwise.pitch.measure import measure_take
from centwise.tones.pair import render_pair
from centwise.units import cents_between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import Samples, ToneSpan
    from centwise.strings.instrument import Instrument

RATES_HZ = (22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
"""The usual rates of sound files and devices, from the lowest to the highest that tones are made at."""
OFFSETS_CENTS = (-20.0, -3.7, 0.0, 7.3)
TOLERANCE_CENTS = 0.01
"""A thousandth of what a practised ear hears (judgement)."""
WINDOW_S, HOP_S, SKIP_S = 0.16, 0.02, 0.12
"""Long enough to part the lowest string from the knock of the body beside it, and after that knock has gone (on the
lowest string of a guitar 0.008 cents off with 0.08 and 0.06 s, 0.0004 with these: measured)."""
TITLE = "Tones as asked"


def check_tones(instrument: Instrument, seed: int) -> CheckLine:
    """Render and measure pairs of every string at every rate.

    Args:
        instrument: whose strings.
        seed: the tones are drawn from it.
    """
    worst_pair = worst_pitch = 0.0
    loudest_dbfs = -math.inf
    pairs = 0
    for string in instrument.strings:
        for rate_hz in RATES_HZ:
            for n, offset_cents in enumerate(OFFSETS_CENTS, start=1):
                spec = PairSpec(n, Condition(instrument.name, string.number), offset_cents, "harmonic")
                rng = Draws(seed).stream(Purpose.TONES, string.number, rate_hz, n)
                pair = render_pair(spec, instrument, rate_hz=rate_hz, rng=rng)
                samples = pair.sound.samples
                where = f"string {string.number}, {rate_hz} Hz, {offset_cents:+g} cents"
                try:
                    read_cents = read_pair(samples, rate_hz, where, instrument)
                except InputError as error:
                    return CheckLine("tones", TITLE, "failed", error.what, "install centwise anew")
                worst_pair = max(worst_pair, abs(read_cents - offset_cents))
                for span in (pair.harmonic, pair.fretted):
                    found_hz = phase_fit_hz(samples, rate_hz, span)
                    worst_pitch = max(worst_pitch, abs(cents_between(found_hz, span.frequency_hz)))
                loudest_dbfs = max(loudest_dbfs, pair.peak_dbfs)
                pairs += 1
    holds = max(worst_pair, worst_pitch) <= TOLERANCE_CENTS and loudest_dbfs <= CEILING_DBFS
    finding = (
        f"{pairs} pairs of {len(instrument.strings)} strings of the {instrument.title} at "
        f"{len(RATES_HZ)} rates from {RATES_HZ[0] / 1000:g} to "
        f"{RATES_HZ[-1] / 1000:g} kHz, worst error {worst_pair:.5f} cents between the tones and {worst_pitch:.5f} "
        f"cents in their pitch (limit {TOLERANCE_CENTS:g}), loudest {loudest_dbfs:.1f} dBFS (limit {CEILING_DBFS:g})"
    )
    return CheckLine(
        "tones",
        TITLE,
        "passed" if holds else "failed",
        finding,
        "" if holds else "install centwise and numpy anew, and report it with this line",
        {
            "instrument": instrument.name,
            "pairs": pairs,
            "strings": len(instrument.strings),
            "rates_hz": list(RATES_HZ),
            "worst_pair_error_cents": round(worst_pair, 7),
            "worst_pitch_error_cents": round(worst_pitch, 7),
            "tolerance_cents": TOLERANCE_CENTS,
            "loudest_dbfs": round(loudest_dbfs, 3),
        },
    )


def read_pair(samples: Samples, rate_hz: int, name: str, instrument: Instrument) -> float:
    """Return the cents of a pair as `centwise measure` reads them.

    Raises:
        InputError: it cannot be measured.
    """
    return measure_take(taken_in(samples, rate_hz, name), instrument).cents


def phase_fit_hz(samples: Samples, rate_hz: int, span: ToneSpan) -> float:
    """Return the frequency of a tone's first partial by the phase of short Hann windows, weighted by amplitude."""
    tone = samples[round(span.start_s * rate_hz) : round(span.end_s * rate_hz)].astype(np.float64)
    frames, hop = round(WINDOW_S * rate_hz), round(HOP_S * rate_hz)
    windows = np.lib.stride_tricks.sliding_window_view(tone, frames)[round(SKIP_S * rate_hz) :: hop]
    turning = np.hanning(frames) * np.exp(-2j * np.pi * span.frequency_hz * np.arange(frames) / rate_hz)
    # One window after another: a matrix of windows that overlap is copied whole before it is multiplied.
    real, imaginary = turning.real.copy(), turning.imag.copy()
    values = np.array([complex(window @ real, window @ imaginary) for window in windows])
    times_s = np.arange(len(windows)) * hop / rate_hz
    phase: NDArray[np.float64] = np.unwrap(np.angle(values * np.exp(-2j * np.pi * span.frequency_hz * times_s)))
    slope, _ = np.polyfit(times_s, phase, 1, w=np.abs(values))
    return span.frequency_hz + float(slope) / (2.0 * np.pi)
