"""`centwise bench`: rehearse setting a bridge, in the terminal app, in plain lines or as events.

Imports click, bootstrap and below.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from centwise.cli.options import (
    complete_instrument,
    data_option,
    json_option,
    player_option,
    scale_option,
    seed_option,
    settings_for,
)
from centwise.cli.terminal import at_a_terminal
from centwise.errors import UsageError
from centwise.model import BRIDGE_KINDS, DIFFICULTIES

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.bench_planning import BenchRequest
    from centwise.model import BridgeKind, Difficulty
    from centwise.ports import Services
    from centwise.settings.load import Settings


@click.command(name="bench")
@click.option(
    "--instrument",
    metavar="NAME",
    shell_complete=complete_instrument,
    help="The instrument, as in centwise drill --help.  [the listener's own; five-string]",
)
@click.option("--bridge", type=click.Choice(BRIDGE_KINDS), help="What bridge stands on it.  [the instrument's own]")
@click.option(
    "--difficulty",
    type=click.Choice(DIFFICULTIES),
    help="How badly it was knocked: straight; a little turned and aside; or turned well, with a high 5th nut and an "
    "uneven hand.  [middle; easy the first time]",
)
@click.option(
    "--guided/--unguided",
    default=None,
    help="Ask for each step and say why, less and less.  [guided the first time, but not with --events]",
)
@click.option("--listener", metavar="NAME", help="Who sets it; a new name becomes a new listener. Else the last one.")
@click.option("--new", "anew", is_flag=True, help="Begin a new one even where one was left; else that one goes on.")
@scale_option
@seed_option
@player_option
@data_option
@click.option("--plain", is_flag=True, help="Line by line in full sentences.")
@click.option("--events", is_flag=True, help="JSON Lines on stdout, acts line by line on stdin.")
@json_option
def command(
    *,
    instrument: str | None,
    bridge: BridgeKind | None,
    difficulty: Difficulty | None,
    guided: bool | None,
    listener: str | None,
    anew: bool,
    scale: float | None,
    seed: int | None,
    player: str | None,
    data: Path | None,
    plain: bool,
    events: bool,
    as_json: bool,
) -> int:
    """Rehearse setting a bridge on one that cannot be hurt.

    It was knocked out of its place. Set the bass side by the 4th string, the treble side by the 1st, the bass side
    again, centre it, and mark its feet; then it is reckoned up. Opens the terminal app; with --plain it speaks
    sentences, with --events JSON Lines. A rehearsal that was left goes on where it was.
    """
    if plain and events:
        raise UsageError("--plain and --events are two ways to ask", "choose one of them")
    by_lines = plain or events or as_json
    if not by_lines and not at_a_terminal():
        raise UsageError("the terminal app needs a terminal", "use centwise bench --plain to work line by line")
    from centwise.bench_planning import BenchRequest, check_request  # noqa: PLC0415  start-up path
    from centwise.bootstrap import build_services  # noqa: PLC0415
    from centwise.settings.instruments import OwnInstruments  # noqa: PLC0415
    from centwise.strings.geometry import check_scale_mm  # noqa: PLC0415

    if scale is not None:
        check_scale_mm(scale)
    settings = settings_for(data)
    request = BenchRequest(instrument, bridge, difficulty, guided, seed, scale, anew)
    check_request(request, OwnInstruments(settings.instruments_dir))
    services = build_services(settings, player=player)
    try:
        if not by_lines:
            from centwise.bench_planning import as_block  # noqa: PLC0415  start-up path
            from centwise.cli.opening import open_app  # noqa: PLC0415

            return open_app(
                services,
                settings,
                as_block(request),
                listener_name=listener,
                instrument_asked=instrument is not None,
                bench=request,
            )
        return _by_lines(services, settings, request, listener=listener, events=events, as_json=as_json)
    finally:
        services.store.close()


def _by_lines(
    services: Services,
    settings: Settings,
    request: BenchRequest,
    *,
    listener: str | None,
    events: bool,
    as_json: bool,
) -> int:
    from centwise.bench_planning import listener_at_bench, open_rehearsal  # noqa: PLC0415  start-up path
    from centwise.cli.bench_events import BenchEventsFace  # noqa: PLC0415
    from centwise.cli.bench_lines import run_bench_lines  # noqa: PLC0415
    from centwise.cli.bench_plain import BenchPlainFace  # noqa: PLC0415

    store = services.store
    # The device first: without one nothing is begun and nothing is kept.
    player = services.open_player()
    try:
        who, new = listener_at_bench(services, listener, request, settings.scale_mm)
        rehearsal, taken_up = open_rehearsal(request, who, services, player, first_is_guided=not events)
        face = (
            BenchEventsFace(who, player=player, store=store)
            if events
            else BenchPlainFace(who, new=new, player=player, store=store, as_json=as_json)
        )
        with rehearsal:
            return run_bench_lines(rehearsal, iter(sys.stdin.readline, ""), face, taken_up=taken_up)
    finally:
        player.close()
