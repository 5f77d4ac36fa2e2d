"""`centwise drill`: the main job, in the terminal app, in plain lines or as events.

Imports click, bootstrap and below.
"""

from __future__ import annotations

import sys
from contextlib import nullcontext
from dataclasses import replace
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from centwise.cli.options import (
    PATH,
    data_option,
    instrument_options,
    player_option,
    scale_option,
    seed_option,
    settings_for,
)
from centwise.cli.terminal import at_a_terminal
from centwise.errors import UsageError
from centwise.model import ORDERS, RULES
from centwise.planning import (
    BlockRequest,
    check_request,
    listener_for_request,
    plan_block,
    request_on_their_instrument,
)
from centwise.resuming import block_left, block_to_resume, check_player, left_text
from centwise.strings.geometry import check_scale_mm

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.lessons.lesson import Lesson
    from centwise.model import Order, Rule
    from centwise.ports import Services
    from centwise.settings.load import Settings

LESSON_SAYS = ("instrument", "string", "trials", "assess", "order", "unmuted", "likeness", "until", "take", "shifted")
"""The options whose matter a lesson settles."""
BLOCK_SAYS = (*LESSON_SAYS, "rule", "seed", "warm_up", "scale", "lesson")
"""The options that a block gone on with has settled."""


@click.command(name="drill")
@instrument_options
@click.option("--trials", type=int, metavar="N", help="Pairs in the block (40; 100 in an assessment).")
@click.option("--listener", metavar="NAME", help="Who listens; a new name becomes a new listener. Else the last one.")
@click.option("--assess", is_flag=True, help="An assessment: nothing is told between the pairs.")
@click.option(
    "--order", type=click.Choice(ORDERS), help="Which tone comes first.  [harmonic-first; both in an assessment]"
)
@click.option(
    "--rule", type=click.Choice(RULES), default=RULES[0], show_default=True, help="How the next difference is chosen."
)
@click.option("--unmuted", is_flag=True, help="Let the other strings ring along.")
@click.option(
    "--likeness", type=float, default=0.0, show_default=True, help="0 as on the instrument, 1 both tones in one voice."
)
@click.option(
    "--warm-up",
    type=int,
    metavar="N",
    help="Pairs first that do not count: 3 in an assessment, and for a newcomer in the app or at a terminal, else 0. "
    "Over a pipe and with --events a newcomer gets them only by asking for them here.",
)
@click.option(
    "--lesson",
    metavar="FILE",
    help="The next block of a lesson: its TOML file, or a name that centwise lessons lists.",
)
@click.option(
    "--take",
    type=PATH,
    metavar="FILE|FOLDER",
    help="Judge the pairs of your own recording as they are, before the measured value is told.",
)
@click.option("--shifted", is_flag=True, help="With --take: drill its recorded notes, shifted by exact cents.")
@click.option("--until", type=float, metavar="OCTAVES", help="End sooner, once the 90 % interval is this narrow.")
@scale_option
@seed_option
@player_option
@data_option
@click.option("--resume", is_flag=True, help="Go on with the block that was cut off; quit ends it with its result.")
@click.option("--plain", is_flag=True, help="Ask line by line in full sentences.")
@click.option("--events", is_flag=True, help="JSON Lines on stdout, answers line by line on stdin.")
@click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Ask line by line, the sentences on stderr; stdout gets the result alone, as one JSON object.",
)
def command(
    *,
    instrument: str,
    string: int | None,
    trials: int | None,
    listener: str | None,
    assess: bool,
    order: Order | None,
    rule: Rule,
    unmuted: bool,
    likeness: float,
    warm_up: int | None,
    lesson: str | None,
    take: Path | None,
    shifted: bool,
    until: float | None,
    scale: float | None,
    seed: int | None,
    player: str | None,
    data: Path | None,
    resume: bool,
    plain: bool,
    events: bool,
    as_json: bool,
) -> int:
    """Judge pairs: is the fretted note flat, unison or sharp against the harmonic?

    Opens the terminal app. With --plain it asks in sentences, with --events it speaks JSON Lines.
    """
    if plain and events:
        raise UsageError("--plain and --events are two ways to ask", "choose one of them")
    if not (plain or events or as_json) and not at_a_terminal():
        raise UsageError("the terminal app needs a terminal", "use centwise drill --plain to answer line by line")
    request = BlockRequest(
        instrument=instrument,
        string=string,
        trials=trials,
        assess=assess,
        order=order,
        rule=rule,
        muted=not unmuted,
        likeness=likeness,
        seed=seed,
        until_octaves=until,
        # A script gets the pairs it asked for and no more.
        warm_up=0 if warm_up is None and not assess and not _somebody_is_there(events=events) else warm_up,
        take=take,
        shifted=shifted,
        scale_mm=scale,
    )
    if scale is not None:
        check_scale_mm(scale)
    if resume:
        _check_resume()
    settings = settings_for(data)
    followed = None if lesson is None else _lesson(lesson, settings)
    from centwise.bootstrap import build_services  # noqa: PLC0415  start-up path
    from centwise.settings.instruments import OwnInstruments  # noqa: PLC0415
    from centwise.store.sqlite import is_there  # noqa: PLC0415

    asked = click.get_current_context().get_parameter_source("instrument") is ParameterSource.COMMANDLINE
    # Whoever names no instrument means what the listener plays. The store knows that: then the string is looked at.
    known = asked or not is_there(settings.data_dir)
    check_request(request if known else replace(request, string=None), OwnInstruments(settings.instruments_dir))
    services = build_services(settings, player=player)
    try:
        if not (plain or events or as_json):
            from centwise.cli.opening import open_app  # noqa: PLC0415  start-up path

            if resume:
                block_to_resume(services.store, listener)
            return open_app(
                services,
                settings,
                request,
                listener_name=listener,
                instrument_asked=asked,
                lesson=followed,
                resume=resume,
            )
        return _by_lines(
            services,
            settings,
            request,
            listener=listener,
            instrument_asked=asked,
            lesson=followed,
            resume=resume,
            events=events,
            as_json=as_json,
        )
    finally:
        services.store.close()


def _check_resume() -> None:
    """Refuse whatever would make another block of the one that is gone on with."""
    context = click.get_current_context()
    for name in BLOCK_SAYS:
        if context.get_parameter_source(name) == ParameterSource.COMMANDLINE:
            option = f"--{name.replace('_', '-')}"
            raise UsageError(f"the block that was cut off says itself what {option} says", f"leave out {option}")


def _lesson(words: str, settings: Settings) -> Lesson:
    """Return the lesson meant, unless the command line says again what a lesson says.

    Raises:
        UsageError: it does.
        InputError: there is no such lesson, or something in it is wrong.
    """
    from centwise.lessons.finding import lesson_named  # noqa: PLC0415  start-up path
    from centwise.settings.instruments import OwnInstruments  # noqa: PLC0415

    context = click.get_current_context()
    for name in LESSON_SAYS:
        if context.get_parameter_source(name) == ParameterSource.COMMANDLINE:
            option = f"--{name}"
            raise UsageError(f"a lesson says itself what {option} says", f"leave out {option} or --lesson")
    return lesson_named(words, settings.lessons_dir, OwnInstruments(settings.instruments_dir))


def _somebody_is_there(*, events: bool) -> bool:
    return not events and sys.stdin is not None and sys.stdin.isatty()


def _by_lines(
    services: Services,
    settings: Settings,
    request: BlockRequest,
    *,
    listener: str | None,
    instrument_asked: bool,
    lesson: Lesson | None,
    resume: bool,
    events: bool,
    as_json: bool,
) -> int:
    from centwise.cli.events import EventsFace  # noqa: PLC0415  start-up path
    from centwise.cli.lines import run_lines  # noqa: PLC0415
    from centwise.cli.plain import PlainFace  # noqa: PLC0415
    from centwise.cli.waiting import waiting  # noqa: PLC0415
    from centwise.conductor import Sitting  # noqa: PLC0415
    from centwise.lessons.lesson import local_day, standpoint  # noqa: PLC0415
    from centwise.lessons.telling import stand_sentences  # noqa: PLC0415
    from centwise.resting import ear_time  # noqa: PLC0415
    from centwise.takes.voice import OwnVoice, open_take  # noqa: PLC0415

    store = services.store
    going_on = block_to_resume(store, listener) if resume else None
    request = request_on_their_instrument(
        store, listener, request, instrument_asked=instrument_asked, instruments=services.instruments
    )
    with nullcontext() if request.take is None else waiting("your recording is being measured"):
        own = (
            None
            if request.take is None
            else open_take(
                request.take,
                request.instrument,
                request.string,
                asked=instrument_asked,
                instruments=services.instruments,
            )
        )
    # The device first: without one nothing is begun and nothing is kept.
    player = services.open_player()
    try:
        who, new = listener_for_request(
            store,
            listener,
            request,
            new_id=services.new_id,
            scale_mm=settings.scale_mm,
            instruments=services.instruments,
        )
        stand = None if lesson is None else standpoint(lesson, store.summaries(who.id))
        if stand is not None:
            request = stand.request(request)
        voice = None
        if own is not None:
            with waiting("pairs are being made of your notes"):
                voice = OwnVoice(own, player.rate_hz, services.instruments)
        if going_on is None:
            left = block_left(store, who.id)
            plan = plan_block(
                request,
                who,
                store=store,
                at=services.clock.now(),
                new_id=services.new_id,
                new_seed=services.new_seed,
                player=player.name,
                take=own,
                take_error_cents=voice.error_cents if voice is not None and request.shifted else None,
                instruments=services.instruments,
            )
        else:
            left, plan = None, going_on.plan
            check_player(plan, player.name)
        instrument = services.instruments.named(plan.condition.instrument)
        face = (
            EventsFace(who, player=player, store=store, stand=stand, left=left)
            if events
            else PlainFace(
                who,
                new=new,
                player=player,
                store=store,
                as_json=as_json,
                waits=_somebody_is_there(events=False),
                instrument=instrument,
                sleep=services.clock.sleep,
                lesson=(
                    *(() if stand is None else stand_sentences(stand, local_day(services.clock.now()))),
                    *(() if left is None else (left_text(left),)),
                ),
            )
        )
        trials = None if going_on is None else going_on.trials
        with Sitting(
            store,
            services.clock,
            player,
            plan,
            trials,
            ears=ear_time(store, services.clock, who.id),
            maker=voice,
            instruments=services.instruments,
        ) as sitting:
            return run_lines(sitting, iter(sys.stdin.readline, ""), face)
    finally:
        player.close()
