"""How exact the ear's estimate is, rule by rule, on simulated listeners; prints its tables and writes them to a file.

python tests/benchmarks/efficiency.py --listeners 2000 --write docs/efficiency.md
"""

from __future__ import annotations

import os

# One thread for each process: the parts run side by side. Before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from centwise.draws import Draws, Purpose
from centwise.ear.bound import best_placement_variance, fisher_information, least_variance
from centwise.ear.estimate import estimate_trials
from centwise.ear.history import GOOD_AND_BAD_DAYS_OCTAVES, Session, history_of
from centwise.ear.normal import Z_90_TWO_SIDED
from centwise.ear.placement import COMFORT
from centwise.ear.population import Blocks, Population, StudyRule, simulate_blocks
from centwise.ear.prior import Prior
from centwise.ear.simulated import SimulatedListener
from centwise.ear.staircase import reversal_threshold_cents, settling_level
from centwise.ear.track import begin_track
from centwise.model import JUDGEMENTS

SEED = 20_000
POPULATION_SEED = 11
MARKS = (20, 40, 60, 120)
EVERY_FIFTH = tuple(range(10, 121, 5))
WORKERS = 2
CLOSE_FACTOR = 1.6
RULES: dict[StudyRule, str] = {
    "balanced": "balanced (`--rule balanced`)",
    "weighted": "weighted up-down, unsure step (`--rule weighted`)",
    "held weighted": "the same, kept within comfort",
    "entropy": "minimum expected entropy, all parameters",
    "held entropy": "the same, kept within comfort",
    "unheld": "balanced without its comfort band",
    "plain": "weighted up-down, unison counted wrong",
}

HELD = replace(COMFORT, band=(-0.12, COMFORT.band[1]))
"""For the rules held: they lean to the hard end of any band, so that it has to be nearer to the aim than the balanced
rule's for as many of their listeners to be at 70-85 % right."""


def listeners(count: int, seed: int) -> Population:
    """Sigma log-uniform 1-40 c, window 0.2-1.5 sigma, bias N(0, 0.3 sigma), lapse 0, 2 or 5 %."""
    rng = np.random.default_rng(seed)
    sigma = np.exp2(rng.uniform(0.0, np.log2(40.0), count))
    window = rng.uniform(0.2, 1.5, count) * sigma
    bias = rng.normal(0.0, 0.3, count) * sigma
    return Population(sigma, window, bias, rng.choice([0.0, 0.02, 0.05], count))


def run(job: tuple[Population, int, StudyRule, int, dict[str, Any]]) -> Blocks:
    people, trials, rule, seed, options = job
    return simulate_blocks(people, trials, rule, seed=seed, **options)


def blocks(pool: ProcessPoolExecutor, people: Population, trials: int, rule: StudyRule, **options: Any) -> Blocks:
    """Run a study in parts, side by side: the parts' seeds follow on, so the split changes nothing."""
    size = 200
    starts = range(0, people.size, size)
    jobs = [(people.part(slice(at, at + size)), trials, rule, SEED + at, options) for at in starts]
    parts = list(pool.map(run, jobs))
    return Blocks(
        np.concatenate([part.offsets_cents for part in parts], axis=1),
        np.concatenate([part.answers for part in parts], axis=1),
        parts[0].marks,
        np.concatenate([part.octaves for part in parts], axis=1),
    )


@dataclass(frozen=True)
class Score:
    """One rule after some trials, against the truth."""

    sd: float
    ratio: float
    covered: float
    right: float
    comfortable: float
    width: float
    close: float


def score(result: Blocks, trials: int, true_octaves: np.ndarray) -> Score:
    low, middle, high = np.moveaxis(result.octaves[result.marks.index(trials)], -1, 0)
    error = middle - true_octaves
    right = result.right[:trials].mean(axis=0)
    return Score(
        float(error.std()),
        float(np.exp2(np.median(error))),
        float(((low <= true_octaves) & (true_octaves <= high)).mean()),
        float(right.mean()),
        float(((right > 0.7 - 1e-9) & (right < 0.85 + 1e-9)).mean()),
        float(np.median(high - low)),
        float((np.abs(error) < np.log2(CLOSE_FACTOR)).mean()),
    )


def sd_error(result: Blocks, trials: int, true_octaves: np.ndarray) -> float:
    """Standard error of an SD of log2 error: sd sqrt((kurtosis - 1) / 4n), for tails heavier than a normal's."""
    error = result.octaves[result.marks.index(trials)][:, 1] - true_octaves
    centred = error - error.mean()
    kurtosis = (centred**4).mean() / (centred**2).mean() ** 2
    return float(error.std() * np.sqrt((kurtosis - 1.0) / (4.0 * error.size)))


def bounds(people: Population, trials: int) -> dict[str, float]:
    """Mean variances of log2 sigma that nobody's best placement falls below, by what is known beside the answers."""
    some = people.part(slice(0, 200))
    lapse_known = np.array([0.0, 0.0, 0.0, 1e12])
    # The population's own variances: log-uniform sigma, normal bias, uniform window, three lapse rates.
    spread = np.array([(np.log(40.0)) ** 2 / 12.0, 0.3**2, 1.3**2 / 12.0, np.var([0.0, 0.02, 0.05])])
    return {
        name: float(
            best_placement_variance(
                trials, some.sigma_cents, some.bias_cents, some.window_cents, some.lapse_rate, known
            ).mean()
        )
        for name, known in (
            ("lapse unknown", None),
            ("lapse known", lapse_known),
            ("all spreads known (van Trees)", 1.0 / spread),
        )
    }


def own_bound(people: Population, offsets: np.ndarray) -> float:
    """Root of the median Cramer-Rao variance of log2 sigma at the offsets that were asked, lapse rate known."""
    information = np.zeros((people.size, 4, 4))
    for row in offsets:
        information += fisher_information(
            row, people.sigma_cents, people.bias_cents, people.window_cents, people.lapse_rate
        )
    return float(np.sqrt(np.median(least_variance(information, np.array([0.0, 0.0, 0.0, 1e12])))))


def table(head: list[str], rows: list[list[str]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in rows])


def percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def rules_section(people: Population, results: dict[StudyRule, Blocks]) -> str:
    truth = np.log2(people.sigma_cents)
    best = {n: bounds(people, n) for n in MARKS}
    rows = []
    for rule, result in results.items():
        scores = {n: score(result, n, truth) for n in MARKS}
        rows.append(
            [
                RULES[rule],
                *(f"{scores[n].sd:.3f}" for n in MARKS),
                *(f"{scores[n].ratio:.2f}" for n in (40, 60)),
                *(percent(scores[n].covered) for n in (40, 60)),
                percent(scores[60].right),
                percent(scores[60].comfortable),
                percent(float((result.offsets_cents[:60] == 0).mean())),
                *(f"{best[60][name] / scores[60].sd ** 2:.2f}" for name in best[60]),
                f"{own_bound(people, result.offsets_cents[:60]):.3f}",
            ]
        )
    head = ["rule", *(f"SD {n}" for n in MARKS), "ratio 40", "60", "covers 40", "60", "right", "at 70-85 %", "catch"]
    for name in best[60]:
        sds = [f"{np.sqrt(best[n][name]):.3f}" for n in MARKS]
        rows.append(
            [f"bound, best placement, {name}", *sds, *[""] * 7, *("1" if name == b else "" for b in best[60]), ""]
        )
    efficiencies = [f"efficiency 60, {name}" for name in best[60]]
    return table([*head, *efficiencies, "own bound 60"], rows)


def track_errors(people: Population, result: Blocks) -> np.ndarray:
    """log2 of each listener's threshold by the reversals of 60 trials over the true one; NaN where none turned."""
    tracks = [
        reversal_threshold_cents(result.offsets_cents[:60, i], [JUDGEMENTS[a] for a in result.answers[:60, i]])
        for i in range(people.size)
    ]
    turned = np.array([track is not None for track in tracks])
    errors = np.full(people.size, np.nan)
    errors[turned] = np.log2([track for track in tracks if track is not None])
    return errors - np.log2(0.6744897501960817 * people.sigma_cents)


def reversals_section(pool: ProcessPoolExecutor, people: Population, results: dict[StudyRule, Blocks]) -> str:
    window = people.window_cents / people.sigma_cents
    bands = ((0.2, 0.5), (0.5, 0.85), (0.85, 1.2), (1.2, 1.5))
    cautious = replace(people, window_cents=2.0 * people.sigma_cents).part(slice(0, max(people.size // 4, 50)))
    rows = []
    for rule in ("plain", "weighted"):
        result = results[rule]
        from_track = track_errors(people, result)
        beyond = blocks(pool, cautious, 60, rule)
        beyond_errors = {
            "reversals": track_errors(cautious, beyond),
            "posterior": beyond.octaves[-1][:, 1] - np.log2(cautious.sigma_cents),
        }
        posterior = result.octaves[result.marks.index(60)][:, 1] - np.log2(people.sigma_cents)
        for name, error in (("reversals", from_track), ("posterior", posterior)):
            known = np.isfinite(error)
            rows.append(
                [
                    RULES[rule],
                    name,
                    f"{np.exp2(np.median(error[known])):.2f}",
                    *(f"{np.exp2(np.median(error[known & (window >= a) & (window < b)])):.2f}" for a, b in bands),
                    f"{np.exp2(np.nanmedian(beyond_errors[name])):.2f}",
                    f"{error[known].std():.3f}",
                    f"{np.corrcoef(error[known], window[known])[0, 1]:+.2f}",
                    f"{np.sqrt((error[known] ** 2).mean()):.3f}",
                ]
            )
    head = ["60 trials of", "scored from", "ratio", *(f"window {a}-{b}" for a, b in bands), "window 2"]
    return table([*head, "SD", "correlation with window", "RMS"], rows)


def hard_section(pool: ProcessPoolExecutor, count: int) -> str:
    people = listeners(count, POPULATION_SEED + 1)
    sigma, nothing = people.sigma_cents, np.zeros(count)
    fall = float(np.log2(0.7))
    wider = 40.0 * sigma**0.125 / sigma
    steady = np.resize([4.0, 9.0, 20.0], count)
    cases: list[tuple[str, Population]] = [
        (
            "sigma 4, 9 and 20 c, window 0.7 sigma, no bias, no lapse",
            Population(steady, 0.7 * steady, nothing, nothing),
        ),
        ("lapse 10 %", replace(people, lapse_rate=nothing + 0.1)),
        ("window 0", replace(people, window_cents=nothing)),
        ("window 2 sigma", replace(people, window_cents=2.0 * sigma)),
        ("window 3 sigma", replace(people, window_cents=3.0 * sigma)),
        ("bias +1 sigma", replace(people, bias_cents=sigma)),
        ("bias -1 sigma", replace(people, bias_cents=-sigma)),
        ("bias +2 sigma", replace(people, bias_cents=2.0 * sigma)),
        ("bias -3 sigma", replace(people, bias_cents=-3.0 * sigma)),
        ("t4 noise", replace(people, noise="t4")),
        (
            "sigma falls 30 % over 60 trials",
            replace(people, sigma_cents=sigma * 2 ** (-fall / 2), drift_octaves=fall / 59),
        ),
        (
            "sigma 40-63 c",
            replace(
                people,
                sigma_cents=sigma * wider,
                window_cents=people.window_cents * wider,
                bias_cents=people.bias_cents * wider,
            ),
        ),
    ]
    rows = []
    for name, case in cases:
        # While it drifts, the truth is sigma half way through the 60 trials.
        truth = np.log2(sigma if case.drift_octaves else case.sigma_cents)
        result = blocks(pool, case, 60, "balanced", marks=(40, 60))
        at = [score(result, n, truth) for n in (40, 60)]
        if case.drift_octaves:
            at[0] = score(result, 40, np.log2(case.sigma_cents) + case.drift_octaves * 19.5)
        rows.append(
            [
                name,
                *(f"{s.sd:.3f}" for s in at),
                *(f"{s.ratio:.2f}" for s in at),
                *(percent(s.covered) for s in at),
                *(percent(s.close) for s in at),
                percent(at[1].right),
                percent(at[1].comfortable),
            ]
        )
    head = ["listeners", "SD 40", "60", "ratio 40", "60", "covers 40", "60", "within 1.6 at 40", "60", "right"]
    return table([*head, "at 70-85 %"], rows)


def estimate_job(job: tuple[np.ndarray, np.ndarray, bool]) -> tuple[float, ...]:
    offsets, answers, split = job
    words = [JUDGEMENTS[a] for a in answers]
    firsts = [("fretted" if split and n % 2 else "harmonic") for n in range(len(words))]
    found = estimate_trials(offsets, words, firsts)
    order = found.order_error_cents
    return (
        found.threshold_cents,
        found.low_cents,
        found.high_cents,
        found.bias_cents,
        np.nan if order is None else order,
    )


def orders_section(pool: ProcessPoolExecutor, count: int) -> str:
    rows = []
    people = replace(
        listeners(count, POPULATION_SEED + 2),
        sigma_cents=np.full(count, 8.0),
        window_cents=np.full(count, 6.0),
        bias_cents=np.full(count, 3.0),
    )
    true = 0.6744897501960817 * 8.0
    for error in (0.0, 4.0, 8.0, 16.0):
        result = blocks(pool, replace(people, order_error_cents=error), 100, "balanced", both_orders=True)
        for split in (True, False):
            jobs = [(result.offsets_cents[:, i], result.answers[:, i], split) for i in range(count)]
            found = np.array(list(pool.map(estimate_job, jobs, chunksize=25)))
            rows.append(
                [
                    f"{error / 8.0:.1f} sigma",
                    "both orders" if split else "as if one order",
                    f"{np.median(found[:, 0]) / true:.2f}",
                    f"{np.std(np.log2(found[:, 0])):.3f}",
                    percent(float(((found[:, 1] <= true) & (true <= found[:, 2])).mean())),
                    f"{found[:, 3].mean():+.2f} c (SD {found[:, 3].std():.2f})",
                    f"{found[:, 4].mean():+.2f} c (SD {found[:, 4].std():.2f})" if split else "",
                ]
            )
    head = ["time-order error", "fitted with", "threshold ratio", "SD", "covers", "timbre shift (true +3 c)"]
    return table([*head, "time-order error found"], rows)


def final_section(pool: ProcessPoolExecutor, people: Population, result: Blocks, count: int) -> str:
    """The block's own estimate, from a lattice drawn in, against the running one, on the same answers."""
    truth = np.log2(people.sigma_cents[:count])
    rows = []
    for trials in (40, 60, 120):
        jobs = [(result.offsets_cents[:trials, i], result.answers[:trials, i], False) for i in range(count)]
        found = np.log2(np.array(list(pool.map(estimate_job, jobs, chunksize=25)))[:, :3] / 0.6744897501960817)
        error = found[:, 0] - truth
        covered = ((found[:, 1] <= truth) & (truth <= found[:, 2])).mean()
        running = result.octaves[result.marks.index(trials)][:count]
        behind = running[:, 1] - truth
        held = ((running[:, 0] <= truth) & (truth <= running[:, 2])).mean()
        rows.append(
            [
                str(trials),
                *(f"{e.std():.3f}" for e in (behind, error)),
                *(f"{np.exp2(np.median(e)):.3f}" for e in (behind, error)),
                *(percent(float(c)) for c in (held, covered)),
            ]
        )
    return table(["trials", "SD running", "SD final", "ratio running", "final", "covers running", "final"], rows)


def prior_section(pool: ProcessPoolExecutor, people: Population) -> str:
    """Each listener's next session, with an earlier threshold that is right, or off by 8.

    Pairs are placed by a posterior that begins from it; the number is computed from the answers alone.
    """
    sigma = 8.0
    several = replace(
        people,
        sigma_cents=np.full(people.size, sigma),
        window_cents=people.window_cents / people.sigma_cents * sigma,
        bias_cents=people.bias_cents / people.sigma_cents * sigma,
    )
    rows = []
    known = 0.6744897501960817 * sigma
    options: list[tuple[str, Prior | None, float]] = [
        ("a stranger's start", None, 40.0),
        ("last threshold right", Prior(known), 3 * known),
        ("last threshold 8 times too high", Prior(8 * known), 40.0),
        ("last threshold 8 times too low", Prior(known / 8), 3 * known / 8),
        ("8 times too low, prior without its flat share", Prior(known / 8, flat_share=0.0), 3 * known / 8),
    ]
    for name, prior, start in options:
        result = blocks(pool, several, 60, "balanced", prior=prior, start_cents=start)
        right = result.right[:20].mean()
        numbers = []
        for trials in (20, 60):
            jobs = [(result.offsets_cents[:trials, i], result.answers[:trials, i], False) for i in range(people.size)]
            numbers.append(np.log2(np.array(list(pool.map(estimate_job, jobs, chunksize=25)))[:, 0] / known))
        rows.append(
            [
                name,
                *(f"{np.sqrt((e**2).mean()):.3f}" for e in numbers),
                *(f"{np.exp2(np.median(e)):.2f}" for e in numbers),
                percent(float(right)),
            ]
        )
    head = ["listeners of sigma 8 c, start", "RMS 20", "RMS 60", "ratio 20", "ratio 60", "right in the first 20"]
    return table(head, rows)


LEARNERS = (
    ("steady at 8 c, 40 days", 8.0, 8.0, 40, 39.0),
    ("24 to 8 c in 14 days", 24.0, 8.0, 15, 14.0),
    ("36 to 10 c in one day", 36.0, 10.0, 7, 0.5),
    ("24 to 8 c in 60 days", 24.0, 8.0, 61, 60.0),
)
BLOCK_SD = 0.34
"""What a block of 40 pairs scatters, in octaves, as found above."""


def history_section(count: int) -> str:
    """Learners whose threshold falls evenly from block to block, seen through blocks of 40 pairs."""
    rows = []
    for name, first, last, blocks_taken, days in LEARNERS:
        rng = np.random.default_rng(SEED)
        level = np.linspace(np.log2(first), np.log2(last), blocks_taken)
        held, chances = [], []
        for _ in range(count):
            seen = level + rng.normal(0.0, np.hypot(BLOCK_SD, GOOD_AND_BAD_DAYS_OCTAVES), blocks_taken)
            half = Z_90_TWO_SIDED * BLOCK_SD
            sessions = [
                Session(float(day), 2.0 ** float(x), 2.0 ** float(x - half), 2.0 ** float(x + half))
                for day, x in zip(np.linspace(0.0, days, blocks_taken), seen, strict=True)
            ]
            history = history_of(sessions)
            inside = [
                point.low_cents <= 2.0**truth <= point.high_cents
                for point, truth in zip(history.trend, level[1:], strict=True)
            ]
            held.append((np.mean(inside), inside[-1]))
            chances.append(history.improvement_chance(0.0))
        shares = np.array(held, dtype=float).mean(axis=0)
        finer = np.array(chances, dtype=float)
        rows.append(
            [
                name,
                str(blocks_taken),
                *(percent(float(share)) for share in shares),
                f"{np.median(finer):.2f}",
                percent(float((finer > 0.95).mean())),
                percent(float((finer < 0.05).mean())),
            ]
        )
    head = ["learners", "blocks", "band holds the truth", "at the last block", "chance of improvement, median"]
    return table([*head, "over 0.95", "under 0.05"], rows)


def stopping_section(result: Blocks) -> str:
    widths = result.octaves[:, :, 2] - result.octaves[:, :, 0]
    rows = []
    for octaves in (1.5, 1.25, 1.0, 0.75):
        narrow = widths <= octaves
        trials = np.where(narrow.any(axis=0), np.array(result.marks)[narrow.argmax(axis=0)], np.inf)
        shares = np.quantile(trials, [0.25, 0.5, 0.75], method="inverted_cdf")
        rows.append([f"{octaves:g}", *("over 120" if np.isinf(x) else f"{x:.0f}" for x in shares)])
    return table(["interval of octaves at most", "a quarter of the listeners by", "half by", "three quarters by"], rows)


def speed_section(pool: ProcessPoolExecutor) -> str:
    started = time.perf_counter()
    blocks(pool, listeners(1000, 1), 60, "balanced")
    together = time.perf_counter() - started
    spans, readings = [], []
    for number in range(20):
        draws, track = Draws(number), begin_track("balanced")
        listener = SimulatedListener(8.0, 6.0, 1.0, 0.02)
        for n in range(1, 61):
            at = time.thread_time()
            offset = track.next_offset(draws.stream(Purpose.PLACEMENT, n))
            between = time.thread_time()
            answer = listener.judge(offset, draws.stream(Purpose.LISTENER, n), n=n)
            again = time.thread_time()
            track = track.answered(offset, answer)
            done = time.thread_time()
            track.estimate()
            spans.append(between - at + done - again)
            readings.append(time.thread_time() - done)
    lines = [
        f"- {what}, one trial: median {half:.2f} ms, 95th percentile {most:.2f} ms of one thread's time"
        for what, times in (("choose and update", spans), ("estimate", readings))
        for half, most in [np.quantile(times, [0.5, 0.95]) * 1e3]
    ]
    return "\n".join([*lines, f"- 1,000 listeners of 60 trials in {WORKERS} processes: {together:.1f} s"])


def bars_section(people: Population, result: Blocks) -> str:
    truth = np.log2(people.sigma_cents)
    s = {n: score(result, n, truth) for n in MARKS}
    rows = [
        [
            "SD of log2(estimate/true), n = 20 / 40 / 60 / 120",
            ".50 / .345 / .280 / .21",
            " / ".join(f"{s[n].sd:.3f}" for n in MARKS),
        ],
        [
            "standard error of those, from the errors' own kurtosis",
            "",
            " / ".join(f"{sd_error(result, n, truth):.3f}" for n in MARKS),
        ],
        ["median ratio, n = 40 / 60", ".93-1.07 / .95-1.05", f"{s[40].ratio:.3f} / {s[60].ratio:.3f}"],
        ["90 % interval covers, n = 40 / 60", "87-95 %", f"{percent(s[40].covered)} / {percent(s[60].covered)}"],
        ["right answers, mean, n = 60", "70-80 %", percent(s[60].right)],
        ["listeners at 70-85 % right, n = 60", "at least 80 %", percent(s[60].comfortable)],
        ["median width of the interval in octaves, n = 40 / 60", "", f"{s[40].width:.2f} / {s[60].width:.2f}"],
    ]
    return table(["balanced rule", "bar", "measured"], rows)


def document(count: int) -> str:
    people = listeners(count, POPULATION_SEED)
    half, few = max(count // 2, 50), max(count // 4, 50)
    with ProcessPoolExecutor(WORKERS) as pool:
        results = {
            rule: blocks(pool, people, 120, rule, marks=EVERY_FIFTH, comfort=HELD if "held " in rule else COMFORT)
            for rule in RULES
        }
        settling = " / ".join(f"{settling_level(w):.4f}" for w in (0.0, 0.5, 1.0, 2.0))
        return f"""# How exact the estimate is

Simulated listeners through the rules that drill real ones. Every figure here was measured by

    python tests/benchmarks/efficiency.py --listeners {count} --write docs/efficiency.md

{count} listeners: sigma log-uniform 1-40 c, window 0.2-1.5 sigma, bias N(0, 0.3 sigma), lapse 0, 2 or 5 %, from a
stranger's start at 40 c; numbers after SD, ratio and "covers" are trials. Error is log2(estimate/true), ratio the
median of estimate/true, "covers" the share of 90 % intervals that hold the truth. The estimate is the square of the
posterior's mean root of sigma. At {count} listeners a coverage has a standard error of about
{100 * np.sqrt(0.09 / count):.1f} points.

## The drill's rule against what it has to keep

{bars_section(people, results["balanced"])}

## Rule by rule

All draw the truths alike: catch trials about one in five, never two running, no truth more than four times running, no
offset twice running. "Right" and "at 70-85 %" are after 60 trials. Efficiency is the Cramer-Rao variance of each
listener's own best placement (which nobody can know beforehand; the mean over 200 of the listeners) over the variance
observed. It stands thrice: with sigma, bias, window and lapse rate all unknown; with the lapse rate known; and with the
spread of all four over the population known, as van Trees' bound for estimates with a prior. The posterior has a prior
and may beat the first two, which bind only unbiased estimates without one. "Own bound" is the root of the median
Cramer-Rao variance at the offsets really asked, lapse rate known.

{rules_section(people, results)}

The staircase and the entropy stand as they are published, and kept within comfort: there they choose among the offsets
whose chance of a right answer is at most {-HELD.band[0]:.2f} below and {HELD.band[1]:.2f} above what is aimed at. The
drill asks by the balanced rule: of those that keep listeners comfortable it is the most exact, and it loses little to
the one without a band. The weighted staircase is there for those who want the published rule; it keeps a learner at
about 60 % right, for an unsure answer costs it little.

## A track scored from its reversals measures caution

The same trials, once scored by the geometric mean of the reversals (without the first two), once by the posterior. The
unsure track settles at {settling} sigma for windows of 0 / 0.5 / 1 / 2 sigma, where the threshold is 0.6745.

{reversals_section(pool, people, results)}

## Listeners unlike the prior

{half} listeners a row, balanced rule. While sigma drifts, the truth is its value half way through the trials asked.
"Within 1.6" is the share of estimates less than 1.6 times too high or too low: with an SD of 0.30 octaves, the bound at
40 trials with the lapse rate known, no unbiased estimate is that close in more than 98 of 100 blocks.

{hard_section(pool, half)}

## The block's final estimate

The tables above read the running posterior; a block's result is computed afresh on a lattice drawn in around it. The
same answers of {few} listeners, both ways:

{final_section(pool, people, results["balanced"], few)}

## Both orders

{few} listeners of sigma 8 c, window 6 c, timbre shift 3 c, 100 trials with the orders by turns; fitted with and without
the axis of the time-order error.

{orders_section(pool, few)}

## The next session

An earlier threshold places the pairs; the number comes from the new answers alone, or the history would count the
earlier ones twice.

{prior_section(pool, people.part(slice(0, few)))}

## Over days

{few} learners a row, a block of 40 pairs at a time; the trend's 90 % band, and the probability that the ear has become
finer since the second block.

{history_section(few)}

## Stopping when the interval is narrow enough

Trials to the next five.

{stopping_section(results["balanced"])}

## Speed

On the machine of this run (two cores, with other work on them):

{speed_section(pool)}
"""


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--listeners", type=int, default=2000, help="simulated listeners in the main tables")
    parser.add_argument("--write", type=Path, help="file that gets the tables")
    options = parser.parse_args(arguments)
    text = document(options.listeners)
    print(text)
    if options.write is not None:
        options.write.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
