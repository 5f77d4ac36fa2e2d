"""The sentences of the bench: nothing told too early, the trap explained, the reckoning whole."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from benches import do, effects, found

from centwise.bench.acts import Chime, parse_act
from centwise.bench.cautions import cautions_for
from centwise.bench.reckoning import reckon, with_thresholds
from centwise.bench.told import (
    done_sentence,
    found_sentences,
    reckoning_sentences,
    share_sentences,
    tone_sentence,
    touched_sentence,
    why_sentence,
)
from centwise.bench.words import Done, Ring
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES


def everything_said(seed: int) -> list[str]:
    """Return all that is said before the mark, doing the same acts; the margins apart, which anybody sees."""
    bench = found(seed=seed, difficulty="middle")
    said = list(found_sentences(bench))
    for words in (
        "mute",
        "retune",
        "chime 4",
        "fret 4",
        "bass back 1/16in",
        "fret 1",
        "open 2",
        "slide bass 0.1mm",
        "unmute",
    ):
        happened = effects(bench, words)
        said += [tone_sentence(e.tone, bench.setting.instrument) for e in happened if isinstance(e, Ring)]
        said += [
            done_sentence(e.act, e.margins, in_tune=do(bench, words).in_tune) for e in happened if isinstance(e, Done)
        ]
        bench = do(bench, words)
        said.append(why_sentence(bench))
    return said


def test_nothing_said_before_the_mark_depends_on_the_truth() -> None:
    assert everything_said(1) == everything_said(2) == everything_said(3)


def test_why_the_5th_over_the_12th_is_a_trap() -> None:
    said = why_sentence(do(found(), "chime 5 12"))
    assert "begins at fret 5" in said
    assert "a third of its length" in said
    # 3 x 391.9954 Hz; an octave and 1.955 cents over 2 x 587.3295 Hz (derived).
    assert "1176.0 Hz, an octave and 1.955 cents above the note fretted there" in said
    assert "use fret 17" in said
    assert "not set by this string" in said


@pytest.mark.parametrize(
    ("act", "part"), [(Chime(4, 7), "third"), (Chime(1, 5), "fourth"), (Chime(5), ""), (Chime(4), "")]
)
def test_what_a_touch_elsewhere_rings(act: Chime, part: str) -> None:
    said = touched_sentence(found().setting.instrument, act)
    assert (f"a {part} of its length" in said) == bool(part)


@pytest.mark.parametrize(
    ("act", "distance"),
    [
        # A third over fret 7, two thirds over 19: 3 times the open string beside notes 7 and 19 semitones above it.
        # Two fifths over fret 9, three over fret 16: 5 times it beside notes 9 and 16 semitones above it (derived).
        (Chime(4, 7), "an octave and 1.955 cents above"),
        (Chime(4, 9), "an octave and 686.314 cents above"),
        (Chime(4, 16), "an octave less 13.686 cents above"),
        (Chime(4, 19), "1.955 cents above"),
    ],
)
def test_how_far_a_touch_elsewhere_rings_above_the_note_fretted_there(act: Chime, distance: str) -> None:
    assert f" Hz, {distance} the note fretted there." in touched_sentence(found().setting.instrument, act)


def reckoned(*words: str, thresholds: dict[int, float | None] | None = None, **changes: str) -> tuple[str, ...]:
    bench = do(found(**changes), *words, "mark")
    result = with_thresholds(reckon(bench.setting, bench.feet, bench.log), thresholds or {})
    return reckoning_sentences(result, bench.setting.instrument, heard=True)


def test_the_reckoning_says_all_of_it_in_sentences() -> None:
    said = reckoned("mute", "retune", "chime 4", "fret 4", "bass back 1/16in", "retune", "chime 4", "fret 4")
    whole = " ".join(said)
    assert all(sentence.endswith(".") for sentence in said)
    for part in (
        "The bridge is not set yet: string 4",
        "The bass foot stands",
        "String 3 is left",
        "in its right place this straight bridge leaves it ♯ sharp by",
        "1 move and 2 comparisons.",
        "judgements heard right.",
        "points of the order were kept.",
        "Not kept, bass again:",
        "came from the hand",
        "How finely you hear is not known yet",
    ):
        assert part in whole, part


def test_without_sound_the_reckoning_says_so_and_nothing_of_an_ear() -> None:
    bench = do(found(), "mute", "retune", "chime 4", "fret 4", "bass back 1/16in", "mark")
    result = reckon(bench.setting, bench.feet, bench.log)
    heard, silent = (reckoning_sentences(result, bench.setting.instrument, heard=heard) for heard in (True, False))
    assert silent[1] == "There was no sound, so nothing here tells of your ear."
    assert {*share_sentences(result)} <= {*heard} - {*silent}
    assert any("heard right" in line for line in heard)
    assert not any("heard right" in line or "you moved" in line for line in silent)
    assert any("points of the order were kept" in line for line in silent)


def test_the_threshold_beside_it_says_what_was_the_ear() -> None:
    words = ("mute", "retune", "chime 4", "fret 4", "chime 1", "fret 1")
    fine, coarse = (" ".join(reckoned(*words, thresholds={4: size, 1: size})) for size in (0.5, 90.0))
    assert "Your threshold is 0.5 cents: your ear can hear what is left" in fine
    assert "Your threshold is 90.0 cents: this is as near as that ear goes." in coarse
    assert "It was not compared after the last move" in " ".join(reckoned(thresholds={4: 3.0, 1: 3.0}))


def test_a_bridge_in_its_place_is_said_to_be_set() -> None:
    bench = found()
    there = replace(bench, feet=bench.setting.right)
    result = reckon(there.setting, there.feet, do(there, "mark").log)
    said = reckoning_sentences(result, there.setting.instrument, heard=True)
    assert said[0].startswith("The bridge is set: string 4 in unison and string 1 in unison")
    assert said[1] == "The bass foot stands right, the treble foot right, and the bridge in the middle."


def test_the_cautions_cover_what_can_hurt() -> None:
    whole = " ".join(cautions_for(found().setting.instrument)).lower()
    for word in ("newtons", "eye", "face", "never slacken all", "small moves", "upright", "volume", "repair shop"):
        assert word in whole


@pytest.mark.parametrize("name", BUILT_IN_NAMES)
def test_the_pull_of_the_strings_is_that_of_the_instrument_at_hand(name: str) -> None:
    instrument = BUILT_IN.named(name)
    # Rederived: T = mass per metre (2 L f)^2, every string of a course pulling alike; 4.448 N are a pound-force.
    pulls = [spec.linear_kg_m * (2e-3 * spec.length_mm * spec.open_hz) ** 2 for spec in instrument.strings]
    whole = sum(pull * spec.course for pull, spec in zip(pulls, instrument.strings, strict=True))
    said = cautions_for(instrument)[0]
    figures = [int(figure) for figure in re.findall(r"\d+", said)]
    assert figures[:2] == [round(min(pulls)), round(max(pulls))]
    assert figures[2] == round(min(pulls) / 4.448)
    assert figures[-1] == pytest.approx(whole, abs=5.1)
    assert figures[-1] > 1.5 * figures[1]
    shorter = cautions_for(instrument.with_scale(0.9 * instrument.scale_mm))[0]
    assert int(re.findall(r"\d+", shorter)[-1]) == pytest.approx(0.81 * whole, abs=5.1)


def test_strings_are_said_to_be_out_of_tune_only_when_they_are() -> None:
    bench = do(found(), "mute", "retune")
    said = []
    for words in ("bass forward 0.1mm", "bass forward 0.1mm", "bass forward 1/16in"):
        bench = do(bench, words)
        sentence = done_sentence(parse_act(words), None, in_tune=bench.in_tune)
        assert ("out of tune" in sentence) == (not bench.in_tune)
        said.append("out of tune" in sentence)
    assert said == [False, False, True]


def test_acts_without_sound_are_confirmed() -> None:
    for words in ("mute", "unmute", "bass back 1/16in", "slide bass 1mm", "retune", "mark", "start over"):
        assert done_sentence(parse_act(words), None, in_tune=True).endswith(".")


def test_a_wrong_move_is_named_kindly_where_it_was_near_enough_to_leave() -> None:
    said = []
    for seed in range(40):
        bench = do(found(seed=seed, difficulty="hard"), "mute", "retune", "chime 4", "fret 4")
        truth = bench.setting.cents(4, bench.feet)
        way = "back" if truth < 0 else "forward"
        result = reckon(bench.setting, bench.feet, do(bench, f"bass {way} 1/64in", "mark").log)
        whole = reckoning_sentences(result, bench.setting.instrument, heard=True)
        (wrong,) = [line for line in whole if "you moved" in line]
        assert f"you moved {way} when string 4 was {'♭ flat' if truth < 0 else '♯ sharp'}" in wrong
        assert ("near enough to leave" in wrong) == (abs(truth) <= 2.0)
        said.append(abs(truth) <= 2.0)
    assert set(said) == {True, False}
