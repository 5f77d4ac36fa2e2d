"""What differs between Linux, macOS and Windows where files are put and times are told.

Each function that has a branch takes the system's name as `platform`, as `sys.platform` has it, so that every branch
can be tested on every system. Standard library only. Imports errors and below; the
pure packages import nothing of this.
"""

from __future__ import annotations

import os
import re
import stat
import sys
import time
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from centwise.errors import InputError, reason_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import PurePath

WINDOWS = "win32"
_DEVICES = r"(CON|PRN|AUX|NUL|CONIN\$|CONOUT\$|(COM|LPT)[0-9\u00b9\u00b2\u00b3])[ ]*(\..*)?"
_NEVER = r'[<>:"|?*\\\x00-\x1f]'
"""Names and characters that no file has there (Microsoft, "Naming Files, Paths, and Namespaces"): a colon would write
into a hidden stream of another file, and `nul.wav` would be written to nobody."""
PRIVATE_FILE, PRIVATE_FOLDER = 0o600, 0o700
"""Rights of what holds people's names: its owner's alone. Windows has no such rights and passes over them."""
TRIES, PAUSE_S = 6, 0.1
"""How often, and how long apart, a file is put in place: a scanner that looks into it holds it for moments (our
judgement; common practice, no source)."""


def expanded(words: str) -> Path:
    """Return the path a user wrote, a leading ~ being their home folder.

    Raises:
        InputError: it begins with a home folder that is not known.
    """
    try:
        return Path(words).expanduser()
    except RuntimeError as error:
        raise InputError(f"{words!r} begins with a home folder that is not known", "write the whole path") from error


def check_file_name(path: PurePath, *, platform: str = sys.platform) -> None:
    """Refuse a file's name that the system would take for something else.

    Raises:
        InputError: on Windows, the name of a device, or one with a character that means something else there.
    """
    if platform != WINDOWS:
        return
    name = path.name
    if re.fullmatch(_DEVICES, name, re.IGNORECASE) or re.search(_NEVER, name) or name.endswith((".", " ")):
        raise InputError(f"{name!r} cannot be a file's name on Windows", "choose another, such as class.html")


@contextmanager
def put_in_place(
    path: Path, *, platform: str = sys.platform, sleep: Callable[[float], object] = time.sleep
) -> Iterator[Path]:
    """Give a name beside a file's place; what was written there is moved into the place at the end, whole.

    When anything goes wrong nothing is left beside it, and an earlier file is as it was.

    Raises:
        InputError: the file cannot have that name.
        OSError: it cannot be put there.
    """
    check_file_name(path, platform=platform)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield part
        _replace(part, path, platform, sleep)
    finally:
        # Gone already where all went well; where a signal struck, nothing half done is left.
        with suppress(OSError):
            part.unlink()


def new_private_file(path: Path) -> None:
    """Make an empty file that its owner alone may read and write; one that is there already is left as it is.

    Raises:
        OSError: it cannot be made.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, PRIVATE_FILE))


def keep_private(path: Path, *, platform: str = sys.platform) -> None:
    """Let nobody look into a file or folder who may not write to it; whom its owner lets write keeps all rights.

    Nothing happens where it is missing or somebody else's, or on Windows, where a user's own folder is theirs alone.
    """
    if platform == WINDOWS:
        return
    with suppress(OSError):
        mode = stat.S_IMODE(path.stat().st_mode)
        kept = mode
        for may_write, every in ((stat.S_IWGRP, stat.S_IRWXG), (stat.S_IWOTH, stat.S_IRWXO)):
            if not mode & may_write:
                kept &= ~every
        if kept != mode:
            path.chmod(kept)


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Do as `put_in_place`, and tell in one sentence what kept a file from being written.

    Raises:
        InputError: it cannot be written; then nothing is left behind and an earlier file is as it was.
    """
    try:
        with put_in_place(path) as part:
            yield part
    except OSError as error:
        raise unwritten(path, error) from error


def unwritten(path: Path, error: OSError) -> InputError:
    """Return the error for a file that cannot be written."""
    return InputError(f"{path} cannot be written ({reason_of(error)})", "choose a folder you may write to")


def _replace(part: Path, path: Path, platform: str, sleep: Callable[[float], object]) -> None:
    # Windows replaces no file that anybody has open, be it a reader.
    for left in reversed(range(TRIES if platform == WINDOWS else 1)):
        try:
            part.replace(path)
        except PermissionError as error:
            if platform != WINDOWS:
                raise
            if not left:
                raise PermissionError(error.errno, "another program may have it open") from error
            sleep(PAUSE_S)
        else:
            return


def sqlite_uri(path: PurePath, mode: str) -> str:
    """Return the URI that SQLite opens a database by (SQLite documentation, "Uniform Resource Identifiers").

    Args:
        path: absolute; on Windows with a drive's letter, or in a shared folder, whose server is no authority here.
        mode: ro, rw or rwc.
    """
    from urllib.parse import quote  # noqa: PLC0415  start-up path

    plain = quote(os.fsencode(path.as_posix()), safe="/:")
    return f"file://{'' if plain.startswith('/') else '/'}{plain}?mode={mode}"


def local_time(instant: datetime, *, convert: Callable[[datetime], datetime] = datetime.astimezone) -> datetime:
    """Return an instant on this machine's own clock; one without a zone is taken for such a time already.

    Windows knows no zone before 1970 and after the year 3000, and no system one beyond the calendar's ends: there it is
    told in UTC.
    """
    try:
        return convert(instant)
    except (OSError, OverflowError, ValueError):
        return instant.replace(tzinfo=UTC) if instant.tzinfo is None else instant.astimezone(UTC)
