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

    @property
    def sentence(self) -> str:
        """The same as a sentence of its own, beginning with a capital letter."""
        text = str(self)
        return text[:1].upper() + text[1:]


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


SIGNALLED = 128
"""A program ended by a signal leaves with 128 and the signal's number (the shell's custom)."""
STOPPED_BY = {
    "SIGINT": "stopped by ctrl+c",
    "SIGTERM": "told to end by SIGTERM",
    "SIGHUP": "left by its terminal",
    "SIGBREAK": "stopped by ctrl+break, or left by its terminal",
}
"""By the signal's name; the last is Windows' own, which its C library also raises when the console is closed."""


class ElsewhereError(StoreError):
    """Another window went on with the same block or rehearsal: what was done here was not kept, nothing there lost."""


NOTHING_HALF_DONE = "and nothing half done is left behind"
"""What became of a command that was ended in its midst: each writes its files and its changes whole or not at all."""


class StoppedError(CentwiseError):
    """Ctrl+c or a signal ended the run before its end. Nothing is lost, and the sentence says so.

    Args:
        by: what ended it, such as `stopped by ctrl+c`.
        exit_code: 128 and the signal's number (the shell's custom); 130 for ctrl+c.
        answers: how many answers of the block under way are kept, warm-up included; None where no block was.
        ended: whether that block has ended with them; else it stays open.
        recorded: whether its pairs are recorded notes: such a block cannot be gone on with.
        kept: what became of a command that is no block, such as `and nothing was imported`.
        to_do: what the user can do after such a command.
    """

    def __init__(
        self,
        by: str = "stopped by ctrl+c",
        exit_code: int = 130,
        *,
        answers: int | None = None,
        ended: bool = True,
        recorded: bool = False,
        kept: str | None = None,
        to_do: str = "give the same command again",
    ) -> None:
        if kept is None:
            to_do = "begin another with centwise drill --take" if recorded else "type centwise drill --resume to go on"
            if ended or not answers:  # without an answer there is nothing to go on with
                to_do = "type centwise drill for the next block"
        if kept is not None:
            super().__init__(f"{by}, {kept}", to_do)
        elif answers is None:
            super().__init__(f"{by}, and everything answered so far is kept", "type centwise to go on")
        elif answers == 0:
            super().__init__(f"{by} before the first answer of the block", to_do)
        else:
            super().__init__(f"{by} with {answers} answer{'s' * (answers > 1)} of the block kept", to_do)
        self.exit_code = exit_code


def reason_of(error: OSError) -> str:
    """Return the system's words for why a file could not be used, fit for the middle of a sentence."""
    return (error.strerror or str(error)).lower()
