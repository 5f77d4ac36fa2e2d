"""The bench as JSON Lines: for scripts, braille displays and research. Nothing before the mark tells the place.

Imports listening and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from centwise import __version__
from centwise.bench.acts import WORDS, Chime, Move, Slide, act_word
from centwise.bench.guide import advice
from centwise.bench.told import why_sentence
from centwise.cli.output import emit
from centwise.cli.render import span_record
from centwise.errors import DeviceError, StoreError
from centwise.holes import hole_sentence
from centwise.listening import change_level, sound_level_tone
from centwise.resting import rest_sentence

if TYPE_CHECKING:
    from centwise.bench.acts import Act
    from centwise.errors import UsageError
    from centwise.model import BenchResult, Listener
    from centwise.ports import Player, Store
    from centwise.rehearsal import Answer, Heard, Rehearsal
    from centwise.strings.instrument import Instrument


class BenchEventsFace:
    """Writes one JSON object a line."""

    def __init__(self, listener: Listener, *, player: Player, store: Store) -> None:
        self._listener = listener
        self._player = player
        self._store = store
        self._instrument: Instrument | None = None

    def opened(self, rehearsal: Rehearsal, *, taken_up: bool) -> None:
        """Tell what is there; where a rehearsal was left, that it goes on."""
        bench, instrument = rehearsal.bench, rehearsal.instrument
        self._instrument = instrument
        plan = bench.plan
        emit(
            {
                "event": "bench",
                "version": __version__,
                "bench": plan.id,
                "listener": self._listener.name,
                "instrument": plan.instrument,
                "bridge": plan.bridge,
                "difficulty": plan.difficulty,
                "guided": plan.guided,
                "strings": list(instrument.numbers),
                "bass_string": instrument.bass_string,
                "treble_string": instrument.treble_string,
                "seed": plan.seed,
                "scale_mm": round(plan.scale_mm, 4),
                "player": plan.player,
                "rate": self._player.rate_hz,
                "resumed": taken_up,
                "acts": bench.own_acts,
                "muted": bench.muted,
                "in_tune": bench.in_tune,
                "words": list(WORDS),
                **_guide(rehearsal),
            }
        )

    def answered(self, rehearsal: Rehearsal, answer: Answer) -> None:
        """Tell a sound, a reckoning, or that an act was done."""
        if answer.heard is not None:
            emit({**_sound(answer.heard), **_guide(rehearsal)})
        elif answer.result is not None:
            plan = rehearsal.bench.plan
            emit({"event": "reckoning", "bench": plan.id, "player": plan.player, **reckoning_record(answer.result)})
        else:
            record: dict[str, Any] = {
                "event": "done",
                "bench": rehearsal.bench.plan.id,
                "act": act_word(answer.act),
                "n": rehearsal.bench.acts,
                **_amount(answer.act),
                "muted": rehearsal.bench.muted,
                "in_tune": rehearsal.bench.in_tune,
            }
            if answer.margins is not None:
                record["bass_margin_mm"] = round(answer.margins.bass_mm, 1)
                record["treble_margin_mm"] = round(answer.margins.treble_mm, 1)
            emit({**record, **_guide(rehearsal)})
        if answer.listened_min is not None:
            emit({"event": "rest", "minutes": answer.listened_min, "message": rest_sentence(answer.listened_min)})

    def why(self, rehearsal: Rehearsal) -> None:
        """Tell why."""
        emit({"event": "why", "reason": why_sentence(rehearsal.bench)})

    def refused(self, error: UsageError) -> None:
        """Tell what was wrong with a line; nothing has changed."""
        emit({"event": "error", "message": str(error)})

    def trouble(self, error: DeviceError | StoreError) -> None:
        """Tell that the device or the store failed."""
        emit({"event": "error", "message": str(error), "retry": "the same line"})

    def other(self, line: str) -> bool:
        """Know no further words."""
        del line
        return False

    def hole(self, lost_s: float) -> None:
        """Tell that what sounded had a hole in it."""
        message = hole_sentence(lost_s, "the tone", again=False, ask="do the same once more")
        emit({"event": "hole", "lost_s": round(lost_s, 3), "message": message})

    def level(self, steps: int) -> None:
        """Change the listening level, sound a quiet tone at it and tell it."""
        try:
            level_db = change_level(self._player, self._store, steps)
            sound_level_tone(self._player, self._instrument)
        except (DeviceError, StoreError) as error:
            self.trouble(error)
        else:
            emit({"event": "level", "level_db": level_db})

    def over(self, rehearsal: Rehearsal) -> None:
        """Tell nothing more: the reckoning was the last word, or the rehearsal goes on another time."""
        del rehearsal


def reckoning_record(result: BenchResult) -> dict[str, Any]:
    """Return a reckoning as plain data, rounded to what it can bear."""

    def by_string(values: dict[int, float]) -> dict[str, float]:
        return {str(number): _figure(value) for number, value in values.items()}

    return {
        "cents": by_string(result.cents),
        "bass_mm": _figure(result.bass_mm),
        "treble_mm": _figure(result.treble_mm),
        "side_mm": _figure(result.side_mm),
        "moves": result.moves,
        "comparisons": result.comparisons,
        "order": [{"point": point.point, "kept": point.kept, "reason": point.reason} for point in result.order],
        "string_mm": by_string(result.string_mm),
        "must_leave_cents": by_string(result.must_leave_cents),
        "judgements": [
            {
                "n": judgement.n,
                "string": judgement.string,
                "heard": judgement.heard,
                "truth_cents": _figure(judgement.truth_cents),
                "right": judgement.right,
            }
            for judgement in result.judgements
        ],
        "shares": [
            {
                "string": share.string,
                "left_cents": _figure(share.left_cents),
                "hand_cents": _figure(share.hand_cents),
                "ear_cents": _figure(share.ear_cents),
                "threshold_cents": None if share.threshold_cents is None else _figure(share.threshold_cents),
                "rechecked": share.rechecked,
            }
            for share in result.shares
        ],
        "hand_percent": None if result.hand_percent is None else round(result.hand_percent, 1),
    }


def _sound(heard: Heard) -> dict[str, Any]:
    tone = heard.tone
    name = {"chime": "harmonic", "fret": "fretted", "open": "open"}[act_word(tone.act)]
    # Where each sound lies in its file, and no pitch: that of an open string would tell to a hundredth of a millimetre
    # how far a hand really went, and a fretted note's is what is to be judged.
    record: dict[str, Any] = {
        "event": "sound",
        "act": act_word(tone.act),
        "n": tone.n,
        "string": tone.act.string,
        "fret": tone.fret,
        "muted": tone.muted,
        "sounds": {name: span_record(heard.sound.span, with_pitch=False)},
    }
    if isinstance(tone.act, Chime):
        record["mode"] = tone.mode
    if heard.playback.path is not None:
        record["file"] = str(heard.playback.path)
    return record


def _amount(act: Act) -> dict[str, Any]:
    """Return what was asked of a move; how far it really went shows at the mark."""
    if isinstance(act, Move):
        return {"foot": act.side, "way": act.way, "asked_mm": round(act.amount_mm, 4)}
    if isinstance(act, Slide):
        return {"toward": act.toward, "asked_mm": round(act.amount_mm, 4)}
    return {}


def _guide(rehearsal: Rehearsal) -> dict[str, Any]:
    if not rehearsal.bench.plan.guided:
        return {}
    said = advice(rehearsal.bench)
    return {"guide": {"stage": said.stage, "step": said.step, "said": said.said}}


def _figure(value: float) -> float:
    return round(value, 4) + 0.0
