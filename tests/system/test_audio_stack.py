"""What reached the system's audio stack is what was rendered: samples, pitch, stops, and a server that goes away."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from alsa_device import STOCK, alsa_plugin_missing, play_into_file
from pitch_meter import cents_apart

from banjo import FIVE_STRING
from centwise.audio.miniaudio_player import MiniaudioPlayer
from centwise.audio.open import open_player
from centwise.audio.sound_file import write_sound
from centwise.bootstrap import SystemClock
from centwise.draws import Draws, Purpose
from centwise.errors import DeviceError
from centwise.model import Condition, PairSound, PairSpec, Sound
from centwise.tones.pair import render_pair

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from sound_server import PulseServer

pytestmark = pytest.mark.audio_stack

RATE_HZ = 48_000
ASKED_CENTS = 7.0
SETTLE_S = 0.08
"""Left out at either end of a tone: the pluck's own noise, and the fade."""

TRIES = 5
"""A machine at full load may starve a sound server that has no real-time rights; one whole passage is asked for."""


@pytest.fixture(scope="module")
def pair() -> PairSound:
    spec = PairSpec(n=1, condition=Condition(string=4), offset_cents=ASKED_CENTS, first="harmonic")
    return render_pair(spec, FIVE_STRING, rate_hz=RATE_HZ, rng=Draws(5).stream(Purpose.TONES, 1))


@pytest.fixture
def player(pulse_server: PulseServer) -> Iterator[MiniaudioPlayer]:
    # A null sink that was idle takes its time to wake; one that is recorded is awake.
    with pulse_server.recording():
        player = MiniaudioPlayer(SystemClock())
    yield player
    player.close()


def steady_tone(seconds: float) -> Sound:
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return Sound((0.4 * np.sin(2 * np.pi * 440.0 * time_s)).astype(np.float32), RATE_HZ, "steady")


def found_in(heard: NDArray[np.float32], sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """The part of what was heard that matches a sound best, of the same length."""
    size = 2 ** int(np.ceil(np.log2(len(heard) + len(sound))))
    match = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(sound, size)), size)
    begin = int(np.argmax(match[: len(heard) - len(sound) + 1]))
    return heard[begin : begin + len(sound)]


def cents_in(samples: NDArray[np.float32], pair: PairSound) -> float:
    spans = [(span.start_s + SETTLE_S, span.end_s - SETTLE_S) for span in (pair.harmonic, pair.fretted)]
    return cents_apart(samples.astype(np.float64), RATE_HZ, spans[0], spans[1], pair.harmonic.frequency_hz)


def test_the_meter_reads_a_known_difference() -> None:
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    low, high = (np.exp(-2.0 * time_s) * np.sin(2 * np.pi * 293.66 * 2 ** (c / 1200) * time_s) for c in (0.0, 12.34))
    both = np.concatenate([low, high])
    assert cents_apart(both, RATE_HZ, (0.05, 1.9), (2.05, 3.9), 293.66) == pytest.approx(12.34, abs=1e-3)


def test_miniaudio_into_an_alsa_device(tmp_path: Path, pair: PairSound) -> None:
    if missing := alsa_plugin_missing():
        pytest.skip(missing)
    write_sound(tmp_path / "pair.wav", pair.sound.samples, RATE_HZ)
    raw, said = play_into_file(tmp_path, "miniaudio", tmp_path / "pair.wav")
    assert said == "miniaudio"
    heard = found_in(np.fromfile(raw, np.float32), pair.sound.samples)
    # The file in between holds 24 bits; nothing else may differ, the attack least of all.
    assert np.max(np.abs(heard - pair.sound.samples)) <= 2.0**-24
    assert cents_in(heard, pair) == pytest.approx(ASKED_CENTS, abs=0.05)


def test_simpleaudio_into_an_alsa_device(tmp_path: Path, pair: PairSound) -> None:
    if sys.version_info >= (3, 12):
        pytest.skip("simpleaudio 1.0.4 brings Python 3.12 and later down")
    if importlib.util.find_spec("simpleaudio") is None:
        pytest.skip("not installed: simpleaudio")
    if missing := alsa_plugin_missing():
        pytest.skip(missing)
    write_sound(tmp_path / "pair.wav", pair.sound.samples, RATE_HZ)
    raw, said = play_into_file(tmp_path, "simpleaudio", tmp_path / "pair.wav")
    assert said == "simpleaudio"
    heard = found_in((np.fromfile(raw, np.int16) / 2.0**15).astype(np.float32), pair.sound.samples)
    assert np.max(np.abs(heard - pair.sound.samples)) <= 2.0**-15
    assert cents_in(heard, pair) == pytest.approx(ASKED_CENTS, abs=0.05)


def test_miniaudio_into_a_sound_server(pulse_server: PulseServer, player: MiniaudioPlayer, pair: PairSound) -> None:
    with pulse_server.recording() as recording:
        for _ in range(TRIES):
            before = len(recording.samples())
            assert player.play(pair.sound).wait(10.0)
            time.sleep(0.2)
            heard = found_in(recording.samples()[before:], pair.sound.samples)
            if np.array_equal(heard, pair.sound.samples):
                break
    np.testing.assert_array_equal(heard, pair.sound.samples)
    assert cents_in(heard, pair) == pytest.approx(ASKED_CENTS, abs=0.05)


def test_a_sound_without_any_silence_before_it_keeps_its_attack(
    pulse_server: PulseServer, player: MiniaudioPlayer
) -> None:
    tone = steady_tone(0.3)
    tone.samples[0] = 0.5
    with pulse_server.recording() as recording:
        for _ in range(TRIES):
            before = len(recording.samples())
            player.play(tone).wait()
            time.sleep(0.2)
            heard = recording.samples()[before:]
            begin = int(np.flatnonzero(heard)[0])
            if np.array_equal(heard[begin : begin + len(tone.samples)], tone.samples):
                return
    pytest.fail("the tone never came through from its first sample on")


def test_a_stop_is_heard_within_50_ms(pulse_server: PulseServer, player: MiniaudioPlayer) -> None:
    delays_s = []
    with pulse_server.recording() as recording:
        for round_ in range(9):
            before = len(recording.samples())
            playback = player.play(steady_tone(2.0))
            time.sleep(0.2 + 0.007 * round_)
            stopped_s = time.monotonic()
            playback.stop()
            assert playback.wait(1.0)
            assert 0.1 < playback.position_s() < 0.5
            time.sleep(0.15)
            heard = recording.samples()
            last = before + int(np.flatnonzero(heard[before:])[-1])
            # Arrival at the recorder is later than playing, so this errs on the strict side.
            delays_s.append(recording.arrival_s(last + 1) - stopped_s)
            assert (
                np.max(np.abs(np.diff(heard[last - 400 : last + 2]))) < 0.03
            )  # no click: 440 Hz at 0.4 steps by 0.023
    assert np.median(delays_s) <= 0.050, delays_s


def test_a_server_that_dies_is_told_and_one_that_is_back_is_used(
    pulse_server: PulseServer, player: MiniaudioPlayer
) -> None:
    playback = player.play(steady_tone(5.0))
    time.sleep(0.3)
    pulse_server.kill()
    killed_s = time.monotonic()
    with pytest.raises(
        DeviceError, match=r"^the sound device .*: check its plug or the sound server, then play again\.$"
    ):
        playback.wait()
    assert time.monotonic() - killed_s < 3.0
    with pytest.raises(DeviceError, match=r"no sound device could be opened: plug in or switch on"):
        player.play(steady_tone(0.2))
    pulse_server.start()
    with pulse_server.recording() as recording:
        assert player.play(steady_tone(0.2)).wait(10.0)
        time.sleep(0.2)
        assert np.max(np.abs(recording.samples())) == pytest.approx(0.4, abs=1e-3)


def test_a_play_also_notices_that_the_server_died(pulse_server: PulseServer, player: MiniaudioPlayer) -> None:
    pulse_server.kill()
    time.sleep(1.3)
    with pytest.raises(DeviceError, match=r"has stopped taking sound|went away"):
        player.play(steady_tone(0.2))
    pulse_server.start()
    assert player.play(steady_tone(0.2)).wait(10.0)


def test_level_and_replacing_a_sound(pulse_server: PulseServer) -> None:
    with pulse_server.recording() as recording:
        player = open_player("miniaudio", SystemClock(), level_db=-20.0)
        first = player.play(steady_tone(2.0))
        time.sleep(0.3)
        second = player.play(steady_tone(0.3))
        assert first.wait(1.0)
        assert second.wait(2.0)
        time.sleep(0.2)
        player.close()
        peak = float(np.max(np.abs(recording.samples())))
    assert peak == pytest.approx(0.04, rel=1e-3)
    assert peak <= np.float32(0.4) * np.float32(0.1)
    assert second.position_s() == pytest.approx(0.3)


def test_an_open_stream_does_not_hold_up_the_end_of_the_program(pulse_server: PulseServer, tmp_path: Path) -> None:

    script = (
        "from centwise.audio.open import open_player\n"
        "from centwise.bootstrap import SystemClock\n"
        "player = open_player('miniaudio', SystemClock())\n"
        "print('open', flush=True)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=15, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "open\n", "")


def test_no_device_is_one_sentence_and_nothing_is_printed(tmp_path: Path) -> None:

    script = (
        "from centwise.audio.open import open_player\n"
        "from centwise.bootstrap import SystemClock\n"
        "from centwise.errors import DeviceError\n"
        "try:\n"
        "    open_player('auto', SystemClock())\n"
        "except DeviceError as error:\n"
        "    print(error)\n"
    )
    bare = tmp_path / "bare.conf"
    bare.write_text("# no devices\n")
    environ = {**os.environ, "PULSE_SERVER": f"unix:{tmp_path}/nobody", "HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**environ, "ALSA_CONFIG_PATH": str(bare)},
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert done.stderr == ""
    assert done.stdout == (
        "no sound device could be opened: plug in or switch on headphones or speakers,"
        " or use --player silent or --player file:DIR.\n"
    )


STOP_WITH_SIMPLEAUDIO = """
import sys, time
import numpy as np
from centwise.audio.open import open_player
from centwise.bootstrap import SystemClock
from centwise.model import Sound

player = open_player("simpleaudio", SystemClock())
tone = 0.4 * np.sin(2 * np.pi * 440.0 * np.arange(96000) / 48000)
playback = player.play(Sound(tone.astype(np.float32), 48000, "steady"))
time.sleep(0.5)
print(time.monotonic())
playback.stop()
assert playback.wait(2.0)
player.close()
"""


def test_a_stop_of_simpleaudio_is_heard_within_its_buffer(pulse_server: PulseServer, tmp_path: Path) -> None:
    if sys.version_info >= (3, 12):
        pytest.skip("simpleaudio 1.0.4 brings Python 3.12 and later down")
    if importlib.util.find_spec("simpleaudio") is None:
        pytest.skip("not installed: simpleaudio")
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        pytest.skip("not installed: ALSA's PulseAudio device (libasound2-plugins)")
    configuration = tmp_path / "pulse.conf"
    configuration.write_text(f"<{STOCK}>\npcm.!default {{ type pulse }}\n")
    delays_s = []
    with pulse_server.recording() as recording:
        for _ in range(3):
            done = subprocess.run(
                [sys.executable, "-c", STOP_WITH_SIMPLEAUDIO],
                env={**os.environ, "ALSA_CONFIG_PATH": str(configuration)},
                capture_output=True,
                text=True,
                timeout=30,
                check=False,
            )
            assert (done.returncode, done.stderr) == (0, "")
            time.sleep(0.2)
            last = int(np.flatnonzero(np.abs(recording.samples()) > 1e-6)[-1])
            # time.monotonic is one clock for all processes of the machine.
            delays_s.append(recording.arrival_s(last + 1) - float(done.stdout))
    # 100 ms in the device and 6 ms of fade; the bar of 50 ms cannot be met with this library.
    assert np.median(delays_s) <= 0.150, delays_s
