"""The sentences of the bench: nothing told too early, the trap explained, the reckoning whole."""

from __future__ import annotations

from dataclasses import replace

import pytest
from benches import do, effects, found

from centwise.bench.acts import Chime, parse_act
from centwise.bench.cautions import CAUTIONS
from centwise.bench.reckoning import reckon, with_thresholds
from centwise.bench.told import (
    done_sentence,
    found_sentences,
    reckoning_sentences,
    tone_sentence,
    touched_sentence,
    why_sentence,
)
from centwise.bench.words import Done, Ring


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
        said += [done_sentence(e.act, e.margins) for e in happened if isinstance(e, Done)]
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


def reckoned(*words: str, thresholds: dict[int, float | None] | None = None, **changes: str) -> tuple[str, ...]:
    bench = do(found(**changes), *words, "mark")
    result = with_thresholds(reckon(bench.setting, bench.feet, bench.log), thresholds or {})
    return reckoning_sentences(result, bench.setting.instrument)


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
    said = reckoning_sentences(result, there.setting.instrument)
    assert said[0].startswith("The bridge is set: string 4 in unison and string 1 in unison")
    assert said[1] == "The bass foot stands right, the treble foot right, and the bridge in the middle."


def test_the_cautions_cover_what_can_hurt() -> None:
    whole = " ".join(CAUTIONS).lower()
    for word in ("newtons", "eye", "face", "never slacken all", "small moves", "upright", "volume", "repair shop"):
        assert word in whole


def test_acts_without_sound_are_confirmed() -> None:
    for words in ("mute", "unmute", "bass back 1/16in", "slide bass 1mm", "retune", "mark", "start over"):
        assert done_sentence(parse_act(words), None).endswith(".")


def test_a_wrong_move_is_named_kindly_where_it_was_near_enough_to_leave() -> None:
    said = []
    for seed in range(40):
        bench = do(found(seed=seed, difficulty="hard"), "mute", "retune", "chime 4", "fret 4")
        truth = bench.setting.cents(4, bench.feet)
        way = "back" if truth < 0 else "forward"
        result = reckon(bench.setting, bench.feet, do(bench, f"bass {way} 1/64in", "mark").log)
        (wrong,) = [line for line in reckoning_sentences(result, bench.setting.instrument) if "you moved" in line]
        assert f"you moved {way} when string 4 was {'♭ flat' if truth < 0 else '♯ sharp'}" in wrong
        assert ("near enough to leave" in wrong) == (abs(truth) <= 2.0)
        said.append(abs(truth) <= 2.0)
    assert set(said) == {True, False}
