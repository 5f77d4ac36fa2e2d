"""The instruments that come with the program: TOML files of this package, read when one is asked for.

Imports errors and below.
"""

from __future__ import annotations

import pkgutil
from functools import cache
from typing import TYPE_CHECKING, Protocol

from centwise.errors import UsageError
from centwise.strings.names import BUILT_IN_NAMES

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument


class Instruments(Protocol):
    """Where instruments are found by name."""

    def names(self) -> tuple[str, ...]:
        """Return the names there are, the default one first."""

    def check(self, name: str) -> None:
        """Refuse a name that `named` would refuse, without reading what comes with the program.

        Raises:
            UsageError: there is none of that name.
            InputError: what describes it cannot be used.
        """

    def named(self, name: str) -> Instrument:
        """Return an instrument.

        Raises:
            UsageError: there is none of that name.
            InputError: what describes it cannot be used.
        """


class BuiltIn:
    """The instruments of the package."""

    def names(self) -> tuple[str, ...]:
        """Return the names of those that come with the program."""
        return BUILT_IN_NAMES

    def check(self, name: str) -> None:
        """Raise UsageError, naming those there are, where none of them has that name."""
        if name not in BUILT_IN_NAMES:
            raise unknown(name, BUILT_IN_NAMES)

    def named(self, name: str) -> Instrument:
        """Return one of them, or raise UsageError naming those there are."""
        self.check(name)
        return _read(name)


BUILT_IN = BuiltIn()


def unknown(name: str, names: tuple[str, ...]) -> UsageError:
    """Return the refusal of a name that no instrument has."""
    return UsageError(f"there is no instrument named {name!r}", f"choose one of: {', '.join(names)}")


@cache
def _read(name: str) -> Instrument:
    # The first page needs no instrument: who reads one loads what reads it.
    from centwise.strings.reading import read_instrument  # noqa: PLC0415  start-up path

    file = f"instruments/{name}.toml"
    data = pkgutil.get_data("centwise.strings", file)
    if data is None:
        raise RuntimeError(f"the package lacks {file}")
    return read_instrument(data.decode("utf-8"), name, file)
