"""The block as a state machine: event in, new state and effects out.

Everything drawn follows from the plan's seed and the answers, trial by trial, so replaying stored answers rebuilds the
very state that was left. Imports ear and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from centwise.draws import Draws, Purpose
from centwise.drill.result import block_interval_octaves, block_result, string_length_mm
from centwise.drill.verdict import FEW_TRIALS
from centwise.drill.words import (
    Answered,
    Ask,
    Conclude,
    Effect,
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
from centwise.ear.prior import prior_from
from centwise.ear.track import Track, begin_track
from centwise.errors import UsageError
from centwise.model import MAX_OFFSET_CENTS, BlockPlan, PairSpec, Tone, Trial
from centwise.strings.geometry import travel_for

if TYPE_CHECKING:
    from collections.abc import Iterable

STRANGERS_START_CENTS = 40.0
START_OVER_THRESHOLD = 3.0
"""A block starts at two to four times the last threshold; this is the middle."""

WARM_UP_CENTS = (60.0, 0.0, -45.0)
"""The three answers once each, the first side drawn: clearly audible for nearly everyone, for the usual first threshold
lies between 15 and 40 cents (a judgement)."""
PRACTICE_CENTS = (60.0, -45.0)
"""Both directions, the first side drawn."""

PRACTICE_PAIRS = 4
"""How many more large pairs come when the directions are practised."""
LOOK_EVERY = 4
"""So many scored pairs from one look at the interval to the next, where a block may end by it: a look costs as much as
many pairs, and both orders of the tones stay balanced."""
REST_EVERY = 50
"""Scored pairs of an assessment between two rests: six to eight minutes (short blocks learn and last best, Molloy and
others 2012)."""


@dataclass(frozen=True, slots=True)
class Drill:
    """One block under way. `pair` is the pair being judged, None once the block is over.

    `practice` counts the large pairs that came on top of the plan's warm-up.
    """

    plan: BlockPlan
    track: Track
    trials: tuple[Trial, ...] = ()
    pair: PairSpec | None = None
    replays: int = 0
    practice: int = 0

    @property
    def warm_up(self) -> int:
        """How many pairs come first that do not count."""
        return self.plan.warm_up + self.practice

    @property
    def total(self) -> int:
        """How many pairs the block has at most, warm-up included."""
        return self.warm_up + self.plan.trials

    @property
    def practice_ahead(self) -> int:
        """How many of the large pairs on top are still to be judged."""
        return max(self.warm_up - max(len(self.trials), self.plan.warm_up), 0)

    @property
    def may_practise(self) -> bool:
        """Whether the directions may be practised: no pair that counts was judged, and no whole practice is ahead.

        So a key held down, or a word said twice, brings one practice and not fifty.
        """
        return (
            self.pair is not None
            and len(self.trials) <= self.warm_up
            and self.practice_ahead < PRACTICE_PAIRS
            and not self.plan.given_cents
        )

    @property
    def over(self) -> bool:
        """Whether nothing more is asked."""
        return self.pair is None


def begin(plan: BlockPlan) -> Drill:
    """Return the state in which the first pair is asked.

    Raises:
        UsageError: a plan without trials.
    """
    if plan.given_cents and (len(plan.given_cents) != plan.trials or plan.warm_up):
        raise UsageError(
            f"a block of {plan.trials} pairs was given {len(plan.given_cents)} offsets", "give one for each, no warm-up"
        )
    if plan.trials < 1 or plan.warm_up < 0:
        raise UsageError(f"a block of {plan.trials} pairs cannot be drilled", "ask for 1 or more with --trials")
    threshold = plan.prior_threshold_cents
    prior = None if threshold is None else prior_from(threshold, plan.prior_sd_octaves or 1.0)
    start_cents = STRANGERS_START_CENTS if threshold is None else START_OVER_THRESHOLD * threshold
    track = begin_track(
        plan.rule,
        prior=prior,
        start_cents=min(max(start_cents, 1.0), MAX_OFFSET_CENTS),
        independent=plan.assess,
    )
    return _asking(Drill(plan, track))


def resume(plan: BlockPlan, trials: Iterable[Trial], *, practice: int = 0) -> Drill:
    """Return the state a block was left in, rebuilt from its stored answers: equal to the one never left.

    Args:
        plan: the block.
        trials: what was answered.
        practice: how many pairs were to practise the directions; the answers tell of those that were begun.
    """
    drill = begin(plan)
    for trial in trials:
        if not trial.scored and trial.n > drill.warm_up:
            drill = replace(drill, practice=drill.practice + PRACTICE_PAIRS)
        drill = _taken(drill, trial)
    if practice > drill.practice and drill.pair is not None and len(drill.trials) <= drill.warm_up:
        drill = _asking(replace(drill, practice=practice, pair=None))
    return drill


def step(drill: Drill, event: Event) -> tuple[Drill, tuple[Effect, ...]]:
    """Take one event.

    Returns:
        The new state, and the effects in the order they must be carried out: an answer is kept before it is spoken of.
        Once the block is over, answers have no effect, and leaving concludes again: its result may not have been kept.
    """
    if isinstance(event, Left):
        return replace(drill, pair=None), (Conclude(block_result(drill.plan, drill.trials), event.at),)
    if drill.pair is None:
        return drill, ()
    match event:
        case HeardAgain():
            return replace(drill, replays=drill.replays + 1), (Ask(drill.pair),)
        case PractiseDirections():
            return _practising(drill)
        case Answered(answer=answer, at=at):
            pair = drill.pair
            trial = Trial(
                n=pair.n,
                offset_cents=pair.offset_cents,
                first=pair.first,
                answer=answer,
                answered_at=at,
                replays=drill.replays,
                scored=pair.n > drill.warm_up,
            )
            after = _taken(drill, trial)
            effects: list[Effect] = [Keep(trial), _told(drill.plan, trial)]
            if after.pair is None:
                effects.append(Conclude(block_result(after.plan, after.trials), at))
            else:
                effects.extend((*_between(after), Ask(after.pair)))
            return after, tuple(effects)


def _practising(drill: Drill) -> tuple[Drill, tuple[Effect, ...]]:
    """Put large pairs before the first one that counts; where it is too late or they come already, nothing happens."""
    if not drill.may_practise:
        return drill, ()
    after = _asking(replace(drill, practice=drill.practice + PRACTICE_PAIRS, pair=None, replays=0))
    return after, (() if after.pair is None else (Ask(after.pair),))


def _between(drill: Drill) -> tuple[Effect, ...]:
    """Return what is to be said or done before the next pair."""
    scored = len(drill.trials) - drill.warm_up
    if scored == 0 and _swapped(drill.trials[-PRACTICE_PAIRS:]):
        return (Swapped(),)
    if drill.plan.assess and scored > 0 and scored % REST_EVERY == 0:
        return (Rest(scored, drill.plan.trials - scored),)
    return ()


def _swapped(trials: Iterable[Trial]) -> bool:
    """Whether large differences were taken for their opposites, in both directions and never otherwise."""
    sided = [trial for trial in trials if trial.offset_cents and trial.answer != "unison"]
    # One word alone proves nothing: whoever always says flat has swapped nothing.
    return len({trial.answer for trial in sided}) == 2 and not any(trial.correct for trial in sided)


def _taken(drill: Drill, trial: Trial) -> Drill:
    follows = trial.scored and not drill.plan.given_cents
    track = drill.track.answered(trial.offset_cents, trial.answer) if follows else drill.track
    after = replace(drill, track=track, trials=(*drill.trials, trial), pair=None, replays=0)
    return after if _finished(after) else _asking(after)


def _finished(drill: Drill) -> bool:
    if len(drill.trials) >= drill.total:
        return True
    until = None if drill.plan.given_cents else drill.plan.until_octaves
    scored = len(drill.trials) - drill.warm_up
    # However narrow: fewer pairs would be told to be too few.
    if until is None or scored < FEW_TRIALS or scored % LOOK_EVERY or drill.track.interval_octaves > until:
        return False
    # The running posterior leans on earlier blocks and passes over the order of the tones: the result decides.
    return block_interval_octaves(drill.trials) <= until


def _asking(drill: Drill) -> Drill:
    n = len(drill.trials) + 1
    draws = Draws(drill.plan.seed)
    rng = draws.stream(Purpose.PLACEMENT, n)
    if drill.plan.given_cents:
        offset_cents = drill.plan.given_cents[n - 1]
    elif n <= drill.plan.warm_up:
        offset_cents = _large(draws, WARM_UP_CENTS, 1, n)
    elif n <= drill.warm_up:
        offset_cents = _large(draws, PRACTICE_CENTS, drill.plan.warm_up + 1, n)
    else:
        before = tuple(trial.offset_cents for trial in drill.trials if not trial.scored)
        offset_cents = min(max(drill.track.next_offset(rng, before), -MAX_OFFSET_CENTS), MAX_OFFSET_CENTS)
    pair = PairSpec(n=n, condition=drill.plan.condition, offset_cents=offset_cents, first=_first(drill.plan, n))
    return replace(drill, pair=pair)


def _large(draws: Draws, sizes_cents: tuple[float, ...], first: int, n: int) -> float:
    """Return the offset of a pair that does not count: the sizes in their order, all turned round by one coin."""
    place = (n - first) % len(sizes_cents)
    heads = draws.stream(Purpose.PLACEMENT, n - place).random() < 0.5
    # Plain 0.0, not -0.0.
    return sizes_cents[place] if heads else 0.0 - sizes_cents[place]


def _first(plan: BlockPlan, n: int) -> Tone:
    order = plan.condition.order
    if order == "both":
        # One coin for two pairs, the second the other way round: both orders come equally often.
        # Counted so that the first pair that counts begins such a couple.
        place = n - 1 + plan.warm_up % 2
        coin = Draws(plan.seed).stream(Purpose.ORDER, place // 2).random() < 0.5
        return "harmonic" if coin == (place % 2 == 0) else "fretted"
    return "harmonic" if order == "harmonic-first" else "fretted"


def _told(plan: BlockPlan, trial: Trial) -> Feedback | Noted:
    if plan.assess:
        return Noted(trial.n, trial.answer)
    error_cents = plan.take_error_cents if plan.given_cents else None
    return Feedback(trial, travel_for(trial.offset_cents, string_length_mm(plan)), error_cents)
