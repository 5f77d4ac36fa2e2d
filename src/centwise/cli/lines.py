"""The line-by-line drill: one loop for whoever reads and writes lines; `plain` and `events` only say things their way.

Every line is an answer or an act. The loop ends at the block's end, at `quit` or when the input ends; whatever was
answered is kept, and a result is always given.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Protocol

from centwise.cli.diagnostics import ExitCode, tell
from centwise.errors import DeviceError, StoppedError
from centwise.model import JUDGEMENTS, Judgement

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from centwise.conductor import Part, Sitting, Sounding
    from centwise.drill.words import Feedback, Noted, Rest
    from centwise.model import BlockPlan, BlockResult

ANSWER_WORDS: dict[str, Judgement] = {word: word for word in JUDGEMENTS} | {"f": "flat", "u": "unison", "s": "sharp"}
PART_WORDS: dict[str, Part] = {
    "again": "pair",
    "a": "pair",
    "harmonic": "harmonic",
    "h": "harmonic",
    "fretted": "fretted",
    "t": "fretted",
}
DIRECTIONS_WORD = "directions"
QUIT_WORDS = ("quit", "q")


class Face(Protocol):
    """How a line front end says what happens."""

    def opened(self, plan: BlockPlan, total: int) -> None:
        """The block begins."""

    def sounding(self, sitting: Sitting, heard: Sounding) -> None:
        """A pair or one of its tones has begun to sound; may wait for its end."""

    def told(self, told: Feedback | Noted) -> None:
        """An answer was kept."""

    def swapped(self) -> None:
        """Flat and sharp were taken for each other; `directions` practises them."""

    def rest(self, rest: Rest, lines: Iterator[str]) -> None:
        """A rest is due; may wait for a line."""

    def not_understood(self, line: str) -> None:
        """A line was no word of the drill."""

    def trouble(self, error: DeviceError) -> None:
        """The device failed; `again` tries once more."""

    def other(self, line: str) -> bool:
        """Do an act that only this front end knows; False when it knows none of that name."""

    def over(self, sitting: Sitting, result: BlockResult) -> None:
        """The block has ended."""


def run_lines(sitting: Sitting, lines: Iterator[str], face: Face) -> ExitCode:
    """Ask pair after pair until the block is over.

    Returns:
        DONE, or DEVICE when the input ended while no device would sound the pair, or INTERRUPTED after ctrl+c.
    """
    try:
        return _ask(sitting, lines, face)
    except KeyboardInterrupt:
        result = sitting.leave()
        tell(str(StoppedError(answers=len(sitting.drill.trials))))
        face.over(sitting, result)
        return ExitCode.INTERRUPTED


def _ask(sitting: Sitting, lines: Iterator[str], face: Face) -> ExitCode:
    face.opened(sitting.drill.plan, sitting.drill.total)
    heard = _sound(sitting, face, sitting.sound)
    for line in lines:
        word = line.strip().lower()
        if word in QUIT_WORDS:
            break
        if word in ANSWER_WORDS and heard:
            if _judged(sitting, face, ANSWER_WORDS[word], lines):
                return ExitCode.DONE
            heard = _sound(sitting, face, sitting.sound)
        elif word:
            heard = _act(sitting, face, line.strip(), heard=heard)
    face.over(sitting, sitting.leave())
    return ExitCode.DONE if heard else ExitCode.DEVICE


def _act(sitting: Sitting, face: Face, line: str, *, heard: bool) -> bool:
    """Do what a word asks for that judges nothing; return whether the present pair has been heard."""
    word = line.lower()
    if word in PART_WORDS and heard:
        return _sound(sitting, face, partial(sitting.again, PART_WORDS[word]))
    if word in PART_WORDS or word in ANSWER_WORDS or (word == DIRECTIONS_WORD and sitting.practise_directions()):
        # After trouble nothing has been heard: this is no replay, and there is nothing to judge yet.
        return _sound(sitting, face, sitting.sound)
    if not face.other(word):
        face.not_understood(line)
        return _sound(sitting, face, sitting.sound) if heard else heard
    return heard


def _judged(sitting: Sitting, face: Face, judgement: Judgement, lines: Iterator[str]) -> bool:
    """Judge the present pair; return whether that was the last."""
    taken = sitting.answer(judgement)
    if taken.told is not None:
        face.told(taken.told)
    if taken.swapped:
        face.swapped()
    if taken.rest is not None:
        face.rest(taken.rest, lines)
    if taken.result is not None:
        face.over(sitting, taken.result)
    return taken.result is not None


def _sound(sitting: Sitting, face: Face, act: Callable[[], Sounding]) -> bool:
    try:
        face.sounding(sitting, act())
    except DeviceError as error:
        face.trouble(error)
        return False
    return True
