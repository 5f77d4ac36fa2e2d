from __future__ import annotations

import itertools
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from centwise.draws import Draws, Purpose
from centwise.ear.grid import standard_grid
from centwise.ear.prior import Prior
from centwise.ear.simulated import SimulatedListener
from centwise.ear.track import Track, begin_track
from centwise.ear.truths import draw_sides, runs_of
from centwise.errors import InputError
from centwise.model import JUDGEMENTS, RULES, Judgement, Rule, judgement_of

rules = st.sampled_from(RULES)
LISTENER = SimulatedListener(8.0, 6.0, 1.5, 0.02)


def drilled(track: Track, seed: int, first: int, last: int, listener: SimulatedListener = LISTENER) -> Track:
    draws = Draws(seed)
    for n in range(first, last + 1):
        offset = track.next_offset(draws.stream(Purpose.PLACEMENT, n))
        track = track.answered(offset, listener.judge(offset, draws.stream(Purpose.LISTENER, n)))
    return track


def assert_nothing_to_learn(offsets: tuple[float, ...]) -> None:
    truths = [judgement_of(offset) for offset in offsets]
    assert all(a != b for a, b in itertools.pairwise(offsets))
    assert max(len(list(run)) for _, run in itertools.groupby(truths)) <= 4
    assert max(abs(offset) for offset in offsets) <= 100


@given(rules, st.integers(0, 2**32 - 1), st.lists(st.sampled_from(JUDGEMENTS), min_size=5, max_size=50))
@settings(max_examples=40, deadline=None)
def test_whatever_is_answered_nothing_repeats(rule: Rule, seed: int, answers: list[Judgement]) -> None:
    track = begin_track(rule)
    for n, answer in enumerate(answers, start=1):
        offset = track.next_offset(Draws(seed).stream(Purpose.PLACEMENT, n))
        track = track.answered(offset, answer)
    assert_nothing_to_learn(track.offsets_cents)
    found = track.estimate()
    assert found is not None
    assert 0 < found.low_cents < found.threshold_cents < found.high_cents < 200
    assert found.bias_low_cents < found.bias_cents < found.bias_high_cents
    assert found.window_cents > 0
    assert found.interval_octaves == pytest.approx(track.interval_octaves)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("always", ["right", "wrong", "unison"])
def test_the_ends_of_the_ladder(rule: Rule, always: str) -> None:
    track = begin_track(rule)
    for n in range(1, 81):
        offset = track.next_offset(Draws(4).stream(Purpose.PLACEMENT, n))
        truth = judgement_of(offset)
        wrong: Judgement = "flat" if truth == "sharp" else "sharp"
        track = track.answered(offset, {"right": truth, "wrong": wrong}.get(always, "unison"))
    assert_nothing_to_learn(track.offsets_cents)
    assert np.isfinite(track.estimate().threshold_cents)


@pytest.mark.parametrize("rule", RULES)
def test_same_seed_same_sequence_and_resumed_equals_unbroken(rule: Rule) -> None:
    unbroken = drilled(begin_track(rule), 7, 1, 40)
    assert drilled(begin_track(rule), 7, 1, 40) == unbroken
    assert drilled(begin_track(rule), 8, 1, 40) != unbroken
    resumed = begin_track(rule)
    for offset, answer in zip(unbroken.offsets_cents[:17], unbroken.answers[:17], strict=True):
        resumed = resumed.answered(offset, answer)
    resumed = drilled(resumed, 7, 18, 40)
    assert resumed == unbroken
    assert resumed.estimate() == unbroken.estimate()
    assert resumed.interval_octaves == unbroken.interval_octaves


@pytest.mark.parametrize("rule", RULES)
def test_asking_changes_nothing(rule: Rule) -> None:
    track = drilled(begin_track(rule), 3, 1, 10)
    once, again = (track.next_offset(Draws(3).stream(Purpose.PLACEMENT, 11)) for _ in range(2))
    assert once == again
    after = track.answered(once, "flat")
    assert (len(track.answers), len(after.answers)) == (10, 11)
    assert track.next_offset(Draws(3).stream(Purpose.PLACEMENT, 11)) == once


def test_the_share_of_catch_trials_and_sides() -> None:
    rng = np.random.default_rng(5)
    last, run = np.zeros(4000, dtype=np.int64), np.zeros(4000, dtype=np.int64)
    drawn = []
    for _ in range(100):
        sides = draw_sides(last, run, rng.random((4000, 2)))
        run = np.where((sides == last) & (run > 0), run + 1, 1)
        last = sides
        drawn.append(sides)
    shares = [(np.array(drawn) == side).mean() for side in (-1, 0, 1)]
    # 400,000 draws: a standard error below .001.
    assert shares[1] == pytest.approx(0.22, abs=0.005)
    assert shares[0] == pytest.approx(shares[2], abs=0.005)
    assert run.max() <= 4


def test_runs() -> None:
    assert runs_of([]) == (0, 0)
    assert runs_of([3.0, -2.0, -4.0]) == (-1, 2)
    assert runs_of([5.0] * 7) == (1, 4)
    assert runs_of([5.0, 0.0]) == (0, 1)


@pytest.mark.parametrize("rule", RULES)
def test_the_start(rule: Rule) -> None:
    for start, nearest in ((40.0, 40.0), (12.0, 11.89), (100.0, 95.14), (0.01, standard_grid().sizes_cents[1])):
        track = begin_track(rule, start_cents=start)
        assert abs(track.next_offset(Draws(1).stream(Purpose.PLACEMENT, 1))) == nearest
        assert track.estimate() is None


def test_the_level_follows_the_answers() -> None:
    track = begin_track("weighted").answered(40.0, "sharp").answered(0.0, "sharp").answered(-28.28, "unison")
    assert standard_grid().sizes_cents[track._place()] == pytest.approx(33.64)


def test_a_prior_narrows_and_its_place_shows() -> None:
    known = begin_track("balanced", prior=Prior(6.0), start_cents=18.0)
    assert known.interval_octaves < begin_track("balanced").interval_octaves
    informed, stranger = drilled(known, 5, 1, 20), drilled(begin_track("balanced"), 5, 1, 20)
    assert informed.interval_octaves < stranger.interval_octaves


def test_the_interval_narrows() -> None:
    tracks = [drilled(begin_track("balanced"), 9, 1, n).interval_octaves for n in (5, 20, 60, 120)]
    assert tracks == sorted(tracks, reverse=True)
    assert tracks[-1] < 1.0


def test_wrong_words() -> None:
    with pytest.raises(InputError, match="'entropy' is no rule: choose balanced or weighted"):
        begin_track("entropy")  # type: ignore[arg-type]
    for start in (0.0, 101.0, float("nan")):
        with pytest.raises(InputError, match="a block cannot start at"):
            begin_track("balanced", start_cents=start)
    with pytest.raises(InputError, match="an offset of 101 cents"):
        begin_track("balanced").answered(101.0, "flat")
    with pytest.raises(InputError, match="an offset of nan cents"):
        begin_track("balanced").answered(float("nan"), "flat")
    with pytest.raises(InputError, match="'even' is no answer"):
        begin_track("balanced").answered(1.0, "even")  # type: ignore[arg-type]


def test_nothing_is_built_at_import() -> None:
    code = (
        "import sys, centwise.ear\n"
        "assert 'numpy' not in sys.modules\n"
        "import centwise.ear.track as t, centwise.ear.estimate\n"
        "assert t.standard_grid.cache_info().currsize == 0"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
