"""A listener who knows nothing but the sound files: cuts the two tones out, measures their difference, adds noise.

The measure is independent of the program's own: for each of the first partials, the peak of a zero-padded FFT under a
Hann window, placed between bins by a parabola through the logarithms of three magnitudes; then the median of the
partials' differences. Facts of the method: 6e-4 cents on a decaying sine at 60 dB (measured for this project).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np
import soundfile

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

PARTIALS = 5
WIDTH_CENTS = 120.0
AFTER_ONSET_S = 0.06
BEFORE_END_S = 0.03


def peaks_hz(tone: NDArray[np.float64], rate_hz: int, fundamental_hz: float) -> NDArray[np.float64]:
    """Return where the first partials lie, each looked for within 120 cents of a whole multiple."""
    size = 1 << (4 * len(tone) - 1).bit_length()
    spectrum = np.log(np.abs(np.fft.rfft(tone * np.hanning(len(tone)), size)) + 1e-30)
    found = []
    for partial in range(1, PARTIALS + 1):
        low, high = (
            int(partial * fundamental_hz * 2 ** (cents / 1200) * size / rate_hz)
            for cents in (-WIDTH_CENTS, WIDTH_CENTS)
        )
        top = low + int(np.argmax(spectrum[low : high + 1]))
        left, middle, right = spectrum[top - 1 : top + 2]
        found.append((top + 0.5 * (left - right) / (left - 2 * middle + right)) * rate_hz / size)
    return np.array(found)


def difference_cents(pair: dict[str, Any]) -> float:
    """Return how far the fretted note lies above the harmonic, from the file of a pair event."""
    samples, rate_hz = soundfile.read(pair["file"])
    near_hz = pair["sounds"]["harmonic"]["frequency_hz"]
    harmonic, fretted = (
        peaks_hz(
            samples[
                round((span["start_s"] + AFTER_ONSET_S) * rate_hz) : round((span["end_s"] - BEFORE_END_S) * rate_hz)
            ],
            rate_hz,
            near_hz,
        )
        for span in (pair["sounds"]["harmonic"], pair["sounds"]["fretted"])
    )
    return float(np.median(1200.0 * np.log2(fretted / harmonic)))


class Conversation:
    """Speaks the drill's JSON Lines with a running program."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        assert process.stdin is not None
        assert process.stdout is not None
        self.process = process
        self._stdin, self._stdout = process.stdin, process.stdout

    def hear(self) -> dict[str, Any]:
        """Return the next event."""
        line = self._stdout.readline()
        if not line:
            stderr = self.process.stderr.read() if self.process.stderr else ""
            raise AssertionError(f"no further event; {stderr}")
        event = json.loads(line)
        assert isinstance(event, dict)
        return event

    def say(self, word: str) -> None:
        """Write one line."""
        self._stdin.write(f"{word}\n")
        self._stdin.flush()


@contextmanager
def conversation(folder: Path, *arguments: str, command: str = "drill") -> Iterator[Conversation]:
    """Run `centwise drill --events`, or another command, with sound files below a folder of its own."""
    environment = os.environ | {"CENTWISE_DATA": str(folder / "data"), "HOME": str(folder)}
    with subprocess.Popen(
        [sys.executable, "-m", "centwise", command, "--events", "--player", f"file:{folder / 'wav'}", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env=environment,
    ) as process:
        try:
            yield Conversation(process)
        finally:
            process.kill()


def whole_block(
    folder: Path, sigma_cents: float, seed: int, *arguments: str, trials: int = 40
) -> tuple[dict[str, Any], list[float]]:
    """Judge pairs by ear with noise of `sigma_cents` and a unison window of 0.7 sigma.

    Returns:
        The result event, and by how many cents each measured difference missed the truth told after the answer.
    """
    rng = np.random.default_rng(seed)
    missed = []
    with conversation(folder, "--seed", str(seed), "--trials", str(trials), *arguments) as talk:
        assert talk.hear()["event"] == "block"
        while (event := talk.hear())["event"] != "result":
            assert event["event"] == "pair"
            measured = difference_cents(event)
            heard = measured + rng.normal(0.0, sigma_cents)
            window = 0.7 * sigma_cents
            talk.say("flat" if heard < -window else "sharp" if heard > window else "unison")
            answer = talk.hear()
            if "cents" in answer:
                missed.append(measured - answer["cents"])
        assert talk.process.wait(30) == 0
    return event, missed
