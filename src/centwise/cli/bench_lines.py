"""The bench line by line: one loop for whoever reads and writes lines; `plain` and `events` only say things their way.

Every line is an act, or asks why. The loop ends at `quit` or when the input ends; what was done is kept, and a
rehearsal whose feet are not marked goes on the next time. Imports rehearsal and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from centwise.bench.acts import parse_act
from centwise.cli.diagnostics import ExitCode
from centwise.cli.lines import LEVEL_STEPS
from centwise.cli.signals import EndedBySignal
from centwise.errors import DeviceError, ElsewhereError, StoppedError, StoreError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from centwise.rehearsal import Answer, Rehearsal

QUIT_WORDS = ("quit", "q")
WHY_WORD = "why"
KEPT, TO_DO = "and every act so far is kept", "type centwise bench to go on"


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

    def trouble(self, error: DeviceError | StoreError) -> None:
        """The device or the store failed, and nothing has changed; the same line tries once more."""

    def hole(self, lost_s: float) -> None:
        """What sounded last had a hole in it; the same line sounds it anew."""

    def level(self, steps: int) -> None:
        """The listening level changes by so many steps, none to hear it only; may wait for the tone's end."""

    def other(self, line: str) -> bool:
        """Do what only this front end knows; False when it knows none of that name."""

    def over(self, rehearsal: Rehearsal) -> None:
        """The listener leaves."""


def run_bench_lines(rehearsal: Rehearsal, lines: Iterator[str], face: BenchFace, *, taken_up: bool) -> ExitCode:
    """Do act after act until the listener leaves.

    Returns:
        DONE, or what the last act failed by when the input ended: DEVICE where no device would sound it, STORE where
        the store would not keep it.

    Raises:
        StoppedError: ctrl+c or a signal ended the program; every act so far is kept.
    """
    ended = ExitCode.DONE
    try:
        face.opened(rehearsal, taken_up=taken_up)
        for line in lines:
            # Where the face did not wait for the end of a sound.
            _tell_hole(rehearsal, face)
            words = line.strip().lower()
            if words in QUIT_WORDS:
                break
            if words == WHY_WORD:
                face.why(rehearsal)
            elif words in LEVEL_STEPS:
                face.level(LEVEL_STEPS[words])
            elif words and not face.other(words):
                ended = _act(rehearsal, face, line)
    except KeyboardInterrupt:
        raise StoppedError(kept=KEPT, to_do=TO_DO) from None
    except EndedBySignal as signalled:
        raise signalled.told(kept=KEPT, to_do=TO_DO) from None
    face.over(rehearsal)
    return ended


def _act(rehearsal: Rehearsal, face: BenchFace, line: str) -> ExitCode:
    """Do what a line asks for; return what it failed by."""
    try:
        answer = rehearsal.do(parse_act(line))
    except UsageError as error:
        face.refused(error)
    except ElsewhereError:
        # This bench is not the one that is kept: nothing can be done at it any more.
        raise
    except (DeviceError, StoreError) as error:
        face.trouble(error)
        return ExitCode(error.exit_code)
    else:
        try:
            face.answered(rehearsal, answer)
            _tell_hole(rehearsal, face)
        except DeviceError as error:
            face.trouble(error)
            return ExitCode.DEVICE
    return ExitCode.DONE


def _tell_hole(rehearsal: Rehearsal, face: BenchFace) -> None:
    lost_s = rehearsal.hole_s()
    if lost_s is not None:
        face.hole(lost_s)
