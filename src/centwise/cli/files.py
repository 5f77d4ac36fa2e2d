"""Writing a file whole or not at all. Imports systems and below."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from centwise.errors import InputError
from centwise.systems import written_whole

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from typing import TextIO


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
