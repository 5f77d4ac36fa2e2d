"""The estimate on simulated listeners: a small run, the same each time, held to what the study promises.

Imports ear and below.
"""

from __future__ import annotations

from centwise.chain.line import CheckLine
from centwise.ear.trial_run import run_listeners

LISTENERS, TRIALS, SEED = 400, 40, 1
COVERAGE = (0.87, 0.95)
"""Share of 90 % intervals that hold the truth after 40 pairs."""
MEDIAN_RATIO = (0.93, 1.07)
SD_OCTAVES = 0.345
"""The bars of the study in docs/efficiency.md for 2,000 listeners and 40 pairs; here they are widened by three standard
errors of what so few listeners scatter by chance."""
TITLE = "Estimate of a threshold"


def check_estimate() -> CheckLine:
    """Drill simulated listeners and compare estimates with the truth."""
    run = run_listeners(LISTENERS, TRIALS, seed=SEED)
    root = LISTENERS**0.5
    low, high = (
        COVERAGE[0] - 3.0 * (COVERAGE[0] * (1.0 - COVERAGE[0])) ** 0.5 / root,
        COVERAGE[1] + 3.0 * (COVERAGE[1] * (1.0 - COVERAGE[1])) ** 0.5 / root,
    )
    most_sd = SD_OCTAVES * (1.0 + 3.0 / (2.0 * LISTENERS) ** 0.5)
    # The standard error of a median is 1.2533 of a mean's (normal scatter).
    slack = 2.0 ** (3.0 * 1.2533 * SD_OCTAVES / root)
    ratios = (MEDIAN_RATIO[0] / slack, MEDIAN_RATIO[1] * slack)
    holds = low <= run.coverage <= high and ratios[0] <= run.median_ratio <= ratios[1] and run.sd_octaves <= most_sd
    return CheckLine(
        "estimate",
        TITLE,
        "passed" if holds else "failed",
        (
            f"{LISTENERS} simulated listeners judged {TRIALS} pairs each: estimate over truth {run.median_ratio:.2f} "
            f"in the middle ({ratios[0]:.2f} to {ratios[1]:.2f} allowed), scatter {run.sd_octaves:.2f} octaves "
            f"({most_sd:.2f} allowed), the 90 % interval holds the truth for {100 * run.coverage:.0f} % "
            f"({100 * low:.0f} to {100 * high:.0f} allowed)"
        ),
        "" if holds else "install centwise and numpy anew, and report it with this line",
        {
            "listeners": LISTENERS,
            "trials": TRIALS,
            "seed": SEED,
            "median_ratio": round(run.median_ratio, 4),
            "median_ratio_band": [round(ratio, 4) for ratio in ratios],
            "sd_octaves": round(run.sd_octaves, 4),
            "sd_octaves_limit": round(most_sd, 4),
            "coverage": round(run.coverage, 4),
            "coverage_band": [round(low, 4), round(min(high, 1.0), 4)],
        },
    )
