"""`centwise check`: the listening chain part by part, each passed, failed, or not checked and why.

Imports click, bootstrap and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from centwise.chain.line import PARTS, STATUSES, any_failed, not_checked
from centwise.cli.diagnostics import ExitCode
from centwise.cli.options import (
    PATH,
    data_option,
    instrument_option,
    json_option,
    own_instruments,
    player_option,
    seed_option,
    settings_for,
)
from centwise.cli.output import emit, say
from centwise.cli.simulated import SimulatedRequest, run_simulated
from centwise.errors import UsageError
from centwise.model import RULES

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from centwise.chain.line import CheckLine, Part
    from centwise.model import Rule
    from centwise.settings.load import Settings


@click.command(name="check")
@click.option(
    "--only",
    type=click.Choice(PARTS),
    multiple=True,
    metavar="PART",
    help=f"Look at this part alone; may be given several times. One of {', '.join(PARTS)}.",
)
@click.option(
    "--ears", is_flag=True, help="Play a quiet tone left, right and on both sides, and ask where it was heard."
)
@click.option("--loop", is_flag=True, help="Play and record through a cable, or a speaker and a microphone.")
@click.option(
    "--sheet",
    type=PATH,
    metavar="FILE",
    help="Write a technician's sheet, one page of HTML to read or print.",
)
@click.option(
    "--mend",
    is_flag=True,
    help="Set a damaged store aside and bring over what can be read; work out anew what is kept beside the answers.",
)
@click.option("--listener", metavar="NAME", help="Whose baseline stands on the sheet. Else the last one's.")
@instrument_option
@player_option
@data_option
@click.option("--listeners", type=int, metavar="N", help="Try the estimate alone, on N simulated listeners.  [200]")
@click.option("--trials", type=int, metavar="M", help="Pairs each simulated listener judges.  [40]")
@click.option("--rule", type=click.Choice(RULES), help=f"How their offsets are chosen.  [{RULES[0]}]")
@click.option("--caution", type=float, metavar="K", help="One unison window for all of them, as a multiple of sigma.")
@click.option("--bias", type=float, metavar="SD", help="Spread of their bias over sigma.  [0.3]")
@click.option("--lapses", type=float, metavar="RATE", help="Their largest lapse rate.  [0.05]")
@click.option("--drift", type=float, metavar="OCTAVES", help="Change of their log2 sigma over the block.  [0]")
@seed_option
@json_option
def command(
    *,
    only: tuple[Part, ...],
    ears: bool,
    loop: bool,
    sheet: Path | None,
    mend: bool,
    listener: str | None,
    instrument: str,
    player: str | None,
    data: Path | None,
    listeners: int | None,
    trials: int | None,
    rule: Rule | None,
    caution: float | None,
    bias: float | None,
    lapses: float | None,
    drift: float | None,
    seed: int | None,
    as_json: bool,
) -> int:
    """Check the listening chain: each part passed, failed, or not checked and why.

    Tones as asked, players, the output, the store and the estimate are looked at by themselves; --ears needs somebody
    who listens, --loop a cable or a microphone. Exit code 1 if anything failed. This is no hearing test.
    """
    simulated = SimulatedRequest(listeners, trials, rule, caution, bias, lapses, drift)
    _refuse_mixtures(
        simulated=simulated.asked,
        mend=mend,
        chain=any((only, ears, loop, sheet is not None, listener is not None, player is not None)),
    )
    if simulated.asked:
        return run_simulated(simulated, seed, as_json=as_json)
    if mend:
        from centwise.cli.mend import run_mend  # noqa: PLC0415  start-up path

        return run_mend(settings_for(data), as_json=as_json)
    if listener is not None and sheet is None:
        raise UsageError("--listener is for the sheet", "give --sheet FILE.html too, or leave it out")
    from centwise.bootstrap import SystemClock, new_seed  # noqa: PLC0415  start-up path
    from centwise.cli.check_run import ChainRun  # noqa: PLC0415

    clock = SystemClock()
    chosen = own_instruments().named(instrument)
    settings = settings_for(data)
    paper = None if sheet is None else _paper(sheet, settings, listener, clock.now())
    drawn = new_seed() if seed is None else seed
    run = ChainRun(settings, player or settings.player, chosen, drawn, clock, as_json=as_json)
    if not as_json:
        say(f"Checking the listening chain; seed {drawn}.")
    lines: list[CheckLine] = []
    for line in run.lines(set(only or PARTS), ears=ears or "ears" in only, loop=loop or "loop" in only):
        lines.append(line)
        if not as_json:
            say(line.sentence)
    found = tuple(lines)
    # What was found is told first: a sheet that cannot be written loses nobody's answers.
    if as_json:
        emit(_record(found, drawn, sheet))
    else:
        say(", ".join(f"{sum(line.status == status for line in found)} {status}" for status in STATUSES) + ".")
    if paper is not None:
        paper((*found, *_left_out(only)), drawn)
        if not as_json:
            say(f"Wrote the sheet to {sheet}.")
    return ExitCode.FAILED if any_failed(found) else ExitCode.DONE


def _refuse_mixtures(*, simulated: bool, mend: bool, chain: bool) -> None:
    """Refuse two runs at once: simulated listeners, mending, the chain."""
    if simulated and (chain or mend):
        raise UsageError(
            "simulated listeners are a run of their own", "leave --only, --ears, --loop, --sheet and the like out"
        )
    if mend and chain:
        raise UsageError("mending the store is a run of its own", "give --mend alone, or with --data and --json")


def _paper(
    sheet: Path, settings: Settings, listener: str | None, now: datetime
) -> Callable[[tuple[CheckLine, ...], int], None]:
    """Return what writes the sheet, after a look at everything that could hinder it."""
    from centwise.cli.check_sheet import baseline_for, check_sheet_file, write_check_sheet  # noqa: PLC0415  start-up path

    check_sheet_file(sheet)
    who = baseline_for(settings, listener, now)

    def write(lines: tuple[CheckLine, ...], seed: int) -> None:
        write_check_sheet(sheet, lines, who, seed, now)

    return write


def _left_out(only: tuple[Part, ...]) -> list[CheckLine]:
    """Return lines for the parts that were not wanted: a sheet says so."""
    return [
        not_checked(part, part.capitalize(), "it was left out of this check", f"run centwise check --only {part}")
        for part in PARTS
        if only and part not in only
    ]


def _record(lines: tuple[CheckLine, ...], seed: int, sheet: Path | None) -> dict[str, object]:
    from centwise.chain.versions import versions  # noqa: PLC0415  start-up path

    return {
        "passed": not any_failed(lines),
        "seed": seed,
        "versions": versions(),
        **({} if sheet is None else {"sheet": str(sheet)}),
        "checks": [
            {
                "part": line.part,
                "title": line.title,
                "status": line.status,
                "finding": line.finding,
                "to_do": line.to_do or None,
                **line.figures,
            }
            for line in lines
        ],
    }
