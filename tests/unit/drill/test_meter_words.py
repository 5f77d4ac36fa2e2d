"""What is told where the truth is a measurement: words, signs, figures, and what the meter's error means."""

from __future__ import annotations

import math

import pytest

from centwise.drill.meter import against_sentences, error_sentence, meter_sentence, meter_text, reading_text
from centwise.drill.words import Feedback
from centwise.model import BlockResult, Judgement, Trial
from centwise.strings.geometry import travel_for
from fakes import START, block_plan


def trial(offset_cents: float, answer: Judgement, n: int = 1) -> Trial:
    return Trial(n, offset_cents, "harmonic", answer, START)


def told(offset_cents: float, answer: Judgement, error_cents: float) -> Feedback:
    return Feedback(trial(offset_cents, answer), travel_for(offset_cents, 666.75), error_cents)


@pytest.mark.parametrize(
    ("offset_cents", "error_cents", "words"),
    [
        (5.234, 0.3, "sharp by 5.2 ± 0.3 cents"),
        (5.234, 0.094, "sharp by 5.23 ± 0.09 cents"),
        (-5.234, 0.0961, "flat by 5.2 ± 0.1 cents"),
        (-0.534, 1e-6, "flat by 0.53 ± 0.01 cents"),
        (0.0, 1e-6, "unison within 0.1 cents"),
        (0.0, 0.4, "unison within 0.7 cents"),
    ],
)
def test_a_reading_says_its_error(offset_cents: float, error_cents: float, words: str) -> None:
    assert reading_text(trial(offset_cents, "flat"), error_cents) == words


def test_a_pair_is_told_in_sentences_and_in_two_lines() -> None:
    agreed, missed, still = told(5.0, "sharp", 0.1), told(-1.5, "unison", 0.1), told(0.0, "sharp", 0.1)
    # By the law of how-it-works, 0.385 mm a cent at 26.25 in.
    assert meter_sentence(agreed) == (
        "The meter reads sharp by 5.0 ± 0.1 cents. Ear and meter agree. The bridge would go back 1.9 mm (5/64 in)."
    )
    assert meter_sentence(missed) == (
        "The meter reads flat by 1.5 ± 0.1 cents. You said unison. "
        "The bridge would go forward 0.6 mm: near enough to leave."
    )
    assert meter_sentence(still).endswith("You said sharp. The bridge stands right: leave it.")
    assert meter_text(agreed) == "Meter: ♯ sharp by 5.0 ± 0.1 cents. You agree.\nBridge: back 1.9 mm (5/64 in)."
    assert meter_text(still) == "Meter: = unison within 0.2 cents. You said sharp.\nLeave the bridge."
    for feedback in (agreed, missed, still, told(-99.96, "unison", 0.3)):
        assert all(len(line) <= 58 for line in meter_text(feedback).splitlines())


def test_a_block_is_told_by_how_often_ear_and_meter_agree() -> None:
    plan = block_plan(voice="recorded", trials=3, given_cents=(5.0, -1.5, 0.0), take_error_cents=0.1)
    trials = (trial(5.0, "sharp", 1), trial(-1.5, "unison", 2), trial(0.0, "unison", 3))
    assert against_sentences(plan, trials) == (
        "Ear and meter agree on 2 of 3 pairs.",
        "One difference is within 2 cents of unison, which is good enough to leave.",
        (
            "The meter's readings have a standard error of 0.1 cents: what it calls unison lies within 0.2 cents of "
            "it, 90 % sure."
        ),
    )
    assert against_sentences(plan, trials[:1])[0] == "Ear and meter agree on the pair."
    assert against_sentences(plan, trials[1:2])[0] == "Ear and meter do not agree on the pair."
    assert against_sentences(plan, ()) == ("No pair was judged, so the meter tells nothing.",)
    assessed = block_plan(
        voice="recorded", trials=3, given_cents=(5.0, -1.5, 0.0), take_error_cents=0.1, assess=True, player="silent"
    )
    said = against_sentences(assessed, trials)
    assert said[1].startswith("But these pairs made no sound")
    assert said[3] == "Pair 2: you said unison, the meter reads flat by 1.5 ± 0.1 cents."


def result(threshold_cents: float | None) -> BlockResult:
    return BlockResult(40, 30, threshold_cents, *([None] * 10))


@pytest.mark.parametrize(
    ("threshold_cents", "error_cents", "widened"),
    [(4.0, 0.05, "less than 0.01"), (4.0, 1.0, "about 0.06"), (1.0, 0.5, "about 0.06")],
)
def test_what_the_takes_error_means_is_worked_out(threshold_cents: float, error_cents: float, widened: str) -> None:
    """Two independent normal errors add by their squares."""
    sigma = threshold_cents / 0.6745
    exact = 0.6745 * (math.sqrt(sigma**2 + error_cents**2) - sigma)
    assert (exact < 0.01) == widened.startswith("less")
    said = error_sentence(block_plan(voice="shifted", take_error_cents=error_cents), result(threshold_cents))
    assert said is not None
    assert f"the threshold by {widened} cents" in said


def test_without_a_take_or_a_threshold_there_is_nothing_to_say() -> None:
    assert error_sentence(block_plan(), result(4.0)) is None
    assert error_sentence(block_plan(voice="shifted", take_error_cents=0.1), result(None)) is None
