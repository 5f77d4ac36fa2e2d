"""The reference pairs in sounds/: what the manifest says of each file is measured again from the file alone."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
import soundfile
from pitch_meter import cents_apart

from centwise.draws import Draws, Purpose
from centwise.model import TONES, Condition, PairSpec
from centwise.strings.library import BUILT_IN
from centwise.tones.pair import render_pair

SOUNDS = Path(__file__).parents[2] / "sounds"
PAIRS = json.loads((SOUNDS / "manifest.json").read_text(encoding="utf-8"))["pairs"]


def test_all_strings_and_offsets_are_there_and_no_other_files() -> None:
    asked = {(pair["string"], pair["asked_cents"]) for pair in PAIRS}
    assert asked == {(string, cents) for string in range(1, 6) for cents in (0, -2, 2, -4, 4, -8, 8, -16, 16)}
    assert {path.name for path in SOUNDS.glob("*.flac")} == {pair["file"] for pair in PAIRS}


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair["file"])
def test_a_reference_pair_is_what_its_manifest_says(pair: dict[str, Any]) -> None:
    path = SOUNDS / pair["file"]
    assert hashlib.sha256(path.read_bytes()).hexdigest() == pair["sha256"]
    samples, rate_hz = soundfile.read(path)
    assert rate_hz == pair["rate"]
    # From 0.1 s after the attack on, once the quenched modes have died away.
    spans = [(pair["sounds"][tone]["start_s"] + 0.1, pair["sounds"][tone]["end_s"] - 0.05) for tone in TONES]
    measured = cents_apart(samples, rate_hz, *spans, pair["sounds"]["harmonic"]["frequency_hz"])
    assert measured == pytest.approx(pair["asked_cents"], abs=0.01)
    assert measured == pytest.approx(pair["measured_cents"], abs=0.01)


@pytest.mark.parametrize("pair", PAIRS[::9], ids=lambda pair: pair["file"])
def test_the_same_seed_gives_the_same_pair_on_this_machine(pair: dict[str, Any]) -> None:
    spec = PairSpec(n=1, condition=Condition(string=pair["string"]), offset_cents=pair["asked_cents"], first="harmonic")
    rendered = render_pair(
        spec,
        BUILT_IN.named("five-string"),
        rate_hz=pair["rate"],
        rng=Draws(pair["seed"]).stream(Purpose.TONES, 1),
    )
    kept, _ = soundfile.read(SOUNDS / pair["file"], dtype="float32")
    assert kept.shape == rendered.sound.samples.shape
    # Two steps of 24 bits: another processor may round a sine differently in its last bit.
    assert abs(kept - rendered.sound.samples).max() <= 2**-22
