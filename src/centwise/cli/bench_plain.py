"""The bench in full sentences, line by line: for screen readers, pipes and anybody who likes it plain.

Imports listening and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.bench.acts import Mark, Move, Retune, Slide
from centwise.bench.cautions import ACT_CAUTIONS, cautions_for
from centwise.bench.guide import advice
from centwise.bench.told import (
    WORD_SENTENCES,
    done_sentence,
    found_sentences,
    reckoning_sentences,
    tone_sentence,
    why_sentence,
)
from centwise.cli.bench_events import reckoning_record
from centwise.cli.diagnostics import narrate
from centwise.cli.output import emit, say
from centwise.drill.advice import scale_text
from centwise.errors import DeviceError, StoreError
from centwise.holes import hole_sentence
from centwise.listening import ADVICE, change_level, sound_level_tone
from centwise.resting import rest_sentence

if TYPE_CHECKING:
    from centwise.errors import UsageError
    from centwise.model import Listener
    from centwise.ports import Player, Store
    from centwise.rehearsal import Answer, Rehearsal
    from centwise.strings.instrument import Instrument

LAST_WORDS = (
    "why says why, cautions what to mind at a real instrument; tone, softer and louder set the volume; quit leaves."
)


class BenchPlainFace:
    """Says everything in sentences, and waits for a sound to end before it speaks again.

    With `as_json` the reckoning goes to stdout as JSON, and every sentence to stderr: stdout is the program's then.
    """

    def __init__(self, listener: Listener, *, new: bool, player: Player, store: Store, as_json: bool) -> None:
        self._listener = listener
        self._new = new
        self._player = player
        self._store = store
        self._as_json = as_json
        self._say = narrate if as_json else say
        self._instrument: Instrument | None = None
        self._guided = ""
        self._cautioned: set[str] = set()

    def opened(self, rehearsal: Rehearsal, *, taken_up: bool) -> None:
        """Say what is there, how to work, and what to mind."""
        bench = rehearsal.bench
        plan = bench.plan
        self._instrument = rehearsal.instrument
        self._say(f"{'Welcome' if self._new else 'Welcome back'}, {self._listener.name}.")
        if taken_up:
            self._say(f"Your rehearsal goes on where you left it, after {bench.own_acts} acts.")
        for sentence in found_sentences(bench):
            self._say(sentence)
        self._say(
            f"{plan.bridge.title()} bridge, scale {scale_text(plan.scale_mm)}, {plan.difficulty}. Seed {plan.seed}."
        )
        if self._new:
            for sentence in ADVICE:
                self._say(sentence)
        if not taken_up:
            self._cautions()
        self._help()
        self._guide(rehearsal)

    def answered(self, rehearsal: Rehearsal, answer: Answer) -> None:
        """Say what is heard or was done; wait for the end of a sound."""
        if answer.heard is not None:
            self._say(tone_sentence(answer.heard.tone, rehearsal.instrument))
            if answer.heard.playback.path is not None:
                self._say(f"It is in the file {answer.heard.playback.path}.")
            answer.heard.playback.wait()
        else:
            self._say(done_sentence(answer.act, answer.margins, in_tune=rehearsal.bench.in_tune))
        kind = {Move: "move", Slide: "slide", Retune: "retune"}.get(type(answer.act))
        if kind is not None and kind not in self._cautioned:
            self._cautioned.add(kind)
            self._say(ACT_CAUTIONS[kind])
        if answer.result is not None and isinstance(answer.act, Mark):
            plan = rehearsal.bench.plan
            for sentence in reckoning_sentences(answer.result, rehearsal.instrument, heard=plan.heard):
                self._say(sentence)
            self._say("Listen once more, say start over for the same job again, or quit.")
            if self._as_json:
                begun = {"rehearsal": plan.id, "seed": plan.seed, "player": plan.player}
                emit({**begun, **reckoning_record(answer.result)})
        if answer.listened_min is not None:
            self._say(rest_sentence(answer.listened_min))
        self._guide(rehearsal)

    def why(self, rehearsal: Rehearsal) -> None:
        """Say why."""
        self._say(why_sentence(rehearsal.bench))

    def refused(self, error: UsageError) -> None:
        """Say what was wrong with a line."""
        self._say(f"{error.sentence} Nothing has changed.")

    def trouble(self, error: DeviceError | StoreError) -> None:
        """Say what failed and that nothing is lost."""
        self._say(f"{error.sentence} Nothing is lost: say the same once more, or quit.")

    def other(self, line: str) -> bool:
        """Explain the words, or say the cautions."""
        if line in {"help", "?"}:
            self._help()
            return True
        if line == "cautions":
            self._cautions()
            return True
        return False

    def hole(self, lost_s: float) -> None:
        """Say that what sounded had a hole in it."""
        self._say(hole_sentence(lost_s, "the tone", again=False, ask="do the same once more"))

    def level(self, steps: int) -> None:
        """Change the listening level, and let it be heard."""
        try:
            level_db = change_level(self._player, self._store, steps)
            self._say(f"A quiet tone at {level_db:g} dB.")
            sound_level_tone(self._player, self._instrument).wait()
        except (DeviceError, StoreError) as error:
            self.trouble(error)

    def over(self, rehearsal: Rehearsal) -> None:
        """Say how it was left."""
        if not rehearsal.bench.marked:
            self._say("The feet are not marked yet: the rehearsal goes on here the next time.")

    def _guide(self, rehearsal: Rehearsal) -> None:
        """Say what comes next, where the round is guided and something new does."""
        if not rehearsal.bench.plan.guided:
            return
        said = advice(rehearsal.bench).said
        if said != self._guided:
            self._guided = said
            self._say(said)

    def _help(self) -> None:
        for sentence in (*WORD_SENTENCES, LAST_WORDS):
            self._say(f"{sentence[:1].upper()}{sentence[1:]}")

    def _cautions(self) -> None:
        self._say("Nothing can be hurt here. At a real instrument:")
        for sentence in cautions_for(self._instrument):
            self._say(sentence)
