"""The line-by-line drill: one loop for whoever reads and writes lines; `plain` and `events` only say things their way.

Every line is an answer or an act. The loop ends at the block's end, at `quit` or when the input ends; whatever was
answered is kept, and a result is always given. Imports conductor and below.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Protocol

from centwise.cli.diagnostics import ExitCode, tell
from centwise.cli.signals import EndedBySignal
from centwise.errors import DeviceError, ElsewhereError, StoppedError, StoreError
from centwise.model import JUDGEMENTS, SIGNS, TONES, Judgement

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from centwise.conductor import Hole, Part, Sitting, Sounding, Taken
    from centwise.drill.words import Feedback, Noted, Rest
    from centwise.model import BlockResult
    from centwise.ports import Playback

ANSWER_WORDS: dict[str, Judgement] = (
    {word: word for word in JUDGEMENTS}
    | {sign: word for word, sign in SIGNS.items()}
    | {"f": "flat", "u": "unison", "s": "sharp"}
)
PART_WORDS: dict[str, Part] = {
    "again": "pair",
    "a": "pair",
    "harmonic": "harmonic",
    "h": "harmonic",
    "fretted": "fretted",
    "t": "fretted",
}
DIRECTIONS_WORD = "directions"
LAST_WORDS: dict[str, Part] = {"last": "pair", "last harmonic": "harmonic", "last fretted": "fretted"}
LEVEL_STEPS = {"tone": 0, "softer": -1, "louder": 1}
"""A quiet tone to set the listening level by, and steps of 2 dB."""
HELP_WORD = "help"
QUIT_WORDS = ("quit", "q")
KEEP_WORD = "keep"
KEEP_WORDS = (KEEP_WORD, QUIT_WORDS[0])
"""What is taken while an answer could not be kept."""


class Face(Protocol):
    """How a line front end says what happens."""

    def opened(self, sitting: Sitting) -> None:
        """The block begins."""

    def sounding(self, sitting: Sitting, heard: Sounding) -> None:
        """A pair or one of its tones has begun to sound; may wait for its end."""

    def told(self, told: Feedback | Noted) -> None:
        """An answer was kept."""

    def judged(self, sitting: Sitting, part: Part, playback: Playback) -> None:
        """The pair that was judged last, or one of its tones, sounds once more; may wait for its end."""

    def swapped(self) -> None:
        """Flat and sharp were taken for each other; `directions` practises them."""

    def rest(self, rest: Rest, lines: Iterator[str]) -> bool:
        """A rest is due; may wait for a line. False where the listener leaves instead of going on."""

    def rest_ears(self, minutes: int, lines: Iterator[str] | None) -> bool:
        """So many minutes without a rest: propose one; may wait for a line, unless there is none to wait for.

        False where the listener leaves instead of going on.
        """

    def not_understood(self, line: str, words: Sequence[str]) -> None:
        """A line was none of the words that are taken now."""

    def trouble(self, error: DeviceError | StoreError) -> None:
        """The device failed, or the store to keep the level; `again` sounds the pair once more."""

    def hole(self, hole: Hole, n: int) -> None:
        """Pair `n` sounded with a hole in it; it follows once more by itself, or can be asked for."""

    def not_kept(self, error: StoreError, *, result_only: bool) -> None:
        """The store did not take the answer just given, or only the result after it; `keep` tries once more."""

    def level(self, steps: int) -> None:
        """The listening level changes by so many steps, none to hear it only; may wait for the tone's end."""

    def help(self, words: Sequence[str]) -> None:
        """Say what each word that is taken now does."""

    def over(self, sitting: Sitting, result: BlockResult) -> None:
        """The block has ended."""


def words_now(sitting: Sitting, *, heard: bool) -> tuple[str, ...]:
    """Return the words that are taken now; single letters stand for some of them.

    Args:
        sitting: the block.
        heard: whether the present pair has been heard: what nobody heard is not judged.
    """
    plan = sitting.drill.plan
    words = [*JUDGEMENTS, "again", *TONES] if heard else ["again"]
    if sitting.judged is not None and not plan.assess:
        words.append("last")
    if sitting.drill.may_practise:
        words.append(DIRECTIONS_WORD)
    # A file holds what was rendered, whatever the listening level is.
    if not plan.player.startswith("file:"):
        words.extend(LEVEL_STEPS)
    return (*words, HELP_WORD, QUIT_WORDS[0])


def run_lines(sitting: Sitting, lines: Iterator[str], face: Face) -> ExitCode:
    """Ask pair after pair until the block is over.

    Returns:
        DONE, or DEVICE when the input ended while no device would sound the pair, or INTERRUPTED after ctrl+c.

    Raises:
        StoppedError: a signal from outside ended the program; the block stays open, as it does in the app.
        StoreError: the input ended, or quit was said, while the store would not take an answer; the block stays open.
        ElsewhereError: another window went on with the block.
    """
    try:
        return _ask(sitting, lines, face)
    except EndedBySignal as ended:
        drill = sitting.drill
        raise ended.told(answers=len(drill.trials), recorded=drill.plan.take_sha256 is not None) from None
    except KeyboardInterrupt:
        result = sitting.leave()
        tell(str(StoppedError(answers=len(sitting.drill.trials))))
        face.over(sitting, result)
        return ExitCode.INTERRUPTED


def _ask(sitting: Sitting, lines: Iterator[str], face: Face) -> ExitCode:
    face.opened(sitting)
    if sitting.drill.over:
        # Taken up after its last answer: only the result was missing.
        face.over(sitting, sitting.leave())
        return ExitCode.DONE
    heard = _sound(sitting, face, sitting.sound)
    for line in lines:
        word = line.strip().lower()
        if word in QUIT_WORDS:
            break
        if word in ANSWER_WORDS and heard and not _whole(sitting, face):
            # Judged with a hole in it before that was told: what is judged is a pair that was heard whole.
            heard = _sound(sitting, face, sitting.sound)
        elif word in ANSWER_WORDS and heard:
            if _judged(sitting, face, ANSWER_WORDS[word], lines):
                return ExitCode.DONE
            heard = _sound(sitting, face, sitting.sound)
        elif word:
            heard = _act(sitting, face, line.strip(), heard=heard)
    face.over(sitting, sitting.leave())
    return ExitCode.DONE if heard else ExitCode.DEVICE


def _act(sitting: Sitting, face: Face, line: str, *, heard: bool) -> bool:
    """Do what a word asks for that judges nothing; return whether the present pair has been heard."""
    word = " ".join(line.lower().split())
    words = words_now(sitting, heard=heard)
    if word in PART_WORDS and heard:
        return _sound(sitting, face, partial(sitting.again, PART_WORDS[word]))
    if word in PART_WORDS or word in ANSWER_WORDS or (word == DIRECTIONS_WORD and sitting.practise_directions()):
        # After trouble nothing has been heard: this is no replay, and there is nothing to judge yet.
        return _sound(sitting, face, sitting.sound)
    if word in LAST_WORDS and "last" in words:
        _sound_judged(sitting, face, LAST_WORDS[word])
    elif word in LEVEL_STEPS and word in words:
        face.level(LEVEL_STEPS[word])
    elif word == HELP_WORD:
        face.help(words)
    else:
        face.not_understood(line, words)
        return _sound(sitting, face, sitting.sound) if heard else heard
    return heard


def _sound_judged(sitting: Sitting, face: Face, part: Part) -> None:
    try:
        playback = sitting.sound_judged(part)
        if playback is not None:
            face.judged(sitting, part, playback)
    except DeviceError as error:
        face.trouble(error)


def _judged(sitting: Sitting, face: Face, judgement: Judgement, lines: Iterator[str]) -> bool:
    """Judge the present pair; return whether that was the last, or the listener left in the rest after it."""
    taken = _kept(sitting, face, judgement, lines)
    if taken is None:
        # The answer was kept, and only the result had not been.
        face.over(sitting, sitting.leave())
        return True
    if taken.told is not None:
        face.told(taken.told)
    if taken.swapped:
        face.swapped()
    goes_on = taken.rest is None or face.rest(taken.rest, lines)
    if taken.result is not None:
        face.over(sitting, taken.result)
    if taken.listened_min is not None:
        goes_on = face.rest_ears(taken.listened_min, lines if taken.result is None else None)
    if taken.result is None and not goes_on:
        face.over(sitting, sitting.leave())
    return taken.result is not None or not goes_on


def _kept(sitting: Sitting, face: Face, judgement: Judgement, lines: Iterator[str]) -> Taken | None:
    """Keep an answer, trying again as often as it is asked for; None where it is kept and the result alone is missing.

    Meanwhile no other answer is taken: lines of somebody who reads nothing would be taken for other pairs than theirs.
    """
    while True:
        try:
            if sitting.drill.over:
                sitting.leave()
                return None
            return sitting.answer(judgement)
        except ElsewhereError:
            raise
        except StoreError as error:
            face.not_kept(error, result_only=sitting.drill.over)
            for line in lines:
                word = line.strip().lower()
                if word in {KEEP_WORD, *QUIT_WORDS}:
                    break
                if word:
                    face.not_understood(line.strip(), KEEP_WORDS)
            else:
                word = QUIT_WORDS[0]
            if word != KEEP_WORD:
                raise


def _whole(sitting: Sitting, face: Face) -> bool:
    """Tell a hole in the present pair; return False where it is to be sounded once more."""
    hole = sitting.hole()
    if hole is None or sitting.drill.pair is None:
        return True
    face.hole(hole, sitting.drill.pair.n)
    return not hole.again


def _sound(sitting: Sitting, face: Face, act: Callable[[], Sounding]) -> bool:
    try:
        face.sounding(sitting, act())
        # Where the face waited for its end, its holes are known.
        while not _whole(sitting, face):
            face.sounding(sitting, sitting.sound())
    except DeviceError as error:
        face.trouble(error)
        return False
    return True
