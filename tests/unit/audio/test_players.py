from __future__ import annotations

import math
import subprocess
import sys
import time
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from fake_clock import FakeClock
from hypothesis import given, settings
from hypothesis import strategies as st

from centwise.audio.level import gain_from_db
from centwise.audio.open import CHOICES, open_player
from centwise.audio.samples import whole_numbers
from centwise.audio.sound_file import read_sound
from centwise.errors import DeviceError, InputError, UsageError
from centwise.model import Sound

if TYPE_CHECKING:
    from pathlib import Path

RATE_HZ = 48_000


def sound_of(samples: Any, name: str = "pair-0001", rate_hz: int = RATE_HZ) -> Sound:
    return Sound(np.asarray(samples, np.float32), rate_hz, name)


class RealClock(FakeClock):
    def monotonic_s(self) -> float:
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        time.sleep(seconds)


@pytest.mark.parametrize("choice", ["", "loud", "file:", "file", "silent:fast", "Auto"])
def test_an_unknown_choice_names_all(choice: str) -> None:
    with pytest.raises(UsageError, match="there is no player") as caught:
        open_player(choice, FakeClock())
    assert all(known in str(caught.value) for known in CHOICES)


@pytest.mark.parametrize("level_db", [0.1, math.inf, math.nan])
def test_a_level_above_what_was_rendered_is_refused(level_db: float) -> None:
    with pytest.raises(UsageError, match="above 0 dB"):
        open_player("silent", FakeClock(), level_db=level_db)


def test_gains() -> None:
    assert gain_from_db(0.0) == 1.0
    assert gain_from_db(-20.0) == pytest.approx(0.1)
    assert gain_from_db(-math.inf) == 0.0


def test_silent_keeps_the_time_of_the_clock() -> None:
    clock = FakeClock()
    player = open_player("silent", clock)
    playback = player.play(sound_of(np.zeros(RATE_HZ)))
    assert playback.position_s() == 0.0
    assert playback.wait(0.25) is False
    assert clock.passed_s == pytest.approx(0.25)
    assert playback.position_s() == pytest.approx(0.25)
    assert playback.wait() is True
    assert clock.passed_s == pytest.approx(1.0)
    assert playback.position_s() == 1.0
    assert playback.path is None


def test_silent_stops_where_it_is_and_when_another_starts() -> None:
    clock = FakeClock()
    player = open_player("silent", clock)
    first = player.play(sound_of(np.zeros(RATE_HZ)))
    first.wait(0.3)
    second = player.play(sound_of(np.zeros(RATE_HZ)))
    assert first.wait(0.0) is True
    assert first.position_s() == pytest.approx(0.3)
    player.close()
    player.close()
    assert second.wait(0.0) is True
    second.stop()
    assert second.position_s() == 0.0


def test_silent_in_a_hurry_takes_no_time() -> None:
    clock = FakeClock()
    playback = open_player("silent:hurry", clock).play(sound_of(np.zeros(RATE_HZ)))
    assert playback.wait() is True
    assert clock.passed_s == 0.0
    assert playback.position_s() == 1.0


def test_file_writes_one_wav_a_sound_and_never_waits(tmp_path: Path) -> None:
    clock = FakeClock()
    player = open_player(f"file:{tmp_path / 'new' / 'folder'}", clock)
    samples = np.linspace(-0.5, 0.5, 480, dtype=np.float32)
    playback = player.play(sound_of(samples))
    assert playback.path == tmp_path / "new" / "folder" / "pair-0001.wav"
    assert playback.wait() is True
    assert playback.position_s() == 0.01
    assert clock.passed_s == 0.0
    back, rate_hz = read_sound(playback.path)
    assert rate_hz == RATE_HZ
    np.testing.assert_allclose(back, samples, atol=2.0**-24)
    before = playback.path.read_bytes()
    assert player.play(sound_of(samples)).path == playback.path
    assert playback.path.read_bytes() == before
    assert [path.name for path in playback.path.parent.iterdir()] == ["pair-0001.wav"]


@pytest.mark.parametrize("name", ["../out", "a/b", "a\\b", "", ".hidden", "con", "LPT1", "a\0b", "x" * 101, "ä", "C:x"])
def test_file_keeps_to_its_folder(tmp_path: Path, name: str) -> None:
    player = open_player(f"file:{tmp_path / 'in'}", FakeClock())
    with pytest.raises(InputError, match="is no name for a file"):
        player.play(sound_of([0.0], name))
    assert [path.name for path in tmp_path.rglob("*")] == ["in"]


def test_file_replaces_a_link_and_not_what_it_leads_to(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    outside = tmp_path / "outside"
    outside.write_text("mine")
    (tmp_path / "in" / "pair-0001.wav").symlink_to(outside)
    open_player(f"file:{tmp_path / 'in'}", FakeClock()).play(sound_of([0.0]))
    assert outside.read_text() == "mine"


def test_file_names_a_folder_that_cannot_be_used(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("")
    with pytest.raises(InputError, match=r"the folder .*taken cannot be written to \(file exists\): choose another"):
        open_player(f"file:{tmp_path / 'taken'}", FakeClock())


@pytest.mark.parametrize(
    ("samples", "rate_hz", "message"),
    [
        (np.zeros(4), RATE_HZ, "as float64 of shape"),
        (np.zeros((4, 2), np.float32), RATE_HZ, r"of shape \(4, 2\)"),
        ([0.0], RATE_HZ, "as list"),
        (np.zeros(0, np.float32), RATE_HZ, "no samples"),
        (np.array([0.0, 1.5], np.float32), RATE_HZ, "reaches 1.5"),
        (np.array([np.nan], np.float32), RATE_HZ, "reaches nan"),
        (np.array([-np.inf], np.float32), RATE_HZ, "reaches inf"),
        (np.zeros(4, np.float32), 8000, "rate of 8000 Hz"),
    ],
)
@pytest.mark.parametrize("choice", ["silent", "file"])
def test_every_player_checks_its_sounds(tmp_path: Path, choice: str, samples: Any, rate_hz: int, message: str) -> None:
    player = open_player(f"file:{tmp_path}" if choice == "file" else choice, FakeClock())
    with pytest.raises(InputError, match=message):
        player.play(Sound(samples, rate_hz, "x"))


@given(st.lists(st.floats(-1.0, 1.0, width=32), min_size=1, max_size=60), st.sampled_from([16, 24]))
def test_whole_numbers_never_exceed_the_peak(values: list[float], bits: int) -> None:
    samples = np.asarray(values, np.float32)
    numbers = whole_numbers(samples, bits)
    back = numbers / 2.0 ** (bits - 1)
    assert np.max(np.abs(back)) <= np.max(np.abs(samples))
    assert np.max(np.abs(back - samples)) <= 2.0 ** (1 - bits)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-0.5, 0.5, width=32), min_size=1, max_size=400), st.floats(-60.0, 0.0))
def test_a_written_sound_never_exceeds_the_rendered_one(
    tmp_path_factory: pytest.TempPathFactory, values: list[float], level_db: float
) -> None:
    player = open_player(f"file:{tmp_path_factory.getbasetemp() / 'ceiling'}", FakeClock(), level_db=level_db)
    sound = sound_of(values)
    path = player.play(sound).path
    assert path is not None
    back, _ = read_sound(path)
    ceiling = np.max(np.abs(sound.samples)) * np.float32(gain_from_db(level_db))
    assert np.max(np.abs(back)) <= ceiling <= np.max(np.abs(sound.samples))


def test_miniaudio_on_its_null_backend_runs_stops_and_closes() -> None:
    from centwise.audio.miniaudio_player import MiniaudioPlayer

    player = MiniaudioPlayer(RealClock(), backend="NULL")
    playback = player.play(sound_of(np.full(RATE_HZ // 5, 0.5)))
    assert playback.wait(0.01) is False
    assert playback.wait(5.0) is True
    assert playback.position_s() == pytest.approx(0.2)
    stopped = player.play(sound_of(np.full(RATE_HZ * 5, 0.5)))
    time.sleep(0.15)
    assert 0.0 < stopped.position_s() < 0.3
    stopped.stop()
    assert stopped.wait(2.0) is True
    assert stopped.position_s() < 1.0
    with pytest.raises(InputError, match="has 44100 Hz: render it at the player's 48000 Hz"):
        player.play(sound_of([0.0], rate_hz=44_100))
    player.close()
    player.close()
    again = player.play(sound_of([0.0] * 10))
    assert again.wait(5.0) is True
    player.close()


def test_a_null_device_that_was_not_asked_for_is_no_device(monkeypatch: pytest.MonkeyPatch) -> None:
    import miniaudio

    def settle_for_null(self: Any, **options: Any) -> None:
        original(self, **{**options, "backends": [miniaudio.Backend.NULL]})

    original = miniaudio.PlaybackDevice.__init__
    monkeypatch.setattr(miniaudio.PlaybackDevice, "__init__", settle_for_null)
    with pytest.raises(DeviceError, match="no sound device was found: plug in"):
        open_player("miniaudio", RealClock())


def test_an_error_in_the_audio_thread_is_told_once_and_the_device_opened_anew(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    from centwise.audio.feed import Feed
    from centwise.audio.miniaudio_player import MiniaudioPlayer

    player = MiniaudioPlayer(RealClock(), backend="NULL")
    playback = player.play(sound_of(np.zeros(RATE_HZ * 3)))

    def fail(self: Feed, frames: int, late_s: float) -> None:
        raise ValueError("planted")

    with monkeypatch.context() as patch:
        patch.setattr(Feed, "block", fail)
        with pytest.raises(DeviceError, match="planted"):
            playback.wait(5.0)
    assert player.play(sound_of(np.zeros(100))).wait(5.0) is True
    player.close()
    assert capfd.readouterr().err == ""


def test_a_device_that_asks_for_nothing_counts_as_gone() -> None:
    from centwise.audio.miniaudio_player import MiniaudioPlayer
    from centwise.audio.miniaudio_stream import SILENCE_LIMIT_S

    class LaterClock(RealClock):
        ahead_s = 0.0

        def monotonic_s(self) -> float:
            return time.monotonic() + self.ahead_s

    clock = LaterClock()
    player = MiniaudioPlayer(clock, backend="NULL")
    stream = player._stream
    assert stream is not None
    stream._let_go.peek()[2][0].stop()
    stream._stopped = False
    clock.ahead_s = SILENCE_LIMIT_S + 0.1
    with pytest.raises(DeviceError, match=r"has stopped taking sound: check its plug or the sound server, then play"):
        player.play(sound_of([0.0]))
    clock.ahead_s = 0.0
    assert player.play(sound_of([0.0])).wait(5.0) is True
    player.close()


@pytest.mark.skipif(sys.version_info < (3, 12), reason="simpleaudio works on Python 3.11")
def test_simpleaudio_refuses_on_later_pythons() -> None:
    with pytest.raises(UsageError, match=r"brings Python 3\.\d+ down after playing: use --player miniaudio"):
        open_player("simpleaudio", FakeClock())


def test_simpleaudio_refuses_on_a_later_python_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 12, 1, "final", 0))
    with pytest.raises(UsageError, match=r"simpleaudio 1.0.4 brings Python 3.12 down after playing"):
        open_player("simpleaudio", FakeClock())


def test_simpleaudio_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib.util

    if sys.version_info >= (3, 12):
        pytest.skip("refused for its Python first")
    monkeypatch.setattr(importlib.util, "find_spec", lambda _name: None)
    with pytest.raises(UsageError, match=r"is not installed: use .* or run pip install 'centwise\[simpleaudio\]'"):
        open_player("simpleaudio", FakeClock())


def test_a_choice_loads_only_its_own_library() -> None:
    script = (
        "import sys\n"
        "from centwise.audio.open import open_player\n"
        "assert 'numpy' not in sys.modules\n"
        "from centwise.bootstrap import SystemClock\n"
        "open_player('silent', SystemClock())\n"
        "print(sorted({'miniaudio', 'simpleaudio', 'soundfile'} & sys.modules.keys()))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=30, check=True)
    assert done.stdout == "[]\n"
