"""The bench as a state machine: act in, new state and effects out.

Everything drawn follows from the plan's seed and the act's number, so replaying stored acts rebuilds the very state
that was left. There is no undo: a foot that was moved back does not stand where it stood. Imports strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from centwise.bench.acts import (
    Act,
    Chime,
    Fret,
    Look,
    Mark,
    Move,
    Mute,
    Open,
    Pluck,
    Retune,
    Slide,
    StartOver,
    act_text,
    parse_act,
)
from centwise.bench.hand import moved, slid
from centwise.bench.log import Entry
from centwise.bench.reckoning import reckon
from centwise.bench.setting import Setting, draw_setting
from centwise.bench.words import BenchTone, Done, Effect, Keep, Reckon, Ring
from centwise.draws import Draws, Purpose
from centwise.errors import UsageError
from centwise.model import BenchAct, BenchPlan
from centwise.strings.bridge import Feet, margins_mm
from centwise.strings.fretted import frets_above_nut, touched_mode

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from centwise.strings.bridge import Margins
    from centwise.strings.instrument import Instrument

IN_TUNE_CENTS = 1.0
"""A string within this of its pitch counts as in tune (judgement: a hand with a meter tunes as near)."""


@dataclass(frozen=True, slots=True)
class Bench:
    """One rehearsal under way.

    Attributes:
        plan: as it was asked for.
        setting: the hidden half.
        feet: where the bridge stands.
        tuning_cents: how far each open string is from its pitch, by its number.
        muted: whether the other strings are kept from ringing along.
        log: what was done since the bridge was found or put back.
        acts: how many acts there were in all, past every start over; the next one's draws hang on it.
        earlier: how many of those were of the rehearsals on this head that were marked before.
        marked: whether the feet are marked: then only listening goes on.
        pencil: where the last pencil line is.
        last: the act done last, None at the beginning.
    """

    plan: BenchPlan
    setting: Setting
    feet: Feet
    tuning_cents: Mapping[int, float]
    muted: bool = False
    log: tuple[Entry, ...] = ()
    acts: int = 0
    earlier: int = 0
    marked: bool = False
    pencil: Feet | None = None
    last: Act | None = None

    @property
    def in_tune(self) -> bool:
        """Whether every string is at its pitch."""
        return all(abs(cents) <= IN_TUNE_CENTS for cents in self.tuning_cents.values())

    @property
    def own_acts(self) -> int:
        """How many acts there were in this rehearsal."""
        return self.acts - self.earlier

    @property
    def margins(self) -> Margins | None:
        """The margins as they were looked at, None where nobody has looked since the last slide."""
        looks = (entry.act for entry in reversed(self.log) if isinstance(entry.act, (Look, Slide)))
        if not isinstance(next(looks, None), Look):
            return None
        return margins_mm(self.setting.instrument, self.feet.side_mm)


def begin(plan: BenchPlan, instrument: Instrument, pencil: Feet | None = None, earlier: int = 0) -> Bench:
    """Return the state in which the bridge is found.

    Args:
        plan: the rehearsal.
        instrument: the one the plan names, at its scale length and with its bridge.
        pencil: a line drawn on this head before, if any.
        earlier: how many acts there were until that line: the hand goes on from there, and never does the same twice.
    """
    setting = draw_setting(plan, instrument)
    return _found(Bench(plan, setting, Feet(), {}, acts=earlier, earlier=earlier, pencil=pencil))


def resume(plan: BenchPlan, instrument: Instrument, acts: Sequence[BenchAct], before: Bench | None = None) -> Bench:
    """Return the state a rehearsal was left in, rebuilt from its stored acts: equal to the one never left.

    Args:
        plan: the rehearsal.
        instrument: the one the plan names, at its scale length and with its bridge.
        acts: what was done. One that began by starting over after a mark goes on counting from there.
        before: the rehearsal that was marked, where this one began by starting it over.
    """
    earlier = acts[0].n - 1 if acts else 0
    bench = begin(plan, instrument, None if before is None else before.pencil, earlier)
    for act in acts:
        bench, _ = step(bench, parse_act(act.words), act.at)
    return bench


def step(bench: Bench, act: Act, at: datetime) -> tuple[Bench, tuple[Effect, ...]]:  # noqa: PLR0911  one return an act
    """Do one act.

    Returns:
        The new state, and the effects in the order they must be carried out: a sound begins at once, every act is kept
        before anything is said of it.

    Raises:
        UsageError: the act cannot be done here; nothing has changed.
    """
    if bench.marked and not isinstance(act, (Chime, Fret, Open, Mute, Look)):
        raise UsageError(
            f"the feet are marked, so {act_text(act)!r} comes too late",
            "listen once more, say start over for the same job again, or begin another rehearsal",
        )
    n = bench.acts + 1
    done = replace(bench, acts=n, last=act)
    kept = () if bench.marked else (Keep(BenchAct(n, act_text(act), at)),)
    match act:
        case Chime() | Fret() | Open():
            tone = _tone(bench, act, n)
            return _logged(done, bench, act), (Ring(tone), *kept)
        case Mute(muted=muted):
            return replace(_logged(done, bench, act), muted=muted), (*kept, Done(act))
        case Look():
            seen = margins_mm(bench.setting.instrument, bench.feet.side_mm)
            return _logged(done, bench, act), (*kept, Done(act, seen))
        case Move():
            feet, done_mm = moved(bench, act, n)
            return _gone(_logged(done, bench, act, done_mm), bench, feet), (*kept, Done(act))
        case Slide():
            feet, done_mm = slid(bench, act, n)
            return _gone(_logged(done, bench, act, done_mm), bench, feet), (*kept, Done(act))
        case Retune():
            tuned = dict.fromkeys(bench.tuning_cents, 0.0)
            return replace(_logged(done, bench, act), tuning_cents=tuned), (*kept, Done(act))
        case StartOver():
            return _found(done), (*kept, Done(act))
        case Mark():
            marked = replace(_logged(done, bench, act), marked=True, pencil=bench.feet)
            return marked, (*kept, Reckon(reckon(bench.setting, bench.feet, marked.log)))


def _found(bench: Bench) -> Bench:
    """Return the state with the bridge where it was found, the strings as far out of tune as the knock left them.

    They were not at pitch before it either: were they, a tuner would read off each open string how far its contact was
    knocked, and no comparison were needed.
    """
    setting = bench.setting
    tuning = {
        number: setting.slack_cents[number] + setting.detuned_cents(number, setting.right, setting.start)
        for number in setting.instrument.numbers
    }
    return replace(bench, feet=setting.start, tuning_cents=tuning, muted=False, log=())


def _gone(done: Bench, before: Bench, feet: Feet) -> Bench:
    tuning = {
        number: cents + before.setting.detuned_cents(number, before.feet, feet)
        for number, cents in before.tuning_cents.items()
    }
    return replace(done, feet=feet, tuning_cents=tuning)


def _logged(done: Bench, before: Bench, act: Act, done_mm: float = 0.0) -> Bench:
    string = act.string if isinstance(act, (Chime, Fret, Open)) else None
    entry = Entry(
        n=done.acts,
        act=act,
        feet=before.feet,
        muted=before.muted,
        in_tune=before.in_tune,
        done_mm=done_mm,
        truth_cents=0.0 if string is None else before.setting.cents(string, before.feet),
    )
    return replace(done, log=(*before.log, entry))


def _tone(bench: Bench, act: Pluck, n: int) -> BenchTone:
    """Decide what is heard."""
    setting = bench.setting
    instrument = setting.instrument
    string = instrument.string(act.string)
    fret, mode, cents = None, 0, 0.0
    if not isinstance(act, Open):
        fret = string.octave_fret if act.fret is None else act.fret
        frets_above_nut(instrument, string, fret)
    if isinstance(act, Chime):
        touched = touched_mode(instrument, act.string, fret)
        if touched is None:
            raise UsageError(
                f"string {act.string} has no node over fret {fret}, so nothing rings there",
                f"touch it over fret {string.octave_fret}, its octave",
            )
        mode = touched
    elif isinstance(act, Fret):
        pressing = Draws(bench.plan.seed).stream(Purpose.PRESSING, n).normal(0.0, setting.pressing_sd_cents)
        cents = setting.cents(act.string, bench.feet, fret) + float(pressing)
    return BenchTone(n, act, fret, mode, cents, dict(bench.tuning_cents), bench.muted)
