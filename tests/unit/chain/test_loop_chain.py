"""The loop with a player and a microphone of the tests between which everything can be planted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.signal import fftconvolve

from banjo import FIVE_STRING
from centwise.audio.silent_player import SilentPlayer
from centwise.chain.device import check_device
from centwise.chain.loop import CENTS, check_loop
from centwise.errors import DeviceError
from fakes import ManualClock, RecordingPlayer, ScriptedRecorder

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from centwise.chain.line import CheckLine
    from centwise.model import Sound
    from centwise.ports import Recorder

    Samples = NDArray[np.float64]

RATE_HZ = 48_000
DELAY_S = 0.063


def noise(frames: int, level: float) -> Samples:
    return np.random.default_rng(frames % 97).normal(0.0, level, frames)


class LoopPlayer(RecordingPlayer):
    """What it plays comes, changed and late, into the microphone."""

    def __init__(self, recorder: ScriptedRecorder, change: Callable[[Samples], Samples], noise_level: float) -> None:
        super().__init__()
        self._recorder = recorder
        self._change = change
        self._noise_level = noise_level

    def play(self, sound: Sound) -> object:
        late = np.zeros(round(DELAY_S * RATE_HZ))
        heard = np.concatenate((late, self._change(sound.samples.astype(np.float64)), np.zeros(2 * RATE_HZ)))
        self._recorder.hear((heard + noise(heard.size, self._noise_level)).astype(np.float32))
        return super().play(sound)


def looped(
    change: Callable[[Samples], Samples] = lambda samples: 0.5 * samples, noise_level: float = 1e-4
) -> dict[str, CheckLine]:
    clock = ManualClock()
    recorder = ScriptedRecorder(clock, noise(20 * RATE_HZ, noise_level).astype(np.float32))
    player = LoopPlayer(recorder, change, noise_level)
    said: list[str] = []
    lines = check_loop(lambda: player, lambda: recorder, clock, FIVE_STRING, 1, said.append)
    assert player.closed
    assert recorder.closed
    assert len(said) == 1
    assert said[0].startswith("Take headphones off your ears")
    return {line.title: line for line in lines}


def faster(ppm: float) -> Callable[[Samples], Samples]:
    def change(samples: Samples) -> Samples:
        places = np.arange(int(samples.size / (1.0 + 1e-6 * ppm)) - 8) * (1.0 + 1e-6 * ppm)
        return 0.5 * CubicSpline(np.arange(samples.size), samples)(places)

    return change


def test_a_good_loop_passes_and_tells_what_was_planted() -> None:
    found = looped()
    assert [line.status for line in found.values()] == ["passed"] * 3
    clock, level, pair = (found[title].figures for title in ("Loop, clock", "Loop, level and delay", "Loop, a pair"))
    assert abs(clock["clock_ppm"]) < 4.0 * clock["clock_std_error_ppm"] < 0.5
    assert abs(clock["slip_frames"]) < 0.5
    assert level["delay_ms"] == pytest.approx(1000.0 * DELAY_S, abs=1.0)
    assert level["level_dbfs"] == pytest.approx(-18.0 + 20.0 * math.log10(0.5), abs=0.05)
    # White noise of 1e-4, a full-scale sine being 0 dBFS.
    assert level["noise_dbfs"] == pytest.approx(20.0 * math.log10(1e-4 * math.sqrt(2.0)), abs=0.2)
    assert abs(pair["measured_cents"] - CENTS) < 3.0 * pair["std_error_cents"] < 0.03
    assert level["microphone"] == "a microphone of the tests"


@pytest.mark.parametrize("ppm", [-80.0, 40.0, 450.0])
def test_a_planted_clock_is_told_and_is_harmless(ppm: float) -> None:
    found = looped(faster(ppm))
    line = found["Loop, clock"]
    assert line.status == "passed"
    assert line.figures["clock_ppm"] == pytest.approx(ppm, abs=0.1)
    assert line.figures["clock_cents"] == pytest.approx(1200.0 * math.log2(1.0 + 1e-6 * ppm), abs=2e-4)
    assert f"runs {'fast' if ppm > 0 else 'slow'} beside the input" in line.finding
    assert "common to both notes of a pair, and so harmless to the drill" in line.finding
    # And so it is: the pair arrives as it was asked.
    assert found["Loop, a pair"].status == "passed"
    assert found["Loop, a pair"].figures["measured_cents"] == pytest.approx(CENTS, abs=0.03)


def test_a_wrong_rate_fails_and_is_still_harmless_to_the_pair() -> None:
    found = looped(faster(1e6 * (44.1 / 48.0 - 1.0)))
    assert found["Loop, clock"].status == "failed"
    assert "takes one rate for another" in found["Loop, clock"].finding
    assert "harmless" in found["Loop, clock"].finding
    assert "48000 Hz" in found["Loop, clock"].to_do


def test_lost_frames_fail() -> None:
    found = looped(lambda samples: 0.5 * np.delete(samples, slice(2 * RATE_HZ, 2 * RATE_HZ + 960)))
    assert found["Loop, clock"].status == "failed"
    assert "lost on the way" in found["Loop, clock"].finding
    assert found["Loop, a pair"].status == "not checked"


def test_a_pitch_that_wanders_fails() -> None:
    def change(samples: Samples) -> Samples:
        frames = np.arange(samples.size - 200)
        # A swing of 400 ppm, 0.7 cents, over two seconds.
        places = frames + 400e-6 * RATE_HZ / math.pi * np.sin(math.pi * frames / RATE_HZ)
        return 0.5 * CubicSpline(np.arange(samples.size), samples)(places)

    line = looped(change)["Loop, clock"]
    assert line.status == "failed"
    assert 0.1 < line.figures["wander_cents"] < 1.0
    assert "wanders by" in line.finding


def test_a_chain_that_moves_one_tone_fails_on_the_pair() -> None:
    # Something that raises the second tone of the pair by a cent: it begins at 4.48 + 0.12 + 1.4 + 0.5 s.
    def change(samples: Samples) -> Samples:
        cut, end = round(6.3 * RATE_HZ), round(8.1 * RATE_HZ)
        raised = faster(577.79)(samples[cut:end])
        return np.concatenate((0.5 * samples[:cut], raised, np.zeros(end - cut - raised.size), 0.5 * samples[end:]))

    line = looped(change)["Loop, a pair"]
    assert line.status == "failed"
    assert line.figures["measured_cents"] == pytest.approx(CENTS + 1.0, abs=0.05)


def test_a_room_does_not_fail_it() -> None:
    # Thirty decaying echoes within 0.3 s, as a speaker and a microphone in a room have.
    rng = np.random.default_rng(5)
    room = np.zeros(round(0.3 * RATE_HZ))
    room[0] = 1.0
    room[rng.integers(200, room.size, 30)] = 0.3 * rng.normal(0.0, 1.0, 30) * np.exp(-np.linspace(0.0, 3.0, 30))
    found = looped(lambda samples: 0.3 * fftconvolve(samples, room), noise_level=2e-4)
    assert found["Loop, clock"].status == "passed"
    assert found["Loop, level and delay"].status == "passed"
    assert found["Loop, a pair"].status in {"passed", "not checked"}


def test_what_is_too_quiet_too_loud_or_absent_fails_with_what_to_do() -> None:
    assert looped(lambda samples: 0.01 * samples, noise_level=1e-4)["Loop, level and delay"].status == "failed"
    clipped = looped(lambda samples: np.clip(12.0 * samples, -1.0, 1.0))["Loop, level and delay"]
    assert clipped.status == "failed"
    assert "clipped" in clipped.finding
    # No line asks for the opposite of another.
    lines = looped(lambda samples: np.clip(12.0 * samples, -1.0, 1.0))
    assert not any("louder" in line.to_do for line in lines.values())
    nothing = looped(lambda samples: 0.0 * samples)["Loop"]
    assert nothing.status == "failed"
    assert "cable" in nothing.to_do


def no_device() -> Recorder:
    raise DeviceError("no microphone was found", "plug one in")


def test_no_microphone_no_output_and_a_silent_player_are_not_checked() -> None:
    clock = ManualClock()
    player = RecordingPlayer()

    def no_output() -> RecordingPlayer:
        raise DeviceError("no sound device was found", "plug one in")

    for line in (
        *check_loop(lambda: player, no_device, clock, FIVE_STRING, 1, print),
        *check_loop(no_output, no_device, clock, FIVE_STRING, 1, print),
        *check_loop(lambda: SilentPlayer(clock), no_device, clock, FIVE_STRING, 1, print),
    ):
        assert line.status == "not checked"
        assert line.finding
    assert player.closed
    assert not player.sounds


def test_a_microphone_that_goes_away_fails() -> None:
    clock = ManualClock()
    recorder = ScriptedRecorder(clock, np.zeros(10, np.float32), lost_at_s=2.0)
    player = RecordingPlayer()
    (line,) = check_loop(lambda: player, lambda: recorder, clock, FIVE_STRING, 1, lambda _: None)
    assert (line.status, line.finding) == ("failed", "the microphone went away")
    assert player.closed
    assert recorder.closed


def test_the_output_is_asked_for_a_second_of_silence() -> None:
    clock = ManualClock()
    player = RecordingPlayer(clock=clock)
    line = check_device(lambda: player, clock)
    assert line.status == "passed"
    assert line.figures["silence_took_s"] == pytest.approx(1.0)
    assert not player.sounds[0].samples.any()
    assert player.closed


def test_an_output_that_does_not_keep_time_is_gone_or_absent_fails() -> None:
    clock = ManualClock()
    hasty = check_device(RecordingPlayer, clock)
    assert hasty.status == "failed"
    assert "does not keep time" in hasty.finding
    gone = RecordingPlayer(clock=clock)
    gone.fails_at_wait = True
    assert check_device(lambda: gone, clock).status == "failed"

    def no_output() -> RecordingPlayer:
        raise DeviceError("no sound device could be opened", "plug one in")

    assert check_device(no_output, clock).status == "failed"
    assert check_device(lambda: SilentPlayer(clock), clock).status == "not checked"
