"""Make the reference pairs of this folder anew: `python sounds/make.py`, with centwise installed.

Every pair is written by `centwise render`, then its offset is measured from the file alone: each tone's first three
partials are brought down to zero frequency, smoothed, and the slope of their phase is fitted, weighted by amplitude
squared. The manifest holds what was asked, what was measured, and the SHA-256 of each file.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
from pathlib import Path

import numpy as np
import soundfile

from centwise.cli.main import run

HERE = Path(__file__).parent
STRINGS = (1, 2, 3, 4, 5)
OFFSETS_CENTS = (0, -2, 2, -4, 4, -8, 8, -16, 16)
RATE_HZ = 44100
PARTIALS = (1, 2, 3)
SKIP_S = 0.15
"""After the attack the quenched modes and the body have died away."""


def partial_hz(tone: np.ndarray, rate_hz: int, near_hz: float) -> float:
    """Return the frequency of the partial nearest to `near_hz` in a tone, shape (frames,)."""
    time_s = np.arange(tone.size) / rate_hz
    window = np.hanning(round(6 * rate_hz / 146.0))
    window /= window.sum()
    beat = np.convolve(tone * np.exp(-2j * np.pi * near_hz * time_s), window, mode="valid")[:: window.size // 16]
    step_s = (window.size // 16) / rate_hz
    slope = np.polyfit(np.arange(beat.size) * step_s, np.unwrap(np.angle(beat)), 1, w=np.abs(beat))[0]
    return float(near_hz + slope / (2 * np.pi))


def measured_cents(path: Path, sounds: dict[str, dict[str, float]]) -> float:
    """Return the fretted tone's cents over the harmonic, the mean over three partials."""
    samples, rate_hz = soundfile.read(path)
    tones = {}
    for name, span in sounds.items():
        tone = samples[round((span["start_s"] + SKIP_S) * rate_hz) : round((span["end_s"] - 0.05) * rate_hz)]
        tones[name] = [partial_hz(tone, rate_hz, number * span["frequency_hz"]) for number in PARTIALS]
    return float(np.mean(1200 * np.log2(np.divide(tones["fretted"], tones["harmonic"]))))


def _command(path: Path, string: int, cents: int, seed: int) -> list[str]:
    where = ["render", str(path), "--string", str(string), "--rate", str(RATE_HZ)]
    return [*where, f"--cents={cents}", "--seed", str(seed), "--json"]


def main() -> None:
    """Write every pair and the manifest."""
    pairs = []
    for string in STRINGS:
        for place, cents in enumerate(OFFSETS_CENTS):
            path = (
                HERE
                / f"string-{string}-{'flat' if cents < 0 else 'sharp' if cents else 'unison'}-{abs(cents):02d}.flac"
            )
            seed = string * 100 + place
            said = io.StringIO()
            with contextlib.redirect_stdout(said):
                code = run(_command(path, string, cents, seed))
            if code:
                raise SystemExit(code)
            record = json.loads(said.getvalue())
            pairs.append(
                {
                    "file": path.name,
                    "string": string,
                    "asked_cents": cents,
                    "measured_cents": round(measured_cents(path, record["sounds"]), 4) + 0.0,
                    "sounds": record["sounds"],
                    "rate": RATE_HZ,
                    "seed": seed,
                    "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
                }
            )
    manifest = {"instrument": "five-string", "made_by": "python sounds/make.py", "pairs": pairs}
    (HERE / "manifest.json").write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")
    worst = max(abs(pair["measured_cents"] - pair["asked_cents"]) for pair in pairs)
    print(f"{len(pairs)} pairs written; the farthest measured {worst:.4f} cents from what was asked")  # noqa: T201


if __name__ == "__main__":
    main()
