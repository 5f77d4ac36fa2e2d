"""`centwise progress --html` and `--csv`: the page and the answers as files. Imports report and below."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from centwise.class_view import class_rows, sorted_rows, uncollected
from centwise.cli.files import STDOUT, whole_file
from centwise.cli.output import emit, say
from centwise.cli.waiting import waiting
from centwise.errors import UsageError
from centwise.report.page import check_page_file, write_page
from centwise.report.spreadsheet import answer_cells, write_answers
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from centwise.class_view import SortKey
    from centwise.model import Listener
    from centwise.ports import Services, Store


def write_files(
    services: Services,
    listeners: Sequence[Listener],
    *,
    in_full: bool,
    sort: SortKey,
    reverse: bool,
    page: Path | None,
    sheet: str | None,
    as_json: bool,
) -> None:
    """Write the files asked for and say so.

    Args:
        services: store and clock.
        listeners: whose.
        in_full: each of them with pictures; else the class in rows.
        sort: the order of the class.
        reverse: the other way round.
        page: where the page is wanted, or None.
        sheet: where the answers are wanted, `-` for standard output, or None.
        as_json: say what was written as JSON.

    Raises:
        UsageError: the page's name does not say a page, or standard output is wanted twice.
        InputError: a file cannot be written.
        StoreError: the store cannot be read.
    """
    if sheet == STDOUT and as_json:
        raise UsageError("--json and --csv - both want standard output", "name a file for --csv")
    if page is not None:
        check_page_file(page, "--html")
    store = services.store
    written: dict[str, Any] = {}
    if page is not None:
        with waiting("the page is being drawn"):
            html = (
                _page_in_full(services, listeners)
                if in_full
                else _page_of_class(store, services.clock.now(), sort, reverse=reverse)
            )
            write_page(page, html)
        written["html"] = str(page)
        if not as_json and sheet != STDOUT:
            say(f"{counted(len(listeners), 'listener')} written to {page}.")
    if sheet is not None:
        written |= {"csv": sheet, "trials": _write_sheet(store, listeners, sheet)}
        if not as_json and sheet != STDOUT:
            say(f"{counted(written['trials'], 'answer')} written to {sheet}.")
    if as_json:
        emit(written)


def _page_in_full(services: Services, listeners: Sequence[Listener]) -> str:
    with uncollected():
        from centwise.progress import progress_of  # noqa: PLC0415  loads numpy
        from centwise.report.progress_page import heard_by, listeners_html  # noqa: PLC0415  loads matplotlib

    store, now, instruments = services.store, services.clock.now(), services.instruments
    heard = [
        heard_by(store, progress_of(who, store.summaries(who.id), now, instruments=instruments)) for who in listeners
    ]
    return listeners_html(heard, at=now)


def _page_of_class(store: Store, now: datetime, sort: SortKey, *, reverse: bool) -> str:
    from centwise.report.progress_page import class_html  # noqa: PLC0415  loads matplotlib

    return class_html(sorted_rows(class_rows(store), sort, reverse=reverse), at=now)


def _write_sheet(store: Store, listeners: Sequence[Listener], sheet: str) -> int:
    if sheet == STDOUT:
        if hasattr(sys.stdout, "reconfigure"):
            sys.stdout.reconfigure(newline="")
        count = write_answers(sys.stdout, _cells(store, listeners))
        sys.stdout.flush()
        return count
    # The mark at the beginning tells spreadsheets that it is UTF-8.
    with waiting("the answers are being written"), whole_file(Path(sheet), encoding="utf-8-sig", newline="") as out:
        return write_answers(out, _cells(store, listeners))


def _cells(store: Store, listeners: Sequence[Listener]) -> Iterator[tuple[Any, ...]]:
    for listener in listeners:
        yield from answer_cells(listener, store.blocks(listener.id))
