from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother

from centwise.ear.history import (
    GOOD_AND_BAD_DAYS_OCTAVES,
    History,
    Session,
    history_of,
    practice_sd_octaves,
    step_variance,
)
from centwise.ear.prior import OCTAVES_PER_ROOT_DAY
from centwise.ear.student import t_95_two_sided
from centwise.errors import InputError

Z_90 = stats.norm.ppf(0.95)


def session(days: float, octaves: float, sd_octaves: float) -> Session:
    ends = (2.0 ** (octaves + side * Z_90 * sd_octaves) for side in (-1, 1))
    return Session(days, 2.0**octaves, *ends)


def walked(seed: int, count: int) -> list[Session]:
    rng = np.random.default_rng(seed)
    days = np.cumsum(rng.uniform(0.0, 9.0, count))
    return [session(float(day), float(rng.normal(3.0, 0.5)), float(rng.uniform(0.1, 0.6))) for day in days]


def dense(sessions: list[Session]) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of all levels at once by plain least squares, with no filter at all."""
    count = len(sessions)
    precision, pull = np.zeros((count, count)), np.zeros(count)
    for i, each in enumerate(sessions):
        seen = 1.0 / (each.sd_octaves**2 + GOOD_AND_BAD_DAYS_OCTAVES**2)
        precision[i, i] += seen
        pull[i] += seen * each.octaves
    for i in range(count - 1):
        step = 1.0 / step_variance(sessions[i + 1].days - sessions[i].days, i + 1)
        precision[i : i + 2, i : i + 2] += step * np.array([[1, -1], [-1, 1]])
    covariance = np.linalg.inv(precision)
    return covariance @ pull, covariance


@pytest.mark.parametrize("seed", range(4))
def test_the_smoother_is_least_squares(seed: int) -> None:
    sessions = walked(seed, 9)
    history = history_of(sessions)
    mean, covariance = dense(sessions[1:])
    spread = np.sqrt(np.diag(covariance))
    assert [point.days for point in history.trend] == [each.days for each in sessions[1:]]
    assert np.log2([point.threshold_cents for point in history.trend]) == pytest.approx(mean, abs=1e-9)
    assert np.log2([point.low_cents for point in history.trend]) == pytest.approx(mean - Z_90 * spread, abs=1e-9)
    assert np.log2([point.high_cents for point in history.trend]) == pytest.approx(mean + Z_90 * spread, abs=1e-9)
    assert history.level_octaves == pytest.approx(mean[-1])
    assert history.level_sd_octaves == pytest.approx(spread[-1])
    for start in (0, 3):
        variance = covariance[start, start] + covariance[-1, -1] - 2 * covariance[start, -1]
        expected = stats.norm.cdf((mean[start] - mean[-1]) / np.sqrt(variance))
        found = history.improvement_chance(sessions[start + 1].days)
        assert found == pytest.approx(expected, abs=1e-9)


def test_against_statsmodels_local_level() -> None:
    # statsmodels' Kalman smoother on a local level whose steps have the stated variances; sessions a week apart.
    rng = np.random.default_rng(7)
    octaves = 3.0 - 0.02 * np.arange(13) + rng.normal(0, 0.3, 13)
    history = history_of([session(7.0 * i, float(x), 0.3) for i, x in enumerate(octaves)])
    model = KalmanSmoother(k_endog=1, k_states=1)
    model.bind(octaves[1:, None].copy())
    model["design"] = model["transition"] = model["selection"] = np.ones((1, 1))
    model["obs_cov"] = np.array([[0.3**2 + GOOD_AND_BAD_DAYS_OCTAVES**2]])
    model["state_cov"] = np.array([[[step_variance(7.0, n) for n in range(1, 13)]]])
    model.initialize_diffuse()
    theirs = model.smooth()
    mean, spread = theirs.smoothed_state[0], np.sqrt(theirs.smoothed_state_cov[0, 0])
    assert np.log2([point.threshold_cents for point in history.trend]) == pytest.approx(mean, abs=1e-8)
    assert np.log2([point.high_cents for point in history.trend]) == pytest.approx(mean + Z_90 * spread, abs=1e-8)
    assert history.level_octaves == pytest.approx(theirs.filtered_state[0, -1], abs=1e-8)


def observed(level: np.ndarray, days: np.ndarray, rng: np.random.Generator, sd_octaves: float = 0.34) -> History:
    """A history of blocks of 40 pairs, whose thresholds scatter as the study of the estimate found."""
    seen = level + rng.normal(0, np.hypot(sd_octaves, GOOD_AND_BAD_DAYS_OCTAVES), level.size)
    return history_of([session(float(d), float(x), sd_octaves) for d, x in zip(days, seen, strict=True)])


@pytest.mark.parametrize(
    ("first_cents", "last_cents", "blocks", "days", "held"),
    [(24.0, 8.0, 15, 14.0, 0.85), (36.0, 10.0, 7, 0.5, 0.70), (8.0, 8.0, 40, 39.0, 0.87)],
    ids=["three times finer in a fortnight", "in one day", "no change"],
)
def test_a_fast_learner_is_followed(
    first_cents: float, last_cents: float, blocks: int, days: float, held: float
) -> None:
    # Standard error of a share of 300: about .02.
    rng = np.random.default_rng(11)
    level = np.linspace(np.log2(first_cents), np.log2(last_cents), blocks)
    histories = [observed(level, np.linspace(0.0, days, blocks), rng) for _ in range(300)]
    ends = [(h.trend[-1].low_cents, h.trend[-1].high_cents) for h in histories]
    assert np.mean([low <= last_cents <= high for low, high in ends]) > held
    chances = np.array([h.improvement_chance(0.0) for h in histories])
    if last_cents < first_cents:
        assert np.median(chances) > 0.99
    else:
        assert np.mean(chances > 0.95) < 0.06
        assert np.mean(chances < 0.05) < 0.06


def test_practice_moves_less_and_less() -> None:
    assert practice_sd_octaves(10) == pytest.approx(0.2)
    assert practice_sd_octaves(20) == pytest.approx(0.4 / 3)
    assert step_variance(4.0, 10) == pytest.approx(4.0 * 0.1**2 + 0.2**2)


def test_the_first_block_is_shown_and_not_compared() -> None:
    rest = [session(d, o, 0.2) for d, o in ((1.0, 3.0), (2.0, 2.9), (3.0, 2.8))]
    coarse, fine = (history_of([session(0.0, octaves, 0.2), *rest]) for octaves in (6.0, 2.0))
    assert coarse.trend == fine.trend
    assert len(coarse.trend) == 3
    assert coarse.improvement_chance(0.0) == fine.improvement_chance(0.0)
    alone = history_of([session(0.0, 3.0, 0.3)])
    assert alone.trend == ()
    assert alone.improvement_chance(0.0) is None
    # Yet it tells the second block where to start.
    assert alone.prior(1.0).threshold_cents == pytest.approx(8.0)
    assert history_of([session(0.0, 3.0, 0.3), rest[0]]).improvement_chance(0.0) is None


def falling(step: float) -> History:
    return history_of([session(7.0 * i, 4.0 - step * i, 0.25) for i in range(9)])


def test_the_chance_of_improvement() -> None:
    assert falling(0.0).improvement_chance(0.0) == pytest.approx(0.5)
    assert falling(0.25).improvement_chance(0.0) > 0.97
    assert falling(-0.25).improvement_chance(0.0) < 0.03
    assert falling(0.25).improvement_chance(42.0) < falling(0.25).improvement_chance(0.0)
    # Two sessions are enough, one is not.
    assert 0.5 < falling(0.25).improvement_chance(49.0) < falling(0.25).improvement_chance(42.0)
    assert falling(0.25).improvement_chance(56.0) is None
    assert falling(0.25).improvement_chance(99.0) is None


@pytest.mark.parametrize(("then", "now", "chance"), [(3.0, 2.5, 1.0), (3.0, 3.0, 0.0), (2.5, 3.0, 0.0)])
def test_two_levels_known_to_differ_by_just_so_much_are_compared(then: float, now: float, chance: float) -> None:
    sessions = tuple(session(float(day), 3.0, 0.2) for day in range(3))
    sure = History(sessions, (), now, 0.2, ((then, 0.04), (now, 0.04)), (1.0,))
    assert sure.improvement_chance(0.0) == chance


def test_the_chance_is_calibrated() -> None:
    # Listeners whose ears walk as the model says: among those given a chance, so many have improved.
    rng = np.random.default_rng(3)
    chances, truths = [], []
    for _ in range(1500):
        steps = [rng.normal(0, step_variance(7.0, max(n, 1)) ** 0.5) for n in range(6)]
        level = 3.0 + np.cumsum(steps)
        seen = level + rng.normal(0, np.hypot(0.25, GOOD_AND_BAD_DAYS_OCTAVES), 6)
        history = history_of([session(7.0 * i, float(x), 0.25) for i, x in enumerate(seen)])
        chances.append(history.improvement_chance(0.0))
        truths.append(level[-1] < level[1])
    chances, truths = np.array(chances), np.array(truths)
    for low, high in ((0.0, 0.3), (0.3, 0.7), (0.7, 1.01)):
        inside = (chances >= low) & (chances < high)
        # Several hundred in each: a standard error of about .02.
        assert truths[inside].mean() == pytest.approx(chances[inside].mean(), abs=0.07)


def test_the_next_block() -> None:
    history = falling(0.1)
    soon, late = history.prior(57.0), history.prior(57.0 + 400.0)
    assert soon.threshold_cents == late.threshold_cents == pytest.approx(2.0**history.level_octaves)
    assert soon.sd_octaves == 1.0
    practised = practice_sd_octaves(8)
    assert late.sd_octaves == pytest.approx(
        np.sqrt(history.level_sd_octaves**2 + OCTAVES_PER_ROOT_DAY**2 * 401 + practised**2)
    )


def test_the_block_after_the_first_and_the_second_has_as_much_practice_before_it() -> None:
    for count in (1, 2):
        few = history_of([session(float(day), 3.0, 2.0) for day in range(count)])
        assert few.prior(count - 1.0).sd_octaves == pytest.approx(np.hypot(few.level_sd_octaves, 0.4 / 1.1))
    three = history_of([session(float(day), 3.0, 2.0) for day in range(3)])
    assert three.prior(2.0).sd_octaves == pytest.approx(np.hypot(three.level_sd_octaves, 0.4 / 1.2))


def test_the_usual_range_of_few_sessions_is_their_mean_and_the_walk_since() -> None:
    few = history_of([session(7.0 * i, 3.0 + 0.1 * i, 0.25) for i in range(4)])
    low, high = few.foreseen_cents(28.0, 0.2)
    good = GOOD_AND_BAD_DAYS_OCTAVES**2
    spread = np.sqrt((0.25**2 + good) / 3 + 0.2**2 + good + OCTAVES_PER_ROOT_DAY**2 * 7.0)
    assert np.log2([low, high]) == pytest.approx(3.2 + np.array([-1, 1]) * stats.norm.ppf(0.975) * spread)
    assert few.foreseen_cents(90.0, 0.2)[1] > high


def test_the_usual_range_of_many_sessions_is_students_prediction_interval() -> None:
    # scipy's t: mean and scatter of the sessions that are compared, for one more of the same.
    octaves = np.array([9.0, 3.0, 3.9, 2.6, 3.3, 2.8, 3.6])
    many = history_of([session(7.0 * i, float(x), 0.2) for i, x in enumerate(octaves)])
    half = stats.t.ppf(0.975, 5) * octaves[1:].std(ddof=1) * np.sqrt(1 + 1 / 6)
    found = np.log2(many.foreseen_cents(60.0, 0.2))
    assert found == pytest.approx(octaves[1:].mean() + np.array([-half, half]), abs=1e-6)
    # Sessions that happen to agree are not taken for a steadier ear than their intervals stand for.
    alike = history_of([session(7.0 * i, 3.0, 0.2) for i in range(7)])
    half = stats.t.ppf(0.975, 5) * np.hypot(0.2, GOOD_AND_BAD_DAYS_OCTAVES) * np.sqrt(1 + 1 / 6)
    assert np.log2(alike.foreseen_cents(60.0, 0.1)) == pytest.approx(3.0 + np.array([-half, half]), abs=1e-6)
    # Nor is a block that is read less well than they were. Five that are compared are enough.
    five = history_of([session(7.0 * i, 3.0, 0.2) for i in range(6)])
    half = stats.t.ppf(0.975, 4) * np.hypot(0.5, GOOD_AND_BAD_DAYS_OCTAVES) * np.sqrt(1 + 1 / 5)
    assert np.log2(five.foreseen_cents(60.0, 0.5)) == pytest.approx(3.0 + np.array([-half, half]), abs=1e-6)


@pytest.mark.parametrize("earlier", [3, 6, 11])
def test_the_usual_range_flags_a_coarser_ear_and_seldom_a_steady_one(earlier: int) -> None:
    # Assessments of 100 pairs scatter by 0.22 octave in the study; a week between them.
    rng = np.random.default_rng(earlier)
    steady, doubled = 0, 0
    for _ in range(400):
        seen = 3.0 + rng.normal(0.0, np.hypot(0.22, GOOD_AND_BAD_DAYS_OCTAVES), earlier + 1)
        history = history_of([session(7.0 * i, float(x), 0.22) for i, x in enumerate(seen[:-1])])
        low, high = np.log2(history.foreseen_cents(7.0 * earlier, 0.22))
        steady += not low <= seen[-1] <= high
        doubled += seen[-1] + 1.0 > high
    assert steady / 400 < 0.05
    assert doubled / 400 > 0.65


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 7, 30, 200])
def test_students_t_is_scipys(degrees: int) -> None:
    assert t_95_two_sided(degrees) == pytest.approx(stats.t.ppf(0.975, degrees), rel=1e-6)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: history_of([]), "no session makes no history: give at least one"),
        (lambda: history_of([session(2.0, 3, 0.2), session(1.0, 3, 0.2)]), "session 2 is of day 1, before the one"),
        (lambda: Session(float("nan"), 5, 4, 6), "a session on day nan"),
        (lambda: Session(0.0, 5, 6, 4), "a threshold of 5 cents between 6 and 4"),
        (lambda: Session(0.0, 0, 4, 6), "a threshold of 0 cents"),
        (lambda: falling(0.1).prior(50.0), "day 50 lies before the last session's, day 56"),
    ],
)
def test_bad_histories_are_named(make: object, message: str) -> None:
    with pytest.raises(InputError, match=message):
        make()  # type: ignore[operator]
