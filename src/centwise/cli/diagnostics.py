"""Owns stderr and the exit codes: every error leaves as one sentence, never as a traceback.

Imports click, errors and below.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from enum import IntEnum
from typing import TYPE_CHECKING, TextIO

import click

from centwise.cli import letters
from centwise.errors import NOTHING_HALF_DONE, CentwiseError, StoppedError, reason_of
from centwise.harmless import harmless

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
        sys.stderr.write(f"{harmless(sentence)}\n")
        sys.stderr.flush()
    except (OSError, ValueError):
        return


def guarded(command: Callable[[], int | None]) -> int:  # noqa: PLR0911  one return a kind of error
    """Run a command and turn whatever it raises into a sentence and an exit code."""
    try:
        code = command()
        # Here and not as the interpreter ends, where a full disk or a closed pipe would be told by a traceback.
        sys.stdout.flush()
        return int(code or ExitCode.DONE)
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
        return ExitCode.DONE
    except OSError as error:
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


def let_go_of_streams() -> None:
    """Leave nothing for the interpreter to write as it ends: where it cannot, it says so its own way, and exits 120.

    What a stream does not take is dropped, be it a full disk, a closed pipe or a terminal that is gone.
    """
    for stream in (sys.stdout, sys.stderr, sys.__stdout__, sys.__stderr__):
        if stream is not None:
            try:
                stream.flush()
            except (OSError, ValueError):
                _drop(stream)


def _drop(stream: TextIO) -> None:
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _usage_sentence(error: click.ClickException) -> str:
    message = " ".join(error.format_message().split()).rstrip(".?").replace(". (Did you mean", " (did you mean")
    context = getattr(error, "ctx", None)
    where = context.command_path if context is not None else "centwise"
    return f"{message[:1].lower()}{message[1:]}: see {where} --help."
