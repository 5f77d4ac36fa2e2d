"""Carries out the bench's effects on the ports: renders, plays, keeps. The one thing all its front ends talk to.

A front end calls `do` with an act. A sound begins at once; every act is on disk before `do` returns, so nothing that
was done is lost, and a rehearsal that was left goes on where it was. Imports playing and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from centwise.bench import machine
from centwise.bench.acts import StartOver
from centwise.bench.reckoning import with_thresholds
from centwise.bench.sound import render_tone
from centwise.bench.words import BenchTone, Done, Keep, Reckon, Ring
from centwise.errors import UsageError
from centwise.playing import Playing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from centwise.bench.acts import Act
    from centwise.model import BenchAct, BenchPlan, BenchResult
    from centwise.ports import Clock, Playback, Player, Store
    from centwise.resting import EarTime
    from centwise.strings.bridge import Margins
    from centwise.strings.instrument import Instrument
    from centwise.tones.single import SingleSound


@dataclass(frozen=True, slots=True)
class Heard:
    """A sound of the bench on its way out."""

    tone: BenchTone
    sound: SingleSound
    playback: Playback


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of an act: a sound, a look at the margins, a reckoning, or just that it was done."""

    act: Act
    heard: Heard | None = None
    margins: Margins | None = None
    result: BenchResult | None = None
    listened_min: int | None = None
    """Minutes of listening without a rest, where that is so long that one is proposed now; else None."""


class Rehearsal(Playing):
    """One listener at one bench, from the bridge as it was found to the pencil line.

    Not for use from several threads at once; `do` may run in a worker thread, one call at a time.

    Args:
        store: where acts are kept.
        clock: gives each act its instant.
        player: makes it heard; it stays open when the rehearsal closes.
        plan: the rehearsal. It is kept in the store when it begins.
        instrument: the one the plan names, at its scale length and with its bridge.
        new_id: names the next rehearsal when a marked one is started over.
        thresholds: what the listener is known to hear on the outer strings, None where nothing is known.
        acts: the acts so far of a rehearsal that was left and is taken up again; None for a new one.
        before: the marked rehearsal that the one left began by starting over, where it did.
        ears: counts how long the listener has been listening; None where nobody does.
    """

    def __init__(
        self,
        store: Store,
        clock: Clock,
        player: Player,
        plan: BenchPlan,
        instrument: Instrument,
        *,
        new_id: Callable[[], str],
        thresholds: Mapping[int, float | None],
        acts: Sequence[BenchAct] | None = None,
        before: machine.Bench | None = None,
        ears: EarTime | None = None,
    ) -> None:
        super().__init__(player, ears if plan.heard else None)
        self._store = store
        self._clock = clock
        self._new_id = new_id
        self._thresholds = dict(thresholds)
        self._ready: tuple[tuple[BenchTone, SingleSound], ...] = ()
        self._result: BenchResult | None = None
        self._instrument = instrument
        if acts is None:
            self._bench = machine.begin(plan, self._instrument)
            store.begin_bench(plan)
        else:
            self._bench = machine.resume(plan, self._instrument, acts, before)

    @property
    def bench(self) -> machine.Bench:
        """The state of the bench."""
        return self._bench

    @property
    def instrument(self) -> Instrument:
        """The instrument, at its scale length and with its bridge."""
        return self._instrument

    @property
    def result(self) -> BenchResult | None:
        """The reckoning, once the feet are marked."""
        return self._result

    def do(self, act: Act) -> Answer:
        """Do one act.

        Raises:
            UsageError: it cannot be done here; nothing has changed.
            DeviceError: no device takes the sound; nothing has changed, so ask again when the device is back.
            StoreError: the act could not be kept; nothing has changed.
        """
        if isinstance(act, StartOver) and self._bench.marked:
            return self._begin_again(act)
        after, effects = machine.step(self._bench, act, self._clock.now())
        answer = Answer(act)
        for effect in effects:
            match effect:
                case Ring(tone=tone):
                    answer = replace(answer, heard=self._sound(tone))
                case Done(margins=margins):
                    answer = replace(answer, margins=margins)
                case Reckon(result=result):
                    answer = replace(answer, result=with_thresholds(result, self._thresholds))
        for effect in effects:
            if isinstance(effect, Keep):
                self._store.add_bench_act(self._bench.plan.id, effect.act, answer.result)
        self._bench = after
        self._result = answer.result or self._result
        # Between two comparisons, not between the two notes of one.
        rest_due = self._ears.rest_due() if self._ears is not None and answer.heard is None else None
        return replace(answer, listened_min=rest_due)

    def expect(self, *acts: Act) -> None:
        """Prepare what may be asked for next, the likeliest first, so that its sound follows the key at once.

        Acts that make no sound, or cannot be done here, are passed over.
        """
        self._prepare(partial(self._look_ahead, self._bench, acts))

    def _begin_again(self, act: Act) -> Answer:
        """Begin the same job once more, as a rehearsal of its own: the one that was marked is over and kept.

        Its first act is the start over, numbered on from there: so it is told from one begun by itself, its hand is
        drawn anew, and the pencil line is found again when it is left and taken up.
        """
        now = self._clock.now()
        plan = replace(self._bench.plan, id=self._new_id(), started_at=now)
        begun = machine.begin(plan, self._instrument, self._bench.pencil, self._bench.acts)
        after, effects = machine.step(begun, act, now)
        (kept,) = (effect.act for effect in effects if isinstance(effect, Keep))
        self._store.begin_bench(plan, kept)
        self._bench = after
        self._result = None
        return Answer(act)

    def _sound(self, tone: BenchTone) -> Heard:
        sound = next((sound for ready, sound in self._ready if ready == tone), None) or self._rendered(tone)
        return Heard(tone, sound, self._play(sound.sound))

    def _rendered(self, tone: BenchTone) -> SingleSound:
        plan = self._bench.plan
        return render_tone(tone, self._instrument, seed=plan.seed, rate_hz=self._player.rate_hz, bench_id=plan.id)

    def _look_ahead(self, bench: machine.Bench, acts: Iterable[Act]) -> None:
        """Run in the preparing thread: render what acts would sound like on that bench, while it is the present one."""
        now = self._clock.now()
        ready: tuple[tuple[BenchTone, SingleSound], ...] = ()
        for act in acts:
            try:
                _, effects = machine.step(bench, act, now)
            except UsageError:
                continue
            for effect in effects:
                if isinstance(effect, Ring):
                    if bench is not self._bench:
                        return
                    ready = (*ready, (effect.tone, self._rendered(effect.tone)))
                    # One assignment, so whoever reads sees the sounds of before or these.
                    self._ready = ready
