"""`centwise check --listeners`: the estimate alone, tried on simulated listeners whose thresholds are known.

Imports bootstrap and below.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.cli.diagnostics import ExitCode, narrate
from centwise.cli.output import emit, say
from centwise.model import RULES

if TYPE_CHECKING:
    from centwise.model import Rule


@dataclass(frozen=True, slots=True)
class SimulatedRequest:
    """What was asked for; None where nothing was."""

    listeners: int | None = None
    trials: int | None = None
    rule: Rule | None = None
    caution: float | None = None
    bias: float | None = None
    lapses: float | None = None
    drift: float | None = None

    @property
    def asked(self) -> bool:
        """Whether any of it was asked for."""
        return self != SimulatedRequest()


def run_simulated(request: SimulatedRequest, seed: int | None, *, as_json: bool) -> int:
    """Drill simulated listeners through the real drill logic and compare estimates with the truth."""
    from centwise.bootstrap import new_seed  # noqa: PLC0415  start-up path
    from centwise.ear.trial_run import LEAST_COVERAGE, Traits, run_listeners  # noqa: PLC0415

    listeners = 200 if request.listeners is None else request.listeners
    trials = 40 if request.trials is None else request.trials
    rule = RULES[0] if request.rule is None else request.rule
    traits = Traits(
        window_low=0.2 if request.caution is None else request.caution,
        window_high=1.5 if request.caution is None else request.caution,
        bias_sd=0.3 if request.bias is None else request.bias,
        lapse_high=0.05 if request.lapses is None else request.lapses,
        drift_octaves=0.0 if request.drift is None else request.drift,
    )
    drawn = new_seed() if seed is None else seed
    if not as_json and sys.stderr is not None and sys.stderr.isatty():
        narrate(f"Drilling {listeners} simulated listeners ...")
    run = run_listeners(listeners, trials, seed=drawn, rule=rule, traits=traits)
    # Three standard errors below the bar: a small run must not fail by chance.
    slack = 3.0 * (LEAST_COVERAGE * (1.0 - LEAST_COVERAGE) / listeners) ** 0.5
    holds = run.coverage >= LEAST_COVERAGE - slack
    if as_json:
        emit(
            {
                "listeners": listeners,
                "trials": trials,
                "rule": rule,
                "seed": drawn,
                "window_over_sigma": [traits.window_low, traits.window_high],
                "bias_sd_over_sigma": traits.bias_sd,
                "lapse_rate_up_to": traits.lapse_high,
                "drift_octaves": traits.drift_octaves,
                "sd_octaves": round(run.sd_octaves, 4),
                "median_ratio": round(run.median_ratio, 4),
                "coverage": round(run.coverage, 4),
                "right_share": round(float(run.right_share.mean()), 4),
                "passed": holds,
                "true_threshold_cents": [round(float(x), 4) for x in run.true_cents],
                "estimated_threshold_cents": [round(float(x), 4) for x in run.estimated_cents],
                "low_cents": [round(float(x), 4) for x in run.low_cents],
                "high_cents": [round(float(x), 4) for x in run.high_cents],
            }
        )
    else:
        say(f"{listeners} simulated listeners judged {trials} pairs each; seed {drawn}.")
        say(f"Estimate over truth: median {run.median_ratio:.2f}, scatter {run.sd_octaves:.2f} octaves.")
        verdict = "passed" if holds else "failed"
        say(f"The 90 % interval holds the truth for {100 * run.coverage:.0f} % of them: {verdict}.")
        say(f"They were right {100 * float(run.right_share.mean()):.0f} % of the time.")
        say("Not checked here: tones, players, device, store. This run is arithmetic alone.")
    return ExitCode.DONE if holds else ExitCode.FAILED
