"""The drill as JSON Lines: for scripts, braille displays and research. Nothing before an answer tells the offset."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from centwise import __version__
from centwise.cli.output import emit, result_record, stand_record, standing_record
from centwise.cli.render import span_record
from centwise.drill.advice import SWAPPED
from centwise.drill.words import Feedback

if TYPE_CHECKING:
    from collections.abc import Iterator

    from centwise.conductor import Sitting, Sounding
    from centwise.drill.words import Noted, Rest
    from centwise.errors import DeviceError
    from centwise.lessons.lesson import Standpoint
    from centwise.model import BlockPlan, BlockResult, Listener


class EventsFace:
    """Writes one JSON object a line."""

    def __init__(self, listener: Listener, rate_hz: int, stand: Standpoint | None = None) -> None:
        self._listener = listener
        self._rate_hz = rate_hz
        self._stand = stand

    def opened(self, plan: BlockPlan, total: int) -> None:
        """Tell what the block is."""
        condition = plan.condition
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
                "rule": plan.rule,
                "trials": plan.trials,
                "warm_up": plan.warm_up,
                "pairs": total,
                "assess": plan.assess,
                "seed": plan.seed,
                "scale_mm": round(plan.scale_mm, 4),
                "player": plan.player,
                "rate": self._rate_hz,
                "words": ["flat", "unison", "sharp", "again", "harmonic", "fretted", "directions", "quit"],
                **lesson,
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
            }
        )

    def swapped(self) -> None:
        """Tell that flat and sharp were taken for each other in the warm-up."""
        emit({"event": "swapped", "message": SWAPPED, "practise": "directions"})

    def rest(self, rest: Rest, lines: Iterator[str]) -> None:
        """Tell that a rest is due; nothing waits."""
        del lines
        emit({"event": "rest", "done": rest.done, "left": rest.left})

    def not_understood(self, line: str) -> None:
        """Tell which word was meant by nobody."""
        emit(
            {
                "event": "error",
                "message": f"{line[:80]!r} is no word of the drill: answer flat, unison or sharp, or say again, "
                "harmonic, fretted or quit.",
            }
        )

    def trouble(self, error: DeviceError) -> None:
        """Tell that the device failed."""
        emit({"event": "error", "message": str(error), "retry": "again"})

    def other(self, line: str) -> bool:
        """Know no further words."""
        del line
        return False

    def over(self, sitting: Sitting, result: BlockResult) -> None:
        """Tell the result."""
        record = {"event": "result", "block": sitting.drill.plan.id, **result_record(result)}
        if sitting.standing is not None:
            record["standing"] = standing_record(sitting.standing)
        emit(record)
