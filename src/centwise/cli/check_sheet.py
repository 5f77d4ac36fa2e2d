"""The sheet of `centwise check`: whose baseline stands on it, and writing it. Imports bootstrap and below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.bootstrap import open_store
from centwise.chain.baseline import baselines_of
from centwise.chain.versions import versions
from centwise.cli.people import known_listener, name_text
from centwise.errors import StoreError, UsageError
from centwise.report.page import check_page_file, write_page
from centwise.report.sheet import SheetListener, sheet_html
from centwise.store.sqlite import is_there

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from centwise.chain.line import CheckLine
    from centwise.settings.load import Settings


def check_sheet_file(path: Path) -> None:
    """Refuse a file that no sheet can be written to, before anything is checked.

    Raises:
        UsageError: its name has another suffix.
        InputError: its folder is missing.
    """
    check_page_file(path, "--sheet")


def baseline_for(settings: Settings, name: str | None, now: datetime) -> SheetListener:
    """Return whose baseline stands on the sheet: the named listener's, else that of the one who practised last.

    No store and no listener is made for it.

    Raises:
        UsageError: nobody of that name is known.
    """
    if not is_there(settings.data_dir):
        if name is not None:
            raise UsageError(
                f"nobody named {name_text(name)} is known, as there is no store yet in {settings.data_dir}",
                "leave --listener out",
            )
        return SheetListener(None, reason="There is no store yet, so no listener has a baseline.")
    try:
        store = open_store(settings)
    except StoreError as error:
        # The store has a line of its own on the sheet.
        return SheetListener(None, reason=f"The store could not be read: {error.what}.")
    try:
        known = store.listeners()
        if name is None and not known:
            return SheetListener(None, reason="No listener is known yet.")
        found = known[0] if name is None else known_listener(store, name)
        baselines = baselines_of(store, found, now)
        reason = "" if baselines else "No block has been heard to its end yet: take an assessment first."
        return SheetListener(found, baselines, reason)
    finally:
        store.close()


def write_check_sheet(path: Path, lines: tuple[CheckLine, ...], who: SheetListener, seed: int, at: datetime) -> None:
    """Write the sheet.

    Raises:
        InputError: it cannot be written.
    """
    write_page(path, sheet_html(lines, who, versions(), seed=seed, at=at))
