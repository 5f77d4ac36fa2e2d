"""Keep C libraries off the screen: they write to file descriptor 2, which is where the terminal app draws.

Textual draws through `sys.__stderr__` on Linux and macOS. The guard gives it a copy of descriptor 2 and sends the
descriptor itself to a log. It must stand before the app starts: turning descriptor 2 round under a running app loses
frames. Standard library only.
"""

from __future__ import annotations

import io
import os
import sys
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, TextIO, cast

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

STDERR_FD = 2
MAX_LOG_BYTES = 1_000_000
"""A log longer than this begins anew (our judgement)."""


@contextmanager
def stderr_guard(log_file: Path) -> Iterator[None]:
    """Send descriptor 2 to a log while `sys.__stderr__` and `sys.stderr` still reach where it led before.

    All is put back at the end, also when an exception passes. Where descriptor 2 is closed nothing is done; where the
    log cannot be opened the null device takes its place.

    Args:
        log_file: appended to; its folder is made when missing.
    """
    try:
        copy_fd = os.dup(STDERR_FD)
    except OSError:
        yield
        return
    original, current = sys.__stderr__, sys.stderr
    _flush(original, current)
    screen = _text_file(copy_fd, original)
    log_fd = _open_log(log_file)
    os.dup2(log_fd, STDERR_FD)
    os.close(log_fd)
    sys.__stderr__ = screen  # type: ignore[misc,assignment]  # Final in the stubs, yet the only name Textual draws through
    if current is original:
        sys.stderr = screen
    try:
        yield
    finally:
        _flush(screen)
        os.dup2(copy_fd, STDERR_FD)
        sys.__stderr__ = original  # type: ignore[misc]  # as above
        if sys.stderr is screen:
            sys.stderr = current
        with suppress(OSError):
            screen.close()


def _text_file(fd: int, like: TextIO | None) -> TextIO:
    encoding = getattr(like, "encoding", None) or "utf-8"
    errors = getattr(like, "errors", None) or "backslashreplace"
    raw = os.fdopen(fd, "wb", buffering=io.DEFAULT_BUFFER_SIZE)
    return cast("TextIO", io.TextIOWrapper(raw, encoding=encoding, errors=errors, line_buffering=True))


def _open_log(log_file: Path) -> int:
    try:
        log_file.parent.mkdir(parents=True, exist_ok=True)
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
        if log_file.exists() and log_file.stat().st_size > MAX_LOG_BYTES:
            flags |= os.O_TRUNC
        return os.open(log_file, flags, 0o600)
    except OSError:
        return os.open(os.devnull, os.O_WRONLY)


def _flush(*files: TextIO | None) -> None:
    for file in files:
        if file is not None:
            with suppress(OSError, ValueError):
                file.flush()
