"""Owns stderr and the exit codes: every error leaves as one sentence, never as a traceback."""

from __future__ import annotations

import os
import sys
from enum import IntEnum
from typing import TYPE_CHECKING

import click

from centwise.cli import letters
from centwise.cli.output import shown
from centwise.errors import NOTHING_HALF_DONE, CentwiseError, StoppedError, reason_of

if TYPE_CHECKING:
    from collections.abc import Callable


class ExitCode(IntEnum):
    """What the shell is told."""

    DONE = 0
    FAILED = 1
    USAGE = 2
    INPUT = 3
    DEVICE = 4
    STORE = 5
    INTERRUPTED = 130
    """128 + SIGINT, the shell's own custom for ctrl+c."""


def tell(sentence: str) -> None:
    """Write one error to stderr; a closed stderr is nobody's trouble."""
    narrate(f"centwise: {sentence}")


def narrate(sentence: str) -> None:
    """Write one line to stderr, where people read it while stdout belongs to a program."""
    try:
        sys.stderr.write(f"{shown(sentence)}\n")
        sys.stderr.flush()
    except (OSError, ValueError):
        return


def guarded(command: Callable[[], int | None]) -> int:  # noqa: PLR0911  one return a kind of error
    """Run a command and turn whatever it raises into a sentence and an exit code."""
    try:
        return int(command() or ExitCode.DONE)
    except CentwiseError as error:
        tell(str(error))
        return error.exit_code
    except click.exceptions.Exit as stop:
        return int(stop.exit_code)
    except click.ClickException as error:
        tell(_usage_sentence(error))
        return ExitCode.USAGE
    except (KeyboardInterrupt, click.Abort):
        tell(str(StoppedError(kept=NOTHING_HALF_DONE)))
        return ExitCode.INTERRUPTED
    except BrokenPipeError:
        # The reader of our output went away: there is nobody to tell.
        _abandon_stdout()
        return ExitCode.DONE
    except OSError as error:
        _abandon_stdout()
        reason = reason_of(error)
        where = "" if error.filename is None else f" at {error.filename}"
        tell(f"reading or writing failed{where} ({reason}): check the disk and where the output goes.")
        return ExitCode.FAILED
    except MemoryError:
        tell("there is not enough memory for this: close other programs, or ask for less at once.")
        return ExitCode.FAILED


def mend_streams() -> None:
    """Make the standard streams safe to use: none missing, and no character that turns into a traceback."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        stream = getattr(sys, name)
        if stream is None:  # started with the stream closed, or without a console
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115  open to the end
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace" if mode == "r" else letters.register())


def _abandon_stdout() -> None:
    """Keep the interpreter from trying to flush once more as it ends."""
    try:
        stdout = sys.stdout.fileno()
        os.dup2(os.open(os.devnull, os.O_WRONLY), stdout)
    except (OSError, ValueError):
        return


def _usage_sentence(error: click.ClickException) -> str:
    message = " ".join(error.format_message().split()).rstrip(".?").replace(". (Did you mean", " (did you mean")
    context = getattr(error, "ctx", None)
    where = context.command_path if context is not None else "centwise"
    return f"{message[:1].lower()}{message[1:]}: see {where} --help."
