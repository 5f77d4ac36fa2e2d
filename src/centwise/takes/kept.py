"""The takes kept beside the answers, newest first. Imports errors and below."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from centwise.errors import InputError, reason_of
from centwise.takes.folder import FOLDERS, TakeSet, is_take_folder, read_takes

if TYPE_CHECKING:
    from pathlib import Path

MOST = 50


def kept_takes(data_dir: Path) -> tuple[tuple[Path, TakeSet], ...]:
    """Return the folders of takes beside the answers, newest first, 50 at most; what cannot be read is left out.

    Raises:
        InputError: the folder they lie in cannot be looked into.
    """
    place = data_dir / FOLDERS
    try:
        paths = [path for path in place.iterdir() if is_take_folder(path)] if place.is_dir() else []
    except OSError as error:
        raise InputError(f"{place} cannot be looked into ({reason_of(error)})", "check its permissions") from error
    found = []
    for path in paths:
        with suppress(InputError):
            found.append((path, read_takes(path)))
    found.sort(key=lambda one: (one[1].started_at, one[0].name), reverse=True)
    return tuple(found[:MOST])
