"""Tones and pairs as files, and the record of where the tones lie."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import CommandLine


def rendered(centwise: CommandLine, file: Path, *arguments: str) -> dict[str, Any]:
    assert centwise("render", str(file), "--json", *arguments) == 0, centwise.err
    assert centwise.err == ""
    record = json.loads(centwise.out)
    assert isinstance(record, dict)
    return record


def test_the_record_of_a_pair(centwise: CommandLine, tmp_path: Path) -> None:
    file = tmp_path / "pair.wav"
    found = rendered(centwise, file, "--cents=-7.5", "--string", "1", "--seed", "5", "--first", "fretted")
    assert {
        key: found[key] for key in ("file", "kind", "instrument", "string", "first", "asked_cents", "rate", "seed")
    } == {
        "file": str(file),
        "kind": "pair",
        "instrument": "five-string",
        "string": 1,
        "first": "fretted",
        "asked_cents": -7.5,
        "rate": 48000,
        "seed": 5,
    }
    harmonic, fretted = found["sounds"]["harmonic"], found["sounds"]["fretted"]
    assert fretted["end_s"] < harmonic["start_s"]
    assert 1200 * np.log2(fretted["frequency_hz"] / harmonic["frequency_hz"]) == pytest.approx(-7.5, abs=1e-4)
    # D5: the harmonic of D4 (ISO 16, equal temperament); a stiff string's first partial lies a little above.
    assert harmonic["frequency_hz"] == pytest.approx(587.33, abs=0.3)
    samples, rate = soundfile.read(file)
    assert rate == 48000
    assert len(samples) / rate >= harmonic["end_s"]
    assert 20 * np.log10(np.abs(samples).max()) == pytest.approx(found["peak_dbfs"], abs=0.01)
    assert found["peak_dbfs"] <= -6.0
    silence = samples[round((fretted["end_s"] + 0.001) * rate) : round((harmonic["start_s"] - 0.001) * rate)]
    assert len(silence) >= 0.39 * rate
    assert not silence.any()


@pytest.mark.parametrize("kind", ["harmonic", "fretted", "open"])
def test_the_record_of_one_tone(centwise: CommandLine, tmp_path: Path, kind: str) -> None:
    found = rendered(
        centwise, tmp_path / "tone.flac", "--kind", kind, "--cents", "10", "--seed", "1", "--rate", "44100"
    )
    assert list(found["sounds"]) == [kind]
    assert "first" not in found
    at_hz = {"harmonic": 293.66, "fretted": 293.66 * 2 ** (10 / 1200), "open": 146.83}[kind]
    assert found["sounds"][kind]["frequency_hz"] == pytest.approx(at_hz, abs=0.1)
    assert soundfile.info(tmp_path / "tone.flac").samplerate == 44100


def test_the_same_seed_writes_the_same_bytes_and_without_one_it_is_shown(centwise: CommandLine, tmp_path: Path) -> None:
    drawn = rendered(centwise, tmp_path / "a.wav")["seed"]
    rendered(centwise, tmp_path / "b.wav", "--seed", str(drawn))
    rendered(centwise, tmp_path / "c.wav", "--seed", str(drawn + 1 if drawn < 2**32 - 1 else 0))
    a, b, c = ((tmp_path / f"{name}.wav").read_bytes() for name in "abc")
    assert a == b
    assert a != c


@pytest.mark.parametrize("suffix", [".wav", ".FLAC", ".ogg"])
def test_each_format_is_written_and_said(centwise: CommandLine, tmp_path: Path, suffix: str) -> None:
    file = tmp_path / f"pair{suffix}"
    assert centwise("render", str(file), "--seed", "3") == 0
    assert centwise.out.startswith(f"Wrote the pair of string 4 to {file}: 3.")
    assert centwise.out.endswith("dBFS, seed 3.\n")
    assert soundfile.info(file).format == suffix[1:].upper()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("x.mp3",), 2, "'x.mp3' does not say a known sound format"),
        (("x",), 2, "known sound format"),
        (("x.wav", "--cents", "100.1"), 2, "100.1 cents is outside"),
        (("x.wav", "--cents=-200"), 2, "-200 cents is outside"),
        (("x.wav", "--cents", "nan"), 2, "nan cents"),
        (("x.wav", "--cents", "inf"), 2, "inf cents"),
        (("x.wav", "--rate", "22049"), 2, "22049 Hz is outside"),
        (("x.wav", "--rate", "192001"), 2, "192001 Hz is outside"),
        (("x.wav", "--rate", "0"), 2, "rate of 0 Hz"),
        (("x.wav", "--rate", "fast"), 2, "'fast' is not a valid integer"),
        (("x.wav", "--likeness", "1.5"), 2, "likeness of 1.5"),
        (("x.wav", "--likeness", "nan"), 2, "likeness of nan"),
        (("x.wav", "--string", "9"), 2, "no string 9"),
        (("x.wav", "--instrument", "lute"), 2, "no instrument named 'lute'"),
        (("x.wav", "--kind", "chord"), 2, "'chord' is not one of"),
        (("x.wav", "--seed=-1"), 2, "-1 is not in the range"),
        ((), 2, "missing argument 'FILE'"),
        (("nowhere/x.wav",), 3, "cannot be written"),
    ],
)
def test_what_cannot_be_rendered_is_refused_and_leaves_no_file(
    centwise: CommandLine, tmp_path: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    centwise.monkeypatch.chdir(folder)
    centwise.refuses("render", *arguments, code=code, words=words)
    assert list(folder.iterdir()) == []


def test_a_folder_in_the_files_place_is_refused(centwise: CommandLine, tmp_path: Path) -> None:
    (tmp_path / "x.wav").mkdir()
    centwise.refuses("render", str(tmp_path / "x.wav"), code=3, words="cannot be written")
