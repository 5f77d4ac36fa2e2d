"""Writing a file whole or not at all. Imports systems and below."""

from __future__ import annotations

from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from centwise.errors import InputError
from centwise.systems import written_whole

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TextIO

STDOUT = "-"
"""What standard output is called where a file is asked for."""
DATABASE = b"SQLite format 3\0"
"""How a database begins (SQLite documentation, "Database File Format")."""


def check_target(file: str | None) -> None:
    """Refuse a file that must not be replaced: a database, such as the very store that is written out.

    Ask before the store is opened: closing another look into its file would take SQLite's locks from it.

    Args:
        file: as the user named it; standard output and none are fine.

    Raises:
        InputError: it is one.
    """
    if file in {None, STDOUT}:
        return
    begins = b""
    with suppress(OSError, ValueError):
        path = Path(str(file))
        # Opening a pipe waits for somebody to write to it.
        if path.is_file():
            with path.open("rb") as there:
                begins = there.read(len(DATABASE))
    if begins == DATABASE:
        raise InputError(f"{file} is a database and was left as it is", "name another file, such as all.jsonl")


@contextmanager
def whole_file(path: Path, *, encoding: str, newline: str) -> Iterator[TextIO]:
    """Open a text file beside its place; it is moved there once everything is written, and an existing one replaced.

    Args:
        path: where the file is wanted.
        encoding: of the text.
        newline: as for `open`.

    Raises:
        InputError: it cannot be written; then nothing is left behind and an earlier file is as it was.
    """
    if not path.name:
        raise InputError(f"{str(path)!r} names no file", "name one, such as all.jsonl")
    with written_whole(path) as part, part.open("w", encoding=encoding, newline=newline) as out:
        yield out
