"""The drill in full sentences, line by line: for screen readers, pipes and anybody who likes it plain.

Imports conductor and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.cli.diagnostics import narrate
from centwise.cli.lines import QUIT_WORDS, words_now
from centwise.cli.output import emit, result_record, say, take_record
from centwise.drill.advice import (
    ANSWER_NOT_KEPT,
    RESULT_NOT_KEPT,
    SWAPPED,
    feedback_sentence,
    result_sentences,
    scale_text,
)
from centwise.drill.machine import PRACTICE_PAIRS
from centwise.drill.meter import against_sentences, error_sentence, meter_sentence
from centwise.drill.verdict import verdict_of
from centwise.drill.words import NOTED_S, Feedback
from centwise.errors import DeviceError, StoreError
from centwise.holes import hole_sentence
from centwise.listening import ADVICE, change_level, sound_level_tone
from centwise.model import TONES
from centwise.resting import rest_sentence
from centwise.standing_text import standing_sentences
from centwise.strings.names import DEFAULT_NAME
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from centwise.conductor import Hole, Part, Sitting, Sounding
    from centwise.drill.words import Noted, Rest
    from centwise.model import BlockPlan, BlockResult, Listener, Tone
    from centwise.ports import Playback, Player, Store
    from centwise.strings.instrument import Instrument

WORDS = "Answer flat, unison or sharp."
TRY_KEEPING = "Say keep to try once more, or quit to leave the block open."
MEANINGS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("again",), "plays the pair once more"),
    (TONES, "plays one tone alone"),
    (("last",), "plays the pair you judged last, last harmonic or last fretted one of its tones"),
    (("directions",), f"brings {PRACTICE_PAIRS} large differences that do not count"),
    (("tone",), "plays a quiet tone to set the volume"),
    (("softer", "louder"), "changes it"),
    (("help",), "says this again"),
    (("quit",), "ends the block"),
)
"""What the words do, besides the answers."""


def meanings_text(words: Sequence[str]) -> str:
    """Say what each of the words does that is no answer."""
    said = (
        f"{' or '.join(known)} {meaning}"
        for names, meaning in MEANINGS
        if (known := [name for name in names if name in words])
    )
    return f"Other words: {', '.join(said)}."


class PlainFace:
    """Says everything in sentences, and waits for a sound to end before it speaks again.

    With `as_json` the result goes to stdout as JSON, and every sentence to stderr: stdout is the program's then.
    """

    def __init__(
        self,
        listener: Listener,
        *,
        new: bool,
        player: Player,
        store: Store,
        as_json: bool,
        waits: bool,
        instrument: Instrument | None = None,
        lesson: tuple[str, ...] = (),
        sleep: Callable[[float], None],
    ) -> None:
        self._listener = listener
        self._new = new
        self._player = player
        self._store = store
        self._as_json = as_json
        self._say = narrate if as_json else say
        self._waits = waits
        self._instrument = instrument
        self._lesson = lesson
        self._sleep = sleep
        self._paced = False
        self._total = 0

    def opened(self, sitting: Sitting) -> None:
        """Say who judges what, how to answer, and how loud is wise."""
        plan, total = sitting.drill.plan, sitting.drill.total
        self._total = total
        self._paced = plan.paced
        kind = (
            "An assessment: nothing is told between the pairs." if plan.assess else "A drill: each answer is explained."
        )
        self._say(f"{'Welcome' if self._new else 'Welcome back'}, {self._listener.name}. {kind}")
        for sentence in self._lesson:
            self._say(sentence)
        self._say(_about(plan, total, self._whose()))
        if done := len(sitting.drill.trials):
            self._say(f"It goes on where it was cut off: {done} of the {total} pairs are judged.")
        if self._new:
            for sentence in ADVICE:
                self._say(sentence)
        self._say(
            "You hear the harmonic over the octave fret and the note fretted there. "
            "Is the fretted note flat, which is lower than the harmonic, in unison with it, or sharp, which is higher?"
        )
        words = words_now(sitting, heard=True)
        self.help(words if plan.assess else (*words, "last"))

    def _whose(self) -> str:
        if self._instrument is None or self._instrument.name == DEFAULT_NAME:
            return ""
        return f" of the {self._instrument.title}"

    def sounding(self, sitting: Sitting, heard: Sounding) -> None:
        """Announce what sounds, wait for its end, then ask."""
        self._total = sitting.drill.total
        if heard.part == "pair":
            again = " again" if sitting.drill.replays else ""
            counts = "" if heard.spec.n > sitting.drill.warm_up else " This one does not count yet."
            self._say(f"Pair {heard.spec.n} of {self._total}{again}: {_order(heard.spec.first)}.{counts}")
        else:
            self._say(f"{_name(heard.part).capitalize()} alone.")
        self._wait(heard.playback)
        self._say(WORDS)

    def told(self, told: Feedback | Noted) -> None:
        """Say the truth about the pair, or in an assessment only that the answer is kept."""
        if isinstance(told, Feedback):
            self._say(feedback_sentence(told) if told.error_cents is None else meter_sentence(told))
            return
        self._say(f"Noted: {told.answer}.")
        if self._paced:
            self._sleep(NOTED_S)

    def swapped(self) -> None:
        """Say kindly that the words have changed places, and offer to practise them."""
        self._say(f"{SWAPPED} Say directions for {PRACTICE_PAIRS} more large ones that do not count, or just go on.")

    def rest(self, rest: Rest, lines: Iterator[str]) -> bool:
        """Propose a rest; at a terminal, wait until the listener wants to go on, or leaves."""
        self._say(f"{rest.done} pairs are done and {rest.left} are left. Rest your ears for a minute.")
        return self._goes_on(lines)

    def rest_ears(self, minutes: int, lines: Iterator[str] | None) -> bool:
        """Propose a rest after a long time of listening; within a block at a terminal, wait as for any other."""
        self._say(rest_sentence(minutes))
        return lines is None or self._goes_on(lines)

    def _goes_on(self, lines: Iterator[str]) -> bool:
        if not self._waits:
            return True
        self._say("Press enter to go on, or say quit.")
        return next(lines, "").strip().lower() not in QUIT_WORDS

    def judged(self, sitting: Sitting, part: Part, playback: Playback) -> None:
        """Announce the pair that was judged last, wait for its end, then ask for the present one."""
        pair, drill = sitting.judged, sitting.drill
        if pair is None or drill.pair is None:
            return
        said = _order(pair.first) if part == "pair" else f"{_name(part)} alone"
        self._say(f"Pair {drill.trials[-1].n} once more: {said}.")
        self._wait(playback)
        self._say(f"And pair {drill.pair.n}? {WORDS}")

    def not_understood(self, line: str, words: Sequence[str]) -> None:
        """Say which words are taken now."""
        self._say(f"{line[:80]!r} is no word of the drill now. Say {', '.join(words[:-1])} or {words[-1]}.")

    def trouble(self, error: DeviceError | StoreError) -> None:
        """Say what failed and that nothing is lost."""
        what = error.sentence
        self._say(f"{what} Nothing is lost: say again to try once more, or quit to end the block.")

    def hole(self, hole: Hole, n: int) -> None:
        """Say that the pair had a hole in it, and that it follows once more or can be asked for."""
        self._say(hole_sentence(hole.lost_s, f"pair {n}", again=hole.again, ask="say again"))

    def not_kept(self, error: StoreError, *, result_only: bool) -> None:
        """Say what is not kept yet, and the way on."""
        what = RESULT_NOT_KEPT if result_only else ANSWER_NOT_KEPT
        self._say(f"{error.sentence} {what} {TRY_KEEPING}")

    def level(self, steps: int) -> None:
        """Change the listening level, and let it be heard."""
        try:
            level_db = change_level(self._player, self._store, steps)
            self._say(f"A quiet tone at {level_db:g} dB.")
            sound_level_tone(self._player, self._instrument).wait()
        except (DeviceError, StoreError) as error:
            self.trouble(error)
        else:
            self._say(WORDS)

    def help(self, words: Sequence[str]) -> None:
        """Say what each word does that is taken now."""
        self._say(f"{WORDS} {meanings_text(words)}" if "flat" in words else meanings_text(words))

    def over(self, sitting: Sitting, result: BlockResult) -> None:
        """Say the result, and what to do next."""
        drill = sitting.drill
        if drill.plan.given_cents:
            sentences = against_sentences(drill.plan, drill.trials)
        else:
            self._say(f"The block is over: {result.correct} of {result.trials} right.")
            sentences = result_sentences(result, heard=drill.plan.heard)
        for sentence in sentences:
            self._say(sentence)
        if (meaning := error_sentence(drill.plan, result)) is not None:
            self._say(meaning)
        # Beside a number that is not the ear's yet, a comparison would only mislead.
        if sitting.standing is not None and verdict_of(result, heard=drill.plan.heard) == "whole":
            for sentence in standing_sentences(sitting.standing):
                self._say(sentence)
        if self._as_json:
            verdict = verdict_of(result, heard=drill.plan.heard)
            block = {"block": drill.plan.id, "seed": drill.plan.seed}
            emit({**block, **result_record(result, verdict), **take_record(drill.plan, drill.trials)})

    def _wait(self, playback: Playback) -> None:
        if playback.path is not None:
            self._say(f"It is in the file {playback.path}.")
        playback.wait()


def _about(plan: BlockPlan, total: int, whose: str) -> str:
    """Say what the block is made of; `whose` names the instrument where it is not the usual one."""
    condition = plan.condition
    pairs = counted(total, "pair")
    string = f"string {condition.string}{whose}"
    if condition.voice == "recorded":
        what = f"Your own recording of {string}: {pairs} as played"
    elif condition.voice == "shifted":
        what = f"{pairs} on {string}, made of your own recorded notes"
    else:
        what = f"{pairs} on {string}"
    muted = "the other strings muted" if condition.muted else "the other strings ringing along"
    ringing = f", {muted}" if condition.voice == "rendered" else ""
    return f"{what}, scale {scale_text(plan.scale_mm)}{ringing}. Seed {plan.seed}."


def _name(tone: Tone) -> str:
    return "the harmonic" if tone == "harmonic" else "the fretted note"


def _order(first: Tone) -> str:
    second: Tone = "fretted" if first == "harmonic" else "harmonic"
    return f"{_name(first)}, then {_name(second)}"
