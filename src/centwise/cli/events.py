"""The drill as JSON Lines: for scripts, braille displays and research. Nothing before an answer tells the offset.

Imports lessons and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from centwise import __version__
from centwise.cli.lines import KEEP_WORD, KEEP_WORDS, words_now
from centwise.cli.output import emit, result_record, stand_record, standing_record, take_record
from centwise.cli.render import span_record
from centwise.drill.advice import SWAPPED
from centwise.drill.verdict import verdict_of
from centwise.drill.words import Feedback
from centwise.errors import DeviceError, StoreError
from centwise.holes import hole_sentence
from centwise.listening import change_level, sound_level_tone
from centwise.resting import rest_sentence

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from centwise.conductor import Hole, Part, Sitting, Sounding
    from centwise.drill.words import Noted, Rest
    from centwise.lessons.lesson import Standpoint
    from centwise.model import BlockResult, Listener
    from centwise.ports import Playback, Player, Store, StoredBlock
    from centwise.strings.instrument import Instrument


class EventsFace:
    """Writes one JSON object a line."""

    def __init__(
        self,
        listener: Listener,
        *,
        player: Player,
        store: Store,
        stand: Standpoint | None = None,
        left: StoredBlock | None = None,
    ) -> None:
        self._listener = listener
        self._player = player
        self._store = store
        self._stand = stand
        self._left = left
        self._instrument: Instrument | None = None

    def opened(self, sitting: Sitting) -> None:
        """Tell what the block is."""
        self._instrument = sitting.instrument
        plan = sitting.drill.plan
        condition = plan.condition
        left = self._left
        waiting = (
            {}
            if left is None
            else {"left": {"block": left.plan.id, "answered": len(left.trials), "option": "--resume"}}
        )
        lesson = {} if self._stand is None else {"lesson": stand_record(self._stand)}
        emit(
            {
                "event": "block",
                "version": __version__,
                "block": plan.id,
                "listener": self._listener.name,
                "instrument": condition.instrument,
                "string": condition.string,
                "muted": condition.muted,
                "likeness": condition.likeness,
                "order": condition.order,
                "voice": condition.voice,
                "rule": plan.rule,
                "trials": plan.trials,
                "warm_up": plan.warm_up,
                "pairs": sitting.drill.total,
                "answered": len(sitting.drill.trials),
                "assess": plan.assess,
                "seed": plan.seed,
                "scale_mm": round(plan.scale_mm, 4),
                "player": plan.player,
                "rate": self._player.rate_hz,
                "words": list(words_now(sitting, heard=True)),
                **lesson,
                **waiting,
            }
        )

    def sounding(self, sitting: Sitting, heard: Sounding) -> None:
        """Tell which pair sounds, and where its tones lie; the fretted note's pitch stays untold."""
        pair = heard.pair
        record: dict[str, Any] = {
            "event": "pair" if heard.part == "pair" else "tone",
            "n": heard.spec.n,
            "string": heard.spec.condition.string,
        }
        if heard.part == "pair":
            record["first"] = heard.spec.first
            record["sounds"] = {
                "harmonic": span_record(pair.harmonic, with_pitch=True),
                "fretted": span_record(pair.fretted, with_pitch=False),
            }
        else:
            record["tone"] = heard.part
        if heard.spec.n <= sitting.drill.warm_up:
            record["scored"] = False
        if heard.playback.path is not None:
            record["file"] = str(heard.playback.path)
        if sitting.drill.replays:
            record["replay"] = sitting.drill.replays
        emit(record)

    def told(self, told: Feedback | Noted) -> None:
        """Tell the truth about the pair, or in an assessment only that the answer is kept."""
        if not isinstance(told, Feedback):
            emit({"event": "answer", "n": told.n, "answer": told.answer})
            return
        trial = told.trial
        emit(
            {
                "event": "answer",
                "n": trial.n,
                "answer": trial.answer,
                "truth": trial.truth,
                "cents": round(trial.offset_cents, 6),
                "correct": trial.correct,
                "direction": told.travel.direction,
                "travel_mm": round(told.travel.travel_mm, 4),
                **({} if told.error_cents is None else {"std_error_cents": round(told.error_cents, 6)}),
            }
        )

    def swapped(self) -> None:
        """Tell that flat and sharp were taken for each other in the warm-up."""
        emit({"event": "swapped", "message": SWAPPED, "practise": "directions"})

    def rest(self, rest: Rest, lines: Iterator[str]) -> bool:
        """Tell that a rest is due; nothing waits."""
        del lines
        emit({"event": "rest", "done": rest.done, "left": rest.left})
        return True

    def rest_ears(self, minutes: int, lines: Iterator[str] | None) -> bool:
        """Tell for how long there was no rest; nothing waits."""
        del lines
        emit({"event": "rest", "minutes": minutes, "message": rest_sentence(minutes)})
        return True

    def judged(self, sitting: Sitting, part: Part, playback: Playback) -> None:
        """Tell that the pair that was judged last sounds once more, or one of its tones."""
        record: dict[str, Any] = {"event": "last", "n": sitting.drill.trials[-1].n}
        if part != "pair":
            record["tone"] = part
        if playback.path is not None:
            record["file"] = str(playback.path)
        emit(record)

    def not_understood(self, line: str, words: Sequence[str]) -> None:
        """Tell which words are taken now."""
        emit(
            {
                "event": "error",
                "message": f"{line[:80]!r} is no word of the drill now: say {', '.join(words[:-1])} or {words[-1]}.",
                "words": list(words),
            }
        )

    def trouble(self, error: DeviceError | StoreError) -> None:
        """Tell that the device or the store failed."""
        emit({"event": "error", "message": str(error), "retry": "again"})

    def hole(self, hole: Hole, n: int) -> None:
        """Tell that the pair had a hole in it; where it is not sounded once more by itself, `again` does it."""
        emit(
            {
                "event": "hole",
                "n": n,
                "lost_s": round(hole.lost_s, 3),
                "again": hole.again,
                "message": hole_sentence(hole.lost_s, f"pair {n}", again=hole.again, ask="say again"),
            }
        )

    def not_kept(self, error: StoreError, *, result_only: bool) -> None:
        """Tell that the answer just given, or the result alone, is not kept yet, and what is taken now."""
        del result_only
        emit({"event": "error", "message": str(error), "retry": KEEP_WORD, "words": list(KEEP_WORDS)})

    def level(self, steps: int) -> None:
        """Change the listening level, sound a quiet tone at it and tell it."""
        try:
            level_db = change_level(self._player, self._store, steps)
            sound_level_tone(self._player, self._instrument)
        except (DeviceError, StoreError) as error:
            self.trouble(error)
        else:
            emit({"event": "level", "level_db": level_db})

    def help(self, words: Sequence[str]) -> None:
        """Tell which words are taken now."""
        emit({"event": "help", "words": list(words)})

    def over(self, sitting: Sitting, result: BlockResult) -> None:
        """Tell the result."""
        drill = sitting.drill
        verdict = verdict_of(result, heard=drill.plan.heard)
        record = {
            "event": "result",
            "block": drill.plan.id,
            **result_record(result, verdict),
            **take_record(drill.plan, drill.trials),
        }
        if sitting.standing is not None:
            record["standing"] = standing_record(sitting.standing)
        emit(record)
