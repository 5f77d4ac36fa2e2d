"""The guided round: it asks for the steps of the trade in their order, says less and less, and never which way."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from benches import do, found
from hypothesis import given, settings
from hypothesis import strategies as st

from centwise.bench.guide import BRIEF, FULL, NAME_ONLY, advice

if TYPE_CHECKING:
    from centwise.bench.machine import Bench


def steps_followed(seed: int) -> list[tuple[str, str, int]]:
    """Follow the guide, judging with a perfect ear, and return stage, step and level each time something new comes."""
    bench = found(seed=seed, guided=True, difficulty="easy")
    followed: list[tuple[str, str, int]] = []
    for _ in range(80):
        said = advice(bench)
        if not followed or followed[-1][:2] != (said.stage, said.step):
            followed.append((said.stage, said.step, said.level))
        if said.step == "listen":
            return followed
        bench = do(bench, *_obeyed(bench, said.stage, said.step))
    raise AssertionError(f"the guide came to no end: {followed}")


def _obeyed(bench: Bench, stage: str, step: str) -> tuple[str, ...]:
    side, string = ("treble", 1) if stage == "treble" else ("bass", 4)
    truth = bench.setting.cents(string, bench.feet)
    if step == "compare":
        heard = {entry.act.string for entry in bench.log[-2:] if hasattr(entry.act, "string")}
        string = 1 if stage == "recheck" and heard == {4} else string
        return (f"chime {string}", f"fret {string}")
    if step == "decide" and abs(truth) > 1.0:
        return (f"{side} {'back' if truth > 0 else 'forward'} {min(abs(truth) * 0.4, 1.5):.2f}mm",)
    if step == "decide":
        return {"bass": ("chime 1", "fret 1"), "treble": ("chime 4", "fret 4")}.get(stage, ("margins",))
    if step == "look":
        toward = "bass" if bench.feet.side_mm > 0 else "treble"
        return (f"slide {toward} {abs(bench.feet.side_mm):.2f}mm",)
    return (step,)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_whoever_follows_it_goes_through_the_whole_job(seed: int) -> None:
    followed = steps_followed(seed)
    stages = list(dict.fromkeys(stage for stage, _, _ in followed))
    assert stages[:3] == ["bass", "treble", "bass again"]
    assert stages[-2:] == ["recheck", "marked"]
    assert [step for _, step, _ in followed[:4]] == ["mute", "retune", "compare", "decide"]


def test_it_leaves_more_and_more_to_the_learner() -> None:
    levels = {stage: level for stage, _, level in steps_followed(1)}
    assert levels["bass"] == FULL
    assert levels["treble"] == BRIEF
    assert levels["bass again"] == levels["recheck"] == NAME_ONLY


def test_the_reason_is_said_at_first_and_later_only_when_asked() -> None:
    first = advice(found(guided=True))
    assert first.said == f"{first.ask} {first.why}"
    later = advice(do(found(), "mute", "retune", "chime 4", "fret 4", "chime 1", "fret 1"))
    assert later.stage == "treble"
    assert later.said == later.ask
    assert later.why.endswith(".")


PLAIN_WORDS = ("chime 4", "fret 4", "chime 1", "fret 1", "mute", "unmute", "retune", "margins", "start over")
MOVES = ("bass back 1/64in", "treble forward 1/64in", "slide bass 0.1mm")


@settings(max_examples=80, deadline=None)
@given(st.lists(st.sampled_from(PLAIN_WORDS + MOVES), max_size=14))
def test_nothing_it_says_depends_on_where_the_bridge_belongs(words: list[str]) -> None:
    # The same acts on bridges knocked opposite ways: the same advice, but for the margins, which anybody sees.
    said = {advice(do(found(seed=seed, difficulty="easy"), *words, "retune")).said for seed in range(6)}
    assert len(said) == 1 or "slide bass 0.1mm" in words


def test_it_never_says_a_direction() -> None:
    for seed in range(3):
        bench = do(found(seed=seed), "mute", "retune", "chime 4", "fret 4")
        both = re.findall(r"forward|back\b", advice(bench).said)
        assert sorted(set(both)) in ([], ["back", "forward"])
