"""`centwise listeners`: who there is; add, rename, change, remove, merge. Imports click, bootstrap and below."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from centwise.cli.options import LENGTH, data_option, json_option, own_instruments, settings_for
from centwise.cli.output import emit, say
from centwise.errors import UsageError
from centwise.harmless import harmless

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from centwise.model import Listener
    from centwise.ports import Holdings, Services

_FIELDS = (
    click.option("--scale", type=LENGTH, metavar="LENGTH", help="Scale length, such as 26.25in, 26 1/4in or 667mm."),
    click.option("--instrument", metavar="NAME", help="The instrument."),
    click.option("--note", metavar="TEXT", help="A note of your own, 2000 characters at most."),
)


def _fields(command: Any) -> Any:  # noqa: ANN401  click hands over anything
    for option in reversed(_FIELDS):
        command = option(command)
    return command


@contextmanager
def at_the_desk(data: Path | None) -> Iterator[Services]:
    """Open what a command without sound works with, and close the store after."""
    from centwise.bootstrap import build_services  # noqa: PLC0415  start-up path

    services = build_services(settings_for(data))
    try:
        yield services
    finally:
        services.store.close()


@click.group(name="listeners", invoke_without_command=True)
@data_option
@json_option
@click.pass_context
def command(ctx: click.Context, data: Path | None, as_json: bool) -> None:
    """List listeners; add, rename, change, remove or merge them.

    Alone it lists them. A name is free text in any script; before one that begins with a dash put --.
    """
    if ctx.invoked_subcommand is None:
        _list(data, as_json=as_json)
    else:
        # What stands before the word holds for it too.
        ctx.default_map = {ctx.invoked_subcommand: {"data": data, "as_json": as_json}}


@command.command(name="list")
@data_option
@json_option
def list_command(data: Path | None, as_json: bool) -> None:
    """List listeners, the one used last first."""
    _list(data, as_json=as_json)


def _list(data: Path | None, *, as_json: bool) -> None:
    from centwise.class_view import class_rows  # noqa: PLC0415  start-up path
    from centwise.cli.columns import table  # noqa: PLC0415
    from centwise.drill.advice import scale_text  # noqa: PLC0415
    from centwise.progress_text import short_day  # noqa: PLC0415

    with at_the_desk(data) as services:
        rows = class_rows(services.store)
    if as_json:
        emit(
            {
                "listeners": [
                    {
                        **listener_record(row.listener),
                        "blocks": row.blocks,
                        "last_seen": None if row.last_seen is None else row.last_seen.isoformat(timespec="seconds"),
                    }
                    for row in rows
                ]
            }
        )
        return
    if not rows:
        say("Nobody yet. Begin with centwise, or add somebody: centwise listeners add NAME.")
        return
    cells = [
        (
            row.listener.name,
            scale_text(row.listener.scale_mm),
            row.listener.instrument,
            f"{row.blocks:,}",
            short_day(row.last_seen),
            " ".join(row.listener.note.split()),
        )
        for row in rows
    ]
    for line in table(("Listener", "Scale", "Instrument", "Blocks", "Last seen", "Note"), cells, right=(3,)):
        say(line)


@command.command(name="add")
@click.argument("name")
@_fields
@data_option
@json_option
def add_command(
    name: str, scale: float | None, instrument: str | None, note: str | None, data: Path | None, as_json: bool
) -> None:
    """Add a listener."""
    from centwise.cli.people import name_text  # noqa: PLC0415  start-up path
    from centwise.model import Listener  # noqa: PLC0415

    scale_mm = settings_for(data).scale_mm
    with at_the_desk(data) as services:
        store = services.store
        wanted = _changed(Listener(services.new_id(), name, scale_mm), scale, instrument, note)
        if (namesake := store.listener_named(name)) is not None:
            raise UsageError(
                f"there is a listener named {name_text(namesake.name)} already", "choose another name, or use rename"
            )
        store.add_listener(wanted)
        added = store.listener_with_id(wanted.id) or wanted
    _told("Added", added, as_json=as_json)


@command.command(name="rename")
@click.argument("name")
@click.argument("new_name")
@data_option
@json_option
def rename_command(name: str, new_name: str, data: Path | None, as_json: bool) -> None:
    """Give the listener NAME another name; all that is theirs stays theirs."""
    from centwise.cli.people import known_listener, name_text  # noqa: PLC0415  start-up path

    with at_the_desk(data) as services:
        store = services.store
        who = known_listener(store, name)
        namesake = store.listener_named(new_name)
        if namesake is not None and namesake.id != who.id:
            raise UsageError(
                f"there is a listener named {name_text(namesake.name)} already",
                "choose another name, or join the two with centwise listeners merge",
            )
        store.change_listener(replace(who, name=new_name), was=who)
        renamed = store.listener_with_id(who.id) or who
    _told(f"{who.name} is now", renamed, as_json=as_json)


@command.command(name="change")
@click.argument("name")
@_fields
@data_option
@json_option
def change_command(
    name: str, scale: float | None, instrument: str | None, note: str | None, data: Path | None, as_json: bool
) -> None:
    """Change a listener's scale length, instrument or note.

    Blocks already taken keep the scale length they were taken with.
    """
    from centwise.cli.people import known_listener  # noqa: PLC0415  start-up path

    if scale is None and instrument is None and note is None:
        raise UsageError("there is nothing to change", "give --scale, --instrument or --note")
    with at_the_desk(data) as services:
        store = services.store
        who = known_listener(store, name)
        wanted = _changed(who, scale, instrument, note)
        store.change_listener(wanted, was=who)
        changed = store.listener_with_id(who.id) or wanted
    _told("Changed", changed, as_json=as_json)


@command.command(name="remove")
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--final", is_flag=True, help="Keep no copy: what goes is gone for good.")
@data_option
@json_option
def remove_command(name: str, yes: bool, final: bool, data: Path | None, as_json: bool) -> None:
    """Remove a listener and all that is theirs, after a question.

    A copy is kept as a store of its own in the folder `copies` beside the store, unless --final is given.
    """
    from centwise.cli.people import known_listener  # noqa: PLC0415  start-up path
    from centwise.progress_text import holdings_text  # noqa: PLC0415

    with at_the_desk(data) as services:
        store = services.store
        who = known_listener(store, name)
        holdings = store.holdings(who.id)
        what = f"{who.name} goes, with {holdings_text(holdings)}."
        fate = "No copy is kept: this is final." if final else "A copy is kept."
        _confirmed(f"{what} {fate}", f"Remove {who.name}?", yes=yes)
        folder = store.remove_listener(who.id, keep_copy=not final, told=holdings)
    if as_json:
        emit(
            {
                "removed": listener_record(who),
                **holdings_record(holdings),
                "copy": None if folder is None else str(folder),
            }
        )
        return
    say(f"Removed {who.name}, with {holdings_text(holdings)}.")
    if folder is None:
        say("No copy was kept.")
    else:
        say(f"A copy is in {folder}: look into it with --data, delete it at will.")


@command.command(name="merge")
@click.argument("name")
@click.argument("into")
@click.option("--yes", is_flag=True, help="Do not ask.")
@data_option
@json_option
def merge_command(name: str, into: str, yes: bool, data: Path | None, as_json: bool) -> None:
    """Give all that is NAME's to INTO, after a question; NAME goes.

    INTO keeps their own name, scale length and instrument, and the two notes are joined. Each block keeps the scale
    length it was taken with. A copy of NAME is kept as with remove.
    """
    from centwise.cli.people import known_listener  # noqa: PLC0415  start-up path
    from centwise.progress_text import holdings_text, merge_conflicts  # noqa: PLC0415

    with at_the_desk(data) as services:
        store = services.store
        goes, stays = known_listener(store, name), known_listener(store, into)
        if goes.id == stays.id:
            raise UsageError(f"{goes.name!r} cannot be merged with themselves", "name two listeners")
        holdings, theirs = store.holdings(goes.id), store.holdings(stays.id)
        said = [
            f"{goes.name}, with {holdings_text(holdings)}, joins {stays.name}, with {holdings_text(theirs)}.",
            *merge_conflicts(goes, stays),
        ]
        _confirmed(" ".join(said), f"Merge {goes.name} into {stays.name}?", yes=yes)
        folder = store.merge_listeners(goes.id, stays.id)
        merged = store.listener_with_id(stays.id) or stays
        count = store.holdings(stays.id)
    if as_json:
        emit(
            {
                "merged": listener_record(goes),
                "into": listener_record(merged),
                **holdings_record(count),
                "copy": str(folder),
            }
        )
        return
    say(f"{merged.name} has now {holdings_text(count)}. A copy of {goes.name} as they were is in {folder}.")


def listener_record(listener: Listener) -> dict[str, Any]:
    """Return a listener as plain data."""
    return {
        "id": listener.id,
        "name": listener.name,
        "scale_mm": round(listener.scale_mm, 4),
        "instrument": listener.instrument,
        "note": listener.note,
    }


def holdings_record(holdings: Holdings) -> dict[str, int]:
    """Return what the store holds of a listener as plain data, in the words of the data format."""
    counts = holdings.counts
    return {
        "blocks": counts.get("blocks", 0),
        "trials": counts.get("trials", 0),
        "rehearsals": counts.get("benches", 0),
        "acts": counts.get("bench_acts", 0),
    }


def _changed(listener: Listener, scale: float | None, instrument: str | None, note: str | None) -> Listener:
    from centwise.planning import scale_for  # noqa: PLC0415  start-up path
    from centwise.strings.geometry import check_scale_mm  # noqa: PLC0415

    scale_mm = listener.scale_mm if scale is None else check_scale_mm(scale)
    if instrument is not None:
        instruments = own_instruments()
        chosen = instruments.named(instrument)
        if scale is None:
            # Another instrument has another length; one's own is told with --scale.
            scale_mm = scale_for(chosen, listener, (), instruments)
    return replace(
        listener,
        scale_mm=scale_mm,
        instrument=listener.instrument if instrument is None else instrument,
        note=listener.note if note is None else note,
    )


def _confirmed(what: str, question: str, *, yes: bool) -> None:
    """Ask on stderr, so that stdout holds results alone; go on after a yes.

    Raises:
        UsageError: anything but a yes.
    """
    if yes:
        return
    sys.stderr.write(f"{harmless(what)}\n{harmless(question)} Type yes to do it: ")
    sys.stderr.flush()
    answer = "" if sys.stdin is None else sys.stdin.readline()
    if sys.stdin is None or not sys.stdin.isatty():
        sys.stderr.write("\n")
    if answer.strip().casefold() not in {"yes", "y"}:
        raise UsageError("nothing was changed, because nobody said yes", "type yes when asked, or give --yes")


def _told(what: str, listener: Listener, *, as_json: bool) -> None:
    from centwise.drill.advice import scale_text  # noqa: PLC0415  start-up path

    if as_json:
        emit(listener_record(listener))
        return
    note = f" Note: {' '.join(listener.note.split())}" if listener.note else ""
    say(f"{what} {listener.name}: scale {scale_text(listener.scale_mm)}, {listener.instrument}.{note}")
