"""The instruments a user has described: TOML files in a folder beside the settings, besides those of the package.

Imports strings and below.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from centwise.errors import InputError, reason_of
from centwise.strings.library import BUILT_IN, unknown

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.strings.instrument import Instrument
    from centwise.strings.library import Instruments

SUFFIX = ".toml"
MOST_BYTES = 100_000
NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")
"""What an instrument can be called: such a name goes into a command, a file of answers and a table without trouble."""


class OwnInstruments:
    """Implements strings.library.Instruments. A file is read when its instrument is asked for, once a run.

    Args:
        folder: where the files lie, each named after its instrument; it may not exist. None for no such place.
        others: the instruments that are there anyway.
    """

    def __init__(self, folder: Path | None, others: Instruments = BUILT_IN) -> None:
        self._folder = folder
        self._others = others
        self._known: dict[str, Instrument] = {}

    def names(self) -> tuple[str, ...]:
        """Return the names there are: those of the package, then one's own.

        Raises:
            InputError: the folder cannot be looked at.
        """
        others = self._others.names()
        return (*others, *sorted(name for name in self._files() if name not in others and NAME.fullmatch(name)))

    def named(self, name: str) -> Instrument:
        """Return an instrument by its name.

        Raises:
            UsageError: there is none of that name.
            InputError: its file cannot be read or used, or has the name of an instrument of the package or one that no
                instrument can have.
        """
        if name not in self._known:
            file = self._file(name)
            self._known[name] = self._others.named(name) if file is None else _read(file, name)
        return self._known[name]

    def check(self, name: str) -> None:
        """Refuse a name that `named` would refuse, without reading what comes with the program.

        Raises:
            UsageError: there is none of that name.
            InputError: as `named` does.
        """
        if self._file(name) is not None:
            self.named(name)

    def _file(self, name: str) -> Path | None:
        """Return the file of one's own instrument, None for one of the others."""
        file = self._files().get(name)
        if file is not None and not NAME.fullmatch(name):
            raise InputError(
                f"the instrument file {file} has a name that no instrument can have",
                "give it one of small letters, digits and hyphens, at most 60, such as octave-mandolin.toml",
            )
        if file is None:
            if name in self._others.names():
                return None
            raise unknown(name, self.names())
        if name in self._others.names():
            raise InputError(
                f"the instrument file {file} has the name of an instrument that centwise brings along",
                "give the file another name, so that blocks on the two are not taken for one another",
            )
        return file

    def _files(self) -> dict[str, Path]:
        """Return the files by name."""
        if self._folder is None:
            return {}
        try:
            found = [file for file in self._folder.iterdir() if file.suffix == SUFFIX and file.is_file()]
        except (FileNotFoundError, NotADirectoryError):
            return {}
        except OSError as error:
            reason = reason_of(error)
            raise InputError(f"the folder {self._folder} cannot be read ({reason})", "check it") from error
        return {file.stem: file for file in found}


def _read(file: Path, name: str) -> Instrument:
    # The first page needs no instrument: who reads one loads what reads it.
    from centwise.strings.reading import read_instrument  # noqa: PLC0415  start-up path

    return read_instrument(_text(file), name, str(file))


def _text(file: Path) -> str:
    try:
        with file.open("rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except OSError as error:
        reason = reason_of(error)
        raise InputError(f"the instrument file {file} cannot be read ({reason})", "check it") from error
    if len(data) > MOST_BYTES:
        raise InputError(f"the instrument file {file} is larger than {MOST_BYTES // 1000} kB", "check what it is")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"the instrument file {file} is not UTF-8 text", "save it as UTF-8") from error
