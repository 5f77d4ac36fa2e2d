"""`centwise progress`: one listener's history, or the class in rows; in the terminal or as JSON.

Imports click, progress_text and below.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from centwise.class_view import SORT_KEYS, SortKey, class_rows, sorted_rows
from centwise.cli.files import check_target
from centwise.cli.listeners import at_the_desk
from centwise.cli.options import PATH, data_option, json_option, own_instruments
from centwise.cli.output import emit, say
from centwise.cli.waiting import waiting
from centwise.errors import UsageError
from centwise.ports import ClassRow
from centwise.systems import local_time

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from centwise.model import Listener
    from centwise.ports import Store
    from centwise.progress import ListenerProgress

NOBODY = "Nobody has been listening yet: begin with centwise, or centwise drill --plain."


@click.command(name="progress")
@click.option("--listener", "names", multiple=True, metavar="NAME", help="Whose progress; may be given several times.")
@click.option("--class", "whole_class", is_flag=True, help="Everybody in rows, even where there is one listener only.")
@click.option(
    "--sort",
    type=click.Choice(SORT_KEYS),
    help="The order of the class. Without it, or by last: who was listening last first, then by name.",
)
@click.option("--reverse", is_flag=True, help="The other way round.")
@click.option(
    "--html",
    "page",
    type=PATH,
    metavar="FILE",
    help="Write a page to read and print, with pictures.",
)
@click.option(
    "--since",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Say how likely the ear has become finer since that day. Else since the second block.",
)
@click.option("--chart", is_flag=True, help="Draw each threshold over time, too.")
@click.option("--csv", "sheet", metavar="FILE", help="Write every answer as a row for a spreadsheet; - for stdout.")
@data_option
@json_option
def command(
    *,
    names: tuple[str, ...],
    whole_class: bool,
    sort: SortKey | None,
    reverse: bool,
    since: datetime | None,
    chart: bool,
    page: Path | None,
    sheet: str | None,
    data: Path | None,
    as_json: bool,
) -> None:
    """Show how the threshold has moved, and what to practise next.

    Without --listener the class is shown in rows, or the only listener there is. --html writes the same as a page of
    its own: the class in rows, or with --listener each in full.
    """
    # A day begins at midnight where the listener is.
    day = None if since is None else local_time(since)
    if day is not None and (page is not None or sheet is not None):
        raise UsageError("--since counts in the terminal and as JSON", "leave it out, or --html and --csv")
    if names and (sort is not None or reverse):
        raise UsageError("--sort and --reverse order the class", "leave them out with --listener")
    if chart and (as_json or page is not None or sheet is not None):
        raise UsageError("--chart draws in the terminal", "leave it out; the page of --html has pictures of its own")
    check_target(sheet)
    sort = sort or SORT_KEYS[0]
    with at_the_desk(data) as services:
        store, now = services.store, services.clock.now()
        if page is not None or sheet is not None:
            from centwise.cli.progress_files import write_files  # noqa: PLC0415  start-up path

            chosen = chosen_listeners(store, names)
            in_full = bool(names) or (len(chosen) == 1 and not whole_class)
            write_files(
                services,
                chosen,
                in_full=in_full,
                sort=sort,
                reverse=reverse,
                page=page,
                sheet=sheet,
                as_json=as_json,
            )
            return
        if as_json:
            emit(_all_records(store, names, now, sort=sort, reverse=reverse, day=day))
            return
        listeners = chosen_listeners(store, names)
        if names or (len(listeners) == 1 and not whole_class):
            for number, listener in enumerate(listeners):
                if number:
                    say()
                with waiting("the answers are being read"):
                    found = _progress(store, listener, now, day)
                _say_progress(found, chart=chart)
            return
        if chart and listeners:
            raise UsageError("--chart draws the threshold of one listener", "say whose with --listener")
        _say_class(store, sort, reverse=reverse)


def chosen_listeners(store: Store, names: Sequence[str]) -> list[Listener]:
    """Return the listeners of those names, each once, or without a name all.

    Raises:
        UsageError: there is none of that name.
    """
    from centwise.cli.people import known_listener  # noqa: PLC0415  start-up path

    if not names:
        return list(store.listeners())
    found = [known_listener(store, name) for name in names]
    return list({listener.id: listener for listener in found}.values())


def _progress(store: Store, listener: Listener, now: datetime, day: datetime | None) -> ListenerProgress:
    # Loads numpy, which a class of kept rows does not need.
    from centwise.progress import counted_from, progress_of  # noqa: PLC0415

    found = progress_of(
        listener,
        store.summaries(listener.id),
        now,
        instruments=own_instruments(),
        benches=store.benches(listener.id),
    )
    return found if day is None else counted_from(found, day)


def _all_records(
    store: Store, names: Sequence[str], now: datetime, *, sort: SortKey, reverse: bool, day: datetime | None
) -> dict[str, object]:
    from centwise.cli.progress_record import progress_record  # noqa: PLC0415  start-up path
    from centwise.progress import counted_from, progress_of_all  # noqa: PLC0415  loads numpy

    if names:
        everybody = [_progress(store, listener, now, day) for listener in chosen_listeners(store, names)]
    else:
        # The store's own order needs no row worked out.
        rows = [ClassRow(who, 0, 0, 0.0, None) for who in store.listeners()] if sort == "last" else class_rows(store)
        listeners = [row.listener for row in sorted_rows(rows, sort, reverse=reverse)]
        found = progress_of_all(listeners, store.summaries(), now, instruments=own_instruments())
        everybody = [replace(one, benches=tuple(store.benches(one.listener.id))) for one in found]
        everybody = everybody if day is None else [counted_from(one, day) for one in everybody]
    return {"at": now.isoformat(timespec="seconds"), "listeners": [progress_record(one) for one in everybody]}


def _say_class(store: Store, sort: SortKey, *, reverse: bool) -> None:
    from centwise.cli.columns import table  # noqa: PLC0415  start-up path
    from centwise.progress_text import short_day, trend_text  # noqa: PLC0415
    from centwise.trend import trend_word  # noqa: PLC0415

    with waiting("the class is being read"):
        rows = sorted_rows(class_rows(store), sort, reverse=reverse)
    if not rows:
        say(NOBODY)
        return
    head = ("Listener", "String", "Threshold", "90 % band", "Trend", "Last seen", "Blocks", "Minutes")
    cells = [
        (
            row.listener.name,
            "" if row.string is None else str(row.string),
            "none yet" if row.threshold_cents is None else f"{row.threshold_cents:.1f} c",
            "" if row.low_cents is None or row.high_cents is None else f"{row.low_cents:.1f}-{row.high_cents:.1f}",
            "" if row.threshold_cents is None else trend_text(trend_word(row.improvement_chance)),
            short_day(row.last_seen),
            f"{row.blocks:,}",
            f"{round(row.practised_s / 60.0):,}",
        )
        for row in rows
    ]
    for line in table(head, cells, right=(1, 2, 6, 7), widest=28):
        say(line)
    say("One of them: centwise progress --listener NAME. Thresholds are of the string heard last.")


def _say_progress(progress: ListenerProgress, *, chart: bool) -> None:
    from centwise.cli.progress_lines import progress_lines  # noqa: PLC0415  start-up path

    for line in progress_lines(progress, chart=chart):
        say(line)
