"""The bench as the program itself: a player with the files and the exact law, and what goes wrong without care."""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile
from bench_player import BenchPlayer, first_partial_hz, offset_mm
from listener_by_ear import conversation

if TYPE_CHECKING:
    from pathlib import Path

SEEDS = range(1, 21)
HASTY_SEEDS = 8


def played(folder: Path, seed: int, *, recheck_bass: bool = True) -> tuple[int, dict[str, Any]]:
    with conversation(folder, "--seed", str(seed), command="bench") as talk:
        player = BenchPlayer(talk)
        rounds = player.set_bridge(recheck_bass=recheck_bass)
        return rounds, player.ask("mark")


def worst(reckoning: dict[str, Any]) -> float:
    return max(abs(reckoning["cents"][number]) for number in ("4", "1"))


def test_by_measured_files_and_the_exact_law_both_sides_come_within_a_cent(tmp_path: Path) -> None:
    def careful_one(seed: int) -> float:
        rounds, reckoning = played(tmp_path / f"careful-{seed}", seed)
        assert rounds <= 6
        assert worst(reckoning) < 1.0, seed
        return worst(reckoning)

    def hasty_one(seed: int) -> float:
        _, reckoning = played(tmp_path / f"hasty-{seed}", seed, recheck_bass=False)
        assert not next(point["kept"] for point in reckoning["order"] if point["point"] == "bass again")
        return worst(reckoning)

    # Each rehearsal is a program of its own: as many at once as there are processors.
    with ThreadPoolExecutor(os.cpu_count()) as players:
        careful = list(players.map(careful_one, SEEDS))
        hasty = list(players.map(hasty_one, SEEDS[:HASTY_SEEDS]))
    # Moving the treble foot takes 0.35 of its way to the 4th string (derived): whoever does not hear the bass side
    # again leaves that there. Measured for these seeds: median 0.2 cents with, 1.7 without.
    assert statistics.median(hasty) > 3 * statistics.median(careful)
    assert sum(one > other for one, other in zip(hasty, careful, strict=False)) >= HASTY_SEEDS - 1


def beating(sound: dict[str, Any], near_hz: float) -> float:
    """Return how far the level of a partial swings about its own decay, in dB."""
    samples, rate_hz = soundfile.read(sound["file"])
    (span,) = sound["sounds"].values()
    tone = samples[round((span["start_s"] + 0.3) * rate_hz) : round((span["end_s"] - 0.1) * rate_hz)]
    time_s = np.arange(len(tone)) / rate_hz
    kernel = np.hanning(rate_hz // 12)
    low = np.convolve((tone * np.exp(-2j * np.pi * near_hz * time_s))[::40], kernel[::40], mode="valid")
    level_db = 20 * np.log10(np.abs(low))
    places = np.arange(len(level_db))
    return float(np.ptp(level_db - np.polyval(np.polyfit(places, level_db, 2), places)))


def test_strings_left_unmuted_beat_in_the_file(tmp_path: Path) -> None:
    with conversation(tmp_path, "--seed", "4", command="bench") as talk:
        player = BenchPlayer(talk)
        player.ask("retune")
        free = beating(player.ask("chime 1"), 587.33)
        player.ask("mute")
        still = beating(player.ask("chime 1"), 587.33)
    assert free > 4 * still
    assert free > 3.0


def test_the_5th_string_over_the_12th_fret(tmp_path: Path) -> None:
    with conversation(tmp_path, "--seed", "4", command="bench") as talk:
        player = BenchPlayer(talk)
        player.ask("mute")
        player.ask("retune")
        rung_hz = first_partial_hz(player.ask("chime 5 12"), 1175.986)
        assert "1.955 cents" in player.ask("why")["reason"]
        octave_hz = first_partial_hz(player.ask("chime 5"), 783.991)
    # Derived: 3 x 391.9954 Hz and 2 x 391.9954 Hz; stiffness adds less than 0.3 c.
    assert 0.0 <= 1200 * np.log2(rung_hz / (3 * 391.9954)) < 0.3
    assert 0.0 <= 1200 * np.log2(octave_hz / (2 * 391.9954)) < 0.3


def run(folder: Path, lines: str, *arguments: str) -> list[dict[str, Any]]:
    found = subprocess.run(
        [sys.executable, "-m", "centwise", "bench", "--events", "--player", f"file:{folder / 'wav'}", *arguments],
        input=lines,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | {"CENTWISE_DATA": str(folder / "data"), "HOME": str(folder)},
        check=False,
    )
    assert found.returncode == 0, found.stderr
    assert found.stderr == ""
    return [json.loads(line) for line in found.stdout.splitlines()]


@pytest.mark.parametrize("breaks", [(1,), (3, 6), (2, 4, 5)])
def test_left_and_reopened_equals_the_one_never_left(tmp_path: Path, breaks: tuple[int, ...]) -> None:
    acts = ["mute", "retune", "chime 4", "bass back 1/32in", "retune", "fret 4", "treble forward 1/16in", "mark"]
    whole = run(tmp_path / "whole", "\n".join([*acts, "quit"]), "--seed", "9")
    parts = []
    edges = (0, *breaks, len(acts))
    for start, end in pairwise(edges):
        parts += run(tmp_path / "parts", "\n".join(acts[start:end]), "--seed", "9")[1:]
    for events in (whole, parts):
        for event in events:
            event.pop("bench", None)
            event.pop("file", None)
            event.pop("player", None)  # names the folder
    assert parts == whole[1:]
    one, other = (sorted((tmp_path / each / "wav").iterdir()) for each in ("whole", "parts"))
    assert len(one) == 2
    # Each rehearsal has files of its own name, with the same samples.
    assert not {path.name for path in one} & {path.name for path in other}
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in other]


def test_another_rehearsal_into_the_same_folder_overwrites_nothing(tmp_path: Path) -> None:
    files = []
    for _ in range(2):
        events = run(tmp_path, "retune\nchime 4", "--new")
        files += [event["file"] for event in events if event["event"] == "sound"]
    assert len(set(files)) == 2
    assert len(list((tmp_path / "wav").iterdir())) == 2


def test_the_cents_of_the_reckoning_are_what_the_files_hold(tmp_path: Path) -> None:
    with conversation(tmp_path, "--seed", "12", "--bridge", "compensated", command="bench") as talk:
        player = BenchPlayer(talk)
        player.ask("mute")
        player.ask("retune")
        heard = {number: player.compared_cents(number, times=5) for number in (4, 3, 2, 1, 5)}
        reckoning = player.ask("mark")
    for number, cents in heard.items():
        # Five pressings of 0.5 c leave 0.22 c; 4 of those.
        assert cents == pytest.approx(reckoning["cents"][str(number)], abs=0.9)
    assert reckoning["string_mm"]["4"] == pytest.approx(offset_mm(reckoning["cents"]["4"]), rel=0.05, abs=0.05)


def test_a_sound_tells_no_pitch_before_the_mark(tmp_path: Path) -> None:
    events = run(tmp_path, "open 4\nchime 4\nfret 4\nretune\nopen 4", "--seed", "3")
    sounding = [event for event in events if event["event"] == "sound"]
    assert len(sounding) == 4
    for event in sounding:
        assert all(set(span) == {"start_s", "end_s"} for span in event["sounds"].values())
    assert "frequency" not in json.dumps(events)


def test_an_instrument_has_the_bridge_it_has_unless_another_is_asked_for(tmp_path: Path) -> None:
    for arguments, bridge in (
        (("--instrument", "archtop-guitar"), "compensated"),
        (("--instrument", "mandolin"), "compensated"),
        (("--instrument", "tenor-19"), "straight"),
        (("--instrument", "mandolin", "--bridge", "straight"), "straight"),
    ):
        (opening,) = run(tmp_path, "", "--seed", "3", "--new", *arguments)
        assert opening["bridge"] == bridge, arguments


def test_bad_lines_move_nothing(tmp_path: Path) -> None:
    bad = [
        "chime 0",
        "bass forward 5",
        "treble back 99mm",
        "slide bass 1m",
        "bass forward 1/0in",
        "nonsense \u202e\x07",
    ]
    events = run(tmp_path, "\n".join([*bad, "mark"]), "--seed", "3")
    assert [event["event"] for event in events] == ["bench", *["error"] * len(bad), "reckoning"]
    untouched = run(tmp_path / "untouched", "mark", "--seed", "3")[-1]
    assert untouched["cents"] == events[-1]["cents"]
    assert events[-1]["moves"] == 0


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("--plain", "--events"), 2, "choose one of them"),
        (("--events", "--instrument", "kazoo"), 2, "kazoo"),
        (("--events", "--scale", "3m"), 2, "3m"),
        (("--events", "--scale", "10mm"), 2, "10 mm"),
        (("--events", "--difficulty", "silly"), 2, "silly"),
        ((), 2, "centwise bench --plain"),
    ],
)
def test_usage_is_refused_in_a_sentence(tmp_path: Path, arguments: tuple[str, ...], code: int, said: str) -> None:
    found = subprocess.run(
        [sys.executable, "-m", "centwise", "bench", *arguments, "--player", "silent"],
        input="",
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | {"CENTWISE_DATA": str(tmp_path / "data"), "HOME": str(tmp_path)},
        check=False,
    )
    assert found.returncode == code
    assert said in found.stderr
    assert found.stderr.startswith("centwise: ")
    assert "Traceback" not in found.stderr
