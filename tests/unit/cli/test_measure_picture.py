"""`centwise measure --picture`: what is drawn, and what is refused before anything is measured."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import soundfile

from centwise.cli.picture import partial_track
from centwise.pitch.partials import fit_partials

if TYPE_CHECKING:
    from conftest import CommandLine

SOUNDS = Path(__file__).parents[3] / "sounds"
PAIR = SOUNDS / next(
    pair["file"]
    for pair in json.loads((SOUNDS / "manifest.json").read_text(encoding="utf-8"))["pairs"]
    if (pair["string"], pair["asked_cents"]) == (1, -8)
)
BEGINS = {".png": b"\x89PNG\r\n\x1a\n", ".svg": b"<?xml", ".pdf": b"%PDF-"}


@pytest.mark.parametrize("suffix", BEGINS)
def test_the_picture_is_written_beside_the_result(centwise: CommandLine, tmp_path: Path, suffix: str) -> None:
    pytest.importorskip("matplotlib")
    path = tmp_path / f"take{suffix}"
    assert centwise("measure", str(PAIR), "--json", "--picture", str(path)) == 0, centwise.err
    assert json.loads(centwise.out)["cents"] == pytest.approx(-8.0, abs=0.01)
    assert path.read_bytes().startswith(BEGINS[suffix])


def test_the_words_and_both_notes_are_in_it(centwise: CommandLine, tmp_path: Path) -> None:
    matplotlib = pytest.importorskip("matplotlib")
    path = tmp_path / "take.svg"
    with matplotlib.rc_context({"svg.fonttype": "none"}):
        assert centwise("measure", str(PAIR), "--picture", str(path)) == 0
    drawn = path.read_text(encoding="utf-8")
    for words in (
        ">harmonic<",
        ">fretted<",
        "good enough, ±2 cents",
        "String 1: the fretted note is flat",
        "measured, -8.000 ± less than 0.001 cents",
    ):
        assert words in drawn, words
    # Both colours are drawn, and the fretted note's lines are broken ones: colour is not alone.
    assert "#0072b2" in drawn
    assert "#d55e00" in drawn
    assert "stroke-dasharray" in drawn


def test_what_is_too_uncertain_is_no_verdict_in_the_picture_either(centwise: CommandLine, tmp_path: Path) -> None:
    matplotlib = pytest.importorskip("matplotlib")
    samples, rate_hz = soundfile.read(PAIR)
    middle = len(samples) // 2
    # The first pair as it is, the second's fretted note 12 cents higher: the two scatter.
    higher = np.interp(np.arange(middle) * 2.0 ** (12.0 / 1200.0), np.arange(middle), samples[middle : 2 * middle])
    path = tmp_path / "scattered.wav"
    soundfile.write(path, np.concatenate((samples[: 2 * middle], samples[:middle], higher)), rate_hz, subtype="PCM_24")
    drawn = tmp_path / "take.svg"
    with matplotlib.rc_context({"svg.fonttype": "none"}):
        assert centwise("measure", str(path), "--picture", str(drawn)) == 0, centwise.err
    assert "String 1: too uncertain to tell flat from sharp by" in drawn.read_text(encoding="utf-8")


def test_a_track_is_the_pitch_over_time() -> None:
    rate_hz = 16_000.0
    times_s = np.arange(32_000) / rate_hz
    # 3 cents down a second, from 587.33 Hz.
    phase = 2.0 * np.pi * np.cumsum(587.33 * 2.0 ** (-3.0 * times_s / 1200.0)) / rate_hz
    sound = (np.exp(-times_s) * np.cos(phase)).astype(np.float32)
    (fit,) = fit_partials(sound, rate_hz, np.array([587.0]), 587.33, 10.0)
    assert fit is not None
    since_s, cents = partial_track(fit, 587.33, 9.5)
    np.testing.assert_allclose(cents[4:-4], -3.0 * (since_s[4:-4] - 0.5), atol=0.05)


@pytest.mark.parametrize("name", ["take.jpg", "take", "take.wav"])
def test_another_kind_of_picture_is_refused(centwise: CommandLine, name: str) -> None:
    centwise.refuses("measure", "missing.wav", "--picture", name, code=2, words="does not say a kind of picture")


def test_a_folder_that_is_not_there_is_told(centwise: CommandLine, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    path = tmp_path / "nowhere" / "x.png"
    centwise.refuses("measure", str(PAIR), "--picture", str(path), code=3, words="nowhere/x.png cannot be written")


def test_matplotlib_is_not_loaded_without_a_picture() -> None:
    code = (
        "import sys; from centwise.cli.main import run; "
        f"code = run(['measure', {str(PAIR)!r}, '--json']); "
        "sys.exit(code or 'matplotlib' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, timeout=60)
