"""What a rehearsal is about and nobody at the bench can see: the right place, the knock, and each string's own way.

Everything here follows from the plan's seed. The right place is where the outer two full-length strings, by which a
bridge is set, have harmonic and octave note in unison. Imports numpy, strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.draws import Draws, Purpose
from centwise.strings.bridge import Feet, contact_mm, feet_through, sideways_cents
from centwise.strings.fretted import QUIRK_SD_CENTS, fretted_cents_over_harmonic, null_contact_mm
from centwise.strings.geometry import retuning_cents

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np

    from centwise.model import BenchPlan, Difficulty
    from centwise.strings.instrument import Instrument

PRESSING_SD_CENTS = 0.5
"""How much the same finger at the same fret scatters from one time to the next."""
UNEVEN_PRESSING_SD_CENTS = 1.5
"""The same of an uneven hand: pressing harder sharpens by 1 to 3 cents (common practice, no source)."""
SLACK_TOGETHER_CENTS, SLACK_EACH_CENTS = 8.0, 5.0
"""Standard deviations of how far the strings were off pitch before the knock, all of them alike and each by itself
(judgement: an instrument that was put away; either is worth millimetres of the bridge)."""
HIGH_NUT_MM = 0.8
"""How much too high the short string's own nut stands at its worst (judgement: often high, common practice)."""

# How far the feet are knocked, a judgement: a bridge that has slipped stands a few millimetres off.
_EASY_MM = (2.0, 4.0)
_MIDDLE_MM, _MIDDLE_SKEW_MM, _MIDDLE_SIDE_MM = (1.5, 4.0), (0.5, 1.5), (0.6, 1.2)
_HARD_BASS_MM, _HARD_TREBLE_MM, _HARD_SIDE_MM = (2.0, 4.5), (1.5, 4.0), (1.5, 2.5)


@dataclass(frozen=True, slots=True)
class Setting:
    """One instrument with its bridge knocked out of place.

    Attributes:
        instrument: at the listener's scale length, with the bridge it has.
        quirk_cents: what each string has on top, by its number.
        nut_rise_mm: how much too high the nut of each short string stands, by its number.
        pressing_sd_cents: how much pressing scatters.
        slack_cents: how far each open string was off pitch before the knock, by its number.
        right: where the bridge belongs.
        start: where it was found.
    """

    instrument: Instrument
    quirk_cents: Mapping[int, float]
    nut_rise_mm: Mapping[int, float]
    pressing_sd_cents: float
    slack_cents: Mapping[int, float]
    right: Feet
    start: Feet

    def cents(self, number: int, feet: Feet, fret: int | None = None) -> float:
        """Return a string's fretted note over its harmonic with the bridge standing there, pressing left out."""
        return fretted_cents_over_harmonic(
            self.instrument,
            number,
            contact_mm(self.instrument, number, feet),
            fret=fret,
            quirk_cents=self.quirk_cents[number],
            nut_rise_mm=self.nut_rise_mm[number],
        )

    def detuned_cents(self, number: int, before: Feet, after: Feet) -> float:
        """Return what an open string changes by when the bridge moves at constant tension."""
        along = retuning_cents(
            contact_mm(self.instrument, number, before),
            contact_mm(self.instrument, number, after),
            self.instrument.string(number).length_mm,
        )
        return (
            along
            + sideways_cents(self.instrument, number, after.side_mm)
            - sideways_cents(self.instrument, number, before.side_mm)
        )


def draw_setting(plan: BenchPlan, instrument: Instrument) -> Setting:
    """Draw the hidden half of a rehearsal.

    Args:
        plan: its seed and its difficulty.
        instrument: the one the plan names, at its scale length and with its bridge.
    """
    rng = Draws(plan.seed).stream(Purpose.KNOCK)
    quirk = {number: float(rng.normal(0.0, QUIRK_SD_CENTS)) for number in instrument.numbers}
    hard = plan.difficulty == "hard"
    short = {spec.number for spec in instrument.strings if spec.start_fret > 0}
    rise = {number: HIGH_NUT_MM if hard and number in short else 0.0 for number in instrument.numbers}
    right = feet_through(
        instrument,
        {number: null_contact_mm(instrument, number, quirk_cents=quirk[number]) for number in instrument.side_strings},
    )
    knock = _knock(plan.difficulty, rng)
    return Setting(
        instrument=instrument,
        quirk_cents=quirk,
        nut_rise_mm=rise,
        pressing_sd_cents=UNEVEN_PRESSING_SD_CENTS if hard else PRESSING_SD_CENTS,
        slack_cents=_slack(plan, instrument),
        right=right,
        start=Feet(right.bass_mm + knock.bass_mm, right.treble_mm + knock.treble_mm, knock.side_mm),
    )


def _slack(plan: BenchPlan, instrument: Instrument) -> dict[int, float]:
    rng = Draws(plan.seed).stream(Purpose.SLACK)
    together = float(rng.normal(0.0, SLACK_TOGETHER_CENTS))
    return {number: together + float(rng.normal(0.0, SLACK_EACH_CENTS)) for number in instrument.numbers}


def _knock(difficulty: Difficulty, rng: np.random.Generator) -> Feet:
    """Draw how far the bridge was knocked: straight; slightly turned and aside; or turned and well aside."""
    sign = 1.0 if rng.random() < 0.5 else -1.0
    aside = 1.0 if rng.random() < 0.5 else -1.0
    turn = 1.0 if rng.random() < 0.5 else -1.0
    if difficulty == "easy":
        straight = sign * float(rng.uniform(*_EASY_MM))
        return Feet(straight, straight, 0.0)
    if difficulty == "middle":
        middle = sign * float(rng.uniform(*_MIDDLE_MM))
        half = turn * float(rng.uniform(*_MIDDLE_SKEW_MM)) / 2.0
        return Feet(middle + half, middle - half, aside * float(rng.uniform(*_MIDDLE_SIDE_MM)))
    return Feet(
        sign * float(rng.uniform(*_HARD_BASS_MM)),
        -sign * float(rng.uniform(*_HARD_TREBLE_MM)),
        aside * float(rng.uniform(*_HARD_SIDE_MM)),
    )
