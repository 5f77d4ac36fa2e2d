"""The reckoning at the mark: what is left, what was heard right or wrong, and what was the ear and what the hand.

Imports strings and below.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from centwise.bench.acts import Mark, Move, Slide
from centwise.bench.log import Comparison, Entry, comparisons, last_change
from centwise.bench.order import order_points
from centwise.model import GOOD_ENOUGH_CENTS, BenchJudgement, BenchResult, BenchShare, judgement_of
from centwise.strings.bridge import SIDES, Feet, contact_mm, move_foot

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from centwise.bench.setting import Setting
    from centwise.model import Judgement


def reckon(setting: Setting, feet: Feet, log: Sequence[Entry]) -> BenchResult:
    """Return what a rehearsal came to.

    Args:
        setting: its hidden half.
        feet: where the bridge was marked.
        log: everything done since the bridge was found or put back, the mark included.
    """
    instrument = setting.instrument
    compared = comparisons(log, instrument)
    cents = {number: setting.cents(number, feet) for number in instrument.numbers}
    return BenchResult(
        cents=cents,
        string_mm={
            number: contact_mm(instrument, number, feet) - contact_mm(instrument, number, setting.right)
            for number in instrument.numbers
        },
        must_leave_cents={number: setting.cents(number, setting.right) for number in instrument.numbers},
        bass_mm=feet.bass_mm - setting.right.bass_mm,
        treble_mm=feet.treble_mm - setting.right.treble_mm,
        side_mm=feet.side_mm,
        moves=sum(isinstance(entry.act, (Move, Slide)) for entry in log),
        comparisons=len(compared),
        judgements=judgements(setting, log, compared),
        order=order_points(instrument, feet, log, compared),
        shares=tuple(_share(setting, feet, log, compared, number) for number in instrument.side_strings),
        hand_percent=_hand_percent(log),
    )


def with_thresholds(result: BenchResult, thresholds: Mapping[int, float | None]) -> BenchResult:
    """Return the reckoning with what the listener is known to hear beside each outer string."""
    shares = tuple(replace(share, threshold_cents=thresholds.get(share.string)) for share in result.shares)
    return replace(result, shares=shares)


def judgements(setting: Setting, log: Sequence[Entry], compared: Sequence[Comparison]) -> tuple[BenchJudgement, ...]:
    """Return what each move and the mark say was heard.

    A foot that goes forward says flat, one that goes back says sharp, of the string compared last since the move
    before; a move without a comparison says nothing. The mark says that both outer strings stood in unison, where each
    was compared after the last move.
    """
    found = []
    since = 0
    for at, entry in enumerate(log):
        act = entry.act
        fresh = [comparison for comparison in compared if since <= comparison.at < at]
        if isinstance(act, Move) and fresh:
            heard: Judgement = "flat" if act.way == "forward" else "sharp"
            truth = fresh[-1].truth_cents
            found.append(BenchJudgement(entry.n, fresh[-1].string, heard, truth, heard == judgement_of(truth)))
        elif isinstance(act, Mark):
            for number in setting.instrument.side_strings:
                for comparison in [found_one for found_one in fresh if found_one.string == number][-1:]:
                    truth = comparison.truth_cents
                    found.append(BenchJudgement(entry.n, number, "unison", truth, abs(truth) <= GOOD_ENOUGH_CENTS))
        if isinstance(act, (Move, Slide)):
            since = at
    return tuple(found)


def _share(
    setting: Setting, feet: Feet, log: Sequence[Entry], compared: Sequence[Comparison], number: int
) -> BenchShare:
    """Split what is left on a string: the feet as they would stand, had the last move of each gone as asked."""
    as_asked = feet
    for side in SIDES:
        for entry in reversed(log):
            if isinstance(entry.act, Move) and entry.act.side == side:
                as_asked = move_foot(as_asked, side, entry.act.travel_mm - entry.done_mm)
                break
    left, ear = setting.cents(number, feet), setting.cents(number, as_asked)
    changed = last_change(log)
    return BenchShare(
        string=number,
        left_cents=left,
        hand_cents=left - ear,
        ear_cents=ear,
        threshold_cents=None,
        rechecked=any(comparison.string == number and comparison.at > changed for comparison in compared),
    )


def _hand_percent(log: Sequence[Entry]) -> float | None:
    off = [abs(entry.done_mm) / entry.act.amount_mm - 1.0 for entry in log if isinstance(entry.act, Move)]
    return 100.0 * math.sqrt(sum(share**2 for share in off) / len(off)) if off else None
