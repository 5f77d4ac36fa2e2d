"""Every error a user can meet: one sentence of what and where, then what to do. Imports nothing of centwise.

Each class carries the exit code of the command line. Raise them with the offending value in `what`.
"""

from __future__ import annotations


class CentwiseError(Exception):
    """An error told in one sentence.

    Args:
        what: what went wrong and where, with the offending value; no full stop at its end.
        to_do: what the user can do about it; no full stop at its end.
    """

    exit_code = 1

    def __init__(self, what: str, to_do: str) -> None:
        super().__init__(what, to_do)
        self.what = what
        self.to_do = to_do

    def __str__(self) -> str:
        return f"{self.what}: {self.to_do}."


class UsageError(CentwiseError):
    """The command was asked for in words it does not know."""

    exit_code = 2


class InputError(CentwiseError):
    """A file, a folder or a value could not be used."""

    exit_code = 3


class DeviceError(CentwiseError):
    """There is no sound device, or it went away."""

    exit_code = 4


class StoreError(CentwiseError):
    """The store could not be opened, read or written."""

    exit_code = 5
