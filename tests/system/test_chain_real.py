"""The chain against a real sound server: the loop through a null sink and its monitor, the device, each side.

A sound server without real-time rights may be starved on a machine at full load; then frames are lost, and the loop
says so. One whole passage is asked for.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from banjo import FIVE_STRING
from centwise.audio.open import open_player, open_recorder, open_sided_player
from centwise.bootstrap import SystemClock
from centwise.chain.ears import ear_tone
from centwise.chain.loop import CENTS, check_loop
from centwise.model import Sound

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sound_server import PulseServer

    from centwise.chain.line import CheckLine
    from centwise.ports import Playback, Player

pytestmark = pytest.mark.audio_stack

TRIES = 5


class SkewedPlayer:
    """A player whose clock runs fast by so many parts per million, or that drops frames."""

    def __init__(self, player: Player, *, ppm: float = 0.0, dropped: int = 0) -> None:
        self._player = player
        self._ppm = ppm
        self._dropped = dropped
        self.name = "skewed"
        self.rate_hz = player.rate_hz
        self.level_db = player.level_db

    def play(self, sound: Sound) -> Playback:
        places = np.arange(int(len(sound.samples) / (1.0 + 1e-6 * self._ppm)) - 8) * (1.0 + 1e-6 * self._ppm)
        spline = CubicSpline(np.arange(len(sound.samples)), sound.samples.astype(np.float64))
        samples = np.clip(spline(places), -1.0, 1.0).astype(np.float32)
        middle = 2 * sound.rate_hz
        samples = np.delete(samples, slice(middle, middle + self._dropped))
        return self._player.play(Sound(samples, sound.rate_hz, "skewed"))

    def close(self) -> None:
        self._player.close()


def looped(*, ppm: float = 0.0, dropped: int = 0) -> dict[str, CheckLine]:
    clock = SystemClock()
    lines: tuple[CheckLine, ...] = ()
    for _ in range(TRIES):
        lines = check_loop(
            lambda: SkewedPlayer(open_player("miniaudio", clock, level_db=-12.0), ppm=ppm, dropped=dropped),
            lambda: open_recorder(clock),
            clock,
            FIVE_STRING,
            1,
            lambda _sentence: None,
        )
        if len(lines) == 3 and abs(lines[0].figures["slip_frames"] + dropped) < 50.0:
            break
    return {line.title: line for line in lines}


def test_the_loop_through_a_null_sink_and_its_monitor(pulse_server: PulseServer) -> None:
    found = looped()
    assert [line.status for line in found.values()] == ["passed"] * 3, found
    clock, level, pair = (found[title].figures for title in ("Loop, clock", "Loop, level and delay", "Loop, a pair"))
    # One server clocks both: nothing but rounding may be left.
    assert abs(clock["clock_ppm"]) < 0.01
    assert abs(clock["slip_frames"]) < 0.1
    # -18 dBFS at a level of -12 dB, to float32.
    assert level["level_dbfs"] == pytest.approx(-30.0, abs=0.01)
    assert level["noise_dbfs"] is None
    assert 5.0 < level["delay_ms"] < 1000.0
    assert "Monitor of Null Output" in level["microphone"]
    assert pair["measured_cents"] == pytest.approx(CENTS, abs=0.001)


@pytest.mark.parametrize("ppm", [-73.0, 300.0])
def test_a_planted_clock_error_is_told(pulse_server: PulseServer, ppm: float) -> None:
    found = looped(ppm=ppm)
    line = found["Loop, clock"]
    assert line.status == "passed", found
    assert line.figures["clock_ppm"] == pytest.approx(ppm, abs=0.01)
    assert line.figures["clock_cents"] == pytest.approx(1200.0 * np.log2(1.0 + 1e-6 * ppm), abs=1e-4)
    assert found["Loop, a pair"].figures["measured_cents"] == pytest.approx(CENTS, abs=0.001)


def test_frames_lost_on_the_way_are_told(pulse_server: PulseServer) -> None:
    line = looped(dropped=480)["Loop, clock"]
    assert line.status == "failed"
    assert line.figures["slip_frames"] == pytest.approx(-480.0, abs=50.0)


@contextmanager
def both_channels(server: PulseServer, file: Path) -> Iterator[None]:
    """Record the monitor's two channels into a raw file."""
    with file.open("wb") as out:
        process = subprocess.Popen(
            [
                "parec", "--device=probe.monitor", "--format=float32le", "--channels=2", "--rate=48000",
                "--latency-msec=5", "--raw",
            ],
            env={**os.environ, **server.environ},
            stdout=out,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            time.sleep(0.5)
            yield
            time.sleep(0.5)
        finally:
            process.terminate()
            process.wait(5)


def test_each_side_sounds_alone_and_both_alike(pulse_server: PulseServer, tmp_path: Path) -> None:
    with both_channels(pulse_server, tmp_path / "heard.raw"):
        player = open_sided_player(SystemClock(), level_db=-6.0)
        tone = ear_tone(player.rate_hz)
        for sides in ((1.0, 0.0), (0.0, 1.0), (1.0, 1.0)):
            player.sides = sides
            assert player.play(tone).wait(5.0)
            time.sleep(0.3)
        player.close()
    raw = np.fromfile(tmp_path / "heard.raw", np.float32)
    sound = raw[: raw.size // 2 * 2].reshape(-1, 2)
    peak = float(np.max(np.abs(tone.samples))) * 10.0 ** (-6.0 / 20.0)
    assert float(np.max(np.abs(sound))) <= peak * 1.000001
    # Where something sounds, in tenths of a second: left alone, then right alone, then both.
    loud = np.abs(sound[: len(sound) // 4800 * 4800]).reshape(-1, 4800, 2).max(axis=1) > 1e-6
    patterns = [tuple(row) for row in loud if row.any()]
    order = [pattern for place, pattern in enumerate(patterns) if place == 0 or pattern != patterns[place - 1]]
    assert order == [(True, False), (False, True), (True, True)]
    both = sound[np.all(np.abs(sound) > 1e-6, axis=1)]
    assert np.array_equal(both[:, 0], both[:, 1])


def run(*arguments: str, environ: dict[str, str], answers: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "centwise", "check", *arguments],
        env={**os.environ, **environ},
        input=answers,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_the_command_names_the_device_and_loops(pulse_server: PulseServer, tmp_path: Path) -> None:
    environ = {**pulse_server.environ, "CENTWISE_DATA": str(tmp_path / "data")}
    sheet = tmp_path / "sheet.html"
    for _ in range(TRIES):
        done = run("--only", "device", "--only", "loop", "--sheet", str(sheet), "--json", environ=environ)
        if done.returncode == 0:
            break
    assert done.returncode == 0, done.stdout + done.stderr
    found = {check["title"]: check for check in json.loads(done.stdout)["checks"]}
    assert found["Output"]["device"] == "Null Output"
    assert found["Output"]["backend"] == "PulseAudio"
    assert found["Output"]["device_rate_hz"] == 48_000
    assert found["Loop, clock"]["status"] == found["Loop, a pair"]["status"] == "passed"
    # A new listener's level: the quiet one to start with.
    assert found["Loop, level and delay"]["played_at_db"] == -12.0
    html = sheet.read_text(encoding="utf-8")
    assert "Null Output through PulseAudio" in html
    assert "harmless to the drill" in html


def test_the_command_asks_where_a_tone_was(pulse_server: PulseServer, tmp_path: Path) -> None:
    environ = {**pulse_server.environ, "CENTWISE_DATA": str(tmp_path / "data")}
    # Whoever says left to everything is told what sounded else.
    done = run("--only", "ears", "--seed", "3", environ=environ, answers="left\nleft\nleft\n")
    assert (done.returncode, done.stderr) == (1, "")
    assert "right sounded and left was heard" in done.stdout.casefold()


def test_somebody_at_a_terminal_is_waited_for(pulse_server: PulseServer, tmp_path: Path) -> None:
    pty = pytest.importorskip("pty", reason="pseudo-terminals are Unix's")
    near, far = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "centwise", "check", "--only", "ears", "--seed", "1"],
        env={**os.environ, **pulse_server.environ, "CENTWISE_DATA": str(tmp_path / "data")},
        stdin=far,
        stdout=far,
        stderr=far,
    )
    os.close(far)
    said = ""

    def until(words: str) -> None:
        nonlocal said
        while words not in said:
            said += os.read(near, 4096).decode()

    try:
        with pulse_server.recording() as recording:
            until("Press enter when you are ready.")
            time.sleep(1.0)
            assert not recording.samples().any()
            os.write(near, b"\n")
            for number in (1, 2, 3):
                until(f"Tone {number}: where was it?")
                os.write(near, b"both\n")
            until("this output is mono")
            # The first step is 30 dB below a tone that peaks at -12 dBFS.
            assert 0.0 < float(np.max(np.abs(recording.samples()))) <= 10.0 ** (-42.0 / 20.0) * 1.00001
        assert process.wait(20) == 1
    finally:
        process.kill()
        os.close(near)


def test_without_a_device_the_output_fails_and_the_loop_is_not_checked(tmp_path: Path) -> None:
    bare = tmp_path / "bare.conf"
    bare.write_text("# no devices\n")
    environ = {
        "PULSE_SERVER": f"unix:{tmp_path}/nobody",
        "HOME": str(tmp_path),
        "ALSA_CONFIG_PATH": str(bare),
        "CENTWISE_DATA": str(tmp_path / "data"),
    }
    done = run("--only", "device", "--only", "loop", "--only", "ears", environ=environ)
    assert done.returncode == 1
    assert done.stderr == ""
    said = done.stdout.splitlines()
    assert any(line.startswith("Output: failed. ") for line in said)
    assert any(line.startswith("Loop: not checked. ") for line in said)
    assert any(line.startswith("Left, right and both: not checked. ") for line in said)
