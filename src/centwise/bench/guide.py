"""The guided round: asks for each step and says why, then leaves more and more to the learner. It never says which way.

The side that is set first is guided act by act; the other side in one sentence a step; from there on only the step's
name is said, and the reason is there for whoever asks. Imports nothing outside its package.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from centwise.bench import order
from centwise.bench.acts import Look, Move, Slide
from centwise.bench.log import Comparison, comparisons, last_change

if TYPE_CHECKING:
    from centwise.bench.machine import Bench

Stage = Literal["bass", "treble", "bass again", "centre", "recheck", "marked"]
Step = Literal["mute", "retune", "compare", "decide", "look", "mark", "listen"]
FULL, BRIEF, NAME_ONLY = 3, 2, 1


@dataclass(frozen=True, slots=True)
class Advice:
    """What comes next.

    Attributes:
        stage: which part of the job.
        step: which step of it.
        level: how much is said: 3 everything, 2 the step, 1 its name only.
        ask: what is asked for, at that level.
        why: the reason, for whoever asks.
    """

    stage: Stage
    step: Step
    level: int
    ask: str
    why: str

    @property
    def said(self) -> str:
        """What is said without being asked: the reason too as long as every step is explained."""
        return f"{self.ask} {self.why}" if self.level == FULL else self.ask


def advice(bench: Bench) -> Advice:
    """Return what comes next at a bench, by the order of the trade."""
    instrument = bench.setting.instrument
    stage = stage_of(bench)
    step, string = _step(bench, stage)
    level = {"bass": FULL, "treble": BRIEF}.get(stage, NAME_ONLY)
    ask = _ask(step, stage, string, level)
    point = {
        "mute": order.MUTED,
        "retune": order.RETUNED,
        "compare": order.RECHECKED if stage == "recheck" else _SIDE_POINTS.get(stage, order.BASS_FIRST),
        "decide": order.SMALL_MOVES,
        "look": order.CENTRED_LAST,
        "mark": order.RECHECKED,
        "listen": order.RECHECKED,
    }[step]
    return Advice(stage, step, level, ask, order.reason_of(point, instrument))


def stage_of(bench: Bench) -> Stage:
    """Return which part of the job a bench is at, told from what was compared and looked at, never from the truth."""
    if bench.marked:
        return "marked"
    instrument = bench.setting.instrument
    compared = comparisons(bench.log, instrument)
    treble_from = _first_at(compared, instrument.treble_string, -1)
    if treble_from is None or _first_at(compared, instrument.bass_string, -1) is None:
        return "bass"
    last_treble_move = max(
        (at for at, entry in enumerate(bench.log) if isinstance(entry.act, Move) and entry.act.side == "treble"),
        default=treble_from,
    )
    again_from = _first_at(compared, instrument.bass_string, max(treble_from, last_treble_move))
    if again_from is None:
        return "treble"
    looked = [at for at, entry in enumerate(bench.log) if at > again_from and isinstance(entry.act, (Look, Slide))]
    if not looked:
        return "bass again"
    return "recheck" if order.looks_even(instrument, bench.feet) else "centre"


def _step(bench: Bench, stage: Stage) -> tuple[Step, int]:
    instrument = bench.setting.instrument
    bass, treble = instrument.bass_string, instrument.treble_string
    if stage == "marked":
        return "listen", bass
    if stage == "centre":
        return "look", bass
    if not bench.muted:
        return "mute", bass
    if not bench.in_tune:
        return "retune", bass
    compared = comparisons(bench.log, instrument)
    changed = last_change(bench.log)
    fresh = {comparison.string for comparison in compared if comparison.at > changed}
    if stage == "recheck":
        missing = [string for string in (bass, treble) if string not in fresh]
        return ("compare", missing[0]) if missing else ("mark", bass)
    string = treble if stage == "treble" else bass
    return ("decide", string) if string in fresh else ("compare", string)


def _ask(step: Step, stage: Stage, string: int, level: int) -> str:
    side = "treble" if stage == "treble" else "bass"
    if level == NAME_ONLY:
        return _NAMES[stage] if step not in {"mark", "listen", "look"} else _BRIEF[step]
    if level == BRIEF:
        return _BRIEF[step].format(string=string, side=side, after="hear the bass side again")
    return _FULL[step].format(string=string, side=side)


_SIDE_POINTS = {"bass": order.BASS_FIRST, "treble": order.TREBLE_NEXT, "bass again": order.BASS_AGAIN}
_NAMES = {
    "bass": "The bass side.",
    "treble": "The treble side.",
    "bass again": "The bass side again, then the margins.",
    "centre": "Centre the bridge.",
    "recheck": "Both sides once more, then the mark.",
    "marked": "The feet are marked.",
}
_BRIEF = {
    "mute": "Mute the other strings.",
    "retune": "Retune, then compare again.",
    "compare": "Now the {side} side: compare the harmonic and the octave note of string {string}.",
    "decide": "Move the {side} foot by what you heard, or in unison {after}.",
    "look": "Look at the margins and slide the bridge toward the wider one.",
    "mark": "Both sides are heard: mark the feet when you are content.",
    "listen": "The feet are marked: listen once more, or start over.",
}
_FULL = {
    "mute": "Begin by muting the other strings: mute.",
    "retune": "Bring the strings to pitch: retune.",
    "compare": "Hear the harmonic of string {string}, then its octave note: chime {string}, fret {string}.",
    "decide": "Flat, move the {side} foot forward; sharp, back; 1/16in or less. In unison, go on "
    "to the treble side. Unsure, compare again.",
    "look": "Look at the margins.",
    "mark": "Mark the feet.",
    "listen": "Listen once more.",
}


def _first_at(compared: tuple[Comparison, ...], string: int, after: int) -> int | None:
    return next((found.at for found in compared if found.string == string and found.at > after), None)
