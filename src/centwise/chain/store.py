"""The store: whether it is whole and can be written, and how much room its disk has. Imports store and below."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

from centwise.chain.line import CheckLine, by_error, not_checked
from centwise.errors import StoreError, reason_of
from centwise.store.looking import look_at_store
from centwise.store.sqlite import FILE_NAME
from centwise.units import counted

if TYPE_CHECKING:
    from pathlib import Path

ROOM_BYTES = 100_000_000
"""An answer takes about 100 bytes; this much is room for SQLite's log, recordings and reports (judgement)."""
TITLE = "Store"
ROOM_TITLE = "Room on its disk"


def check_store(folder: Path) -> tuple[CheckLine, ...]:
    """Look at the store in a folder and at the room on its disk; nothing is made or changed."""
    return (_store(folder), _room(folder))


def _store(folder: Path) -> CheckLine:
    path = folder / FILE_NAME
    try:
        if folder.exists() and not folder.is_dir():
            return CheckLine("store", TITLE, "failed", f"{folder} is no folder", "name one with --data")
        look = look_at_store(path)
    except StoreError as error:
        held = "is held by another program" in error.what
        return by_error("store", TITLE, "not checked" if held else "failed", error)
    except OSError as error:
        reason = reason_of(error)
        return CheckLine("store", TITLE, "failed", f"{path} cannot be read ({reason})", "check its permissions")
    if look is None:
        return not_checked(
            "store", TITLE, f"there is none at {path} yet", "take a block first, or name one with --data"
        )
    if look.stale_summaries:
        return CheckLine(
            "store",
            TITLE,
            "failed",
            f"in {path} the summaries of {counted(look.stale_summaries, 'block')} do not say what the answers say",
            "centwise check --mend works them out anew",
        )
    counts = (
        f"{counted(look.listeners, 'listener')}, {counted(look.blocks, 'block')} and {counted(look.answers, 'answer')}"
    )
    return CheckLine(
        "store",
        TITLE,
        "passed",
        f"the store at {path} is whole and can be written; it holds {counts}{_outdated(look.outdated_results)}",
        figures={
            "file": str(path),
            "version": look.version,
            "listeners": look.listeners,
            "blocks": look.blocks,
            "trials": look.answers,
            "bytes": look.bytes_held,
            "outdated_results": look.outdated_results,
        },
    )


def _outdated(results: int) -> str:
    if not results:
        return ""
    return (
        f"; {counted(results, 'result')} came from an earlier estimate, and centwise check --mend works them out anew"
    )


def _room(folder: Path) -> CheckLine:
    there = folder
    try:
        while not there.exists() and there != there.parent:
            there = there.parent
        free = shutil.disk_usage(there).free
    except OSError as error:
        reason = reason_of(error)
        return not_checked("store", ROOM_TITLE, f"the disk of {there} cannot be asked ({reason})")
    enough = free >= ROOM_BYTES
    amount = f"{free / 1e9:.1f} GB" if free >= 1e9 else f"{free / 1e6:.0f} MB"
    return CheckLine(
        "store",
        ROOM_TITLE,
        "passed" if enough else "failed",
        f"{amount} free where {folder} lies ({ROOM_BYTES / 1e6:.0f} MB are enough)",
        "" if enough else "make room, or name a folder on another disk with --data",
        {"free_bytes": free, "enough_bytes": ROOM_BYTES},
    )
