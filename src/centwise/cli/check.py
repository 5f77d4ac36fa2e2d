"""`centwise check`: the estimate, tried on simulated listeners whose thresholds are known."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from centwise.cli.diagnostics import ExitCode
from centwise.cli.options import json_option, seed_option
from centwise.cli.output import emit, say
from centwise.model import RULES

if TYPE_CHECKING:
    from centwise.model import Rule


@click.command(name="check")
@click.option("--listeners", type=int, default=200, show_default=True, metavar="N", help="Simulated listeners.")
@click.option("--trials", type=int, default=40, show_default=True, metavar="M", help="Pairs each of them judges.")
@click.option("--rule", type=click.Choice(RULES), default=RULES[0], show_default=True, help="How offsets are chosen.")
@click.option("--caution", type=float, metavar="K", help="One unison window for all, as a multiple of sigma.")
@click.option("--bias", type=float, default=0.3, show_default=True, metavar="SD", help="Spread of bias over sigma.")
@click.option("--lapses", type=float, default=0.05, show_default=True, metavar="RATE", help="Largest lapse rate.")
@click.option("--drift", type=float, default=0.0, metavar="OCTAVES", help="Change of log2 sigma over the block.")
@seed_option
@json_option
def command(
    *,
    listeners: int,
    trials: int,
    rule: Rule,
    caution: float | None,
    bias: float,
    lapses: float,
    drift: float,
    seed: int | None,
    as_json: bool,
) -> int:
    """Drill simulated listeners through the real drill logic and compare estimates with the truth.

    Says how far the estimates scatter, and whether the 90 % intervals hold what they promise; exit code 1 if not. What
    needs a device, a recording or a person is not part of it.
    """
    from centwise.bootstrap import new_seed  # noqa: PLC0415  start-up path
    from centwise.ear.trial_run import LEAST_COVERAGE, Traits, run_listeners  # noqa: PLC0415

    traits = Traits(
        window_low=0.2 if caution is None else caution,
        window_high=1.5 if caution is None else caution,
        bias_sd=bias,
        lapse_high=lapses,
        drift_octaves=drift,
    )
    drawn = new_seed() if seed is None else seed
    if not as_json and sys.stderr is not None and sys.stderr.isatty():
        click.echo(f"Drilling {listeners} simulated listeners ...", err=True)
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
