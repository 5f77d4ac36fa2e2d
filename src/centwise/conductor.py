"""Carries out a drill's effects on the ports: renders, plays, keeps. The one thing all three front ends talk to.

A front end calls `sound` to have the present pair heard and `answer` to judge it. An answer is on disk before `answer`
returns anything about it, and a failing device can lose none: `sound` may be called again as often as it takes.
While a pair sounds, the next one is prepared for each of the three answers, so the next attack follows the key at once.
Imports playing and below.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Literal, Protocol, TypeAlias

from centwise.draws import Draws, Purpose
from centwise.drill import machine
from centwise.drill.words import (
    Answered,
    Ask,
    Conclude,
    Event,
    Feedback,
    HeardAgain,
    Keep,
    Left,
    Noted,
    PractiseDirections,
    Rest,
    Swapped,
)
from centwise.errors import ElsewhereError, StoreError
from centwise.model import JUDGEMENTS, BlockPlan, BlockResult, Judgement, PairSound, PairSpec, Tone, Trial
from centwise.playing import Playing
from centwise.practising import keep_practice, taken_up
from centwise.standing import Standing, standing_of
from centwise.strings.library import BUILT_IN
from centwise.tones.pair import render_pairs, tone_alone

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    import numpy as np

    from centwise.ports import Clock, Playback, Player, Store, StoredBlock
    from centwise.resting import EarTime
    from centwise.strings.library import Instruments

MOST_REPEATS = 2
"""So often a pair is sounded once more by itself for holes in it."""

CATCHING_UP = 5
"""So often the result is made anew while another window answers in between; each takes milliseconds."""

Part: TypeAlias = Literal["pair"] | Tone


class PairMaker(Protocol):
    """What the pairs of a block are made by, where they are not tones of ours."""

    def render_pairs(self, specs: Sequence[PairSpec], rng: np.random.Generator) -> tuple[PairSound, ...]:
        """Make several candidates for one place in the block, all from the same draws, at the player's rate."""


@dataclass(frozen=True, slots=True)
class Sounding:
    """A pair, or one of its tones, on its way out."""

    pair: PairSound
    spec: PairSpec
    part: Part
    playback: Playback


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole that was heard in the present pair: a pair that cannot be judged fairly.

    Attributes:
        lost_s: its length in seconds.
        again: whether the pair is to be sounded once more by itself; not for ever, where the computer stays busy.
    """

    lost_s: float
    again: bool


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of an answer: what is told about it, and the result if it was the last."""

    told: Feedback | Noted | None
    result: BlockResult | None
    swapped: bool = False
    rest: Rest | None = None
    listened_min: int | None = None
    """Minutes of listening without a rest, where that is so long that one is proposed now; else None."""


class Sitting(Playing):
    """One listener at one block, from the first pair to the result.

    Not for use from several threads at once; `answer` and `sound` may run in a worker thread, one call at a time.

    Args:
        store: where answers are kept.
        clock: gives each answer its instant.
        player: makes the pairs heard; it stays open when the sitting closes.
        plan: the block. It is kept in the store when the sitting begins.
        trials: the answers so far of a block that was left and is taken up again; None for a new one.
        ears: counts how long the listener has been listening; None where nobody does.
        maker: makes the pairs; None for rendered tones.
        instruments: where the plan's instrument is found.

    Raises:
        InputError: the plan's instrument is not what it was when the block began.
        UsageError: there is no such instrument any more.
    """

    def __init__(
        self,
        store: Store,
        clock: Clock,
        player: Player,
        plan: BlockPlan,
        trials: Iterable[Trial] | None = None,
        *,
        ears: EarTime | None = None,
        maker: PairMaker | None = None,
        instruments: Instruments = BUILT_IN,
    ) -> None:
        super().__init__(player, ears if plan.heard else None)
        self._store = store
        self._clock = clock
        self._draws = Draws(plan.seed)
        self._maker = maker
        self.instrument = instruments.named(plan.condition.instrument).with_scale(plan.scale_mm)
        """What the pairs are played on, at the plan's scale length."""
        if plan.octave_hz is not None:
            self.instrument.check_note(plan.condition.string, plan.octave_hz)
        self._ready: dict[PairSpec, PairSound] = {}
        self._holes = 0
        self._judged: PairSound | None = None
        self._rest_due: int | None = None
        self._result: BlockResult | None = None
        self._standing: Standing | None = None
        self._drill = machine.begin(plan) if trials is None else taken_up(store, plan, trials)
        if trials is None:
            store.begin_block(plan)

    @property
    def drill(self) -> machine.Drill:
        """The state of the block."""
        return self._drill

    @property
    def result(self) -> BlockResult | None:
        """The result, once the block is over."""
        return self._result

    @property
    def standing(self) -> Standing | None:
        """Where the block stands among the listener's earlier ones, once it is over; None if it says nothing."""
        return self._standing

    @property
    def rest_due(self) -> int | None:
        """Minutes of listening without a rest if one was proposed after the latest answer; else None."""
        return self._rest_due

    def sound(self, part: Part = "pair") -> Sounding:
        """Have the present pair heard, or one of its tones alone, stopping what sounded before.

        Raises:
            DeviceError: no device takes it; the pair stays the present one, so call again when the device is back.
        """
        spec = self._present()
        pair = self._rendered(spec)
        sound = pair.sound if part == "pair" else tone_alone(pair, part)
        playback = self._play(sound)
        self._prepare(partial(self._look_ahead, self._drill))
        return Sounding(pair, spec, part, playback)

    def hole(self) -> Hole | None:
        """Return a hole in what sounds of the present pair, told once for each time it sounds; None where it is whole.

        The answer to such a pair is not to be taken while it is to be sounded once more.
        """
        lost_s = self.hole_s()
        if lost_s is None:
            return None
        self._holes += 1
        return Hole(lost_s, again=self._holes <= MOST_REPEATS)

    def sound_judged(self, part: Part = "pair") -> Playback | None:
        """Have the pair that was judged last heard again, now that its truth is known; None before the first answer.

        It counts as no replay.
        """
        if self._judged is None:
            return None
        sound = self._judged.sound if part == "pair" else tone_alone(self._judged, part)
        return self._play(sound, watched=False)

    @property
    def judged(self) -> PairSound | None:
        """The pair that was judged last."""
        return self._judged

    def again(self, part: Part = "pair") -> Sounding:
        """Have it heard once more; the replay is counted with the answer, unless no device took it."""
        heard = self.sound(part)
        self._drill, _ = machine.step(self._drill, HeardAgain())
        return heard

    def answer(self, judgement: Judgement) -> Taken:
        """Judge the present pair.

        Raises:
            ElsewhereError: another window went on with the block: the answer was not kept. The present pair is now the
                one that follows there, or none where the block has ended.
            StoreError: the answer could not be kept. The pair stays the present one and nothing is told. Or the answer
                was the last and is kept, but the result is not: then `drill` is over, `result` is None, and `leave`
                tries again.
        """
        judged = self._rendered(self._present())
        taken = self._carry_out(Answered(judgement, self._clock.now()))
        self._judged = judged
        self._watched, self._holes = None, 0
        if self._ears is None:
            return taken
        if taken.rest is not None:
            self._ears.rested()
            return taken
        self._rest_due = self._ears.rest_due()
        return replace(taken, listened_min=self._rest_due)

    def practise_directions(self) -> bool:
        """Have a few large pairs come first that do not count; False where they do already, or it is too late."""
        before = self._drill
        self._drill, _ = machine.step(before, PractiseDirections())
        if self._drill is before:
            return False
        keep_practice(self._store, self._drill)
        return True

    def leave(self) -> BlockResult:
        """End the block if it is not over; what was answered stays kept, in another window too.

        Raises:
            ElsewhereError: another window answers faster than the result can be made anew.
            StoreError: the result could not be kept; call again.
        """
        self.hush()
        for _ in range(CATCHING_UP):
            if self._result is not None:
                break
            # Overtaken by another window the drill holds its answers now: the result is made of all of them.
            with suppress(ElsewhereError):
                self._carry_out(Left(self._clock.now()))
        if self._result is None:
            raise ElsewhereError("another window goes on with this block all the time", "leave it there first")
        return self._result

    def _present(self) -> PairSpec:
        if self._drill.pair is None:
            raise RuntimeError("the block is over")
        return self._drill.pair

    def _carry_out(self, event: Event) -> Taken:
        after, effects = machine.step(self._drill, event)
        told: Feedback | Noted | None = None
        swapped, rest = False, None
        for effect in effects:
            match effect:
                case Keep(trial=trial):
                    self._keep(trial, after)
                case Feedback() | Noted():
                    told = effect
                case Conclude(result=result, at=at):
                    self._drill = after
                    self._conclude(result, at)
                case Swapped():
                    swapped = True
                case Rest():
                    rest = effect
                case Ask():
                    pass
        return Taken(told, self._result, swapped, rest)

    def _keep(self, trial: Trial, after: machine.Drill) -> None:
        try:
            self._store.add_trial(after.plan.id, trial)
        except ElsewhereError:
            self._catch_up()
            raise
        except (KeyboardInterrupt, SystemExit):
            # ctrl+c or a signal may strike once the answer is on disk: then it counts.
            block = self._left_open()
            if block is not None and len(block.trials) > len(self._drill.trials):
                self._drill = after
            raise
        # Kept: from here on the answer stands, whatever fails next.
        self._drill = after

    def _conclude(self, result: BlockResult, at: datetime) -> None:
        try:
            self._store.end_block(self._drill.plan.id, result, at, answers=len(self._drill.trials))
        except ElsewhereError:
            self._catch_up()
            # Another window may have ended it with all the answers there are, the last one of here too.
            if self._result is None:
                raise
        except (KeyboardInterrupt, SystemExit):
            if self._left_open() is None:
                self._result = result
            raise
        else:
            self._result = result
        # The result is kept; that the past cannot be read just now must not cost it.
        with suppress(StoreError):
            self._standing = standing_of(self._store, self._drill.plan)

    def _catch_up(self) -> None:
        """Take over what another window has made of the block."""
        plan = self._drill.plan
        kept = self._store.block_with_id(plan.id)
        if kept is None:
            return
        drill = taken_up(self._store, plan, kept.trials)
        self._result = kept.result
        self._drill = drill if kept.result is None else replace(drill, pair=None)
        self._judged = None

    def _left_open(self) -> StoredBlock | None:
        block = self._store.block_with_id(self._drill.plan.id)
        return block if block is not None and block.result is None else None

    def _rendered(self, spec: PairSpec) -> PairSound:
        pair = self._ready.get(spec)
        if pair is None:
            pair = self._render([spec])[0]
            self._ready = {spec: pair}
        return pair

    def _render(self, specs: Sequence[PairSpec]) -> tuple[PairSound, ...]:
        """Render candidates for one place in the block, all of one number."""
        rng = self._draws.stream(Purpose.TONES, specs[0].n)
        if self._maker is not None:
            return self._maker.render_pairs(specs, rng)
        return render_pairs(specs, self.instrument, rate_hz=self._player.rate_hz, rng=rng)

    def _look_ahead(self, drill: machine.Drill) -> None:
        """Run in the preparing thread: render the pair that would follow each of the three answers."""
        now = self._clock.now()
        following = (machine.step(drill, Answered(judgement, now))[0].pair for judgement in JUDGEMENTS)
        wanted = [spec for spec in dict.fromkeys(following) if spec is not None]
        ready = self._ready
        if drill.pair != self._drill.pair or not wanted or all(spec in ready for spec in wanted):
            return
        prepared = dict(zip(wanted, self._render(wanted), strict=True))
        # One assignment, so whoever reads sees the old pairs or the new ones. If an answer came meanwhile, its pair is
        # among these and has been rendered alike; if two came, the present pair is merely rendered again.
        self._ready = {spec: pair for spec, pair in self._ready.items() if spec == drill.pair} | prepared
