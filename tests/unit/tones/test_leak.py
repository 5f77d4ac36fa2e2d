"""Nothing but the pitch tells the answer.

Over 400 pairs with sides drawn at random, features of the rendered sound are asked to predict whether the fretted note
is sharp. Significance: 1 % for the whole family. Each feature alone by the Mann-Whitney test with Bonferroni's
correction; all together by a linear discriminant fitted on one half and tried on the other, against chance by the
binomial test. Partials are measured where they are, so that the pitch itself is no feature. Controls: the same tests
must find a leak that is planted in the level, in the timbre and in the onset.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.stats import binomtest, mannwhitneyu
from tone_measures import cut, hann, partial_levels_db

from banjo import FIVE_STRING
from centwise.model import Condition, PairSpec
from centwise.tones.loudness import k_weighted_loudness
from centwise.tones.pair import render_pair

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from centwise.model import PairSound, Tone

    Floats = NDArray[np.float64]
    Plant = Callable[[Floats, float], Floats]

PAIRS = 400
RATE_HZ = 24_000
SIGNIFICANCE = 0.01
PARTIALS = 6


def tone_features(tone: Floats, first_hz: float) -> dict[str, float]:
    """Measure all of one tone but its pitch."""
    peak = np.max(np.abs(tone))
    partials_db = partial_levels_db(tone, RATE_HZ, np.arange(1, PARTIALS + 1) * first_hz, 0.4)
    start = np.fft.rfft(tone[: round(0.004 * RATE_HZ)])
    noise = np.abs(start[round(0.004 * 9000) :]) ** 2
    envelope_db = [
        10.0 * np.log10(np.mean(tone[round(a * RATE_HZ) : round(b * RATE_HZ)] ** 2))
        for a, b in ((0.0, 0.05), (0.4, 0.5), (1.0, 1.1), (1.28, 1.33))
    ]
    # The phase at the attack: the partial is followed at its own frequency over a stretch and led back.
    window = hann(round(0.1 * RATE_HZ))
    carrier = np.exp(-2j * np.pi * first_hz * np.arange(window.size) / RATE_HZ)
    phase = np.angle((tone[: window.size] * window) @ carrier)
    power = np.abs(np.fft.rfft(tone[: round(0.1 * RATE_HZ)])) ** 2
    bins_hz = np.fft.rfftfreq(round(0.1 * RATE_HZ), 1.0 / RATE_HZ)
    return {
        "loudness": k_weighted_loudness(tone, RATE_HZ),
        "peak": 20.0 * float(np.log10(peak)),
        "crest": float(peak / np.sqrt(np.mean(tone**2))),
        "frames": float(tone.size),
        "onset": float(np.argmax(np.abs(tone) > 0.1 * peak)),
        "first_sample": float(tone[1] / peak),
        "mean": float(np.mean(tone)),
        "noise": 10.0 * float(np.log10(np.mean(noise))),
        "phase_cos": float(np.cos(phase)),
        "phase_sin": float(np.sin(phase)),
        # In units of the pitch: in hertz it moves with the pitch by definition.
        "centroid": float(bins_hz @ power / power.sum()) / first_hz,
        **{f"partial_{m + 1}": partials_db[m] - partials_db[0] for m in range(1, PARTIALS)},
        **{f"decay_{n}": level - envelope_db[0] for n, level in enumerate(envelope_db) if n},
    }


def render_all(sharp: NDArray[np.bool_], *, muted: bool = True) -> list[PairSound]:
    placement = np.random.default_rng(2024)
    pairs = []
    for n, side in enumerate(sharp):
        offset_cents = placement.uniform(2.0, 20.0) * (1.0 if side else -1.0)
        spec = PairSpec(
            n=n + 1, condition=Condition(string=1 + n % 5, muted=muted), offset_cents=offset_cents, first="harmonic"
        )
        pairs.append(render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=np.random.default_rng((7, n))))
    return pairs


def measure_all(pairs: list[PairSound], tone: Tone, plant: Plant | None = None) -> list[dict[str, float]]:
    measured = []
    for pair in pairs:
        samples, span = cut(pair.sound, pair.span(tone)), pair.span(tone)
        if plant is not None:
            samples = plant(samples, float(np.sign(pair.fretted.frequency_hz - pair.harmonic.frequency_hz)))
        measured.append(tone_features(samples, span.frequency_hz))
    return measured


def pair_features(
    pairs: list[PairSound], harmonic: list[dict[str, float]], fretted: list[dict[str, float]]
) -> dict[str, Floats]:
    """Put the fretted tone's features, their difference from the harmonic's, and the times into columns."""
    columns = {
        "start": [pair.harmonic.start_s for pair in pairs],
        "gap": [pair.fretted.start_s - pair.harmonic.end_s for pair in pairs],
        "total": [float(pair.sound.samples.size) for pair in pairs],
    }
    for name in fretted[0]:
        columns[f"fretted {name}"] = [one[name] for one in fretted]
        columns[f"difference {name}"] = [one[name] - other[name] for one, other in zip(fretted, harmonic, strict=True)]
    return {name: np.array(values) for name, values in columns.items()}


def smallest_p(features: dict[str, Floats], sharp: NDArray[np.bool_]) -> tuple[str, float]:
    """Return the feature that tells the sides apart best, and its p times the number of features that vary."""
    varying = {name: values for name, values in features.items() if np.ptp(values) > 1e-9}
    p = {name: mannwhitneyu(values[sharp], values[~sharp]).pvalue for name, values in varying.items()}
    best = min(p, key=lambda name: p[name])
    return best, float(p[best]) * len(varying)


def discriminant_p(features: dict[str, Floats], sharp: NDArray[np.bool_]) -> float:
    """Return the p of a linear discriminant's hits on pairs it was not fitted on, each half tried once."""
    table = np.column_stack([values for values in features.values() if np.ptp(values) > 1e-9])
    table = (table - table.mean(axis=0)) / table.std(axis=0)
    hits = 0
    halves = np.arange(PAIRS) % 2 == 0
    for fitted in (halves, ~halves):
        scatter = np.cov(table[fitted].T) + 0.1 * np.eye(table.shape[1])
        between = table[fitted & sharp].mean(axis=0) - table[fitted & ~sharp].mean(axis=0)
        middle = (table[fitted & sharp].mean(axis=0) + table[fitted & ~sharp].mean(axis=0)) / 2.0
        guess = (table[~fitted] - middle) @ np.linalg.solve(scatter, between) > 0.0
        hits += int(np.sum(guess == sharp[~fitted]))
    return float(binomtest(hits, PAIRS, 0.5, alternative="greater").pvalue)


@pytest.fixture(scope="module")
def sharp() -> NDArray[np.bool_]:
    return np.random.default_rng(77).random(PAIRS) < 0.5


@pytest.fixture(scope="module")
def pairs(sharp: NDArray[np.bool_]) -> list[PairSound]:
    return render_all(sharp)


@pytest.fixture(scope="module")
def harmonics(pairs: list[PairSound]) -> list[dict[str, float]]:
    return measure_all(pairs, "harmonic")


@pytest.fixture(scope="module")
def features(pairs: list[PairSound], harmonics: list[dict[str, float]]) -> dict[str, Floats]:
    return pair_features(pairs, harmonics, measure_all(pairs, "fretted"))


def test_no_feature_alone_tells_the_side(features: dict[str, Floats], sharp: NDArray[np.bool_]) -> None:
    name, p = smallest_p(features, sharp)
    assert p > SIGNIFICANCE, f"{name} tells the side, p {p:.2g}"


def test_all_features_together_do_not_tell_the_side(features: dict[str, Floats], sharp: NDArray[np.bool_]) -> None:
    assert discriminant_p(features, sharp) > SIGNIFICANCE


def test_lengths_and_places_never_vary(features: dict[str, Floats]) -> None:
    for name in ("start", "gap", "total", "fretted frames", "difference frames"):
        assert np.ptp(features[name]) < 1e-9


def test_unmuted_strings_ring_along_and_no_level_or_decay_tells_the_side(sharp: NDArray[np.bool_]) -> None:
    # They beat with the tone, as fast as the two lie apart; where the beat begins is drawn.
    pairs = render_all(sharp, muted=False)
    found = pair_features(pairs, measure_all(pairs, "harmonic"), measure_all(pairs, "fretted"))
    name, p = smallest_p(found, sharp)
    assert p > SIGNIFICANCE, f"{name} tells the side, p {p:.2g}"
    assert discriminant_p(found, sharp) > SIGNIFICANCE


def louder(tone: Floats, sign: float) -> Floats:
    return tone * 10.0 ** (0.5 * sign / 20.0)


def brighter(tone: Floats, sign: float) -> Floats:
    spectrum = np.fft.rfft(tone)
    octaves = np.log2(np.maximum(np.fft.rfftfreq(tone.size, 1.0 / RATE_HZ), 50.0) / 500.0)
    return np.fft.irfft(spectrum * 10.0 ** (0.5 * sign * octaves / 20.0), tone.size)


def later(tone: Floats, sign: float) -> Floats:
    shift = 6 if sign > 0.0 else 0
    return np.concatenate((np.zeros(shift), tone[: tone.size - shift]))


@pytest.mark.parametrize("plant", [louder, brighter, later])
def test_a_planted_leak_is_found(
    plant: Plant, sharp: NDArray[np.bool_], pairs: list[PairSound], harmonics: list[dict[str, float]]
) -> None:
    planted = pair_features(pairs, harmonics, measure_all(pairs, "fretted", plant))
    assert min(smallest_p(planted, sharp)[1], discriminant_p(planted, sharp)) < SIGNIFICANCE
