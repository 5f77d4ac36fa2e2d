"""What the learner is told: the right finding, in whole sentences, without words only a laboratory knows."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.drill import advice, verdict
from centwise.drill.result import block_result
from centwise.drill.words import Feedback
from centwise.ear.population import Population, simulate_blocks
from centwise.model import JUDGEMENTS, BlockResult, Judgement, Travel, Trial
from centwise.strings.geometry import bridge_offset_mm, travel_for
from centwise.units import nearest_64ths
from fakes import START, block_plan

SCALE_MM = 666.75
JARGON = re.compile(
    r"sigma|σ|posterior|prior|lapse|staircase|d′|likelihood|percentile|standard error|observer|\b(None|nan|inf)\b",
    re.IGNORECASE,
)


def result(threshold: float | None = 8.0, **changes: Any) -> BlockResult:
    if threshold is None:
        return BlockResult(changes.get("trials", 3), 2, *([None] * 11))
    low, high = threshold / 1.4, threshold * 1.4
    travel, travel_low, travel_high = (bridge_offset_mm(-cents, SCALE_MM) for cents in (threshold, low, high))
    made = BlockResult(
        trials=40,
        correct=30,
        threshold_cents=threshold,
        low_cents=low,
        high_cents=high,
        bias_cents=0.0,
        bias_low_cents=-1.0,
        bias_high_cents=1.0,
        unison_window_cents=threshold,
        travel_mm=travel,
        travel_low_mm=travel_low,
        travel_high_mm=travel_high,
        travel_sixty_fourths=nearest_64ths(travel),
    )
    return replace(made, **changes)


def trial(offset_cents: float, answer: Judgement, n: int = 1) -> Trial:
    return Trial(n, offset_cents, "harmonic", answer, START)


def step_after(found: BlockResult, answers: list[Trial]) -> str:
    """The next step, the doubt taken from the answers as a block's result does."""
    return advice.next_step(replace(found, doubt=verdict.doubt_of(answers)))


WRONG_WAY = [trial(offset, "sharp" if offset < 0 else "flat") for offset in (40.0, -40.0, 47.6, -33.6, 56.6)]

CASES: dict[str, tuple[BlockResult, list[Trial], str]] = {
    "nothing can be said": (result(None), [], "Judge at least 20 pairs"),
    "directions confused": (result(50.0), WRONG_WAY, "heard the wrong way round"),
    "confused, though few": (result(50.0, trials=8), WRONG_WAY, "heard the wrong way round"),
    "one answer": (result(58.9), [trial(o, "unison") for o in (40.0, -40.0, 0.0) * 4], "a few large differences"),
    "finer than ears hear": (result(1.4), [], "anything but pitch that gives the answer away"),
    "few trials": (result(8.0, trials=19), [], "19 pairs leave a wide range"),
    "few, and suspiciously fine": (result(0.9, trials=6), [], "6 pairs leave a wide range"),
    "cautious": (result(6.745, unison_window_cents=15.1), [], "You hear more than you say"),
    "wide": (result(61.0), [], "check the loudspeaker or headphones"),
    "leans sharp": (
        result(8.0, bias_cents=3.3, bias_low_cents=0.6, bias_high_cents=6.0),
        [],
        "what sounds sharp to you may be right, so compare again in the other order",
    ),
    "leans, and both orders were heard": (
        result(8.0, bias_cents=3.3, bias_low_cents=0.6, bias_high_cents=6.0, order_error_cents=0.1),
        [],
        "whichever tone comes first, so check with centwise measure",
    ),
    "the second tone leans": (
        result(8.0, order_error_cents=-3.3, order_error_low_cents=-6.0, order_error_high_cents=-0.6),
        [],
        "compare in both orders and take the middle: your second tone sounds flat",
    ),
    "leans flat": (
        result(8.0, bias_cents=-3.3, bias_low_cents=-6.0, bias_high_cents=-0.6),
        [],
        "what sounds flat to you may be right, so compare again in the other order",
    ),
    "as fine as a bridge needs": (result(2.0), [], "as fine as a bridge needs"),
    "practised": (result(6.0), [], "A practised ear"),
    "some practice": (result(15.0), [], "which way a bridge must go"),
    "first try": (result(40.0), [], "usual for a first try"),
    "beyond a first try": (result(42.0, high_cents=60.0), [], "quiet room with headphones"),
}


@pytest.mark.parametrize("case", CASES)
def test_each_finding_has_its_own_next_step(case: str) -> None:
    found, answers, words = CASES[case]
    step = step_after(found, answers)
    assert words in step
    assert not any(words in step_after(*CASES[other][:2]) for other in CASES if CASES[other][2] != words)


@pytest.mark.parametrize("case", CASES)
def test_every_sentence_ends_with_a_full_stop_and_leaks_no_jargon(case: str) -> None:
    found, answers, _ = CASES[case]
    for sentence in advice.result_sentences(replace(found, doubt=verdict.doubt_of(answers))):
        assert sentence.endswith(".")
        assert not sentence.endswith("..")
        assert sentence[:1].isupper() or sentence[:1].isdigit()
        assert JARGON.search(sentence) is None
        assert "  " not in sentence


@pytest.mark.parametrize(
    ("threshold", "high", "check"),
    [(60.1, 84.0, True), (40.1, 60.1, True), (40.1, 60.0, False), (40.0, 60.1, False), (39.0, 86.0, False)],
)
def test_the_task_is_checked_where_the_interval_reaches_far(threshold: float, high: float, check: bool) -> None:
    assert ("check the loudspeaker" in advice.next_step(result(threshold, high_cents=high))) is check


@pytest.mark.parametrize(("true_cents", "least", "most"), [(25.0, 0, 1), (80.0, 20, 40)])
def test_who_hears_too_little_is_sent_to_the_loudspeaker_first(true_cents: float, least: int, most: int) -> None:
    # Measured over 100 listeners each: none of 25 c, 77 of 80 c; 40 drawn from a seed here.
    sigma = np.full(40, true_cents / 0.6745)
    people = Population(sigma, 0.7 * sigma, 0.0 * sigma, np.full(40, 0.02))
    blocks = simulate_blocks(people, 40, seed=50)
    plan = block_plan(trials=40)
    told = 0
    for offsets, answers in zip(blocks.offsets_cents.T, blocks.answers.T, strict=True):
        trials = [trial(float(o), JUDGEMENTS[a], n) for n, (o, a) in enumerate(zip(offsets, answers, strict=True), 1)]
        told += "check the loudspeaker" in advice.next_step(block_result(plan, trials))
    assert least <= told <= most


def test_a_bias_matters_only_beyond_two_standard_errors() -> None:
    # A 90 % interval is 2 x 1.645 standard errors wide: with one of 2 c, two of them are 4 c.
    half = 1.645 * 2.0
    for bias, matters in ((3.9, False), (4.1, True), (-3.9, False), (-4.1, True)):
        found = result(8.0, bias_cents=bias, bias_low_cents=bias - half, bias_high_cents=bias + half)
        assert ("Mind that lean" in advice.next_step(found)) == matters


def test_a_bias_nobody_could_use_is_not_told() -> None:
    assert "Unison" not in advice.next_step(result(8.0, bias_cents=0.4, bias_low_cents=0.39, bias_high_cents=0.41))


def test_the_window_is_wide_beyond_one_and_a_half_sigma() -> None:
    sigma = 8.0 / 0.6745
    assert "more than you say" in advice.next_step(result(8.0, unison_window_cents=1.51 * sigma))
    assert "more than you say" not in advice.next_step(result(8.0, unison_window_cents=1.49 * sigma))


def test_directions_are_confused_only_when_wrong_outweighs_right() -> None:
    right = [trial(offset, "sharp" if offset > 0 else "flat") for offset in (40.0, -40.0, 47.6, -33.6, 56.6)]
    assert "wrong way round" not in step_after(result(50.0), WRONG_WAY[:3])
    assert "wrong way round" not in step_after(result(50.0), WRONG_WAY + right)
    small = [trial(offset / 4, "sharp" if offset < 0 else "flat") for offset in (40.0, -40.0, 47.6, -33.6, 56.6)]
    assert "wrong way round" not in step_after(result(50.0), small)


def test_the_threshold_is_told_with_its_interval_and_its_travel() -> None:
    threshold, travel, *_ = advice.result_sentences(result(8.0))
    assert "three times in four at 8.0 cents; 90 % sure between 5.7 and 11.2 cents" in threshold
    # 8 c at 26.25 in: d = S(r-1)/(2-r), r = 2^(8/1200), is 3.102 mm, 7.82/64 in; 2 c are 0.771 mm.
    assert "3.1 mm (1/8 in) of bridge" in travel
    assert "within 2 cents, which is 0.8 mm" in travel


@given(threshold=st.floats(0.5, 86.0))
def test_what_counts_as_set_is_told_right_to_a_tenth_of_a_millimetre(threshold: float) -> None:
    sentence = advice.travel_sentence(result(threshold))
    told = float(re.findall(r"which is ([\d.]+) mm", sentence)[0])
    assert told == pytest.approx(bridge_offset_mm(-2.0, SCALE_MM), abs=0.1)


@pytest.mark.parametrize(
    ("offset", "answer", "words"),
    [
        (-8.0, "flat", ("Right.", "was flat by 8.0 cents.", "would go forward 3.1 mm (1/8 in).")),
        (-8.0, "sharp", ("Not this time: you said sharp.", "was flat by 8.0 cents.", "forward 3.1 mm (1/8 in).")),
        (8.0, "sharp", ("Right.", "was sharp by 8.0 cents.", "would go back 3.1 mm (1/8 in).")),
        (0.0, "unison", ("Right.", "was in unison with the harmonic.", "The bridge stands right: leave it.")),
        (0.0, "flat", ("Not this time: you said flat.", "in unison with the harmonic.", "leave it.")),
        (
            0.4,
            "unison",
            ("Not this time: you said unison.", "sharp by 0.4 cents.", "back 0.2 mm: near enough to leave."),
        ),
        (0.1, "sharp", ("Right.", "sharp by 0.1 cents.", "back 0.04 mm: near enough to leave.")),
        (-40.0, "flat", ("Right.", "flat by 40.0 cents.", "forward 16.0 mm (5/8 in), in small moves.")),
    ],
)
def test_feedback_says_verdict_truth_and_bridge(offset: float, answer: Judgement, words: tuple[str, ...]) -> None:
    sentence = advice.feedback_sentence(Feedback(trial(offset, answer), travel_for(offset, SCALE_MM)))
    assert sentence.endswith(".")
    for part in words:
        assert part in sentence


@pytest.mark.parametrize(("count", "words"), [(0, "No pairs judged"), (1, "1 pair judged"), (4, "4 pairs judged")])
def test_pairs_are_counted_in_words_that_fit(count: int, words: str) -> None:
    assert advice.result_sentences(result(None, trials=count))[0].startswith(words)


def test_travel_is_said_both_ways() -> None:
    assert advice.travel_text(Travel(3.175, 8, "back")) == "back 3.2 mm (1/8 in)"
    assert advice.travel_text(Travel(0.0, 0, "leave")) == "leave it"
    assert advice.length_text(0.03, 0) == "0.03 mm (less than 1/64 in)"
    assert advice.scale_text(666.75) == "26.25 in (666.75 mm)"
    assert advice.scale_text(685.8) == "27 in (685.80 mm)"


@pytest.mark.parametrize("scale_mm", list(itertools.accumulate([571.5, 38.1, 38.1, 19.05, 6.35, 12.7])))
def test_a_scale_on_the_quarter_inch_is_said_exactly(scale_mm: float) -> None:
    inches = float(advice.scale_text(scale_mm).split(" in ")[0])
    assert inches * 25.4 == pytest.approx(scale_mm, abs=1e-9)


def test_what_stands_beside_the_threshold_is_told_with_its_doubt() -> None:
    found = replace(result(8.0), bias_cents=1.24, bias_low_cents=-0.4, bias_high_cents=2.9, unison_window_cents=5.0)
    assert advice.beside_sentences(found) == (
        "A pair in unison sounds sharp by 1.2 cents to you, 90 % sure between 0.4 cents flat and 2.9 cents sharp.",
        "You call a pair unison within 5.0 cents.",
    )
    both = replace(found, order_error_cents=-0.02, order_error_low_cents=-1.0, order_error_high_cents=0.9)
    assert advice.beside_sentences(both)[1] == (
        "Whichever tone comes second makes no difference, 90 % sure between 1.0 cents flat and 0.9 cents sharp."
    )
    assert advice.beside_sentences(result(None)) == ()


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (-146.8, -86.0, "between 86.0 and 146.8 cents flat"),
        (86.0, 146.8, "between 86.0 and 146.8 cents sharp"),
        (-0.4, 2.9, "between 0.4 cents flat and 2.9 cents sharp"),
        (-0.04, 2.9, "between unison and 2.9 cents sharp"),
        (-2.0, 0.0, "between 2.0 cents flat and unison"),
    ],
)
def test_an_interval_of_a_lean_is_said_in_words(low: float, high: float, words: str) -> None:
    assert advice.between_text(low, high) == words


def sentences(found: BlockResult, answers: list[Trial], *, heard: bool = True) -> tuple[str, ...]:
    return advice.result_sentences(replace(found, doubt=verdict.doubt_of(answers)), heard=heard)


def test_few_pairs_lead_with_that_and_give_the_figure_as_provisional() -> None:
    lead, figure, no_test, step = sentences(result(0.9, trials=6), [])
    assert no_test == "This is no hearing test."
    assert lead == "6 pairs are too few to say how small a difference you hear."
    assert figure == (
        "Provisional: flat from sharp three times in four at 0.9 cents, 90 % sure between 0.6 and 1.3 cents."
    )
    assert "take a block of 40" in step
    assert len(sentences(result(8.0, trials=verdict.FEW_TRIALS), [])) > 3


def test_directions_taken_for_each_other_give_no_number_at_all() -> None:
    for trials in (6, 40):
        told = sentences(result(73.4, trials=trials), WRONG_WAY)
        assert told[0] == "Flat and sharp changed places in this block, so it has no number for your ear."
        assert not any("73.4" in sentence for sentence in told)


def test_one_word_alone_is_no_swap_and_no_number() -> None:
    always_flat = [trial(offset, "flat") for offset in (40.0, -40.0, 56.6, 33.6) * 5]
    told = sentences(result(60.0), always_flat)
    assert told[0] == "Nearly every pair was given the same answer, so the block has no number for your ear."
    assert not any("60.0" in sentence for sentence in told)
    assert verdict.doubt_of(always_flat[:9]) is None
    mixed = [*always_flat[:18], trial(-40.0, "sharp"), trial(0.0, "unison")]
    assert verdict.doubt_of(mixed) is None


def test_a_block_without_sound_gives_no_number_of_the_ear() -> None:
    told = ("These pairs made no sound, so there is no number for your ear.", advice.NO_SOUND)
    assert sentences(result(8.0), [], heard=False) == told
    # How many there were, and how they were answered, is nothing to speak of then.
    assert sentences(result(None), [], heard=False) == told
    assert sentences(result(8.0), [trial(-40.0, "flat")] * 20, heard=False) == told


@given(
    threshold=st.floats(0.5, 86.0),
    trials=st.integers(5, 60),
    swapped=st.booleans(),
    heard=st.booleans(),
)
def test_a_number_is_given_as_the_ears_only_where_it_may_be(
    threshold: float, trials: int, *, swapped: bool, heard: bool
) -> None:
    answers = WRONG_WAY if swapped else []
    found = result(threshold, trials=trials)
    lead = sentences(found, answers, heard=heard)[0]
    found = replace(found, doubt=verdict.doubt_of(answers))
    whole = trials >= verdict.FEW_TRIALS and not swapped and heard
    assert lead.startswith("You tell flat from sharp") == whole
    assert (verdict.verdict_of(found, heard=heard) == "whole") == whole
