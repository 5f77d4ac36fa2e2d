"""The bench line by line: one loop for whoever reads and writes lines; `plain` and `events` only say things their way.

Every line is an act, or asks why. The loop ends at `quit` or when the input ends; what was done is kept, and a
rehearsal whose feet are not marked goes on the next time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from centwise.bench.acts import parse_act
from centwise.cli.diagnostics import ExitCode, tell
from centwise.cli.lines import LEVEL_STEPS
from centwise.errors import DeviceError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from centwise.rehearsal import Answer, Rehearsal

QUIT_WORDS = ("quit", "q")
WHY_WORD = "why"


class BenchFace(Protocol):
    """How a line front end says what happens at the bench."""

    def opened(self, rehearsal: Rehearsal, *, taken_up: bool) -> None:
        """A rehearsal begins, or goes on."""

    def answered(self, rehearsal: Rehearsal, answer: Answer) -> None:
        """An act was done; may wait for the end of its sound."""

    def why(self, rehearsal: Rehearsal) -> None:
        """The listener asks why."""

    def refused(self, error: UsageError) -> None:
        """A line was no act, or one that cannot be done here; nothing has changed."""

    def trouble(self, error: DeviceError) -> None:
        """The device failed; the same line tries once more."""

    def level(self, steps: int) -> None:
        """The listening level changes by so many steps, none to hear it only; may wait for the tone's end."""

    def other(self, line: str) -> bool:
        """Do what only this front end knows; False when it knows none of that name."""

    def over(self, rehearsal: Rehearsal) -> None:
        """The listener leaves."""


def run_bench_lines(rehearsal: Rehearsal, lines: Iterator[str], face: BenchFace, *, taken_up: bool) -> ExitCode:
    """Do act after act until the listener leaves.

    Returns:
        DONE, or DEVICE when the input ended while no device would sound the last one, or INTERRUPTED after ctrl+c.
    """
    heard = True
    try:
        face.opened(rehearsal, taken_up=taken_up)
        for line in lines:
            words = line.strip().lower()
            if words in QUIT_WORDS:
                break
            if words == WHY_WORD:
                face.why(rehearsal)
            elif words in LEVEL_STEPS:
                face.level(LEVEL_STEPS[words])
            elif words and not face.other(words):
                heard = _act(rehearsal, face, line)
    except KeyboardInterrupt:
        tell("stopped by ctrl+c; everything done so far is kept.")
        return ExitCode.INTERRUPTED
    face.over(rehearsal)
    return ExitCode.DONE if heard else ExitCode.DEVICE


def _act(rehearsal: Rehearsal, face: BenchFace, line: str) -> bool:
    """Do what a line asks for; return False when no device would sound it."""
    try:
        answer = rehearsal.do(parse_act(line))
    except UsageError as error:
        face.refused(error)
    except DeviceError as error:
        face.trouble(error)
        return False
    else:
        try:
            face.answered(rehearsal, answer)
        except DeviceError as error:
            face.trouble(error)
            return False
    return True
