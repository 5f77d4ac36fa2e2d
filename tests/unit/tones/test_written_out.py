"""The tone written out: one mode after the other, in plain numbers, held against what is computed in tables.

The numbers are those the voice was tuned to; whether they make a banjo is asked in test_voice. Here each stands a
second time, so that a slip in either place is seen: a changed voice would make a listener's old and new blocks unlike.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.signal import bilinear, freqz, lfilter

from banjo import FIVE_STRING
from centwise.errors import UsageError
from centwise.model import Condition, PairSpec
from centwise.tones.course import both_strings
from centwise.tones.kernel import damped_bank
from centwise.tones.layout import lay_out, peak_dbfs, span_of
from centwise.tones.limits import check_likeness, check_offset_cents, check_rate_hz
from centwise.tones.loudness import k_weighted_loudness, k_weighting_biquads, k_weighting_power, loudness_lkfs
from centwise.tones.modes import Modes
from centwise.tones.pair import render_pair, render_pairs, tone_alone
from centwise.tones.pluck import first_partial_hz, headroom_gain, pluck, render
from centwise.tones.single import render_single
from centwise.tones.sympathy import sympathetic_modes
from centwise.tones.touch import Touch, draw_touch
from centwise.tones.voice import (
    FRETTED_VOICE,
    HARMONIC_VOICE,
    Voice,
    body_modes,
    quenched_modes,
    string_modes,
    voice_of,
)

if TYPE_CHECKING:
    from centwise.model import ToneKind
    from centwise.strings.instrument import StringSpec

RATE_HZ = 44_100
BODY_HZ = (230.0, 340.0, 520.0, 690.0, 830.0, 1010.0, 1330.0, 1720.0, 2250.0, 2900.0, 3600.0)


def touch_of(seed: int = 3) -> Touch:
    return draw_touch(np.random.default_rng(seed))


def mode_hz(string: StringSpec, number: int) -> float:
    # Fletcher and Rossing, The Physics of Musical Instruments, section 2.18: n f0 sqrt(1 + B n^2).
    return number * string.open_hz * math.sqrt(1.0 + string.inharmonicity * number**2)


def sounded(frequency_hz: float) -> float:
    return 1.0 / (1.0 + (530.0 / frequency_hz) ** 2)


def amplitude(string: StringSpec, number: int, per: int, rolloff: float, touch: Touch) -> float:
    # |sin(pi n x/L)|/m, each kilohertz so many decibels weaker, each octave so many stronger, under two hills.
    hz = mode_hz(string, number)
    m = number / per
    hills = 1.0 + 8.2 * math.exp(-0.5 * (math.log(hz / 680.0) / math.log(1.55)) ** 2)
    hills += 3.0 * math.exp(-0.5 * (math.log(hz / 3100.0) / math.log(1.2)) ** 2)
    decibels = touch.tilt_db_per_octave * math.log2(m) - rolloff * hz / 1000.0
    plucked = abs(math.sin(math.pi * number * touch.point_mm / string.length_mm)) / m
    return plucked * 10.0 ** (decibels / 20.0) * hills * sounded(hz)


@pytest.mark.parametrize(
    ("kind", "number", "touched", "step"),
    [("open", 3, 2, 1), ("fretted", 1, 2, 2), ("harmonic", 4, 2, 2), ("harmonic", 5, 3, 3), ("fretted", 2, 3, 2)],
)
def test_the_lasting_modes(kind: ToneKind, number: int, touched: int, step: int) -> None:
    string, touch, voice = FIVE_STRING.string(number), touch_of(), voice_of(kind, 0.0)
    modes = string_modes(kind, string, voice, touch, RATE_HZ, touched)
    numbers = [step * m for m in range(1, 257) if mode_hz(string, step * m) < 16_000.0]
    assert len(modes.frequency_hz) == len(numbers)
    rolloff, excess = (6.4, 0.8) if kind == "harmonic" else (5.1, 1.0)
    for place, n in enumerate(numbers):
        hz = mode_hz(string, n)
        slow = 0.8 + 7e-4 * hz
        size = amplitude(string, n, step, rolloff, touch)
        assert modes.frequency_hz[place] == pytest.approx(hz, rel=1e-12)
        assert modes.weight[place] == pytest.approx([0.82 * size, 0.18 * size], rel=1e-9)
        assert modes.decay_per_s[place] == pytest.approx([slow + excess * (4.5 + 1.2e-3 * hz), slow], rel=1e-12)
        assert modes.phase_rad[place] == touch.phases_rad[place]


def test_partials_stop_at_16_khz_or_45_hundredths_of_the_rate() -> None:
    string = FIVE_STRING.string(1)
    for rate_hz, ceiling_hz in ((22_050, 0.45 * 22_050), (35_555, 0.45 * 35_555), (192_000, 16_000.0)):
        found = string_modes("open", string, FRETTED_VOICE, touch_of(), rate_hz).frequency_hz
        above = mode_hz(string, len(found) + 1)
        assert found[-1] < ceiling_hz <= above
    # The lowest of strings has no more of them than there are phases drawn.
    low = replace(string, open_hz=20.0, core_mm=0.01)
    assert len(string_modes("open", low, FRETTED_VOICE, touch_of(), 192_000).frequency_hz) == 256
    assert len(quenched_modes(low, HARMONIC_VOICE, touch_of(), 192_000, 3).frequency_hz) == 256


@pytest.mark.parametrize(("touched", "quenched"), [(2, [1, 3, 5, 7]), (3, [1, 2, 4, 5])])
def test_a_finger_at_a_node_quenches_the_modes_that_have_none_there(touched: int, quenched: list[int]) -> None:
    string, touch = FIVE_STRING.string(4), touch_of()
    modes = quenched_modes(string, HARMONIC_VOICE, touch, RATE_HZ, touched)
    for place, n in enumerate(quenched):
        assert modes.frequency_hz[place] == pytest.approx(mode_hz(string, n), rel=1e-12)
        assert modes.weight[place] == pytest.approx([0.5 * amplitude(string, n, 2, 6.4, touch), 0.0], rel=1e-9)
        # Down by 60 dB in 50 ms.
        assert math.exp(-modes.decay_per_s[place][0] * 0.05) == pytest.approx(1e-3)
        assert modes.decay_per_s[place][1] == modes.decay_per_s[place][0]
    assert np.array_equal(modes.phase_rad, touch.quenched_phases_rad[: len(modes.frequency_hz)])
    lasting = string_modes("harmonic", string, HARMONIC_VOICE, touch, RATE_HZ, touched)
    assert len(modes.frequency_hz) == (touched - 1) * len(lasting.frequency_hz)
    assert not set(modes.frequency_hz) & set(lasting.frequency_hz)


def test_the_knock_of_head_and_bridge() -> None:
    touch = touch_of()
    modes = body_modes(2.0, touch)
    assert modes.frequency_hz.tolist() == list(BODY_HZ)
    for place, hz in enumerate(BODY_HZ):
        t60_s = 0.25 * (0.04 / 0.25) ** (math.log(hz / 230.0) / math.log(3600.0 / 230.0))
        assert math.exp(-modes.decay_per_s[place][0] * t60_s) == pytest.approx(1e-3)
        assert modes.weight[place] == pytest.approx([0.07 * 2.0 * sounded(hz), 0.0])
    assert modes.phase_rad is touch.body_phases_rad


def test_a_decay_is_left_off_once_it_is_a_ten_millionth_of_the_whole() -> None:
    # Beside a loud mode that is gone in 0.081 s (and left off at 0.12 s), a faint one that lasts and one too faint.
    loud, slow_per_s = 1000.0, 0.01
    fast_per_s = math.log(1e7) / 0.081

    def rendered(faint: float) -> np.ndarray:
        modes = Modes(
            np.array([500.0, 300.0]),
            np.array([[loud, 0.0], [faint, 0.0]]),
            np.array([[fast_per_s, 1.0], [slow_per_s, 1.0]]),
            np.array([0.4, 0.2]),
        )
        return modes.render(800, 1000)

    time = np.arange(800) / 1000.0
    wave = loud * np.exp(-fast_per_s * time) * np.cos(2.0 * np.pi * 500.0 * time + 0.4)
    under = 1.5e-4 * np.exp(-slow_per_s * time) * np.cos(2.0 * np.pi * 300.0 * time + 0.2)
    assert rendered(1.5e-4)[120:] == pytest.approx(under[120:], abs=1e-12)
    assert rendered(1.5e-4)[:120] == pytest.approx((wave + under)[:120], abs=1e-9)
    assert not rendered(0.5e-4)[120:].any()
    assert rendered(0.5e-4)[:120] == pytest.approx(wave[:120], abs=1e-9)


@pytest.mark.parametrize("lasting_s", [0.25, 0.5, 1.0])
def test_a_decay_that_ends_with_a_stretch_is_heard_once(lasting_s: float) -> None:
    decay = np.log(np.array([1.0]) / 1e-7) / lasting_s
    modes = Modes(np.array([300.0]), np.array([[1.0, 0.0]]), np.stack((decay, decay), axis=1), np.array([0.2]))
    time = np.arange(1200) / 1000.0
    wave = np.exp(-decay[0] * time) * np.cos(2.0 * np.pi * 300.0 * time + 0.2)
    wave[round(lasting_s * 1000.0) :] = 0.0
    assert modes.render(1200, 1000) == pytest.approx(wave, abs=1e-12)


def test_a_likeness_between_is_between_in_every_part() -> None:
    assert voice_of("harmonic", 0.25) == Voice(pytest.approx(0.375), pytest.approx(0.85), pytest.approx(6.075))


def test_a_course_is_two_strings_of_which_the_second_comes_later_and_weaker() -> None:
    string, touch = FIVE_STRING.string(2), touch_of()
    one = string_modes("open", string, FRETTED_VOICE, touch, RATE_HZ)
    two = both_strings(one, touch)
    delay_s = 0.0003 + touch.quenched_phases_rad[-1] / (2.0 * math.pi) * 0.0007
    assert 0.0003 <= delay_s <= 0.001
    for place, hz in enumerate(one.frequency_hz):
        first = cmath.exp(1j * one.phase_rad[place])
        second = 0.5 * cmath.exp(1j * (one.phase_rad[place] - 2.0 * math.pi * hz * delay_s))
        assert two.weight[place] == pytest.approx(one.weight[place] * abs(first + second), rel=1e-9)
        assert cmath.exp(1j * two.phase_rad[place]) == pytest.approx((first + second) / abs(first + second))
    assert two.frequency_hz is one.frequency_hz
    assert two.decay_per_s is one.decay_per_s


def test_the_other_strings_ring_as_oscillators_driven_off_their_pitch() -> None:
    string, touch = FIVE_STRING.string(1), touch_of()
    tone = string_modes("harmonic", string, HARMONIC_VOICE, touch, RATE_HZ)
    doubled = replace(
        FIVE_STRING, strings=tuple(replace(each, course=2 if each.number == 4 else 1) for each in FIVE_STRING.strings)
    )
    modes = sympathetic_modes(doubled, string, tone, touch, RATE_HZ)
    driving = [float(weight.sum()) for weight in tone.weight]
    place = 0
    for number, size in ((2, 1.0), (3, 1.0), (4, 2.0), (5, 1.0)):
        for partial in range(1, 25):
            hz = partial * FIVE_STRING.string(number).open_hz
            if hz >= 2500.0:
                continue
            reached = sum(
                drive * cmath.exp(1j * phase) / (1.0 - 1j * (hz - driven_hz) / 6.0)
                for drive, phase, driven_hz in zip(driving, tone.phase_rad, tone.frequency_hz, strict=True)
            )
            wanted = size * (0.15 * abs(reached) + 0.01 * max(driving) / partial)
            assert modes.frequency_hz[place] == pytest.approx(hz)
            # It begins at nothing, swells, and dies away as the plucked string's slow half does.
            assert modes.weight[place] == pytest.approx([wanted, -wanted], rel=1e-9)
            slow = 0.8 + 7e-4 * hz
            assert modes.decay_per_s[place] == pytest.approx([slow, slow + 16.0])
            place += 1
    assert place == len(modes.frequency_hz)
    # Each of the 24 partials of each string has its phase, those that are too high to sound as well.
    kept = [
        24 * index + partial - 1
        for index, number in enumerate((2, 3, 4, 5))
        for partial in range(1, 25)
        if partial * FIVE_STRING.string(number).open_hz < 2500.0
    ]
    assert np.array_equal(modes.phase_rad, touch.sympathetic_phases_rad[kept])
    # As much softer as the tone is they ring, the knock included.
    softer = replace(tone, weight=tone.weight / 1024.0)
    assert np.array_equal(sympathetic_modes(doubled, string, softer, touch, RATE_HZ).weight, modes.weight / 1024.0)


def test_a_string_alone_has_nothing_to_ring_along() -> None:
    lone = replace(FIVE_STRING, strings=FIVE_STRING.strings[:1])
    string, touch = lone.string(1), touch_of()
    tone = string_modes("open", string, FRETTED_VOICE, touch, RATE_HZ)
    modes = sympathetic_modes(lone, string, tone, touch, RATE_HZ)
    assert modes.frequency_hz.size == 0
    assert not modes.render(100, RATE_HZ).any()


def test_ringing_stays_below_45_hundredths_of_a_low_rate() -> None:
    string, touch = FIVE_STRING.string(1), touch_of()
    tone = string_modes("open", string, FRETTED_VOICE, touch, 5000)
    assert sympathetic_modes(FIVE_STRING, string, tone, touch, 5000).frequency_hz.max() < 0.45 * 5000
    assert sympathetic_modes(FIVE_STRING, string, tone, touch, 5000).frequency_hz.max() > 0.43 * 5000


def summed(modes: Modes, frames: int, rate_hz: int, ratio: float = 1.0) -> np.ndarray:
    time = np.arange(frames) / rate_hz
    total = np.zeros(frames)
    for hz, weight, decay, phase in zip(
        modes.frequency_hz, modes.weight, modes.decay_per_s, modes.phase_rad, strict=True
    ):
        envelope = sum(w * np.exp(-d * time) for w, d in zip(weight, decay, strict=True))
        total += envelope * np.cos(2.0 * np.pi * hz * ratio * time + phase)
    return total


@pytest.mark.parametrize("muted", [True, False])
def test_a_tone_is_the_sum_of_its_modes_its_pick_and_its_fades(muted: bool) -> None:
    rate_hz, frames, touch = 22_050, round(0.4 * 22_050), touch_of(8)
    string = FIVE_STRING.string(1)
    plucked = pluck("harmonic", FIVE_STRING, string, touch, likeness=0.0, muted=muted, rate_hz=rate_hz)
    lasting = string_modes("harmonic", string, HARMONIC_VOICE, touch, rate_hz)
    largest = max(float(weight.sum()) for weight in lasting.weight)
    parts = [body_modes(largest, touch), quenched_modes(string, HARMONIC_VOICE, touch, rate_hz)]
    if not muted:
        parts.append(sympathetic_modes(FIVE_STRING, string, lasting, touch, rate_hz))
    ratio = 2.0 ** (30.0 / 1200.0)
    tone = summed(lasting, frames, rate_hz, ratio) + sum(summed(part, frames, rate_hz) for part in parts)
    sounding = [lasting, *parts]
    # A bound nothing passes: both stages of a mode together, or the larger where they pull against each other.
    bound = sum(
        abs(a) + abs(b) if a * b >= 0.0 else max(abs(a), abs(b)) for modes in sounding for a, b in modes.weight.tolist()
    )
    # Noise of 4 ms, falling by a raised cosine, without a mean, a twentieth of the bound at most.
    picks = round(0.004 * rate_hz)
    fall = np.array([0.5 - 0.5 * math.cos(math.pi * (picks - 1 - place) / picks) for place in range(picks)])
    noise = touch.pick[:picks]
    tone[:picks] += 0.05 * bound * fall * (noise - (fall @ noise) / fall.sum()) / 2.0
    # Loudness: K-weighted energy (ITU-R BS.1770) of 1.4 s by numerical integration of each mode's envelope.
    seconds = np.arange(0.0, 1.4, 1e-4)
    energy = 0.0
    for modes in sounding:
        power = k_weighting_power(modes.frequency_hz, rate_hz)
        for weight, decay, gained in zip(modes.weight, modes.decay_per_s, power, strict=True):
            envelope = sum(w * np.exp(-d * seconds) for w, d in zip(weight, decay, strict=True))
            energy += gained * trapezoid(envelope**2, seconds) / 2.0
    lkfs = -0.691 + 10.0 * math.log10(energy / 1.4)
    gain = 10.0 ** ((-31.0 + touch.level_db - lkfs) / 20.0)
    assert plucked.gain == pytest.approx(gain, rel=1e-3)
    assert plucked.peak == pytest.approx(plucked.gain * bound * 1.05, rel=1e-9)
    tone *= plucked.gain * 0.9
    rise, fade = round(0.0008 * rate_hz), round(0.030 * rate_hz)
    tone[:rise] *= [0.5 - 0.5 * math.cos(math.pi * place / rise) for place in range(rise)]
    tone[-fade:] *= [0.5 - 0.5 * math.cos(math.pi * (fade - 1 - place) / fade) for place in range(fade)]
    rendered = render(plucked, offset_cents=30.0, gain=0.9, frames=frames, rate_hz=rate_hz)
    # What is 140 dB down is left off.
    assert rendered == pytest.approx(tone, abs=3e-5 * plucked.peak)
    assert first_partial_hz(plucked, 30.0) == pytest.approx(lasting.frequency_hz[0] * ratio)
    assert first_partial_hz(plucked, 0.0) == lasting.frequency_hz[0]


def test_fretted_and_open_tones_quench_nothing_and_a_course_is_heard_in_every_part() -> None:
    touch = touch_of()
    string = FIVE_STRING.string(2)
    for kind in ("fretted", "open"):
        plain = pluck(kind, FIVE_STRING, string, touch, likeness=0.0, muted=True, rate_hz=RATE_HZ)
        assert len(plain.onset) == 1
        assert plain.ringing == ()
    double = replace(string, course=2)
    both = pluck("harmonic", FIVE_STRING, double, touch, likeness=0.0, muted=True, rate_hz=RATE_HZ, touched=3)
    lasting = both_strings(string_modes("harmonic", string, HARMONIC_VOICE, touch, RATE_HZ, 3), touch)
    quenched = both_strings(quenched_modes(string, HARMONIC_VOICE, touch, RATE_HZ, 3), touch)
    assert np.array_equal(both.lasting.weight, lasting.weight)
    assert np.array_equal(both.onset[1].weight, quenched.weight)
    assert np.array_equal(both.onset[1].phase_rad, quenched.phase_rad)
    largest = max(float(weight.sum()) for weight in lasting.weight)
    assert np.array_equal(both.onset[0].weight, body_modes(largest, touch).weight)


def test_one_gain_keeps_the_loudest_of_some_tones_below_minus_6_db() -> None:
    tone = pluck("open", FIVE_STRING, FIVE_STRING.string(3), touch_of(), likeness=0.0, muted=True, rate_hz=RATE_HZ)
    ceiling = 10.0 ** (-6.0 / 20.0)
    quiet, loud = replace(tone, peak=0.4), replace(tone, peak=0.8)
    assert headroom_gain(quiet) == 1.0
    assert headroom_gain(quiet, loud) == headroom_gain(loud) == pytest.approx(ceiling / 0.8)
    assert headroom_gain(replace(tone, peak=ceiling)) == 1.0


def test_a_touch_is_drawn_in_one_order_for_ever() -> None:
    # Blocks are stored with their seeds: whoever draws in another order renders another tone for the same seed.
    drawn, rng = touch_of(5), np.random.default_rng(5)
    assert drawn.point_mm == rng.uniform(45.0, 63.0)
    assert drawn.level_db == rng.uniform(-2.0, 2.0)
    assert drawn.tilt_db_per_octave == rng.uniform(-0.4, 1.2)
    assert np.array_equal(drawn.phases_rad, rng.uniform(0.0, 2.0 * np.pi, 256))
    assert np.array_equal(drawn.quenched_phases_rad, rng.uniform(0.0, 2.0 * np.pi, 256))
    assert np.array_equal(drawn.body_phases_rad, rng.uniform(0.0, 2.0 * np.pi, 11))
    assert np.array_equal(drawn.sympathetic_phases_rad, rng.uniform(0.0, 2.0 * np.pi, 256))
    assert np.array_equal(drawn.pick, rng.uniform(-1.0, 1.0, 768))


def test_tones_lie_in_silence_to_the_frame() -> None:
    one, two, three = np.full(10, 0.5), np.full(10, -0.25), np.full(10, 1.0)
    laid = lay_out([one, two, three], 1000)
    assert laid.dtype == np.float32
    assert (
        laid.tolist() == [0.0] * 120 + [0.5] * 10 + [0.0] * 500 + [-0.25] * 10 + [0.0] * 500 + [1.0] * 10 + [0.0] * 50
    )
    spans = [span_of(number, 10, 1000, 440.0) for number in range(3)]
    assert [(span.start_s, span.end_s) for span in spans] == [(0.12, 0.13), (0.63, 0.64), (1.14, 1.15)]
    assert spans[0].frequency_hz == 440.0
    assert peak_dbfs(laid) == 0.0
    assert peak_dbfs(lay_out([two], 1000)) == pytest.approx(-12.0412, abs=1e-4)
    assert peak_dbfs(np.array([-1e-6], dtype=np.float32)) == pytest.approx(-120.0, abs=1e-3)
    assert peak_dbfs(lay_out([], 1000)) == -math.inf
    assert peak_dbfs(np.zeros(0, dtype=np.float32)) == -math.inf
    assert loudness_lkfs(0.0) == -math.inf
    assert loudness_lkfs(1e-12) == pytest.approx(-120.691)


def test_the_ends_of_the_ranges_belong_to_them_and_beyond_is_told() -> None:
    assert [check_rate_hz(rate_hz) for rate_hz in (22_050, 192_000)] == [22_050, 192_000]
    assert [check_offset_cents(cents) for cents in (-100.0, 100.0)] == [-100.0, 100.0]
    assert [check_likeness(likeness) for likeness in (0.0, 1.0)] == [0.0, 1.0]
    for refused, told in (
        (lambda: check_rate_hz(22_049), "a rate of 22049 Hz is outside 22050 to 192000: choose one such as 48000."),
        (
            lambda: check_offset_cents(-100.0001),
            "an offset of -100.0001 cents is outside -100 to 100: choose a smaller one.",
        ),
        (
            lambda: check_likeness(1.5),
            "a likeness of 1.5 is outside 0 to 1: 0 is the real difference, 1 is one voice.",
        ),
    ):
        with pytest.raises(UsageError) as caught:
            refused()
        assert str(caught.value) == told


def test_a_single_tone_is_named_placed_and_moved_by_what_it_is() -> None:
    def made(kind: ToneKind, offset_cents: float, **others: object) -> tuple[str, float, float, float]:
        single = render_single(
            kind,
            FIVE_STRING,
            5,
            offset_cents=offset_cents,
            rate_hz=22_050,
            rng=np.random.default_rng(2),
            **others,  # type: ignore[arg-type]
        )
        return single.sound.name, single.span.start_s, single.span.end_s, single.span.frequency_hz

    string = FIVE_STRING.string(5)
    start_s = round(0.12 * 22_050) / 22_050
    assert made("fretted", 50.0) == (
        "fretted-string-5",
        start_s,
        start_s + 3.0,
        pytest.approx(mode_hz(string, 2) * 2.0 ** (50.0 / 1200.0)),
    )
    # An offset moves the fretted note alone.
    assert made("harmonic", 50.0, duration_s=0.5)[2:] == (start_s + 0.5, pytest.approx(mode_hz(string, 2)))
    assert made("open", 50.0)[3] == pytest.approx(mode_hz(string, 1))
    assert made("harmonic", 0.0, touched=3)[3] == pytest.approx(mode_hz(string, 3))


def test_a_pair_is_two_tones_of_two_touches_at_one_gain() -> None:
    rate_hz, frames = 22_050, round(1.4 * 22_050)
    specs = [
        PairSpec(n=3, condition=Condition(string=4, likeness=0.3), offset_cents=-20.0, first="fretted"),
        PairSpec(n=4, condition=Condition(string=4, likeness=0.3), offset_cents=20.0, first="harmonic"),
        PairSpec(n=5, condition=Condition(string=2, muted=False), offset_cents=0.0, first="harmonic"),
    ]
    made = render_pairs(specs, FIVE_STRING, rate_hz=rate_hz, rng=np.random.default_rng(6))
    rng = np.random.default_rng(6)
    touches = {"harmonic": draw_touch(rng), "fretted": draw_touch(rng)}
    for spec, pair in zip(specs, made, strict=True):
        plucked = {
            tone: pluck(
                tone,  # type: ignore[arg-type]
                FIVE_STRING,
                FIVE_STRING.string(spec.condition.string),
                touch,
                likeness=spec.condition.likeness,
                muted=spec.condition.muted,
                rate_hz=rate_hz,
            )
            for tone, touch in touches.items()
        }
        gain = min(1.0, 10.0 ** (-6.0 / 20.0) / max(each.peak for each in plucked.values()))
        offsets = {"harmonic": 0.0, "fretted": spec.offset_cents}
        order = ["harmonic", "fretted"] if spec.first == "harmonic" else ["fretted", "harmonic"]
        tones = [
            render(plucked[tone], offset_cents=offsets[tone], gain=gain, frames=frames, rate_hz=rate_hz)
            for tone in order
        ]
        expected = np.concatenate(
            [np.zeros(2646), tones[0], np.zeros(round(0.5 * rate_hz)), tones[1], np.zeros(round(0.05 * rate_hz))]
        )
        assert pair.sound.samples == pytest.approx(expected, abs=1e-6)
        assert (pair.sound.name, pair.sound.rate_hz, pair.first) == (f"pair-000{spec.n}", rate_hz, spec.first)
        assert pair.peak_dbfs == pytest.approx(20.0 * math.log10(np.max(np.abs(expected))), abs=1e-4)
        for place, tone in enumerate(order):
            start = 2646 + place * (frames + round(0.5 * rate_hz))
            span = pair.span(tone)  # type: ignore[arg-type]
            assert (span.start_s, span.end_s) == (start / rate_hz, (start + frames) / rate_hz)
            assert span.frequency_hz == first_partial_hz(plucked[tone], offsets[tone])
            alone = tone_alone(pair, tone)  # type: ignore[arg-type]
            assert alone.name == f"pair-000{spec.n}-{tone}"
            assert alone.rate_hz == rate_hz
            assert np.array_equal(alone.samples, pair.sound.samples[start - 2646 : start + frames + 1102])
    one = render_pair(specs[1], FIVE_STRING, rate_hz=rate_hz, rng=np.random.default_rng(6))
    assert np.array_equal(one.sound.samples, made[1].sound.samples)
    with pytest.raises(UsageError, match="a rate of 8000 Hz"):
        render_pairs(specs, FIVE_STRING, rate_hz=8000, rng=np.random.default_rng(6))


def test_a_single_tone_is_muted_and_has_its_own_voice_unless_told() -> None:
    def made(**others: object) -> np.ndarray:
        rng = np.random.default_rng(2)
        single = render_single("harmonic", FIVE_STRING, 3, offset_cents=0.0, rate_hz=22_050, rng=rng, **others)  # type: ignore[arg-type]
        assert single.peak_dbfs == pytest.approx(20.0 * math.log10(np.max(np.abs(single.sound.samples))))
        assert single.sound.rate_hz == 22_050
        return single.sound.samples

    plain = made()
    assert np.array_equal(plain, made(likeness=0.0, muted=True, duration_s=3.0, touched=2))
    for other in ({"likeness": 0.5}, {"muted": False}, {"touched": 3}):
        assert not np.array_equal(plain, made(**other))


@pytest.mark.parametrize("frames", [1, 15, 17, 300, 5000])
def test_a_bank_of_one_mode_is_its_sine(frames: int) -> None:
    time = np.arange(frames) / 8000.0
    expected = 0.5 * np.exp(-3.0 * time) * np.cos(2.0 * np.pi * 441.0 * time + 0.4)
    assert damped_bank([441], [3], [0.5], [0.4], frames=frames, rate_hz=8000) == pytest.approx(expected, abs=1e-12)
    assert damped_bank([], [], [], [], frames=frames, rate_hz=8000).tolist() == [0.0] * frames
    assert damped_bank([441], [3], [0.5], [0.4], frames=0, rate_hz=8000).size == 0


def test_single_precision_is_taken_as_the_numbers_it_holds() -> None:
    hz, decay, amplitude, phase = (np.array([value], dtype=np.float32) for value in (441.3, 3.1, 0.7, 0.4))
    single = damped_bank(hz, decay, amplitude, phase, frames=5000, rate_hz=8000)
    double = damped_bank(*(part.astype(float) for part in (hz, decay, amplitude, phase)), frames=5000, rate_hz=8000)
    assert np.array_equal(single, double)
    assert np.array_equal(k_weighting_power(hz, 48_000), k_weighting_power(hz.astype(float), 48_000))


def test_loudness_counts_every_sample_and_nothing_is_silent() -> None:
    assert k_weighted_loudness(np.zeros(0), 8000) == -math.inf
    # One sample, then a sound that begins with its last tenth of a second: filtered one after the other, rung out.
    for samples in (np.ones(1), np.concatenate((np.zeros(800), np.ones(5)))):
        filtered = np.concatenate((samples, np.zeros(8000)))
        for b, a in k_weighting_biquads(8000):
            filtered = lfilter(b, a, filtered)
        wanted = -0.691 + 10.0 * math.log10(float(filtered @ filtered) / samples.size)
        assert k_weighted_loudness(samples, 8000) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("rate_hz", [22_050, 48_000, 96_000])
def test_k_weighting_is_scipys_bilinear_transform_of_its_analogue_filters(rate_hz: int) -> None:
    # ITU-R BS.1770: a shelf of 4 dB from 1682 Hz on and a high pass at 38 Hz (corner frequencies, gain and Q recalled;
    # test_loudness holds the result against the printed coefficients).
    hz = np.array([20.0, 38.0, 100.0, 1000.0, 1682.0, 4000.0, 9000.0])
    total = np.ones(hz.size, dtype=complex)
    gain = 10.0 ** (3.999843853973347 / 20.0)
    for (b, a), corner_hz, q in zip(
        k_weighting_biquads(rate_hz),
        (1681.974450955533, 38.13547087602444),
        (0.7071752369554196, 0.5003270373238773),
        strict=True,
    ):
        warped = 2.0 * rate_hz * math.tan(math.pi * corner_hz / rate_hz)
        bottom = [1.0, warped / q, warped**2]
        shelf = [gain, gain**0.4996667741545416 * warped / q, warped**2]
        top = shelf if corner_hz > 1000.0 else [1.0, 0.0, 0.0]
        wanted_b, wanted_a = bilinear(top, bottom, fs=rate_hz)
        assert a == pytest.approx(wanted_a)
        # The high pass is printed without the factor, near one, that would bring its top to one.
        factor = 1.0 if corner_hz > 1000.0 else wanted_b[0]
        assert b == pytest.approx(wanted_b / factor)
        total *= freqz(b, a, hz, fs=rate_hz)[1]
    assert k_weighting_power(hz, rate_hz) == pytest.approx(np.abs(total) ** 2)
