"""From what was asked for and what is known of the listener to a block's plan. Talks to the store through its port.

Imports takes and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import cycle, islice
from typing import TYPE_CHECKING

from centwise.errors import CentwiseError, InputError, StoreError, UsageError
from centwise.model import GOOD_ENOUGH_CENTS, SURE_ERRORS, BlockPlan, Condition, Listener, Order, Rule, Voice
from centwise.practice import next_string, sides_of
from centwise.strings.geometry import check_scale_mm
from centwise.strings.library import BUILT_IN
from centwise.strings.names import DEFAULT_NAME
from centwise.units import number_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime
    from pathlib import Path

    from centwise.ports import BlockSummary, Store
    from centwise.strings.instrument import Instrument
    from centwise.strings.library import Instruments
    from centwise.takes.voice import OwnTake

DRILL_TRIALS = 40
ASSESSMENT_TRIALS = 100
MOST_TRIALS = 1000
WARM_UP_PAIRS = 3
MOST_WARM_UP = 20
FIRST_LISTENER = "listener 1"


@dataclass(frozen=True, slots=True)
class BlockRequest:
    """A block as somebody asks for it; None means: choose what suits this listener.

    With a `take`, a recording of the listener's own, its pairs are judged as they are, or `shifted` by a track.
    """

    instrument: str = DEFAULT_NAME
    string: int | None = None
    trials: int | None = None
    assess: bool = False
    order: Order | None = None
    rule: Rule = "balanced"
    muted: bool = True
    likeness: float = 0.0
    seed: int | None = None
    until_octaves: float | None = None
    warm_up: int | None = None
    take: Path | None = None
    shifted: bool = False
    scale_mm: float | None = None


def listener_for(
    store: Store, name: str | None, new_id: Callable[[], str], scale_mm: float, instrument: str | None = None
) -> tuple[Listener, bool]:
    """Return the listener of that name, or without one the last used; and whether they are new.

    An unknown name becomes a new listener; when nobody is known yet, one named `listener 1` does.

    Args:
        store: where listeners are kept.
        name: who is meant, or None.
        new_id: makes the id of a new listener.
        scale_mm: a new listener's scale length.
        instrument: a new listener's instrument, None for the five-string.
    """
    known = store.listeners()
    if name is None and known:
        return known[0], False
    wanted = FIRST_LISTENER if name is None else name
    found = store.listener_named(wanted)
    if found is not None:
        return found, False
    listener = Listener(id=new_id(), name=wanted, scale_mm=check_scale_mm(scale_mm))
    if instrument is not None:
        listener = replace(listener, instrument=instrument)
    try:
        store.add_listener(listener)
    except StoreError:
        # Another window may have added somebody of that name since we looked.
        found = store.listener_named(wanted)
        if found is None:
            raise
        return found, False
    # Read back: the store tidies names, and what it keeps is what is shown.
    return store.listener_named(wanted) or listener, True


def request_on_their_instrument(
    store: Store,
    name: str | None,
    request: BlockRequest,
    *,
    instrument_asked: bool,
    instruments: Instruments = BUILT_IN,
) -> BlockRequest:
    """Return the request on what the listener plays, unless it names an instrument, once a block can be made of it.

    Args:
        store: where listeners are kept; nobody is added.
        name: who is meant, or None for the last used.
        request: what is asked for.
        instrument_asked: whether the request names its instrument, or only has it by default.
        instruments: where instruments are found.

    Raises:
        InputError, UsageError: see `check_request`.
    """
    known = _known_listener(store, name)
    if known is not None and not instrument_asked:
        request = replace(request, instrument=known.instrument)
    return check_request(request, instruments)


def listener_for_request(
    store: Store,
    name: str | None,
    request: BlockRequest,
    *,
    new_id: Callable[[], str],
    scale_mm: float,
    instruments: Instruments = BUILT_IN,
) -> tuple[Listener, bool]:
    """Return who is meant, and whether they are new. A new listener plays the instrument of the request.

    A scale length asked for becomes the listener's own where it is that of what they play.

    Args:
        store: where listeners are kept.
        name: as in `listener_for`.
        request: what is asked for.
        new_id: makes the id of a new listener.
        scale_mm: scale length of a new listener's five-string.
        instruments: where instruments are found.
    """
    instrument = instruments.named(request.instrument)
    usual_mm = scale_mm if instrument.name == DEFAULT_NAME else instrument.scale_mm
    listener, new = listener_for(store, name, new_id, request.scale_mm or usual_mm, instrument.name)
    if request.scale_mm not in {None, listener.scale_mm} and listener.instrument == instrument.name:
        listener = with_scale(store, listener, request.scale_mm or usual_mm)
    return listener, new


def _known_listener(store: Store, name: str | None) -> Listener | None:
    if name is not None:
        return store.listener_named(name)
    known = store.listeners()
    return known[0] if known else None


def with_scale(store: Store, listener: Listener, scale_mm: float) -> Listener:
    """Keep a listener's new scale length and return the listener with it."""
    store.set_scale_mm(listener.id, check_scale_mm(scale_mm))
    return replace(listener, scale_mm=scale_mm)


def with_instrument(
    store: Store, listener: Listener, name: str, blocks: Sequence[BlockSummary], instruments: Instruments
) -> Listener:
    """Keep what a listener plays from now on, with its scale length, and return the listener with it."""
    changed = replace(
        listener, instrument=name, scale_mm=scale_for(instruments.named(name), listener, blocks, instruments)
    )
    store.change_listener(changed, was=listener)
    return store.listener_with_id(listener.id) or changed


def scale_for(
    instrument: Instrument, listener: Listener, blocks: Sequence[BlockSummary], instruments: Instruments
) -> float:
    """Return the scale length a listener has on an instrument, in millimetres.

    It is the listener's own for what they play; for another instrument that of their last block on it, else the usual
    one, or the listener's own where both instruments are usually of one length: the same banjo, tuned otherwise.
    """
    if instrument.name == listener.instrument:
        return listener.scale_mm
    for block in reversed(blocks):
        if block.plan.condition.instrument == instrument.name:
            return block.plan.scale_mm
    try:
        usual_mm = instruments.named(listener.instrument).scale_mm
    except CentwiseError:
        return instrument.scale_mm  # what they play is described nowhere any more
    return listener.scale_mm if usual_mm == instrument.scale_mm else instrument.scale_mm


def check_request(request: BlockRequest, instruments: Instruments = BUILT_IN) -> BlockRequest:
    """Return the request if a block can be made of it: worth knowing before a device is opened or a listener added.

    Raises:
        InputError: the instrument's file cannot be used.
        UsageError: an unknown instrument or string, trials outside 1 to 1000, likeness outside 0 to 1, a width to
            end at that is not above 0, or something that a recording settles itself.
    """
    if request.shifted and request.take is None:
        raise UsageError("there is no take to shift the notes of", "name one with --take, such as a folder of takes")
    if request.take is not None and (not request.muted or request.likeness != 0.0):
        raise UsageError("a take sounds as it was recorded", "leave out --unmuted and --likeness, or leave out --take")
    instruments.check(request.instrument)
    if request.string is not None and request.take is None:  # a take's folder may name another instrument
        instruments.named(request.instrument).string(request.string)
    if request.trials is not None and not 1 <= request.trials <= MOST_TRIALS:
        raise UsageError(f"a block cannot have {request.trials} pairs", f"ask for 1 to {MOST_TRIALS} with --trials")
    if request.warm_up is not None and not 0 <= request.warm_up <= MOST_WARM_UP:
        raise UsageError(
            f"a block cannot have {request.warm_up} pairs to warm up", f"ask for 0 to {MOST_WARM_UP} with --warm-up"
        )
    if not 0.0 <= request.likeness <= 1.0:
        raise UsageError(
            f"a likeness of {number_text(request.likeness)} is outside 0 to 1", "give --likeness between 0 and 1"
        )
    if request.until_octaves is not None and not 0.0 < request.until_octaves < math.inf:
        raise UsageError(
            f"a block cannot end at an interval of {number_text(request.until_octaves)} octaves",
            "give --until above 0, such as 1",
        )
    return request


def plan_block(
    request: BlockRequest,
    listener: Listener,
    *,
    store: Store,
    at: datetime,
    new_id: Callable[[], str],
    new_seed: Callable[[], int],
    player: str,
    take: OwnTake | None = None,
    take_error_cents: float | None = None,
    instruments: Instruments = BUILT_IN,
) -> BlockPlan:
    """Fill in what the request leaves open: string, order, trials, seed, and what earlier blocks say of the threshold.

    Args:
        request: what was asked for.
        listener: who listens.
        store: for the listener's earlier blocks.
        at: the instant the block begins.
        new_id: makes its id.
        new_seed: makes its seed where none is asked for.
        player: the player's name.
        take: the opened recording where the request has one.
        take_error_cents: standard error of the offsets of its shifted notes; None for that of the recorded pairs.
        instruments: where instruments are found.

    Raises:
        InputError: see `check_request`; the instrument is not what it was in earlier blocks; or recorded pairs are to
            be judged as they were played, and are read too unsurely for that.
        UsageError: see `check_request`.
    """
    check_request(request, instruments)
    blocks = store.summaries(listener.id)
    order: Order = request.order or ("both" if request.assess else "harmonic-first")
    instrument = instruments.named(request.instrument if take is None else take.instrument)
    if take is None:
        number = request.string if request.string is not None else next_string(blocks, sides_of(instrument))
        condition = Condition(request.instrument, number, request.muted, request.likeness, order)
    else:
        voice: Voice = "shifted" if request.shifted else "recorded"
        condition = Condition(take.instrument, take.string, order=order, voice=voice)
    as_played = take is not None and not request.shifted
    if take is not None and as_played:
        _check_sure(take)
    scale_mm = request.scale_mm or (None if take is None else take.scale_mm)
    scale_mm = scale_mm or scale_for(instrument, listener, blocks, instruments)
    string = instrument.with_scale(scale_mm).string(condition.string)
    _check_same(instrument, condition.string, blocks)
    trials = request.trials
    if trials is None:
        trials = ASSESSMENT_TRIALS if request.assess else DRILL_TRIALS
        trials = len(take.own_cents) if take is not None and as_played else trials
    # An assessment stands for itself: what was known before must not pull it.
    threshold, spread = (None, None) if request.assess else earlier_threshold(blocks, condition, at)
    return BlockPlan(
        id=new_id(),
        listener_id=listener.id,
        condition=condition,
        rule=request.rule,
        trials=trials,
        assess=request.assess,
        seed=request.seed if request.seed is not None else new_seed(),
        scale_mm=scale_mm,
        player=player,
        started_at=at,
        warm_up=0 if as_played else warm_up_pairs(request, blocks),
        until_octaves=None if as_played else request.until_octaves,
        prior_threshold_cents=None if as_played else threshold,
        prior_sd_octaves=None if as_played else spread,
        take_sha256=None if take is None else take.sha256,
        take_error_cents=take.error_cents if take is not None and take_error_cents is None else take_error_cents,
        given_cents=tuple(islice(cycle(take.own_cents), trials)) if take is not None and as_played else (),
        string_length_mm=string.length_mm,
        octave_hz=string.octave_hz,
    )


def _check_sure(take: OwnTake) -> None:
    """Refuse pairs of which the meter itself cannot tell flat from sharp: no ear can be held against that."""
    doubt_cents = SURE_ERRORS * take.error_cents
    if doubt_cents > GOOD_ENOUGH_CENTS:
        raise InputError(
            f"the meter reads a pair of {take.path.name} within {doubt_cents:.1f} cents only, too uncertain to hold an "
            "ear against",
            "pluck softly and alike and record again, or drill the notes with --shifted, d in the app",
        )


def _check_same(instrument: Instrument, number: int, blocks: Sequence[BlockSummary]) -> None:
    """Refuse a string that had another note in earlier blocks."""
    for block in reversed(blocks):
        plan = block.plan
        if (plan.condition.instrument, plan.condition.string) != (instrument.name, number) or plan.octave_hz is None:
            continue
        instrument.check_note(number, plan.octave_hz)
        return


def warm_up_pairs(request: BlockRequest, blocks: Sequence[BlockSummary]) -> int:
    """Return how many pairs come first that do not count: a stranger learns the words, an assessment settles."""
    if request.warm_up is not None:
        return request.warm_up
    stranger = not any(block.result is not None and block.result.trials for block in blocks)
    return WARM_UP_PAIRS if request.assess or stranger else 0


def earlier_threshold(
    blocks: Sequence[BlockSummary], condition: Condition, at: datetime
) -> tuple[float | None, float | None]:
    """Return what the earlier blocks in this condition say together: a threshold in cents and its spread in octaves.

    The history's forward filter: each block counts by its interval, and the spread grows with the days gone by.
    """
    from centwise.ear.history import history_of  # noqa: PLC0415  loads numpy, which the app's first screen does not need
    from centwise.past import days_of, sessions_of  # noqa: PLC0415

    sessions = sessions_of(blocks, condition)
    if not sessions:
        return None, None
    prior = history_of(sessions).prior(max(days_of(at), sessions[-1].days))
    return prior.threshold_cents, prior.sd_octaves
