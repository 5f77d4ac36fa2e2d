"""The hand at the bench: it does about what was asked, never exactly. Imports strings and below."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.bench.acts import Slide, act_text, shown_words
from centwise.draws import Draws, Purpose
from centwise.errors import UsageError
from centwise.strings.bridge import SIDES, Feet, contacts_mm, margins_mm, move_foot, slide

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.bench.acts import Move
    from centwise.bench.machine import Bench
    from centwise.bench.setting import Setting

SCATTER = 0.15
"""Standard deviation of a move as a share of what was asked (judgement)."""
LEAST_MOVE_MM = 0.05
"""No hand moves a foot by less (judgement)."""
MOST_SCATTERS = 3.0
SLIDE_TURNS = 0.1
"""Standard deviation of how far each foot goes along the strings in a sideways slide, as a share of it (judgement):
why the sides are heard again after centring."""
OFF_NECK_MM = 10.0
"""The last fret and the strings' line on the bridge stay further apart than this, or there is no note to fret there."""
MOST_TURNED_MM = 25.0
"""A bridge turned further than this from how it was found does not stay upright (judgement)."""


def moved(bench: Bench, act: Move, n: int) -> tuple[Feet, float]:
    """Return where the feet stand after a move, and how far it really went, + away from the neck.

    Raises:
        UsageError: the bridge would leave the head, or fall.
    """
    _check_amount(act)
    rng = Draws(bench.plan.seed).stream(Purpose.HAND, n)
    done_mm = act.travel_mm * (1.0 + SCATTER * _scatter(float(rng.normal())))
    return _checked(bench, move_foot(bench.feet, act.side, done_mm), act), done_mm


def slid(bench: Bench, act: Slide, n: int) -> tuple[Feet, float]:
    """Return where the feet stand after a slide, and how far it really went, + toward the treble side.

    Raises:
        UsageError: a string would leave the fingerboard.
    """
    _check_amount(act)
    rng = Draws(bench.plan.seed).stream(Purpose.HAND, n)
    far, bass, treble = (_scatter(float(value)) for value in rng.normal(size=3))
    went_mm = act.amount_mm * (1.0 + SCATTER * far)
    feet = slide(bench.feet, act.toward, went_mm)
    for side, turn in zip(SIDES, (bass, treble), strict=True):
        feet = move_foot(feet, side, SLIDE_TURNS * went_mm * turn)
    return _checked(bench, feet, act), went_mm if act.toward == "treble" else -went_mm


def _scatter(drawn: float) -> float:
    """Keep a draw within three of its standard deviations, so that no move ever goes the other way."""
    return min(max(drawn, -MOST_SCATTERS), MOST_SCATTERS)


def _check_amount(act: Move | Slide) -> None:
    if act.amount_mm < LEAST_MOVE_MM:
        raise UsageError(
            f"{shown_words(act_text(act))} is less than a hand can do, so nothing moves",
            f"ask for {LEAST_MOVE_MM:g} mm or more, such as 1/64in",
        )


def _checked(bench: Bench, feet: Feet, act: Move | Slide) -> Feet:
    """Return the feet if they may stand there; what stands beyond an edge already may always be brought nearer."""
    words = shown_words(act_text(act))

    def worse(beyond_mm: Callable[[Feet], float]) -> bool:
        return beyond_mm(feet) > max(beyond_mm(bench.feet), 0.0)

    if worse(lambda stand: _off_head_mm(bench.setting, stand)):
        raise UsageError(
            f"{words} would take the bridge off the head, so it stays where it is", "ask for less, such as 1/16in"
        )
    if worse(lambda stand: _turned_mm(bench.setting, stand) - MOST_TURNED_MM):
        raise UsageError(
            f"{words} would turn the bridge until it falls, so it stays where it is", "ask for less, such as 1/16in"
        )
    if worse(lambda stand: _on_neck_mm(bench.setting, stand)):
        raise UsageError(
            f"{words} would take the bridge onto the neck, so it stays where it is", "ask for less, such as 1/16in"
        )
    if isinstance(act, Slide) and worse(lambda stand: _off_board_mm(bench.setting, stand)):
        raise UsageError(
            f"{words} would take a string off the fingerboard, so the bridge stays where it is",
            "ask for less, such as 0.5mm",
        )
    return feet


def _off_head_mm(setting: Setting, feet: Feet) -> float:
    """Return by how much a foot stands beyond its room; below 0 within it.

    It is counted from where the foot was found, as all that is refused before the mark: counted from its place, a few
    moves too far would tell where that is.
    """
    top, start = setting.instrument.top, setting.start
    gone_mm = (feet.bass_mm - start.bass_mm, feet.treble_mm - start.treble_mm)
    return max(max(foot_mm - top.back_mm, -foot_mm - top.forward_mm) for foot_mm in gone_mm)


def _turned_mm(setting: Setting, feet: Feet) -> float:
    """Return how much further one foot has gone along the strings than the other since the bridge was found."""
    start = setting.start
    return abs((feet.bass_mm - start.bass_mm) - (feet.treble_mm - start.treble_mm))


def _on_neck_mm(setting: Setting, feet: Feet) -> float:
    """Return by how much a string rests too near the last fret; below 0 while it does not."""
    instrument = setting.instrument
    last_fret_mm = instrument.scale_mm * math.exp2(-instrument.neck.frets / 12.0)
    return OFF_NECK_MM - last_fret_mm - min(contacts_mm(instrument, feet).values())


def _off_board_mm(setting: Setting, feet: Feet) -> float:
    """Return by how much a string lies beyond the fingerboard or the bridge beyond its room; below 0 within both."""
    margins = margins_mm(setting.instrument, feet.side_mm)
    return max(-margins.bass_mm, -margins.treble_mm, abs(feet.side_mm) - setting.instrument.top.side_mm)
