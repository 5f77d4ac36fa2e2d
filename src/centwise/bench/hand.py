"""The hand at the bench: it does about what was asked, never exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.bench.acts import act_text
from centwise.draws import Draws, Purpose
from centwise.errors import UsageError
from centwise.strings.bridge import Feet, margins_mm, move_foot, slide

if TYPE_CHECKING:
    from centwise.bench.acts import Move, Slide
    from centwise.bench.machine import Bench

SCATTER = 0.15
"""Standard deviation of a move as a share of what was asked (judgement)."""
MOST_SCATTERS = 3.0
SLIDE_TURNS = 0.1
"""Standard deviation of how far each foot goes along the strings in a sideways slide, as a share of it (judgement):
why the sides are heard again after centring."""
MOST_TURNED_MM = 25.0
"""A bridge turned further than this does not stay upright (judgement)."""


def moved(bench: Bench, act: Move, n: int) -> tuple[Feet, float]:
    """Return where the feet stand after a move, and how far it really went, + away from the neck.

    Raises:
        UsageError: the bridge would leave the head, or fall.
    """
    rng = Draws(bench.plan.seed).stream(Purpose.HAND, n)
    asked_mm = act.amount_mm if act.way == "back" else -act.amount_mm
    done_mm = asked_mm * (1.0 + SCATTER * _scatter(float(rng.normal())))
    return _checked(bench, move_foot(bench.feet, act.side, done_mm), act), done_mm


def slid(bench: Bench, act: Slide, n: int) -> tuple[Feet, float]:
    """Return where the feet stand after a slide, and how far it really went, + toward the treble side.

    Raises:
        UsageError: a string would leave the fingerboard.
    """
    rng = Draws(bench.plan.seed).stream(Purpose.HAND, n)
    far, bass, treble = (_scatter(float(value)) for value in rng.normal(size=3))
    went_mm = act.amount_mm * (1.0 + SCATTER * far)
    feet = slide(bench.feet, act.toward, went_mm)
    for side, turn in (("bass", bass), ("treble", treble)):
        feet = move_foot(feet, "bass" if side == "bass" else "treble", SLIDE_TURNS * went_mm * turn)
    return _checked(bench, feet, act), went_mm if act.toward == "treble" else -went_mm


def _scatter(drawn: float) -> float:
    """Keep a draw within three of its standard deviations, so that no move ever goes the other way."""
    return min(max(drawn, -MOST_SCATTERS), MOST_SCATTERS)


def _checked(bench: Bench, feet: Feet, act: Move | Slide) -> Feet:
    instrument = bench.setting.instrument
    words = act_text(act)
    # The room is told for a foot in its place by the scale length.
    if any(not -instrument.top.forward_mm <= foot <= instrument.top.back_mm for foot in (feet.bass_mm, feet.treble_mm)):
        raise UsageError(
            f"{words!r} would take the bridge off the head, so it stays where it is", "ask for less, such as 1/16in"
        )
    if abs(feet.bass_mm - feet.treble_mm) > MOST_TURNED_MM:
        raise UsageError(
            f"{words!r} would turn the bridge until it falls, so it stays where it is", "ask for less, such as 1/16in"
        )
    margins = margins_mm(instrument, feet.side_mm)
    if min(margins.bass_mm, margins.treble_mm) < 0.0 or abs(feet.side_mm) > instrument.top.side_mm:
        raise UsageError(
            f"{words!r} would take a string off the fingerboard, so the bridge stays where it is",
            "ask for less, such as 0.5mm",
        )
    return feet
