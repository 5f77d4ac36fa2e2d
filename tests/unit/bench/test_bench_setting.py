"""The hidden half: the right place nulls the outer strings, the knock is as bad as was asked, the rest is physics."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from benches import bench_plan, do, found

from centwise.bench.setting import Setting, draw_setting
from centwise.bench_planning import instrument_of
from centwise.strings.bridge import Feet, contact_mm, feet_through, margins_mm
from centwise.strings.fretted import null_contact_mm, pressing_cents
from centwise.strings.library import BUILT_IN

if TYPE_CHECKING:
    from centwise.model import BridgeKind


def plain_setting(bridge: BridgeKind) -> Setting:
    """Return a setting whose strings have no quirk of their own, so that physics alone speaks."""
    plan = bench_plan(bridge=bridge)
    instrument = instrument_of(plan)
    right = feet_through(instrument, {number: null_contact_mm(instrument, number) for number in (4, 1)})
    drawn = draw_setting(plan, instrument)
    return replace(drawn, quirk_cents=dict.fromkeys(instrument.numbers, 0.0), right=right)


@pytest.mark.parametrize(
    ("name", "slant_mm"),
    [
        ("five-string", 1.95),
        ("five-string-double-c", 3.84),
        ("five-string-long-neck", 1.66),
        ("plectrum", 2.17),
        ("tenor-17", 5.54),
        ("tenor-19", 5.59),
        ("mandolin", 5.41),
        ("archtop-guitar", 5.82),
    ],
)
def test_the_slant_the_guide_to_the_job_states(name: str, slant_mm: float) -> None:
    instrument = BUILT_IN.named(name)
    bass, treble = instrument.bass_string, instrument.treble_string
    # Two contacts on a line, drawn on to the feet.
    apart_mm = instrument.bridge.spacing_mm * (bass - treble) / (len(instrument.strings) - 1)
    further_mm = null_contact_mm(instrument, bass) - null_contact_mm(instrument, treble)
    slant = further_mm / apart_mm * instrument.bridge.foot_span_mm
    if instrument.bridge.kind == "compensated":
        steps_mm = instrument.string(bass).compensation_mm - instrument.string(treble).compensation_mm
        assert steps_mm == 0.0
    assert slant == pytest.approx(slant_mm, abs=0.01)


@pytest.mark.parametrize(("name", "most_cents"), [("five-string", 0.3), ("mandolin", 0.4)])
def test_what_leaving_out_the_stretch_of_retuning_costs(name: str, most_cents: float) -> None:
    # At pitch with a longer string the tension is higher as the square of the length, which is that of an open string
    # sharp by the ratio of the lengths: what pressing adds then is less.
    scale_mm = BUILT_IN.named(name).scale_mm
    off = []
    for seed in range(200):
        setting = found(seed=seed, difficulty="hard", instrument=name, scale_mm=scale_mm).setting
        instrument = setting.instrument
        for spec in instrument.strings:
            moved_mm = contact_mm(instrument, spec.number, setting.start) - contact_mm(
                instrument, spec.number, setting.right
            )
            tighter = replace(spec, open_hz=spec.open_hz * (1.0 + moved_mm / spec.length_mm))
            strings = tuple(tighter if each is spec else each for each in instrument.strings)
            changed = pressing_cents(replace(instrument, strings=strings), spec.number)
            off.append(abs(changed - pressing_cents(instrument, spec.number)))
    assert 0.1 < max(off) < most_cents


def test_quirks_widen_what_a_straight_bridge_leaves_on_the_3rd() -> None:
    left = [found(seed=seed).setting.cents(3, found(seed=seed).setting.right) for seed in range(200)]
    assert (min(left), max(left)) == (pytest.approx(2.3, abs=0.05), pytest.approx(12.3, abs=0.05))
    assert [round(float(value)) for value in np.percentile(left, (25, 75))] == [6, 9]


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("difficulty", ["easy", "middle", "hard"])
def test_in_the_right_place_the_outer_strings_are_in_unison(seed: int, difficulty: str) -> None:
    setting = found(seed=seed, difficulty=difficulty).setting
    for number in (4, 1):
        assert setting.cents(number, setting.right) == pytest.approx(0.0, abs=1e-9)


def test_what_a_straight_and_a_compensated_bridge_leave() -> None:
    # Facts of the trade and of the physics beside it: nulled on the 4th and 1st at an action of 3.2 mm, a straight
    # bridge leaves the 3rd 5 to 7.5 cents sharp and the 2nd about 2; a compensated one under 2 (derived; the 3rd string
    # fretting sharp is common practice, no source).
    straight, compensated = plain_setting("straight"), plain_setting("compensated")
    assert 5.0 <= straight.cents(3, straight.right) <= 7.5
    assert 1.0 <= straight.cents(2, straight.right) <= 3.0
    for number in (2, 3):
        assert abs(compensated.cents(number, compensated.right)) < 2.0


def test_the_bass_side_needs_more_than_the_treble() -> None:
    # The slant, 0.6 to 1.6 mm between the outer strings' contacts (common practice and derived).
    setting = plain_setting("straight")
    instrument = setting.instrument
    slant_mm = null_contact_mm(instrument, 4) - null_contact_mm(instrument, 1)
    assert 0.6 <= slant_mm <= 1.6


def knock(seed: int, difficulty: str) -> Feet:
    setting = found(seed=seed, difficulty=difficulty).setting
    return Feet(
        setting.start.bass_mm - setting.right.bass_mm,
        setting.start.treble_mm - setting.right.treble_mm,
        setting.start.side_mm,
    )


def test_three_degrees_of_difficulty() -> None:
    for seed in range(40):
        easy, middle, hard = (knock(seed, degree) for degree in ("easy", "middle", "hard"))
        assert easy.bass_mm == pytest.approx(easy.treble_mm)
        assert 2.0 <= abs(easy.bass_mm) <= 4.0
        assert easy.side_mm == 0.0
        assert 0.5 <= abs(middle.bass_mm - middle.treble_mm) <= 1.5
        assert 0.6 <= abs(middle.side_mm) <= 1.2
        assert hard.bass_mm * hard.treble_mm < 0.0
        assert abs(hard.bass_mm - hard.treble_mm) >= 3.5
        assert 1.5 <= abs(hard.side_mm) <= 2.5
    signs = {knock(seed, "easy").bass_mm > 0 for seed in range(20)}
    assert signs == {True, False}


def test_the_hardest_has_a_high_5th_nut_and_an_uneven_hand() -> None:
    middle, hard = (found(difficulty=degree).setting for degree in ("middle", "hard"))
    assert hard.cents(5, hard.right) > middle.cents(5, middle.right) + 1.0
    assert hard.cents(4, hard.right) == pytest.approx(middle.cents(4, middle.right))
    assert hard.pressing_sd_cents > 2 * middle.pressing_sd_cents == 1.0


def test_everything_hidden_follows_from_the_seed() -> None:
    assert found(seed=3).setting == found(seed=3).setting
    assert found(seed=3).setting != found(seed=4).setting


@pytest.mark.parametrize("bridge", ["straight", "compensated"])
@pytest.mark.parametrize("scale_mm", [571.5, 666.75, 685.8])
def test_it_holds_for_other_scales_and_bridges(bridge: str, scale_mm: float) -> None:
    setting = found(bridge=bridge, scale_mm=scale_mm).setting
    assert setting.instrument.scale_mm == scale_mm
    assert setting.cents(1, setting.right) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", BUILT_IN.names())
@pytest.mark.parametrize("difficulty", ["easy", "middle", "hard"])
def test_every_instrument_can_be_set_from_wherever_it_was_knocked(name: str, difficulty: str) -> None:
    for seed in range(10):
        bench = found(instrument=name, scale_mm=BUILT_IN.named(name).scale_mm, difficulty=difficulty, seed=seed)
        setting = bench.setting
        for number in (setting.instrument.bass_string, setting.instrument.treble_string):
            assert setting.cents(number, setting.right) == pytest.approx(0.0, abs=1e-9)
        margins = margins_mm(setting.instrument, bench.feet.side_mm)
        assert min(margins.bass_mm, margins.treble_mm) > 1.0
        # Room on every side: nothing of a usual size is refused.
        for words in ("bass back 1/8in", "treble forward 1/8in", "slide bass 0.5mm", "slide treble 0.5mm", "mark"):
            do(bench, words)
