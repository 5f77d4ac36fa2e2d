"""`centwise measure`: sentences, JSON, and every way in which it can be asked wrongly or handed a file that lies."""

from __future__ import annotations

import json
import os
import struct
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import CommandLine

SOUNDS = Path(__file__).parents[3] / "sounds"
PAIRS = {
    (pair["string"], pair["asked_cents"]): SOUNDS / pair["file"]
    for pair in json.loads((SOUNDS / "manifest.json").read_text(encoding="utf-8"))["pairs"]
}
RATE_HZ = 48_000


def measured(centwise: CommandLine, *arguments: str | Path) -> dict[str, Any]:
    assert centwise("measure", "--json", *(str(argument) for argument in arguments)) == 0, centwise.err
    assert centwise.err == ""
    (line,) = centwise.out.splitlines()
    record = json.loads(line)
    assert isinstance(record, dict)
    return record


@pytest.mark.parametrize("string", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("cents", [0, -2, 4, -16])
def test_the_reference_pairs_are_read_as_their_manifest_says(centwise: CommandLine, string: int, cents: int) -> None:
    found = measured(centwise, PAIRS[string, cents])
    assert found["cents"] == pytest.approx(cents, abs=0.01)
    assert found["string"] == string
    words = {0: ("unison", "leave"), -2: ("flat", "forward"), 4: ("sharp", "back"), -16: ("flat", "forward")}
    assert (found["verdict"], found["direction"]) == words[cents]
    assert found["fretted_hz"] / found["harmonic_hz"] == pytest.approx(2.0 ** (found["cents"] / 1200.0), rel=1e-8)
    assert [pluck["tone"] for pluck in found["plucks"]] == ["harmonic", "fretted"]


def test_every_key_of_the_json(centwise: CommandLine) -> None:
    found = measured(centwise, PAIRS[4, -4])
    assert list(found) == [
        "instrument",
        "cents",
        "std_error_cents",
        "bound_cents",
        "verdict",
        "good_enough",
        "sure_enough",
        "travel_mm",
        "travel_std_error_mm",
        "travel_64ths_in",
        "direction",
        "harmonic_hz",
        "fretted_hz",
        "string",
        "scale_mm",
        "string_length_mm",
        "paired",
        "partial_scatter_cents",
        "pluck_scatter_cents",
        "plucks",
        "partials",
    ]
    # The exact inverse d = S (r - 1) / (2 - r), r = 2^(4/1200), at S = 666.75 mm, as `shift` says it.
    assert found["travel_mm"] == pytest.approx(1.5459, abs=2e-4)
    assert found["travel_64ths_in"] == 4
    # mm per cent = S ln 2 / 1200 = 0.38513 mm.
    assert found["travel_std_error_mm"] == pytest.approx(0.387 * found["std_error_cents"], rel=0.02, abs=2e-6)
    assert 0.0 < found["bound_cents"] <= found["std_error_cents"] < 0.01
    assert sum(partial["weight"] for partial in found["partials"]) == pytest.approx(1.0, abs=1e-4)


def test_a_scale_length_and_the_fifth_strings_own(centwise: CommandLine) -> None:
    longer = measured(centwise, PAIRS[1, -8], "--scale", "27in")
    usual = measured(centwise, PAIRS[1, -8])
    assert longer["travel_mm"] / usual["travel_mm"] == pytest.approx(27.0 / 26.25, abs=1e-4)
    fifth = measured(centwise, PAIRS[5, -8])
    assert fifth["string_length_mm"] == pytest.approx(499.50, abs=0.005)
    assert fifth["travel_mm"] / usual["travel_mm"] == pytest.approx(2.0 ** (-5.0 / 12.0), abs=1e-3)


def test_a_file_for_each_tone(centwise: CommandLine, tmp_path: Path) -> None:
    samples, rate_hz = soundfile.read(PAIRS[3, 8])
    middle = len(samples) // 2
    for name, part in (("h", samples[:middle]), ("f", samples[middle:])):
        soundfile.write(tmp_path / f"{name}.wav", part, rate_hz, subtype="PCM_24")
    found = measured(centwise, "--harmonic", tmp_path / "h.wav", "--fretted", tmp_path / "f.wav", "--string", "3")
    assert found["cents"] == pytest.approx(8.0, abs=0.01)
    assert [Path(pluck["file"]).name for pluck in found["plucks"]] == ["h.wav", "f.wav"]


@pytest.mark.parametrize(
    ("string", "cents", "words"),
    [
        (
            4,
            -4,
            [
                r"String 4 \(D3\), known by its pitch, scale 26.25 in \(666.75 mm\): 1 harmonic and 1 fretted note, .*",
                r"Harmonic 293\.\d{3} Hz, fretted note 29[23]\.\d{3} Hz\.",
                r"The fretted note is flat: -4\.00\d ± [\d. a-z]+ cents\.",
                r"That is not within 2 cents \(0\.8 mm\): move the bridge forward 1\.5\d ± less than 0\.01 mm .*",
                r"Ease the strings if a foot grips, never slacken all at once.*",
                r"Moving it changes the tuning: retune, then measure again before you move it further\.",
                r"One pluck of each does not tell how much your hand scatters: record three of each to know\.",
            ],
        ),
        (
            1,
            16,
            [r".*", r".*", r".* is sharp: \+16\.\d+.*", r".*bridge back 6\.\d+ .*in small moves, 1/16 in at most.*"],
        ),
        (
            2,
            0,
            [r".*", r".*", r".* is in unison with the harmonic \([+-]0\.00\d .*", r".* stands right .*: leave it\."],
        ),
        (1, 2, [r".*", r".*", r".*", r"That is .*within 2 cents \(0\.8 mm\).*"]),
        (
            5,
            -8,
            [r".*", r".*", r".*", r".*", r".*", r".*", r"A bridge is not set by string 5: its own nut is often high\."],
        ),
    ],
)
def test_it_is_said_in_sentences(centwise: CommandLine, string: int, cents: int, words: list[str]) -> None:
    import re

    assert centwise("measure", str(PAIRS[string, cents])) == 0
    for line, pattern in zip(centwise.out.splitlines(), words, strict=False):
        assert re.fullmatch(pattern, line), line


def test_good_enough_says_what_exact_would_be_and_sends_nobody_to_the_bridge(
    centwise: CommandLine, tmp_path: Path
) -> None:
    path = tmp_path / "one.flac"
    assert centwise("render", str(path), "--cents", "1", "--seed", "3") == 0
    assert centwise("measure", str(path)) == 0
    assert "good enough to leave." in centwise.out
    assert "Exact would be back 0.38 ± less than 0.01 mm (1/64 in:" in centwise.out
    assert "move the bridge" not in centwise.out


@pytest.mark.parametrize("string", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("cents", [-2, 2])
def test_two_cents_as_they_are_told_are_within_two_cents(centwise: CommandLine, string: int, cents: int) -> None:
    assert measured(centwise, PAIRS[string, cents])["good_enough"] is True
    assert centwise("measure", str(PAIRS[string, cents])) == 0
    assert f"{cents:+.3f} ±" in centwise.out
    assert "That is within 2 cents (0." in centwise.out


def test_a_reading_too_uncertain_to_move_by_moves_nothing(centwise: CommandLine, tmp_path: Path) -> None:
    samples, rate_hz = soundfile.read(PAIRS[1, -4])
    middle = len(samples) // 2
    turned = [np.interp(np.arange(middle) * 2.0 ** (cents / 1200.0), np.arange(middle), samples[middle : 2 * middle])
              for cents in (0.0, 9.0, -7.0)]  # fmt: skip
    path = tmp_path / "scattered.wav"
    whole = np.concatenate([part for fretted in turned for part in (samples[:middle], fretted)])
    soundfile.write(path, whole, rate_hz, subtype="PCM_24")
    assert centwise("measure", str(path)) == 0
    assert "too uncertain to tell flat from sharp by, or to move the bridge." in centwise.out
    for told in ("move the bridge back", "move the bridge forward", "is sharp:", "is flat:", "leave"):
        assert told not in centwise.out
    found = measured(centwise, path)
    assert (found["sure_enough"], found["std_error_cents"] > 2.0 / 1.645) == (False, True)
    unsaid = ("verdict", "good_enough", "travel_mm", "travel_64ths_in", "direction")
    assert [found[key] for key in unsaid] == [None] * len(unsaid)
    assert measured(centwise, PAIRS[1, -4])["sure_enough"] is True


def test_what_stands_after_the_plus_minus_is_told(centwise: CommandLine) -> None:
    assert centwise("measure", str(PAIRS[1, -4])) == 0
    assert "Each ± is one standard error; 1.645 times as much holds the true value nine times in ten." in centwise.out


def test_nothing_is_a_plain_nought(centwise: CommandLine) -> None:
    for string in (1, 2, 3, 4, 5):
        assert centwise("measure", str(PAIRS[string, 0]), "--details") == 0
        assert "-0.000" not in centwise.out
        assert "taken by turns with the harmonic first" in centwise.out


def test_details_tell_every_pluck_and_partial(centwise: CommandLine) -> None:
    assert centwise("measure", str(PAIRS[1, -4]), "--details") == 0
    assert "Pluck 2, fretted at 2.02 s:" in centwise.out
    assert "Partial 3: 1762." in centwise.out
    assert "Noise alone would allow ±" in centwise.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "needs one FILE, or both --harmonic and --fretted"),
        (("--harmonic", "a.wav"), "needs one FILE, or both"),
        (("--fretted", "a.wav"), "needs one FILE, or both"),
        (("t.wav", "--harmonic", "a.wav", "--fretted", "b.wav"), "needs one FILE, or both"),
        (("t.wav", "--harmonic", "a.wav"), "needs one FILE, or both"),
        (("t.wav", "--string", "6"), "no string 6"),
        (("t.wav", "--string", "four"), "'four' is not a valid int"),
        (("t.wav", "--instrument", "lute"), "no instrument named 'lute'"),
        (("t.wav", "--scale", "3ft"), "'3ft' is not a length"),
        (("t.wav", "--scale", "10mm"), "10 mm is outside 200 to 1500"),
        (("t.wav", "u.wav"), "unexpected extra argument"),
    ],
)
def test_what_is_asked_wrongly_is_refused(centwise: CommandLine, arguments: tuple[str, ...], words: str) -> None:
    centwise.refuses("measure", *arguments, code=2, words=words)


def sine_file(path: Path) -> bytes:
    soundfile.write(path, 0.1 * np.sin(np.arange(RATE_HZ) / 10.0), RATE_HZ)
    return path.read_bytes()


def write_float(path: Path, value: float) -> None:
    soundfile.write(path, np.full(RATE_HZ, value, dtype=np.float32), RATE_HZ, subtype="FLOAT")


def cut_flac(path: Path) -> None:
    content = PAIRS[4, 0].read_bytes()
    path.write_bytes(content[: len(content) // 2])


def four_gigabytes(path: Path, kind: bytes = b"data") -> None:
    content = sine_file(path)
    assert content[36:40] == b"data"
    path.write_bytes(content[:4] + b"\xff" * 4 + content[8:36] + kind + struct.pack("<I", 0xFFFF_FFF0) + content[44:])


LIES: dict[str, tuple[Callable[[Path], object], str]] = {
    "missing": (lambda _: None, r"cannot be read \(no such file or directory\)"),
    "folder": (Path.mkdir, "is a folder"),
    "empty": (Path.touch, "is not a sound file that can be read"),
    "text": (lambda path: path.write_text("flat, unison or sharp\n" * 99), "is not a sound file that can be read"),
    "header cut short": (lambda path: path.write_bytes(sine_file(path)[:20]), "is not a sound file that can be read"),
    "sound cut short": (
        lambda path: path.write_bytes(sine_file(path)[:50_044]),
        "cut short: its header promises 96000 bytes of sound and it holds 50000",
    ),
    "4 GB header": (four_gigabytes, "its header promises 4294967280 bytes of sound and it holds 96000"),
    "4 GB of something else": (lambda path: four_gigabytes(path, b"junk"), "is not a sound file|holds no sound at all"),
    "no frames": (lambda path: soundfile.write(path, np.zeros(0), RATE_HZ), "holds no sound at all"),
    "one frame": (lambda path: soundfile.write(path, np.ones(1), RATE_HZ), "is silent"),
    "NaN": (lambda path: write_float(path, np.nan), "holds samples that are not numbers"),
    "infinite": (lambda path: write_float(path, np.inf), "holds samples that are not numbers"),
    "1e30": (lambda path: write_float(path, 1e30), "is clipped from 0.0 s on"),
    "64 channels": (lambda path: soundfile.write(path, np.zeros((4800, 64)), RATE_HZ), "has 64 channels"),
    "8 kHz": (lambda path: soundfile.write(path, np.zeros(8000), 8000), "has a rate of 8000 Hz"),
    "silence": (lambda path: soundfile.write(path, np.zeros(RATE_HZ), RATE_HZ), "is silent"),
    "half a FLAC": (cut_flac, "is not a sound file that can be read"),
}


@pytest.mark.parametrize("lie", LIES)
def test_a_file_that_lies_is_told_in_a_sentence_at_once(centwise: CommandLine, tmp_path: Path, lie: str) -> None:
    make, words = LIES[lie]
    path = tmp_path / "take.wav"
    make(path)
    centwise("measure", "missing.wav")  # numpy is loaded before the watch is started
    start = time.perf_counter()
    centwise.refuses("measure", str(path), code=3, words=words)
    assert time.perf_counter() - start < 1.0


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_not_waited_for(centwise: CommandLine, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "take.wav")
    start = time.perf_counter()
    centwise.refuses("measure", str(tmp_path / "take.wav"), code=3, words="is a pipe or a device, not a file")
    assert time.perf_counter() - start < 1.0


def test_a_take_that_cannot_be_measured_says_why(centwise: CommandLine, tmp_path: Path) -> None:
    path = tmp_path / "single.wav"
    assert centwise("render", str(path), "--kind", "harmonic", "--seed", "1") == 0
    centwise.refuses("measure", str(path), code=3, words=r"holds one note only, at 0\.1 s")
    centwise.refuses(
        "measure", str(PAIRS[1, 0]), "--string", "2", code=3, words="the octave of string 1, not of string 2"
    )
