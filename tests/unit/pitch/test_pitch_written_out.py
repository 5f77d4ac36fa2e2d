"""Measuring written out: values small enough to be worked by hand, or by plain loops, held against what is computed."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.signal import correlate, hilbert, resample
from takes import D5_HZ, moved, note, recording, take

from banjo import FIVE_STRING
from centwise.errors import InputError
from centwise.pitch.catching import Catcher
from centwise.pitch.checks import glide_cents
from centwise.pitch.combine import _middle, pool
from centwise.pitch.intake import Intake, Recording, _low_pass, one_channel, taken_in
from centwise.pitch.loop import LoopReading, _between, _chirps, loop_sound, read_loop
from centwise.pitch.measure import _compared, glide_apart_cents, measure_apart, measure_pairs, measure_take
from centwise.pitch.notes import _levels_db, _mean_db, find_notes
from centwise.pitch.partials import (
    PartialFit,
    _fit,
    _level,
    _slopes_hz,
    _unwrapped,
    _whole_frames,
    _window_correlation,
    fit_partials,
)
from centwise.pitch.quantiles import chi_square_999, student_95
from centwise.pitch.records import Note
from centwise.pitch.spectrum import Peaks, explained_share, find_peaks, find_pitch, nearest_peak_hz, on_multiple

RATE_HZ = 16_000.0


@pytest.mark.parametrize(
    ("freedom", "near"), [(1, 1e-12), (2, 1e-12), (3, 5e-4), (4, 1.3e-4), (5, 5e-5), (7, 1e-5), (10, 2e-6), (30, 1e-8)]
)
def test_students_quantile_converges_on_scipys(freedom: int, near: float) -> None:
    assert student_95(freedom) == pytest.approx(stats.t.ppf(0.95, freedom), rel=near)


@pytest.mark.parametrize("freedom", [1, 2, 5, 30])
def test_chi_squares_quantile_is_the_cube_of_a_normal_one(freedom: int) -> None:
    # Wilson and Hilferty 1931: (chi2/n)^(1/3) is about normal, mean 1 - 2/9n, variance 2/9n.
    cube_root = stats.norm.ppf(0.999, loc=1.0 - 2.0 / (9.0 * freedom), scale=math.sqrt(2.0 / (9.0 * freedom)))
    assert chi_square_999(freedom) == pytest.approx(freedom * cube_root**3, rel=1e-9)


@pytest.mark.parametrize(
    ("values", "variances"),
    [
        ([0.0, 4.0, 1.0], [0.01, 0.02, 0.03]),
        ([-3.0, 3.0], [0.1, 0.2]),
        ([0.0, 1.0, 2.0, 3.0, 4.5, 9.0], [0.01, 0.02, 0.01, 0.03, 0.01, 0.01]),
        ([0.0, 0.1, -0.1, 0.05, 40.0], [1e-4] * 5),
        ([1.0, 1.2, 0.9, 5.0], [0.01] * 4),
        ([0.0, 0.04, 0.01], [1e-6, 2e-6, 3e-6]),
    ],
)
def test_values_that_scatter_are_pooled_as_paule_mandel_and_huber_say(
    values: list[float], variances: list[float]
) -> None:
    x, own = np.array(values), np.array(variances)
    found = pool(x, own)

    def squares(excess: float) -> float:
        weights = 1.0 / (own + excess)
        return float((weights * (x - (weights @ x) / weights.sum()) ** 2).sum())

    # Paule and Mandel: the excess at which the weighted squares come to their expectation, found by halving.
    low, high = 0.0, 1e6
    for _ in range(200):
        middle = (low + high) / 2.0
        low, high = (middle, high) if squares(middle) > len(x) - 1 else (low, middle)
    if len(x) >= 5:
        spread = 1.4826 * np.median(np.abs(x - np.median(x)))
        high = min(high, (2.0 * spread) ** 2)
    assert found.excess_sd == pytest.approx(math.sqrt(high), rel=1e-6)
    # Huber: beyond 1.5 standard deviations a value counts as if it stood there; twenty rounds from the plain mean.
    mean = float((x / own).sum() / (1.0 / own).sum())
    for _ in range(20):
        shares = [
            min(1.0, 1.5 / (abs(each - mean) / math.sqrt(v + high))) / (v + high) if each != mean else 1.0 / (v + high)
            for each, v in zip(x, own, strict=True)
        ]
        weights = np.array(shares) / sum(shares)
        mean = float(weights @ x)
    assert found.mean == pytest.approx(mean, abs=1e-9)
    assert found.weights == pytest.approx(weights)
    widened = student_95(len(x) - 1) / stats.norm.ppf(0.95)
    by_scatter = math.sqrt(float((weights**2 * (own + widened**2 * high)).sum()))
    by_themselves = math.sqrt(1.0 / (1.0 / own).sum())
    assert found.std_error == pytest.approx(max(by_scatter, by_themselves))


def test_loud_values_count_more_where_values_scatter() -> None:
    x, own, loudness = np.array([0.0, 4.0, 1.0]), np.array([0.01, 0.05, 0.03]), np.array([0.5, 0.25, 0.4])
    found = pool(x, own, loudness)
    # Beside the loudest; no value is believed below the weighted median of the variances, here the first's and third's.
    beside = loudness / 0.5
    own = np.maximum(own, 0.03)

    def squares(excess: float) -> float:
        weights = beside / (own + excess)
        return float(weights @ (x - weights @ x / weights.sum()) ** 2)

    low, high = 0.0, 1e6
    for _ in range(200):
        middle = (low + high) / 2.0
        low, high = (middle, high) if squares(middle) > 2.0 else (low, middle)
    assert found.excess_sd == pytest.approx(math.sqrt(high), rel=1e-6)
    mean = float((x / [0.01, 0.05, 0.03]).sum() / (1.0 / np.array([0.01, 0.05, 0.03])).sum())
    for _ in range(20):
        total = (own + high) / beside
        weights = np.minimum(1.0, 1.5 / (np.abs(x - mean) / np.sqrt(total))) / total
        weights /= weights.sum()
        mean = float(weights @ x)
    assert found.mean == pytest.approx(mean)
    assert found.weights == pytest.approx(weights)
    widened = student_95(2) / stats.norm.ppf(0.95)
    assert found.std_error == pytest.approx(math.sqrt(float(weights**2 @ ((own + widened**2 * high) / beside))))
    # Where they do not scatter, loudness tells nothing.
    assert pool(x, np.full(3, 9.0), loudness).weights == pytest.approx([1 / 3] * 3)


def test_values_scatter_when_chi_square_passes_its_99_9_per_cent_point() -> None:
    # Two values of variance 1/2 apart by d: chi-square d^2 on one degree of freedom, 11.157 by the formula.
    edge = math.sqrt(chi_square_999(1))
    assert pool(np.array([0.0, edge - 1e-6]), np.full(2, 0.5)).excess_sd == 0.0
    assert pool(np.array([0.0, edge + 1e-6]), np.full(2, 0.5)).excess_sd > 0.0


def test_the_weighted_median_lies_between_the_middle_two() -> None:
    values = np.array([3.0, 10.0, 1.0, 2.0])
    assert _middle(values, np.ones(4)) == 2.5
    assert _middle(values, np.array([1.0, 1.0, 1.0, 2.0])) == 2.0
    assert _middle(values[:3], np.ones(3)) == 3.0
    assert _middle(values, np.array([1.0, 3.0, 1.0, 1.0])) == 6.5


def peaks_at(*pairs: tuple[float, float]) -> Peaks:
    return Peaks(np.array([hz for hz, _ in pairs]), np.array([size for _, size in pairs]))


def test_the_pitch_is_the_highest_whose_multiples_hold_what_is_heard() -> None:
    assert find_pitch(peaks_at((400.0, 1.0), (200.0, 0.8), (600.0, 0.5))) == pytest.approx(200.0)
    # An octave above is taken when what is left over is less than a fifth of what the best explains.
    for odd, pitch_hz in ((0.2, 400.0), (0.3, 200.0)):
        assert find_pitch(peaks_at((400.0, 1.0), (200.0, odd))) == pytest.approx(pitch_hz)
    # The same beside a stranger, which no pitch explains.
    for odd, pitch_hz in ((0.2, 400.0), (0.4, 200.0)):
        assert find_pitch(peaks_at((400.0, 1.0), (200.0, odd), (970.0, 0.2))) == pytest.approx(pitch_hz)
    # Nothing that explains less than 65 % is a pitch.
    strangers = ((71.0, 1.0), (83.0, 1.0), (97.0, 1.0))
    assert find_pitch(peaks_at(*strangers)) is None
    assert find_pitch(peaks_at()) is None
    # Looked for from 65 to 1500 Hz, among the first eight divisors of the strongest.
    assert find_pitch(peaks_at((1501.0, 1.0), (3002.0, 0.1))) == pytest.approx(750.5)
    assert find_pitch(peaks_at((1499.0, 1.0), (2998.0, 0.1))) == pytest.approx(1499.0)
    assert find_pitch(peaks_at((64.0, 1.0))) is None
    assert find_pitch(peaks_at((66.0, 1.0))) is not None
    assert find_pitch(peaks_at((800.0, 1.0), (700.0, 1.0), (1100.0, 1.0))) == pytest.approx(100.0, abs=0.1)
    ninths = peaks_at((900.0, 1.0), (1100.0, 1.0), (1300.0, 1.0), (1700.0, 1.0))
    assert find_pitch(ninths) == pytest.approx(225.0, abs=0.1)


def test_a_pitch_is_refined_by_its_first_four_partials() -> None:
    # Each 12, -6 and 0 cents off, weighted 3, 2, 1; the fifth is not asked.
    found = find_pitch(
        peaks_at((moved(300.0, 12.0), 3.0), (moved(600.0, -6.0), 2.0), (1200.0, 1.0), (moved(1500.0, 40.0), 0.5))
    )
    assert found is not None
    assert 1200.0 * math.log2(found / 300.0) == pytest.approx(24.0 / 6.0, abs=1e-6)


def test_what_lies_on_a_multiple() -> None:
    hz = np.array([moved(600.0, 44.99), moved(600.0, 45.01), moved(200.0, -44.9), moved(200.0, -45.1), 50.0, 1000.0])
    assert on_multiple(hz, 200.0).tolist() == [True, False, True, False, False, True]
    heard = peaks_at((200.0, 0.5), (401.0, 0.3), (570.0, 0.2))
    assert explained_share(heard, 200.0) == pytest.approx(0.8)
    near = peaks_at((moved(500.0, 20.0), 0.2), (moved(500.0, -44.99), 0.3), (moved(500.0, 45.01), 9.0))
    assert nearest_peak_hz(near, 500.0) == moved(500.0, -44.99)
    assert nearest_peak_hz(near, 700.0) is None


def tones(*parts: tuple[float, float], seconds: float = 0.5, noise: float = 0.0) -> np.ndarray:
    times_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    sound = sum(size * np.sin(2.0 * np.pi * hz * times_s + hz) for hz, size in parts)
    return np.asarray(sound + noise * np.random.default_rng(1).standard_normal(times_s.size), dtype=np.float32)


def main_peaks(found: Peaks, share: float) -> list[float]:
    """Without the window's own side lobes, which a steady sine shows plainly."""
    return [round(hz) for hz in found.frequency_hz[found.amplitude >= share * found.amplitude[0]]]


def test_peaks_come_largest_first_with_their_places_and_sizes() -> None:
    found = find_peaks(tones((300.0, 0.2), (457.3, 0.8), (1000.25, 0.1), seconds=0.5, noise=1e-6), RATE_HZ)
    assert found.frequency_hz[:3] == pytest.approx([457.3, 300.0, 1000.25], abs=0.05)
    assert found.amplitude[:3] / found.amplitude[0] == pytest.approx([1.0, 0.25, 0.125], rel=0.02)
    # A constant is no peak; what lies below 65 Hz or above two fifths of the rate is none either.
    outer = tones((300.0, 0.5), (55.0, 0.5), (6500.0, 0.5), (6300.0, 0.5)) + np.float32(0.5)
    assert sorted(main_peaks(find_peaks(outer, RATE_HZ), 0.5)) == [300.0, 6300.0]
    # Nor what is 45 dB below the largest.
    deep = find_peaks(tones((300.0, 0.5), (900.0, 0.5 * 10 ** (-44 / 20)), (1500.0, 0.5 * 10 ** (-46 / 20))), RATE_HZ)
    assert {900.0, 1500.0} & set(main_peaks(deep, 0.0)) == {900.0}
    # Of many the 24 largest.
    many = find_peaks(tones(*((150.0 * n, 0.002 * 1.1**n) for n in range(1, 31)), seconds=1.0), RATE_HZ)
    assert sorted(np.round(many.frequency_hz / 150.0).astype(int).tolist()) == list(range(7, 31))
    # A little more than a power of two is looked at four times as finely as it needs.
    finer = find_peaks(tones((457.3, 0.8), (1000.25, 0.1), seconds=4100 / 16_000, noise=1e-6), RATE_HZ)
    assert finer.frequency_hz[:2] == pytest.approx([457.3, 1000.25], abs=0.05)
    # A line among others of like size within 200 Hz stands over none of them, though over what lies further off.
    times_s, lines_hz = np.arange(2400) / RATE_HZ, np.arange(850.0, 1151.0, 10.0)
    turns = 2.0 * np.pi * (times_s[:, None] * lines_hz + np.random.default_rng(2).uniform(0.0, 1.0, 31))
    alone = tones((1000.0, 0.3), (3000.0, 0.3), seconds=0.15)
    among = alone + 0.1 * np.sin(turns).sum(axis=1).astype(np.float32)
    assert sorted(main_peaks(find_peaks(alone, RATE_HZ), 0.1)) == [1000, 3000]
    assert not {998, 999, 1000, 1001, 1002} & set(main_peaks(find_peaks(among, RATE_HZ), 0.1))
    raised = find_peaks(tones((80.0, 1e-3), (300.0, 1e-3), seconds=0.2) + np.float32(0.9), RATE_HZ)
    assert sorted(raised.frequency_hz[:2]) == pytest.approx([80.0, 300.0], abs=0.5)
    assert raised.frequency_hz[:2] == pytest.approx(
        find_peaks(tones((80.0, 1e-3), (300.0, 1e-3), seconds=0.2), RATE_HZ).frequency_hz[:2], abs=1e-2
    )
    nothing = find_peaks(np.zeros(100, dtype=np.float32), RATE_HZ)
    assert nothing.frequency_hz.size == nothing.amplitude.size == 0
    noise = find_peaks(tones((300.0, 0.0), noise=0.1, seconds=1.0), RATE_HZ)
    assert noise.frequency_hz.size <= 1


def recorded(samples: np.ndarray) -> Recording:
    return Recording(samples.astype(np.float32), RATE_HZ, np.zeros(0), "x.wav", float(np.max(np.abs(samples))))


def dying(seconds: float, decay_per_s: float, size: float = 0.3, hz: float = 1000.0) -> np.ndarray:
    times_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(size * np.exp(-decay_per_s * times_s) * np.cos(2.0 * np.pi * hz * times_s))


def still(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * RATE_HZ))


def test_notes_begin_with_their_attack_and_end_55_db_down_or_before_the_next() -> None:
    fade_s = 55.0 / (8.685889638 * 10.0)
    sound = np.concatenate((still(0.5), dying(1.2, 10.0), still(0.4), dying(0.6, 5.0), dying(5.0, 0.2)))
    spans = find_notes(recorded(sound))
    assert [span.start_s for span in spans] == pytest.approx([0.5, 2.1, 2.7], abs=0.0101)
    # The first has faded by 55 dB; the second ends 20 ms before the third; the third is cut after four seconds.
    assert spans[0].end_s == pytest.approx(0.5 + fade_s, abs=0.015)
    assert spans[1].end_s == pytest.approx(spans[2].start_s - 0.02, abs=1e-9)
    assert spans[2].end_s == pytest.approx(spans[2].start_s + 4.0, abs=1e-9)
    # A note that is still ringing ends with the recording.
    short = find_notes(recorded(np.concatenate((still(0.3), dying(0.7, 1.0)))))
    assert short[0].end_s == pytest.approx(1.0)


def test_what_is_too_soft_too_near_or_too_slow_is_no_note_of_its_own() -> None:
    def starts(*parts: np.ndarray) -> list[float]:
        return [round(span.start_s, 1) for span in find_notes(recorded(np.concatenate(parts)))]

    # 34 dB below the loudest it is one, 36 dB below none.
    for down_db, found in ((34.0, [0.5, 1.5]), (36.5, [0.5])):
        soft = dying(0.5, 5.0, 0.3 * 10.0 ** (-down_db / 20.0))
        assert starts(still(0.5), dying(0.5, 5.0), still(0.5), soft) == found
    # A rise of 8 dB over what rings is none, of 12 dB it is.
    assert starts(still(0.5), dying(0.6, 0.1, 0.1), dying(0.6, 0.1, 0.1 * 10.0 ** (8.0 / 20.0))) == [0.5]
    assert starts(still(0.5), dying(0.6, 0.1, 0.1), dying(0.6, 0.1, 0.1 * 10.0 ** (12.0 / 20.0))) == [0.5, 1.1]
    # A recording cut so that it begins with its loudest begins with a note.
    assert starts(dying(0.6, 5.0), still(0.4)) == [0.0]
    assert starts(dying(1.0, 0.5)) == [0.0]
    # One that begins with what lies under its notes does not.
    hiss = 0.003 * np.random.default_rng(1).standard_normal(8000)
    assert starts(hiss[:8000], dying(0.4, 1.0) + hiss[:6400], hiss[:8000]) == [0.5]


def test_what_is_shorter_than_six_hops_has_no_level_of_its_own() -> None:
    sound = np.random.default_rng(1).standard_normal(830).astype(np.float32)
    assert _levels_db(sound[:479], RATE_HZ).tolist() == [-200.0] * 6
    assert _levels_db(sound[:0], RATE_HZ).tolist() == [-200.0] * 6
    # Five milliseconds each, by the mean square of the differences, a tone of 1 kHz keeping its size; not what is over.
    steps = np.diff(sound.astype(float), prepend=float(sound[0])) * RATE_HZ / (2.0 * np.pi * 1000.0)
    wanted = [10.0 * math.log10(np.mean(steps[at : at + 80] ** 2)) for at in range(0, 800, 80)]
    assert _levels_db(sound, RATE_HZ) == pytest.approx(wanted, abs=1e-6)
    assert _levels_db(sound[:480], RATE_HZ) == pytest.approx(wanted[:6], abs=1e-6)
    assert _levels_db(np.ones(480, dtype=np.float32), RATE_HZ).tolist() == [-200.0] * 6


def test_levels_together_are_the_mean_of_their_powers() -> None:
    level_db = np.array([-20.0, 0.0, -10.0, -30.0])
    wanted = [
        10.0 * math.log10((10.0 ** (a / 10.0) + 10.0 ** (b / 10.0)) / 2.0) for a, b in itertools.pairwise(level_db)
    ]
    assert _mean_db(level_db, 2) == pytest.approx(wanted)


def fed(catcher: Catcher, *levels_db: tuple[float, int]) -> str:
    """Hand over constant samples: so many hops of ten at each level."""
    state = catcher.state
    for level_db, hops in levels_db:
        for _ in range(hops):
            state = catcher.add(np.full(10, 10.0 ** (level_db / 20.0), dtype=np.float32))
    return state


def test_a_note_is_caught_to_the_hop() -> None:
    # At 1000 frames a second a hop is ten frames.
    catcher = Catcher(1000)
    assert fed(catcher, (-80.0, 60), (-20.0, 1)) == "sounding"
    assert fed(catcher, (-20.0, 249)) == "sounding"
    assert fed(catcher, (-20.0, 1)) == "caught"
    # 0.4 s before it, and 2.5 s of it to the hop that ends it.
    assert catcher.note().size == 400 + 2510
    assert catcher.note()[399] < 1e-3 < catcher.note()[400]
    assert catcher.note().dtype == np.float32
    assert fed(catcher, (-20.0, 1)) == "caught"
    assert catcher.note().size == 400 + 2510


def test_silence_stands_for_a_background_that_was_not_heard() -> None:
    assert fed(Catcher(1000), (-60.1, 5)) == "waiting"
    assert fed(Catcher(1000), (-59.9, 1)) == "sounding"
    # Once it sounds it counts as loud down to 6 dB over the background.
    for held_db, state in ((-65.9, "sounding"), (-66.1, "waiting")):
        catcher = Catcher(1000)
        assert fed(catcher, (-50.0, 10), (held_db, 31)) == state


@pytest.mark.parametrize(
    ("background_db", "floor_db"), [(-50.0, -50.0), (-90.0, -72.0), (-10.0, -30.0), (-71.9, -71.9)]
)
def test_a_note_stands_12_db_over_the_background(background_db: float, floor_db: float) -> None:
    for above_db, state in ((11.9, "waiting"), (12.1, "sounding")):
        catcher = Catcher(1000)
        catcher.background(np.full(1000, 10.0 ** (background_db / 20.0), dtype=np.float32))
        assert fed(catcher, (floor_db + above_db, 1)) == state


def test_the_background_is_the_median_of_its_last_three_seconds() -> None:
    catcher = Catcher(1000)
    loud, soft = (np.full(10, 10.0 ** (level / 20.0), dtype=np.float32) for level in (-20.0, -60.0))
    for block in [loud] * 500 + [soft] * 151 + [loud] * 149:
        catcher.background(block)
    assert fed(catcher, (-47.0, 1)) == "sounding"
    # No more of it is kept than may lie in front of a note.
    assert catcher._lead.size == 400
    # Frames that make no whole hop are kept in front of the note all the same.
    catcher = Catcher(1000)
    catcher.background(np.full(25, 0.5, dtype=np.float32))
    fed(catcher, (-1.0, 251))
    assert catcher.note()[:25].tolist() == [0.5] * 25
    assert catcher.note().size == 25 + 2510


def test_what_dies_away_is_a_note_after_six_tenths_of_a_second_and_none_before() -> None:
    catcher = Catcher(1000)
    assert fed(catcher, (-20.0, 61), (-80.0, 29)) == "sounding"
    assert fed(catcher, (-80.0, 1)) == "caught"
    assert catcher.note().size == 910
    catcher = Catcher(1000)
    assert fed(catcher, (-20.0, 60), (-80.0, 30)) == "waiting"
    # What comes after it is a note again, and the wait is counted on.
    assert fed(catcher, (-20.0, 251)) == "caught"
    assert catcher.note().size == 400 + 2510


def test_waiting_ends_after_eight_seconds_or_as_agreed() -> None:
    for catcher, hops in ((Catcher(1000), 800), (Catcher(1000, 1.5), 150)):
        assert fed(catcher, (-90.0, hops)) == "waiting"
        assert fed(catcher, (-90.0, 1)) == "missed"
        assert catcher.note().size == 10 * (hops + 1)
    # Blocks of any length: what is left of one hop waits for the next block.
    catcher = Catcher(1000)
    for _ in range(3):
        assert catcher.add(np.full(7, 0.1, dtype=np.float32)) == ("waiting" if _ == 0 else "sounding")


def test_one_channel_of_two() -> None:
    left, right = np.array([0.2, -0.4, 0.6], dtype=np.float32), np.array([0.1, -0.3, 0.5], dtype=np.float32)
    assert one_channel(np.stack((left, right))) == pytest.approx((left + right) / 2.0)
    assert np.array_equal(one_channel(left[None]), left)
    # Their mean keeps 0.49 and 0.51 of the louder one's energy where the other is 0.4 and 0.43 of it.
    for share, alone in ((0.40, True), (0.43, False)):
        both = np.stack((share * left, left))
        assert one_channel(both) == pytest.approx(left if alone else (1.0 + share) / 2.0 * left)
    assert np.array_equal(one_channel(np.stack((left, -0.9 * left))), left)
    assert np.array_equal(one_channel(np.stack((-0.9 * left, left))), left)


def taken(samples: np.ndarray, rate_hz: int = 16_000) -> Recording:
    intake = Intake(rate_hz, 1, "x.wav")
    for start in range(0, len(samples), 77):
        intake.add(samples[start : start + 77].astype(np.float32))
    return intake.finish()


def test_at_the_working_rate_samples_are_kept_as_they_are() -> None:
    sound = np.random.default_rng(1).uniform(-0.5, 0.5, 1000).astype(np.float32)
    kept = taken(sound)
    assert np.array_equal(kept.samples, sound)
    assert kept.samples.dtype == np.float32
    assert (kept.rate_hz, kept.duration_s, kept.name) == (16_000.0, 1000 / 16_000, "x.wav")
    assert kept.peak == float(np.max(np.abs(sound)))
    for rate_hz, factor in ((31_999, 1), (32_000, 2), (48_000, 3), (192_000, 12)):
        some = taken(sound, rate_hz)
        assert some.rate_hz == rate_hz / factor
        assert len(some.samples) == math.ceil(1000 / factor)


def test_a_run_at_full_scale_is_placed_to_the_sample() -> None:
    sound = 0.5 * np.sin(np.arange(1000) * 0.37)
    sound[500:503] = 0.99
    sound[600:602] = 0.99
    sound[700:703] = [0.99, 0.991, 0.99]
    sound[800:804] = -0.985
    # Three equal neighbours at 0.985 or above; two are none, and neither are three unequal ones.
    assert taken(sound).clipped_s == pytest.approx([500 / 16_000, 800 / 16_000, 801 / 16_000])
    sound[800:804] = -0.984
    assert taken(sound).clipped_s == pytest.approx([500 / 16_000])
    # At 192 kHz a run must last 80 microseconds: fifteen samples.
    for run, found in ((14, 0), (15, 1)):
        sound = 0.5 * np.sin(np.arange(1000) * 0.37)
        sound[500 : 500 + run] = 1.0
        assert taken(sound, 192_000).clipped_s.size == found


def test_a_top_of_its_own_is_told_by_three_runs_of_fine_samples() -> None:
    def topped(top: float, runs: int, steps: float = 0.0) -> int:
        sound = 0.9 * top * np.sin(np.arange(2000) * 0.37)
        sound = np.round(sound * steps) / steps if steps else sound
        for run in range(runs):
            sound[110 + 300 * run : 113 + 300 * run] = top if run % 2 else -top
        return int(taken(sound).clipped_s.size)

    sound = 0.45 * np.sin(np.arange(2000) * 0.37)
    for run in range(3):
        sound[110 + 300 * run : 113 + 300 * run] = 0.5
    assert taken(sound).clipped_s == pytest.approx([110 / 16_000, 410 / 16_000, 710 / 16_000])
    assert [topped(0.5, runs) for runs in (2, 3, 4)] == [0, 3, 4]
    assert [topped(top, 3) for top in (0.24, 0.25)] == [0, 3]
    # Runs below the top are none of it, whichever came first.
    sound = 0.35 * np.sin(np.arange(2000) * 0.37)
    for run in range(3):
        sound[610 + 300 * run : 613 + 300 * run] = 0.4
    for place in (100, 1900):
        once = sound.copy()
        once[place] = 0.5
        assert taken(once).clipped_s.size == 0
    assert taken(np.where(np.abs(sound) > 0.39, 1.0, sound)).peak == 1.0
    # Of samples that are whole multiples of 1/2048 nothing can be told.
    assert topped(0.5, 3, 1024.0) == 0


def test_a_sound_in_memory_is_taken_in_as_one_block_of_one_channel() -> None:
    sound = np.random.default_rng(1).uniform(-0.5, 0.5, 900).astype(np.float32)
    for rate_hz in (16_000, 48_000):
        found, wanted = taken_in(sound, rate_hz, "y.wav"), taken(sound, rate_hz)
        assert np.array_equal(found.samples, wanted.samples)
        assert (found.rate_hz, found.peak, found.name) == (wanted.rate_hz, wanted.peak, "y.wav")
    with pytest.raises(InputError, match=r"y\.wav holds no sound at all"):
        taken_in(sound[:0], 16_000, "y.wav")


def test_a_block_of_nothing_changes_nothing() -> None:
    sound = np.random.default_rng(1).uniform(-0.5, 0.5, 300).astype(np.float32)
    for rate_hz in (16_000, 48_000):
        intake = Intake(rate_hz, 1, "x.wav")
        for block in (sound[:0], sound[:200], sound[:0], sound[200:]):
            intake.add(block)
        assert np.array_equal(intake.finish().samples, taken(sound, rate_hz).samples)


@pytest.mark.parametrize("factor", [2, 3, 12])
def test_the_low_pass_tap_by_tap(factor: int) -> None:
    # Kaiser's design formulas (1974, recalled): 90 dB, from 0.4 to 0.6 of the working rate.
    width = 2.0 * math.pi * 0.2 / factor
    rows = math.ceil((90.0 - 7.95) / (2.285 * width) / factor) + 1
    offset = [place - (rows * factor - factor) // 2 for place in range(rows * factor)]
    taps = [
        np.sinc(at / factor)
        * np.i0(0.1102 * (90.0 - 8.7) * math.sqrt(max(0.0, 1.0 - (at / (rows * factor / 2.0)) ** 2)))
        for at in offset
    ]
    found = _low_pass(factor)
    assert found == pytest.approx(np.array(taps) / sum(taps), abs=1e-7)
    assert found.dtype == np.float32
    assert _low_pass(1).tolist() == [1.0]


def fit_of(hz: float, error: float, bound: float, glide: float = 0.0, glide_error: float = 0.0) -> PartialFit:
    track = np.ones(12)
    return PartialFit(hz, error, bound, -20.0, glide, glide_error, 1e-4, track, track, track)


def test_a_measurement_by_hand() -> None:
    # Two pairs, two partials; each pluck's cents over 600 and 1200 Hz, and standard errors by partial.
    table = [
        ("harmonic", (1.0, -1.0)),
        ("fretted", (5.1, 2.9)),
        ("harmonic", (-1.0, 1.0)),
        ("fretted", (2.9, 5.1)),
    ]
    notes = tuple(
        Note(
            tone,  # type: ignore[arg-type]
            "x.wav",
            float(place),
            place + 0.75,
            600.0,
            {
                1: fit_of(moved(600.0, cents[0]), 0.3, 0.2),
                2: fit_of(moved(1200.0, cents[1]), 0.6, 0.1),
            },
        )
        for place, (tone, cents) in enumerate(table)
    )
    found = _compared(notes, [1, 2], 3, paired=True)
    assert found.string == 3
    assert found.cents == pytest.approx(4.0)
    assert found.harmonic_hz == pytest.approx(600.0)
    assert found.fretted_hz == pytest.approx(moved(600.0, 4.0))
    # By partial: means over two plucks, so variances 0.09/2 + 0.09/2 and 0.36; weights by their inverse, 0.8 and 0.2.
    assert [row.number for row in found.partials] == [1, 2]
    assert [row.harmonic_hz for row in found.partials] == pytest.approx([600.0, 1200.0])
    assert [row.fretted_hz for row in found.partials] == pytest.approx([moved(600.0, 4.0), moved(1200.0, 4.0)])
    assert [row.cents for row in found.partials] == pytest.approx([4.0, 4.0])
    assert [row.std_error_cents for row in found.partials] == pytest.approx([0.3, 0.6])
    assert [row.weight for row in found.partials] == pytest.approx([0.8, 0.2])
    # By pluck: cents weighted the same way; variance 0.64 * 0.09 + 0.04 * 0.36 = 0.072.
    assert [row.cents for row in found.plucks] == pytest.approx([0.6, 4.66, -0.6, 3.34])
    assert [row.std_error_cents for row in found.plucks] == pytest.approx([math.sqrt(0.072)] * 4)
    assert [row.frequency_hz for row in found.plucks] == pytest.approx(
        [moved(600.0, cents) for cents in (0.6, 4.66, -0.6, 3.34)]
    )
    assert [(row.tone, row.recording, row.start_s, row.duration_s, row.partials) for row in found.plucks] == [
        (tone, "x.wav", float(place), 0.75, 2) for place, (tone, _) in enumerate(table)
    ]
    # Two pairs of 4.06 and 3.94, each of variance 0.144: their mean 0.072. Bound: 0.64 * 0.04 + 0.04 * 0.01 a pluck.
    assert found.std_error_cents == pytest.approx(math.sqrt(0.072))
    assert found.bound_cents == pytest.approx(math.sqrt(2.0 * (0.64 * 0.04 + 0.04 * 0.01) / 2.0))
    assert (found.partial_scatter_cents, found.pluck_scatter_cents, found.paired) == (0.0, 0.0, True)
    assert found.verdict == "sharp"
    assert found.notes is notes
    apart = _compared(notes, [1, 2], 3, paired=False)
    assert apart.cents == pytest.approx(4.0)
    up, down = (pool(np.array(each), np.full(2, 0.072)) for each in ([4.66, 3.34], [0.6, -0.6]))
    assert apart.std_error_cents == pytest.approx(math.hypot(up.std_error, down.std_error))
    assert apart.pluck_scatter_cents == pytest.approx(up.excess_sd)
    assert not apart.paired
    # From the second partial alone the first one's frequency is half of it.
    assert _compared(notes, [2], 3, paired=True).harmonic_hz == pytest.approx(600.0)


@pytest.mark.parametrize("paired", [True, False])
def test_a_measurement_written_out(paired: bool) -> None:
    rng = np.random.default_rng(5)
    tones, numbers = ["harmonic", "fretted"] * 3, [1, 3, 4]
    cents = rng.normal(0.0, 0.4, (6, 3)) + np.array([[0.0, 0.0, 0.0], [6.0, 8.5, 5.0]] * 3)
    errors, bounds = rng.uniform(0.05, 0.3, (6, 3)), rng.uniform(0.01, 0.4, (6, 3))
    levels, glides = rng.uniform(-40.0, -10.0, (6, 3)), rng.uniform(0.1, 0.3, (6, 3))
    notes = tuple(
        Note(
            tone,  # type: ignore[arg-type]
            "x.wav",
            0.0,
            1.0,
            600.0,
            {
                number: replace(
                    fit_of(moved(600.0 * number, cents[row, column]), errors[row, column], bounds[row, column]),
                    amplitude_db=levels[row, column],
                    glide_error_cents=glides[row, column],
                    glide_cents=2.0 * row,
                )
                for column, number in enumerate(numbers)
            },
        )
        for row, tone in enumerate(tones)
    )
    found = _compared(notes, numbers, 3, paired=paired)
    harmonic, fretted = range(0, 6, 2), range(1, 6, 2)
    reference = [sum(cents[row, column] for row in harmonic) / 3.0 for column in range(3)]
    own = cents - reference
    apart = [sum(own[row, column] for row in fretted) / 3.0 for column in range(3)]
    spread = [sum(errors[row, column] ** 2 for row in range(6)) / 9.0 for column in range(3)]
    # How loud a partial is beside the loudest of its note, in the note where it is faintest.
    loudness = [
        min(10.0 ** ((levels[row, column] - max(levels[row])) / 20.0) for row in range(6)) for column in range(3)
    ]
    pooled = pool(np.array(apart), np.array(spread), np.array(loudness))
    assert pooled.excess_sd > 0.0
    weights = pooled.weights
    assert [row.weight for row in found.partials] == pytest.approx(weights.tolist())
    assert [row.cents for row in found.partials] == pytest.approx(apart)
    level = [float(own[row] @ weights) for row in range(6)]
    variance = [float(errors[row] ** 2 @ weights**2) for row in range(6)]
    assert [row.cents for row in found.plucks] == pytest.approx(level)
    if paired:
        plucks = pool(
            np.array([level[row + 1] - level[row] for row in harmonic]),
            np.array([variance[row + 1] + variance[row] for row in harmonic]),
        )
        plucked, of_plucks = plucks.mean, plucks.std_error
    else:
        down, up = (
            pool(np.array([level[row] for row in rows]), np.array([variance[row] for row in rows]))
            for rows in (harmonic, fretted)
        )
        plucked, of_plucks = up.mean - down.mean, math.hypot(up.std_error, down.std_error)
    assert found.cents == pytest.approx(plucked)
    bound = math.sqrt(sum(float(bounds[row] ** 2 @ weights**2) for row in range(6)) / 9.0)
    assert found.bound_cents == pytest.approx(bound)
    between = pooled.std_error**2 - float(weights**2 @ np.array(spread))
    # Every note glides by its own amount: 1, 5, 9 less 0, 4, 8 cents are 2 apart in the mean.
    heard = [glide_cents(note) for note in notes]
    noise = math.sqrt(sum(error**2 for _, error in heard) / 9.0)
    glide = 2.5 * (2.0 - 3.0 * noise)
    assert glide > 0.0
    assert glide_apart_cents(notes) == pytest.approx(glide)
    assert found.std_error_cents == pytest.approx(max(math.sqrt(of_plucks**2 + max(between, 0.0) + glide**2), bound))


def measured(cents: float, error: float = 0.01, glide: float = 0.0, glide_error: float = 0.0) -> tuple[str, float]:
    notes = (
        Note("harmonic", "x", 0.0, 1.0, 600.0, {1: fit_of(600.0, error, error, 0.0, glide_error)}),
        Note("fretted", "x", 2.0, 3.0, 600.0, {1: fit_of(moved(600.0, cents), error, error, glide, glide_error)}),
    )
    found = _compared(notes, [1], 1, paired=True)
    return found.verdict, found.std_error_cents


@pytest.mark.parametrize(
    ("cents", "error", "verdict"),
    [
        (0.099, 0.01, "unison"),
        (0.101, 0.01, "sharp"),
        (-0.101, 0.01, "flat"),
        # Within 1.645 standard errors (sqrt 2 of each tone's), and below a cent, nothing is told.
        (0.46, 0.2, "unison"),
        (0.47, 0.2, "sharp"),
        (0.99, 2.0, "unison"),
        (1.01, 2.0, "sharp"),
        (-1.01, 2.0, "flat"),
    ],
)
def test_the_verdict_by_its_error(cents: float, error: float, verdict: str) -> None:
    assert measured(cents, error)[0] == verdict


def test_a_glide_counts_by_what_noise_does_not_explain() -> None:
    # Two and a half times the glide, but for three standard errors of it (sqrt 2 of each note's).
    assert measured(5.0, 0.1, glide=1.2)[1] == pytest.approx(math.hypot(0.1 * math.sqrt(2.0), 2.5 * 1.2))
    noisy = 2.5 * (1.2 - 3.0 * 0.2 * math.sqrt(2.0))
    assert measured(5.0, 0.1, glide=-1.2, glide_error=0.2)[1] == pytest.approx(math.hypot(0.1 * math.sqrt(2.0), noisy))
    assert measured(5.0, 0.1, glide=0.8, glide_error=0.2)[1] == pytest.approx(0.1 * math.sqrt(2.0))
    # And no error is stated below a millionth of a cent.
    assert measured(5.0, 0.0)[1] == pytest.approx(1e-6 * math.sqrt(2.0))


def test_no_error_is_below_the_bound_nor_below_a_millionth_of_a_cent() -> None:
    def error_of(error: float, bound: float) -> float:
        notes = tuple(
            Note(tone, "x", 0.0, 1.0, 600.0, {n: fit_of(moved(600.0 * n, cents), error, bound) for n in (1, 2, 3)})
            for tone, cents in (("harmonic", 0.0), ("fretted", 5.0)) * 3
        )
        return _compared(notes, [1, 2, 3], 1, paired=True).std_error_cents

    # Three partials in three pairs: the square root of two ninths of one.
    assert error_of(0.3, 0.5) == pytest.approx(0.5 * math.sqrt(2.0) / 3.0)
    assert error_of(0.3, 0.2) == pytest.approx(0.3 * math.sqrt(2.0) / 3.0)
    assert error_of(0.0, 0.0) == 1e-6


def test_partials_that_disagree_widen_the_error_by_what_is_between_them() -> None:
    cents = [3.0, 5.0, 4.0]
    notes = (
        Note("harmonic", "x", 0.0, 1.0, 600.0, {n: fit_of(600.0 * n, 0.05, 0.05) for n in (1, 2, 3)}),
        Note(
            "fretted",
            "x",
            2.0,
            3.0,
            600.0,
            {n: fit_of(moved(600.0 * n, off), 0.05, 0.05) for n, off in enumerate(cents, 1)},
        ),
    )
    found = _compared(notes, [1, 2, 3], 1, paired=True)
    pooled = pool(np.array(cents), np.full(3, 0.005))
    assert found.cents == pytest.approx(pooled.mean)
    assert found.partial_scatter_cents == pytest.approx(pooled.excess_sd)
    own = float((pooled.weights**2).sum()) * 0.005
    assert found.std_error_cents == pytest.approx(math.sqrt(own + pooled.std_error**2 - own))


def test_the_correlation_of_hann_windows_a_quarter_apart() -> None:
    # Of continuous Hann windows a share u apart: ((1-u)(1 + cos(2 pi u)/2) + 3 sin(2 pi u)/(4 pi)) / 1.5 (derived).
    apart = np.array([0.0, 0.25, 0.5, 0.75])
    angle = 2.0 * np.pi * apart
    derived = ((1.0 - apart) * (1.0 + 0.5 * np.cos(angle)) + 0.75 * np.sin(angle) / np.pi) / 1.5
    assert _window_correlation() == pytest.approx(derived, abs=1e-4)


def jittered(frames: int = 14, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Phasors of two partials, dying away, that turn unevenly; and when their frames are."""
    rng, times_s = np.random.default_rng(seed), 0.04 + 0.02 * np.arange(frames)
    size = np.exp(-np.array([2.0, 5.0]) * times_s[:, None])
    phase = np.array([8.0, -5.0]) * times_s[:, None] + rng.normal(0.0, 0.1, (frames, 2))
    return size * np.exp(1j * phase), times_s


def smoothed(z: np.ndarray, noise: float) -> list[float]:
    """Amplitude by the mean power of five frames, fewer at the ends, less the noise's."""
    power = [abs(each) ** 2 for each in z]
    return [
        math.sqrt(max(float(np.mean(power[max(0, at - 2) : at + 3])) - 2.0 * noise**2, 0.0)) for at in range(len(power))
    ]


def test_levels_over_frames() -> None:
    z, _ = jittered()
    noise = np.array([0.1, 0.3])
    assert _level(z, noise) == pytest.approx(np.stack([smoothed(z[:, n], float(noise[n])) for n in (0, 1)], axis=1))
    assert _level(z[:, 0], 0.1) == pytest.approx(smoothed(z[:, 0], 0.1))


def test_slopes_are_a_line_through_the_phase_weighted_by_power() -> None:
    z, times_s = jittered()
    noise = np.array([1e-6, 0.075])
    found = _slopes_hz(z, noise, times_s)
    assert _slopes_hz(1e-3 * z, 1e-3 * noise, times_s) == pytest.approx(found)
    for n in (0, 1):
        level = np.array(smoothed(z[:, n], float(noise[n])))
        # Frames before it first sinks to four times the noise.
        used = next((at for at in range(len(level)) if level[at] < 4.0 * noise[n]), len(level))
        assert used == (14 if n == 0 else 10)
        slope = np.polyfit(times_s[:used], np.unwrap(np.angle(z[:used, n])), 1, w=level[:used])[0]
        assert found[n] == pytest.approx(slope / (2.0 * np.pi), rel=1e-3)


def test_phases_are_unwrapped_about_their_mean_where_they_are_used() -> None:
    times_s = 0.02 * np.arange(40)
    size = np.exp(-np.array([1.0, 3.0]) * times_s[:, None])
    phase = np.array([15.0, -40.0]) * times_s[:, None] + np.array([0.4, 2.0])
    used = np.arange(40)[:, None] < np.array([40, 25])
    found = _unwrapped(size * np.exp(1j * phase), used)
    for n, count in ((0, 40), (1, 25)):
        assert np.diff(found[:count, n]) == pytest.approx(np.diff(phase[:count, n]))
        assert float(np.angle((size[:count, n] * np.exp(1j * found[:count, n])).sum())) == pytest.approx(0.0, abs=1e-9)
        assert not found[count:, n].any()


def test_a_note_ends_a_window_before_its_partials_have_lost_twelve_decibels() -> None:
    # Power of both less twice the noise's: 16, then 1.01 or 0.99. A frame is held against the fourth before it.
    noise = np.array([0.5, math.sqrt(0.75)])
    for late, frames in ((1.01, 20), (0.99, 10)):
        power = np.where(np.arange(20) < 14, 16.0, late) + 2.0
        moved_down = np.sqrt(power / 2.0)[:, None] * np.array([1.0, 1j])
        assert _whole_frames(moved_down, noise) == frames


def test_one_fit_written_out() -> None:
    z, times_s = jittered(20)
    one, noise, hz = z[:, 0], 0.02, 600.0
    of_lag = np.eye(20)
    fit = _fit(one, noise, times_s, hz, 2.0, of_lag)
    assert fit is not None
    level = np.array(smoothed(one, noise))
    assert np.all(level >= 4.0 * noise)
    phase = np.unwrap(np.angle(one))
    slope, height = np.polyfit(times_s, phase, 1, w=level)
    rest = phase - slope * times_s - height
    assert fit.frequency_hz == pytest.approx(hz + slope / (2.0 * np.pi))
    assert fit.track_rad == pytest.approx(rest)
    assert fit.track_s == pytest.approx(times_s + 2.0)
    assert fit.track_level == pytest.approx(np.abs(one))
    assert fit.amplitude_db == pytest.approx(20.0 * math.log10(level.max()))
    assert fit.noise_level == noise
    # Noise across the phasor over level is noise of phase: weighted least squares, white where frames do not overlap.
    weight = level**2
    spread = math.sqrt(float(weight @ (times_s - weight @ times_s / weight.sum()) ** 2))
    per_hz = 1200.0 / math.log(2.0) / (2.0 * math.pi * hz)
    assert fit.bound_cents == pytest.approx(per_hz * noise / spread)
    left = math.sqrt(float(weight @ rest**2) / 18.0)
    assert left > noise
    assert fit.std_error_cents == pytest.approx(per_hz * left / spread)
    # The glide: the slope of the later half less that of the first quarter, five frames at least.
    late, early = (np.polyfit(times_s[part], rest[part], 1, w=level[part]) for part in (slice(10, 20), slice(0, 5)))
    assert fit.glide_cents == pytest.approx(per_hz * (late[0] - early[0]))
    parts = [
        1.0 / float(weight[part] @ (times_s[part] - weight[part] @ times_s[part] / weight[part].sum()) ** 2)
        for part in (slice(10, 20), slice(0, 5))
    ]
    assert fit.glide_error_cents == pytest.approx(per_hz * noise * math.sqrt(sum(parts)))
    # Frames that go together make the errors larger: all by the same factor where each is like the next.
    alike = _fit(one, noise, times_s, hz, 2.0, 4.0 * of_lag)
    assert alike is not None
    assert alike.bound_cents == pytest.approx(2.0 * fit.bound_cents)
    assert alike.glide_error_cents == pytest.approx(2.0 * fit.glide_error_cents)
    assert alike.std_error_cents == pytest.approx(fit.std_error_cents)


def test_the_noise_of_a_partial_is_read_on_its_quieter_side() -> None:
    sound = dying(2.0, 1.0) + 1e-4 * np.random.default_rng(1).standard_normal(32_000)
    (alone,) = fit_partials(sound.astype(np.float32), RATE_HZ, np.array([1000.0]), 1000.0, 0.0)
    for beside_hz in (700.0, 1300.0):
        more = sound + dying(2.0, 1.0, 0.01, beside_hz)
        (fit,) = fit_partials(more.astype(np.float32), RATE_HZ, np.array([1000.0]), 1000.0, 0.0)
        assert fit is not None
        assert alone is not None
        assert fit.noise_level < 2.0 * alone.noise_level


def test_a_fit_says_what_it_saw() -> None:
    decay, size, hz = 3.0, 0.4, 587.33
    times_s = np.arange(32_000) / RATE_HZ
    clean = size * np.exp(-decay * times_s) * np.cos(2.0 * np.pi * hz * times_s + 0.7)
    sound = (clean + 1e-3 * np.random.default_rng(2).standard_normal(32_000)).astype(np.float32)
    (fit,) = fit_partials(sound, RATE_HZ, np.array([590.0]), hz, 5.0)
    assert fit is not None
    assert fit.frequency_hz == pytest.approx(hz, abs=2e-4)
    # Frames of 80 ms, a quarter of that apart; middles from the recording's own start.
    assert fit.track_s[:3] == pytest.approx([5.04, 5.06, 5.08])
    assert fit.track_level == pytest.approx(size * np.exp(-decay * (fit.track_s - 5.0)), rel=0.03, abs=3e-4)
    assert np.max(np.abs(fit.track_rad[:20])) < 0.02
    # The largest frame is the smoothed first: the mean power of the first three, 0.04 to 0.08 s.
    first = math.sqrt(np.mean([math.exp(-2.0 * decay * at) for at in (0.04, 0.06, 0.08)]))
    assert fit.amplitude_db == pytest.approx(20.0 * math.log10(size * first), abs=0.1)
    # White noise of 1e-3 in a Hann frame of 1280: amplitude sigma sqrt(2 * 1.5 / 1280) across the phasor.
    assert fit.noise_level == pytest.approx(1e-3 * math.sqrt(2.0 * 1.5 / 1280), rel=0.35)
    assert 0.5 * fit.std_error_cents < fit.bound_cents <= fit.std_error_cents
    assert abs(fit.glide_cents) < 4.0 * fit.glide_error_cents
    # Of a chirp of so many hertz a second the late half lies so far from the first quarter.
    swept = size * np.exp(-decay * times_s) * np.cos(2.0 * np.pi * (hz * times_s + 0.5 * 1.5 * times_s**2))
    (fit,) = fit_partials(swept.astype(np.float32), RATE_HZ, np.array([588.0]), hz, 0.0)
    assert fit is not None
    assert fit.glide_cents > 1.0
    (back,) = fit_partials(
        (size * np.exp(-decay * times_s) * np.cos(2.0 * np.pi * (hz * times_s - 0.75 * times_s**2))).astype(np.float32),
        RATE_HZ,
        np.array([586.0]),
        hz,
        0.0,
    )
    assert back is not None
    assert back.glide_cents == pytest.approx(-fit.glide_cents, rel=0.02)


def test_the_noise_of_a_partial_is_that_of_the_later_two_thirds_beside_it() -> None:
    rng = np.random.default_rng(4)
    sound = (dying(1.5, 1.0) + np.linspace(2e-3, 4e-4, 24_000) * rng.standard_normal(24_000)).astype(np.float32)
    (fit,) = fit_partials(sound, RATE_HZ, np.array([1000.0]), 800.0, 0.0)
    assert fit is not None
    # Frames of 80 ms, 20 ms apart, seen through a Hann window; half the power lies across the phasor.
    window = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(1280) / 1280)
    frames = [sound[at : at + 1280].astype(float) for at in range(0, 24_000 - 1279, 320)]
    sides = []
    for hz in (1000.0 - 240.0, 1000.0 + 240.0):
        turn = window * np.exp(-2j * np.pi * hz * np.arange(1280) / RATE_HZ) * 2.0 / window.sum()
        power = [abs(turn @ frame) ** 2 for frame in frames]
        # The median of what is distributed as an exponential is ln 2 of its mean.
        sides.append(float(np.median(power[len(power) // 3 :])) / math.log(2.0))
    assert fit.noise_level == pytest.approx(math.sqrt(min(sides) / 2.0), rel=1e-6)


def test_what_cannot_be_followed_has_no_fit() -> None:
    # Ten frames of 80 ms, 20 ms apart, are 0.26 s at least.
    for frames, found in ((4160, True), (4159, False), (1000, False)):
        (fit,) = fit_partials(dying(2.0, 1.0)[:frames].astype(np.float32), RATE_HZ, np.array([1000.0]), 1000.0, 0.0)
        assert (fit is not None) is found
    # A partial looked for more than 12.5 Hz away is another one, and so is noise.
    noise = 1e-3 * np.random.default_rng(1).standard_normal(32_000).astype(np.float32)
    fits = fit_partials(dying(2.0, 1.0).astype(np.float32) + noise, RATE_HZ, np.array([1000.0, 2500.0]), 1000.0, 0.0)
    assert fits[0] is not None
    assert fits[1] is None
    for near_hz, found in ((1012.0, True), (1013.0, False), (988.0, True), (987.0, False)):
        (fit,) = fit_partials(dying(2.0, 1.0).astype(np.float32), RATE_HZ, np.array([near_hz]), 1000.0, 0.0)
        assert (fit is not None) is found


def heard_loop(rate_hz: int = 16_000, before: int = 8000, gain: float = 0.5, noise: float = 1e-4) -> LoopReading:
    sound = loop_sound(rate_hz)
    heard = np.concatenate((np.zeros(before), gain * sound.samples.astype(float), np.zeros(2000)))
    heard += noise * np.random.default_rng(3).standard_normal(heard.size)
    return read_loop(heard.astype(np.float32), sound, before)


def test_the_sound_sent_round_a_loop_part_by_part() -> None:
    rate_hz = 16_000
    along = np.full(160, 0.25, dtype=np.float32)
    sound = loop_sound(rate_hz, along)
    chirp, gap, tone = round(0.08 * rate_hz), round(0.2 * rate_hz), 4 * rate_hz
    assert sound.along_frame == chirp + gap + tone + gap
    assert loop_sound(rate_hz).last_frame == loop_sound(rate_hz).along_frame + gap == chirp + 3 * gap + tone
    assert sound.last_frame == sound.along_frame + 160 + gap
    assert sound.samples.dtype == np.float32
    assert sound.samples.size == sound.last_frame + chirp + round(0.1 * rate_hz)
    assert np.array_equal(sound.samples[sound.along_frame : sound.along_frame + 160], along)
    assert np.array_equal(sound.samples[:chirp], sound.samples[sound.last_frame : sound.last_frame + chirp])
    times_s = np.arange(tone) / rate_hz
    rise = np.sin(0.5 * np.pi * np.clip(np.minimum(times_s, times_s[-1] - times_s) / 0.03, 0.0, 1.0)) ** 2
    expected = 10.0 ** (-18.0 / 20.0) * rise * np.sin(2.0 * np.pi * 997.0 * times_s)
    assert sound.samples[chirp + gap : chirp + gap + tone] == pytest.approx(expected, abs=1e-6)
    # The chirp runs from 2 to 6 kHz: its phase is that of a frequency growing evenly, under a Hann window.
    at_s = np.arange(chirp) / rate_hz
    phase = 2.0 * np.pi * (2000.0 * at_s + 0.5 * 4000.0 / 0.08 * at_s**2)
    swept = 10.0 ** (-18.0 / 20.0) * np.hanning(chirp) * np.sin(phase)
    assert sound.samples[:chirp] == pytest.approx(swept, abs=1e-6)
    assert not sound.samples[chirp : chirp + gap].any()
    assert not sound.samples[-round(0.1 * rate_hz) :].any()


def test_a_loop_that_changes_nothing_reads_so() -> None:
    found = heard_loop()
    assert found.first_frame == pytest.approx(8000.0, abs=0.05)
    assert found.clock_cents == pytest.approx(0.0, abs=4.0 * found.clock_error_cents)
    # One part in a million is 0.0017312 cents.
    assert found.clock_ppm == pytest.approx(1e6 * (2.0 ** (found.clock_cents / 1200.0) - 1.0), rel=1e-9)
    assert found.clock_error_ppm == pytest.approx(1e6 * (2.0 ** (found.clock_error_cents / 1200.0) - 1.0), rel=1e-9)
    assert found.clock_ppm == pytest.approx(found.clock_cents / 0.0017312, rel=1e-3)
    assert found.clock_error_ppm == pytest.approx(found.clock_error_cents / 0.0017312, rel=1e-3)
    assert found.slip_frames == pytest.approx(0.0, abs=0.1)
    sent = loop_sound(16_000).last_frame
    assert found.slip_error_frames == pytest.approx(sent * found.clock_error_ppm * 1e-6, rel=1e-6)
    # A tone of -18 dBFS at half its size, noise of 1e-4 beside a full-scale sine's 0.7071.
    assert found.level_dbfs == pytest.approx(-18.0 - 6.0206, abs=0.05)
    assert found.noise_dbfs == pytest.approx(20.0 * math.log10(1e-4 * math.sqrt(2.0)), abs=0.3)
    assert found.peak == pytest.approx(0.5 * 10.0 ** (-18.0 / 20.0), abs=1e-3)
    assert found.wander_cents == 0.0
    assert not found.clipped
    assert heard_loop(gain=7.8).clipped is False
    assert heard_loop(gain=7.85).clipped is True
    assert heard_loop(noise=0.0).noise_dbfs == -math.inf


def test_the_tenth_of_a_second_at_either_end_of_the_tone_is_not_read() -> None:
    rate_hz, before = 16_000, 8000
    sound = loop_sound(rate_hz)
    heard = np.concatenate((np.zeros(before), 0.5 * sound.samples.astype(float), np.zeros(2000)))
    heard += 1e-4 * np.random.default_rng(3).standard_normal(heard.size)
    first, tone, edge = before + round(0.28 * rate_hz), 4 * rate_hz, round(0.095 * rate_hz)
    cut = heard.copy()
    cut[first : first + edge] = cut[first + tone - edge : first + tone] = 0.0
    whole, hollow = (read_loop(each.astype(np.float32), sound, before) for each in (heard, cut))
    assert hollow.clock_cents == pytest.approx(whole.clock_cents, abs=1e-9)
    assert hollow.level_dbfs == pytest.approx(whole.level_dbfs, abs=1e-9)


def test_a_device_that_takes_44100_for_48000_hertz_is_read_all_the_same() -> None:
    rate_hz, before, stretch = 16_000, 8000, 48_000 / 44_100
    sound = loop_sound(rate_hz)
    sent = sound.samples.astype(float)
    begin, tone, edge = round(0.28 * rate_hz), 4 * rate_hz, round(0.095 * rate_hz)

    def heard(silent: tuple[int, int]) -> LoopReading:
        cut = sent.copy()
        cut[begin + silent[0] : begin + silent[1]] = 0.0
        stretched = resample(np.concatenate((cut, np.zeros(4000))), round((cut.size + 4000) * stretch))
        whole = np.concatenate((np.zeros(before), stretched))
        whole += 1e-4 * np.random.default_rng(3).standard_normal(whole.size)
        return read_loop(whole.astype(np.float32), sound, before)

    found = heard((0, 0))
    assert found.clock_cents == pytest.approx(-1200.0 * math.log2(stretch), abs=0.01)
    assert found.slip_frames == pytest.approx(0.0, abs=0.5)
    # The tone's own edges are left out as they lie now, and all between them is read.
    assert heard((0, edge)).clock_cents == pytest.approx(found.clock_cents, abs=1e-6)
    assert heard((tone - edge, tone)).clock_cents == pytest.approx(found.clock_cents, abs=1e-6)
    later = tone - round(0.15 * rate_hz)
    assert abs(heard((later, tone)).clock_cents - found.clock_cents) > 1e-6


CHIRP = 10.0 ** (-18.0 / 20.0) * np.hanning(1280)
CHIRP *= np.sin(2.0 * np.pi * (2000.0 + 2000.0 * np.arange(1280) / 1280) * np.arange(1280) / 16_000)


def chirped(frames: int, *parts: tuple[int, float]) -> np.ndarray:
    """Silence with chirps of some sizes at some places, cut where it ends."""
    sound = np.zeros(frames + 1280)
    for place, size in parts:
        sound[place : place + 1280] += size * CHIRP
    return sound[:frames]


def chirps_by_correlation(samples: np.ndarray, first: int, second: int) -> list[float]:
    """Where two chirps lie, by the envelope of the whole correlation."""
    match = np.abs(correlate(hilbert(samples, 4 * samples.size)[: samples.size], CHIRP, mode="valid", method="fft"))
    found = []
    for near in (first, second):
        place = near - 3 + int(np.argmax(match[near - 3 : near + 4]))
        left, top, right = match[place - 1 : place + 2]
        found.append(place + 0.5 * (left - right) / (left - 2.0 * top + right))
    return found


@pytest.mark.parametrize(
    ("frames", "parts", "found"),
    [
        # Both at the very ends, either the louder.
        (41_280, ((0, 1.0), (40_000, 0.5)), (0, 40_000)),
        (41_280, ((0, 0.5), (40_000, 1.0)), (0, 40_000)),
        (41_290, ((5, 0.5), (40_005, 1.0)), (5, 40_005)),
        # A little more than a power of two, which a spectrum must not be cut to.
        (65_536 + 1280, ((25_536, 1.0), (65_536, 1.0)), (25_536, 65_536)),
        # The place is looked for 12 % to either side, not beyond, however loud it is there.
        (100_000, ((20_000, 1.0), (55_300, 0.5)), (20_000, 55_300)),
        (100_000, ((20_000, 1.0), (64_700, 0.5)), (20_000, 64_700)),
        (100_000, ((20_000, 1.0), (60_000, 0.5), (67_000, 0.9)), (20_000, 60_000)),
        (100_000, ((20_000, 1.0), (60_000, 0.5), (53_000, 0.9)), (20_000, 60_000)),
        (100_000, ((60_000, 1.0), (20_000, 0.5), (27_000, 0.9)), (20_000, 60_000)),
        # Of three the two loudest.
        (100_000, ((10_000, 0.5), (50_000, 1.0), (90_000, 0.8)), (50_000, 90_000)),
        (100_000, ((10_000, 0.8), (50_000, 1.0), (90_000, 0.5)), (10_000, 50_000)),
        (100_000, ((20_000, 1.0), (60_000, 0.32)), (20_000, 60_000)),
    ],
)
def test_two_chirps_are_found_where_they_lie(
    frames: int, parts: tuple[tuple[int, float], ...], found: tuple[int, int]
) -> None:
    # However loud the recording is as a whole.
    for gain in (1.0, 1e-4, 1e3):
        assert _chirps(gain * chirped(frames, *parts), 16_000, 40_000) == pytest.approx(found, abs=1e-3)


@pytest.mark.parametrize(
    ("frames", "parts"),
    [
        (41_279, ((0, 1.0), (40_000, 1.0))),
        (100_000, ((20_000, 1.0),)),
        (100_000, ((20_000, 1.0), (60_000, 0.28))),
        (100_000, ((20_000, 1.0), (55_100, 0.5))),
        # Half of one, where the recording ends.
        (60_640, ((20_000, 1.0), (60_000, 1.0))),
        (100_000, ()),
    ],
)
def test_one_chirp_or_none_or_half_of_one_is_not_the_sound(frames: int, parts: tuple[tuple[int, float], ...]) -> None:
    with pytest.raises(InputError, match="the test sound did not come back"):
        _chirps(chirped(frames, *parts), 16_000, 40_000)


def test_chirps_are_placed_between_frames_by_the_envelope_of_their_match() -> None:
    samples = chirped(100_000, (20_000, 1.0), (60_000, 0.7)) + 3e-3 * np.random.default_rng(3).standard_normal(100_000)
    for gain in (1.0, 1e-4):
        wanted = chirps_by_correlation(samples, 20_000, 60_000)
        assert _chirps(gain * samples, 16_000, 40_000) == pytest.approx(wanted, abs=1e-5)


def test_the_top_of_a_parabola_lies_between_its_points() -> None:
    match = 5.0 - 0.7 * (np.arange(8) - 3.3) ** 2
    assert _between(match, 3) == pytest.approx(3.3)
    assert [_between(match, place) for place in (0, 7)] == [0.0, 7.0]
    assert [_between(5.0 - (np.arange(8) - top) ** 2, round(top)) for top in (1.2, 5.8)] == pytest.approx([1.2, 5.8])
    assert _between(np.array([2.0, 2.0, 2.0]), 1) == 1.0


def test_a_loop_whose_clock_wanders_is_less_sure() -> None:
    rate_hz, before = 16_000, 8000
    sound = loop_sound(rate_hz)
    sent = sound.samples.astype(float)
    begin, tone = round(0.28 * rate_hz), 4 * rate_hz
    # The quarters of the tone come back a cent sharp and flat by turns.
    cents = np.repeat([1.0, -1.0, 1.0, -1.0], tone // 4)
    phase = 2.0 * np.pi * np.cumsum(997.0 * 2.0 ** (cents / 1200.0)) / rate_hz
    sent[begin : begin + tone] = 0.1259 * np.sin(phase) * np.hanning(tone) ** 0.1
    heard = np.concatenate((np.full(before, 0.01), sent + 0.01, np.full(2000, 0.01)))
    heard += 1e-4 * np.random.default_rng(3).standard_normal(heard.size)
    found = read_loop(heard.astype(np.float32), sound, before)
    # A clock that wanders by thousandths of a cent wanders as well.
    cents = np.repeat([0.004, -0.004, 0.004, -0.004], tone // 4)
    phase = 2.0 * np.pi * np.cumsum(997.0 * 2.0 ** (cents / 1200.0)) / rate_hz
    little = sound.samples.astype(float)
    little[begin : begin + tone] = 0.1259 * np.sin(phase) * np.hanning(tone) ** 0.1
    little = np.concatenate((np.zeros(before), little)) + 1e-6 * np.random.default_rng(3).standard_normal(
        before + little.size
    )
    assert read_loop(little.astype(np.float32), sound, before).wander_cents == pytest.approx(0.0046, abs=0.0005)
    # A sample of four, a cent either side: 1.15 cents; the mean of four is known half as well.
    assert found.wander_cents == pytest.approx(1.15, abs=0.1)
    assert found.clock_error_cents == pytest.approx(found.wander_cents / 2.0, rel=0.1)
    # A constant under everything is no noise.
    assert found.noise_dbfs == pytest.approx(20.0 * math.log10(1e-4 * math.sqrt(2.0)), abs=0.3)
    assert read_loop(heard.astype(np.float32), sound, 0).noise_dbfs == -math.inf


def test_a_recording_at_three_times_the_working_rate_is_brought_down_in_place_and_size() -> None:
    rate_hz, frames = 48_000, 24_001

    def sine(hz: float) -> np.ndarray:
        return np.asarray(0.5 * np.sin(2.0 * np.pi * hz * np.arange(frames) / rate_hz))

    kept = taken(sine(440.0) + sine(6000.0), rate_hz)
    assert kept.samples.size == 8001
    at_s = np.arange(8001) / 16_000
    wanted = 0.5 * np.sin(2.0 * np.pi * 440.0 * at_s) + 0.5 * np.sin(2.0 * np.pi * 6000.0 * at_s)
    assert kept.samples[100:-100] == pytest.approx(wanted[100:-100], abs=2e-4)
    # From three fifths of the working rate on, what would fold back is 80 dB down.
    for hz in (9_700.0, 12_000.0, 16_000.0, 20_000.0):
        assert np.max(np.abs(taken(sine(hz), rate_hz).samples[100:-100])) < 0.5e-4
    # A constant stays one, and both ends are what lies before and after: nothing.
    flat = taken(np.full(9000, 0.25), rate_hz).samples
    assert flat[100:-100] == pytest.approx(0.25, abs=2e-5)
    assert flat[0] == pytest.approx(0.125, abs=0.05)
    # At twice the working rate it is the same.
    double = taken(0.5 * np.sin(2.0 * np.pi * 440.0 * np.arange(8000) / 32_000), 32_000)
    wanted = 0.5 * np.sin(2.0 * np.pi * 440.0 * np.arange(4000) / 16_000)
    assert double.samples[100:-100] == pytest.approx(wanted[100:-100], abs=2e-4)
    # Of two channels each is brought down by itself, then they become one.
    intake = Intake(rate_hz, 2, "x.wav")
    intake.add(np.stack((sine(440.0), 0.8 * sine(440.0)), axis=1).astype(np.float32))
    alone = taken(sine(440.0), rate_hz).samples
    assert intake.finish().samples[100:-100] == pytest.approx(0.9 * alone[100:-100], abs=1e-5)


def test_a_stopped_note_is_followed_to_where_it_was_stopped() -> None:
    sound = dying(2.0, 1.0)
    sound[9600:] = 0.0
    sound += 1e-4 * np.random.default_rng(1).standard_normal(sound.size)
    (fit,) = fit_partials(sound.astype(np.float32), RATE_HZ, np.array([1000.5]), 1000.0, 0.0)
    assert fit is not None
    # Stopped at 0.6 s: no frame of 80 ms that is kept reaches beyond by more than a hop.
    assert 0.5 < fit.track_s[-1] <= 0.58
    assert fit.frequency_hz == pytest.approx(1000.0, abs=1e-2)


def test_what_was_missed_stays_missed_within_a_block() -> None:
    catcher = Catcher(1000)
    quiet, loud = np.full(8010, 1e-5, dtype=np.float32), np.full(3000, 0.1, dtype=np.float32)
    assert catcher.add(np.concatenate((quiet, loud))) == "missed"
    assert catcher.add(loud) == "missed"
    assert catcher.note().size == 11_010
    # And what was caught ends where it was caught.
    catcher = Catcher(1000)
    assert catcher.add(np.concatenate((quiet[:500], loud, quiet))) == "caught"
    assert catcher.note().size == 400 + 2510
    assert catcher.add(loud) == "caught"
    assert catcher.note().size == 400 + 2510


def test_pairs_in_files_of_their_own_are_measured_two_by_two() -> None:
    def one(cents: float, name: str) -> Recording:
        return recording(take(note(moved(D5_HZ, cents), seconds=0.8)), name=name)

    found = measure_pairs(
        [(one(0.0, "1.wav"), one(4.0, "2.wav")), (one(20.0, "3.wav"), one(24.0, "4.wav"))], FIVE_STRING
    )
    assert (found.string, found.paired) == (1, True)
    assert found.cents == pytest.approx(4.0, abs=0.01)
    assert found.std_error_cents < 0.05
    assert [(row.tone, row.recording) for row in found.plucks] == [
        ("harmonic", "1.wav"),
        ("fretted", "2.wav"),
        ("harmonic", "3.wav"),
        ("fretted", "4.wav"),
    ]
    with pytest.raises(InputError, match="not of string 2"):
        measure_pairs([(one(0.0, "1.wav"), one(4.0, "2.wav"))], FIVE_STRING, 2)
    # The same in one take, and from a file of harmonics and one of fretted notes: there the drift counts.
    notes = [note(moved(D5_HZ, cents), seconds=0.8) for cents in (0.0, 4.0, 20.0, 24.0)]
    whole = measure_take(recording(take(*notes)), FIVE_STRING)
    assert (whole.cents, whole.paired) == (pytest.approx(4.0, abs=0.01), True)
    assert [row.tone for row in whole.plucks] == ["harmonic", "fretted"] * 2
    apart = measure_apart(recording(take(*notes[::2]), name="h"), recording(take(*notes[1::2]), name="f"), FIVE_STRING)
    assert (apart.cents, apart.paired) == (pytest.approx(4.0, abs=0.01), False)
    assert apart.std_error_cents > 5.0
    assert [(row.tone, row.recording) for row in apart.plucks] == [("harmonic", "h")] * 2 + [("fretted", "f")] * 2


def test_d5_is_d5() -> None:
    assert pytest.approx(440.0 * 2.0 ** (5.0 / 12.0), abs=1e-4) == D5_HZ
