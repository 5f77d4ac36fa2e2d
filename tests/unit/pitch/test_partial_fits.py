"""Partials by their phase, on sines whose frequencies are known."""

from __future__ import annotations

import numpy as np
import pytest

from centwise.pitch.partials import fit_partials

RATE_HZ = 16_000.0


def decaying(frequency_hz: float, decays: tuple[float, ...], seconds: float = 2.0, phase: float = 0.3) -> np.ndarray:
    times_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return sum(np.exp(-d * times_s) for d in decays) * np.cos(2.0 * np.pi * frequency_hz * times_s + phase)


def test_a_decaying_sine_at_60_db_is_read_within_the_bound_of_the_facts() -> None:
    # var f = 2 s^2 / (4 pi^2 a^2 fs (I2 - I1^2/I0)), I_k the integral of t^k exp(-2 d t): the Cramer-Rao bound of a
    # decaying sine (derived; S. M. Kay 1993, Fundamentals of Statistical Signal Processing, section 3.11, recalled).
    # With D5, T60 2 s and 60 dB at 48 kHz it is 3.9e-5 cents; here the rate is 16 kHz and T 2 s.
    decay = np.log(1000.0) / 2.0
    times_s = np.arange(32_000) / RATE_HZ
    weight = np.exp(-2.0 * decay * times_s) / RATE_HZ
    i0, i1, i2 = (float(np.sum(weight * times_s**k)) for k in range(3))
    sigma = np.sqrt(0.5e-6)
    bound_hz = np.sqrt(2.0 * sigma**2 / (4.0 * np.pi**2 * RATE_HZ * (i2 - i1**2 / i0)))
    errors, stated = [], []
    for seed in range(200):
        noise = np.random.default_rng(seed).normal(0.0, sigma, 32_000)
        sound = (decaying(587.33, (decay,)) + noise).astype(np.float32)
        (fit,) = fit_partials(sound, RATE_HZ, np.array([587.0]), 587.33, 0.0)
        assert fit is not None
        errors.append(fit.frequency_hz - 587.33)
        stated.append(fit.std_error_cents / 1731.234 * 587.33)
        assert fit.std_error_cents >= fit.bound_cents
    rms = float(np.sqrt(np.mean(np.square(errors))))
    assert bound_hz * 0.85 < rms < bound_hz * 1.3
    assert 0.87 <= np.mean(np.abs(errors) < 1.645 * np.array(stated)) <= 0.95


@pytest.mark.parametrize("off_hz", [-6.0, -0.5, 0.0, 2.0, 6.0])
def test_a_two_stage_decay_turns_nothing_once_it_is_measured_from_where_it_was_found(off_hz: float) -> None:
    sound = decaying(587.33, (8.0, 1.2)).astype(np.float32)
    (fit,) = fit_partials(sound, RATE_HZ, np.array([587.33 + off_hz]), 587.33, 0.0)
    assert fit is not None
    assert 1731.234 * (fit.frequency_hz / 587.33 - 1.0) == pytest.approx(0.0, abs=1e-4)
    assert abs(fit.glide_cents) < 1e-3


def test_a_note_stopped_by_hand_is_read_as_far_as_it_rang() -> None:
    wanted = np.array([587.33, 1174.9, 1762.8])
    over_bound = []
    for seed in range(30):
        rang = decaying(587.33, (2.0,)) + 0.7 * decaying(1174.9, (3.0,)) + 0.5 * decaying(1762.8, (4.0,))
        stopped = 15_000 + 33 * seed
        rang[stopped:] = 0.0
        rang += np.random.default_rng(seed).normal(0.0, 1e-3, rang.size)
        fits = [f for f in fit_partials(rang.astype(np.float32), RATE_HZ, wanted + 0.3, 587.33, 5.0) if f is not None]
        cents = 1731.234 * (np.array([fit.frequency_hz for fit in fits]) / wanted - 1.0)
        over_bound.append(cents / [fit.bound_cents for fit in fits])
        assert all(stopped / RATE_HZ - 0.2 < fit.track_s[-1] - 5.0 < stopped / RATE_HZ for fit in fits)
    # Frames that the stop has emptied cost ten times the bound where they are taken for the note (measured).
    assert np.sqrt(np.mean(np.square(over_bound), axis=0)).max() < 1.6


def test_a_glide_is_measured() -> None:
    times_s = np.arange(32_000) / RATE_HZ
    # A straight glide of 3 cents a second under a decay of 2 per second: 30 dB are 1.73 s, and the middles of their
    # first quarter and second half lie 5/8 of that apart.
    phase = 2.0 * np.pi * np.cumsum(587.33 * 2.0 ** (-3.0 * times_s / 1200.0)) / RATE_HZ
    (fit,) = fit_partials(
        (np.exp(-2.0 * times_s) * np.cos(phase)).astype(np.float32), RATE_HZ, np.array([587.0]), 587.33, 0.0
    )
    assert fit is not None
    assert fit.glide_cents == pytest.approx(-3.0 * 1.73 * 5.0 / 8.0, rel=0.1)


def test_what_is_too_short_or_buried_is_no_partial() -> None:
    short = decaying(587.33, (2.0,), seconds=0.2).astype(np.float32)
    assert fit_partials(short, RATE_HZ, np.array([587.0]), 587.33, 0.0) == [None]
    assert fit_partials(short[:100], RATE_HZ, np.array([587.0]), 587.33, 0.0) == [None]
    noise = np.random.default_rng(1).normal(0.0, 1.0, 32_000).astype(np.float32)
    assert fit_partials(noise, RATE_HZ, np.array([587.0]), 587.33, 0.0) == [None]
