"""What the learner is told, in whole sentences: about one pair, about a block, and what to do next.

The bands for a threshold are a judgement for one tone after the other at 290 to 590 Hz; they stand in
docs/how-it-works.md and are shown as a judgement there. Imports strings and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.drill.verdict import verdict_of
from centwise.model import GOOD_ENOUGH_CENTS, SURE_ERRORS, BlockResult, Travel, judgement_of
from centwise.strings.bridge import LONGEST_MOVE_MM
from centwise.units import MM_PER_INCH, counted, inches_64ths_text

if TYPE_CHECKING:
    from centwise.drill.verdict import Verdict
    from centwise.drill.words import Feedback
    from centwise.model import Trial

SUSPECT_CENTS = 1.5
PRACTISED_CENTS = 6.0
SOME_PRACTICE_CENTS = 15.0
FIRST_TRY_CENTS = 40.0
CHECK_THE_TASK_CENTS = 60.0
"""Pairs lie 100 c apart at most, so an ear as coarse as this reads too fine: from a threshold beyond a usual first try,
an interval that reaches beyond this counts too (a judgement; how often it does: docs/how-it-works.md)."""
CAUTIOUS_WINDOW = 1.5
"""A unison window beyond this many sigma: hears it and will not say so."""
PER_SIGMA = 0.6745
"""Threshold over sigma; `ear.normal` has it to the last figure, and loads numpy."""
NO_SOUND = "Take a block with sound: pairs that make none say nothing about your ear."
ANSWER_NOT_KEPT = "Your last answer is not kept yet; every one before it is."
RESULT_NOT_KEPT = "Every answer is kept; only the result is not written down yet."
SWAPPED = (
    "Flat and sharp seem to have changed places, as they often do at first: flat means that the fretted note is the "
    "lower one, sharp that it is the higher one."
)


def travel_text(travel: Travel) -> str:
    """Say a move: `forward 3.1 mm (1/8 in)`, or `leave it`."""
    if travel.direction == "leave":
        return "leave it"
    return f"{travel.direction} {length_text(travel.travel_mm, travel.sixty_fourths)}"


def length_text(length_mm: float, sixty_fourths: int) -> str:
    """Say a length both ways: `3.1 mm (1/8 in)`, `0.2 mm (less than 1/64 in)`."""
    inches = f"{inches_64ths_text(sixty_fourths)}" if sixty_fourths else "less than 1/64 in"
    return f"{_mm(length_mm)} ({inches})"


def truth_text(trial: Trial) -> str:
    """Say how the fretted note really stood: `flat by 8.0 cents`, `in unison with the harmonic`."""
    if trial.truth == "unison":
        return "in unison with the harmonic"
    return f"{trial.truth} by {abs(trial.offset_cents):.1f} cents"


def verdict_text(trial: Trial) -> str:
    """Say whether the answer was right, kindly: `Right.`, `Not this time: you said flat.`."""
    return "Right." if trial.correct else f"Not this time: you said {trial.answer}."


def feedback_sentence(feedback: Feedback) -> str:
    """Say all there is about one pair in two or three sentences, for the ear of a screen reader too."""
    return (
        f"{verdict_text(feedback.trial)} The fretted note was {truth_text(feedback.trial)}. {bridge_sentence(feedback)}"
    )


def bridge_sentence(feedback: Feedback) -> str:
    """Say what the bridge would want in a whole sentence."""
    if feedback.travel.direction == "leave":
        return "The bridge stands right: leave it."
    return f"The bridge would go {bridge_text(feedback)}."


def bridge_text(feedback: Feedback) -> str:
    """Say what the bridge would want, as a hand would do it: near enough is left, a long way is gone in small moves."""
    travel = feedback.travel
    if travel.direction != "leave" and abs(feedback.trial.offset_cents) <= GOOD_ENOUGH_CENTS:
        return f"{travel.direction} {_mm(travel.travel_mm)}: near enough to leave"
    if travel.travel_mm > LONGEST_MOVE_MM:
        return f"{travel_text(travel)}, in small moves"
    return travel_text(travel)


NO_HEARING_TEST = "This is no hearing test."
"""Said wherever a number is: it tells of pitch, at a level nobody has measured."""


def result_sentences(result: BlockResult, *, heard: bool = True) -> tuple[str, ...]:
    """Say a block's result: what it is worth, the number with its interval and travel, and last what to do next."""
    verdict = verdict_of(result, heard=heard)
    step = next_step(result, heard=heard)
    if verdict == "whole":
        return (threshold_sentence(result), travel_sentence(result), *beside_sentences(result), NO_HEARING_TEST, step)
    if verdict == "few":
        return (doubt_sentence(verdict, result), provisional_sentence(result), NO_HEARING_TEST, step)
    # What is left has no number: that of pairs that made no sound would be nobody's.
    return (doubt_sentence(verdict, result), step)


def doubt_sentence(verdict: Verdict, result: BlockResult) -> str:
    """Say why a block has no number that could be taken for the ear's; the verdict is any but `whole`."""
    if verdict == "no figures":
        return f"{_pairs(result.trials)} judged: too few to say anything about your ear."
    if verdict == "unheard":
        return "These pairs made no sound, so there is no number for your ear."
    if verdict == "swapped":
        return "Flat and sharp changed places in this block, so it has no number for your ear."
    if verdict == "one answer":
        return "Nearly every pair was given the same answer, so the block has no number for your ear."
    return f"{_pairs(result.trials)} are too few to say how small a difference you hear."


def provisional_sentence(result: BlockResult) -> str:
    """Say the threshold as what it is after few pairs; the result must have one."""
    return (
        f"Provisional: flat from sharp three times in four at {_cents(result.threshold_cents)}, "
        f"90 % sure between {_bare(result.low_cents)} and {_cents(result.high_cents)}."
    )


def threshold_sentence(result: BlockResult) -> str:
    """Say the threshold, what it means and its 90 % interval; the result must have one."""
    return (
        f"You tell flat from sharp three times in four at {_cents(result.threshold_cents)}; "
        f"90 % sure between {_bare(result.low_cents)} and {_cents(result.high_cents)}."
    )


def travel_sentence(result: BlockResult) -> str:
    """Say the threshold as bridge travel, beside what counts as set."""
    good_mm = (result.travel_mm or 0.0) / (result.threshold_cents or 1.0) * GOOD_ENOUGH_CENTS
    travel = length_text(result.travel_mm or 0.0, result.travel_sixty_fourths or 0)
    return (
        f"That is {travel} of bridge; an outer string counts as set within "
        f"{GOOD_ENOUGH_CENTS:g} cents, which is {good_mm:.1f} mm."
    )


def beside_sentences(result: BlockResult) -> tuple[str, ...]:
    """Say what is measured beside the threshold: bias, with both orders the time-order error too, and the window."""
    if result.bias_cents is None or result.unison_window_cents is None:
        return ()
    bias = between_text(result.bias_low_cents or 0.0, result.bias_high_cents or 0.0)
    said = [f"A pair in unison sounds {_lean(result.bias_cents)} to you, 90 % sure {bias}."]
    if result.order_error_cents is not None:
        doubt = between_text(result.order_error_low_cents or 0.0, result.order_error_high_cents or 0.0)
        lean = _lean(result.order_error_cents)
        second = "makes no difference" if lean == "in unison" else f"sounds {lean}"
        said.append(f"Whichever tone comes second {second}, 90 % sure {doubt}.")
    said.append(f"You call a pair unison within {_cents(result.unison_window_cents)}.")
    return tuple(said)


def _lean(cents: float) -> str:
    rounded = round(cents, 1)
    return "in unison" if rounded == 0 else f"{judgement_of(rounded)} by {_cents(abs(rounded))}"


def between_text(low_cents: float, high_cents: float) -> str:
    """Say an interval in words: `between 86.0 and 146.8 cents flat`, `between 0.4 cents flat and 2.9 cents sharp`."""
    low, high = round(low_cents, 1), round(high_cents, 1)
    if low * high > 0:
        near, far = sorted((abs(low), abs(high)))
        return f"between {_bare(near)} and {_cents(far)} {judgement_of(low)}"
    return f"between {_side(low)} and {_side(high)}"


def _side(cents: float) -> str:
    return "unison" if cents == 0 else f"{_cents(abs(cents))} {judgement_of(cents)}"


def next_step(result: BlockResult, *, heard: bool = True) -> str:  # noqa: PLR0911  one return a finding
    """Say the one thing to do next. The most telling finding comes first."""
    verdict, threshold = verdict_of(result, heard=heard), result.threshold_cents
    if threshold is None or verdict != "whole":
        return _after_doubt(verdict, result)
    if threshold < SUSPECT_CENTS:
        return (
            "That is finer than ears are known to hear: look for anything but pitch that gives the answer away, "
            "then take another block."
        )
    if _too_cautious(result):
        return (
            "You hear more than you say: when it leans to one side, say so, even when you are not sure. "
            "A wrong guess costs nothing here."
        )
    if _too_wide(threshold, result.high_cents or threshold):
        return (
            "That is a wide difference: check the loudspeaker or headphones and a quiet room first, then try again; "
            "a worry about your hearing belongs to an audiologist."
        )
    if _matters(result.bias_cents, result.bias_low_cents, result.bias_high_cents):
        lean = "sharp" if (result.bias_cents or 0.0) > 0 else "flat"
        check = (
            # Both orders were heard, and it stayed: it follows the tones.
            "be right, whichever tone comes first, so check with centwise measure or a second ear."
            if result.order_error_cents is not None
            else "be right, so compare again in the other order."
        )
        return (
            f"Mind that lean of {_cents(abs(result.bias_cents or 0.0))} at the bridge: what sounds {lean} to you may "
            f"{check}"
        )
    if _matters(result.order_error_cents, result.order_error_low_cents, result.order_error_high_cents):
        lean = "sharp" if (result.order_error_cents or 0.0) > 0 else "flat"
        return f"At the bridge compare in both orders and take the middle: your second tone sounds {lean}."
    return _by_band(threshold)


def _after_doubt(verdict: Verdict, result: BlockResult) -> str:
    """Say what to do next after a block whose figures are not, or not yet, the ear's."""
    return {
        "no figures": "Judge at least 20 pairs in one go; 40 take about six minutes.",
        "unheard": NO_SOUND,
        "swapped": "Several large differences were heard the wrong way round: flat is the lower fretted note, sharp "
        "the higher one. Listen to a few large ones again before the next block.",
        "one answer": "Begin with a few large differences, where flat and sharp are plain, and say what you hear even "
        "when you are not sure: a wrong answer costs nothing here.",
    }.get(verdict, f"{_pairs(result.trials)} leave a wide range: take a block of 40 before you trust the number.")


def _by_band(threshold: float) -> str:
    if threshold <= GOOD_ENOUGH_CENTS:
        return "That is as fine as a bridge needs: keep it with a block a week."
    if threshold <= PRACTISED_CENTS:
        return (
            "A practised ear: a bridge can be set with it if you compare several times. "
            "Short blocks bring it nearer to 2 cents."
        )
    if threshold <= SOME_PRACTICE_CENTS:
        return "Enough to see which way a bridge must go, not yet how far: another block today, and one tomorrow."
    if threshold <= FIRST_TRY_CENTS:
        return "That is usual for a first try, and it falls quickly: three or four short blocks a day do most."
    return "Take the next block in a quiet room with headphones, and play each pair again before you answer."


def _too_wide(threshold_cents: float, high_cents: float) -> bool:
    return threshold_cents > FIRST_TRY_CENTS and max(threshold_cents, high_cents) > CHECK_THE_TASK_CENTS


def _too_cautious(result: BlockResult) -> bool:
    sigma = (result.threshold_cents or math.inf) / PER_SIGMA
    return (result.unison_window_cents or 0.0) > CAUTIOUS_WINDOW * sigma


def _matters(cents: float | None, low_cents: float | None, high_cents: float | None) -> bool:
    """Whether a lean matters: beyond two standard errors, which its 90 % interval tells."""
    if cents is None or low_cents is None or high_cents is None:
        return False
    standard_error = (high_cents - low_cents) / (2 * SURE_ERRORS)
    return abs(cents) > max(2 * standard_error, 0.5)


def _pairs(count: int) -> str:
    return "No pairs" if count == 0 else counted(count, "pair")


def _mm(length_mm: float) -> str:
    return f"{length_mm:.1f} mm" if length_mm >= 0.05 else f"{length_mm:.2f} mm"


def _bare(cents: float | None) -> str:
    return f"{cents or 0.0:.1f}"


def _cents(cents: float | None) -> str:
    return f"{_bare(cents)} cents"


def scale_text(scale_mm: float) -> str:
    """Say a scale length: `26.25 in (666.75 mm)`; whole eighths of an inch exactly, others to four figures."""
    inches = round(scale_mm / MM_PER_INCH, 6)
    return f"{inches if (8 * inches).is_integer() else float(f'{inches:.4g}'):g} in ({scale_mm:.2f} mm)"
