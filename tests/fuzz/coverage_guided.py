"""Parsers fed with bytes that coverage leads to ever new ways through them, by atheris (libFuzzer for Python).

pip install atheris
python tests/fuzz/coverage_guided.py --minutes 10

The first byte chooses the parser, the rest is what it reads; the hunt begins at good files of each kind. Every input
must be read, or refused with a `CentwiseError`; anything else, or more than 20 s, ends the hunt and leaves the input in
the folder. Atheris is no dependency: it has no wheel for every Python, and the suite's own share is `wrong_input.py`.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["centwise"]):
    from wrong_input import ODD, exported, sounds

    from centwise.audio.sound_file import read_sound
    from centwise.bench.acts import WORDS, parse_act
    from centwise.errors import CentwiseError
    from centwise.exchange.lines import Reading
    from centwise.lessons.reading import lesson_from_text
    from centwise.settings.load import load_settings
    from centwise.strings.reading import read_instrument
    from centwise.takes.folder import MANIFEST, read_takes
    from centwise.units import parse_length_mm

LONGEST_S = 20
SETTINGS = b"""player = "silent"
theme = "dark"
scale = "26 1/4in"
data = "data"
motion = "less"
[keys]
"""


def act(data: bytes, _folder: Path) -> None:
    parse_act(data.decode("utf-8", "replace"))


def length(data: bytes, _folder: Path) -> None:
    parse_length_mm(data.decode("utf-8", "replace"))


def lesson(data: bytes, _folder: Path) -> None:
    lesson_from_text(data.decode("utf-8", "replace"), name="own", where="own.toml")


def instrument(data: bytes, _folder: Path) -> None:
    read_instrument(data.decode("utf-8", "replace"), "own", "own.toml")


def settings(data: bytes, folder: Path) -> None:
    (folder / "settings.toml").write_bytes(data)
    load_settings(folder / "settings.toml", {}, data_dir=folder)


def exchange(data: bytes, _folder: Path) -> None:
    for _ in Reading(data.splitlines(keepends=True), "pupils.jsonl").records():
        pass


def sound(data: bytes, folder: Path) -> None:
    (folder / "take.bin").write_bytes(data)
    read_sound(folder / "take.bin")


def takes(data: bytes, folder: Path) -> None:
    (folder / MANIFEST).write_bytes(data)
    read_takes(folder)


PARSERS = (act, length, lesson, instrument, settings, exchange, sound, takes)


def seeds() -> list[tuple[int, bytes]]:
    """Good input of each kind, with its parser's number."""
    package = Path(sys.modules["centwise"].__file__ or "").parent
    found = [(0, word.encode()) for word in (*WORDS, "bass forward 1/16in", "fret 4 7")]
    found += [(1, word.encode("utf-8", "replace")) for word in (*ODD, "26 1/4in", "667mm") if len(word) < 20]
    found += [(2, path.read_bytes()) for path in package.glob("lessons/shipped/*.toml")]
    found += [(3, path.read_bytes()) for path in package.glob("strings/instruments/*.toml")]
    found += [(4, SETTINGS), (5, exported())]
    found += [(6, content) for content in sounds()]
    note = (
        b'{"file": "1.wav", "take": 1, "tone": "harmonic", "recorded_at": "2026-01-02T03:04:05+00:00", "frames": 9,'
        b' "sha256": "%064d", "quality": "good", "why": "", "peak_dbfs": -9.5}'
    ) % 7
    head = b'{"format": "centwise takes", "version": 1, "instrument": "five-string", "string": 4, "scale_mm": 666.75,'
    rest = b' "device": "x", "rate_hz": 48000, "device_rate_hz": null, "started_at": "2026-01-02T03:04:05+00:00",'
    found.append((7, head + rest + b' "notes": [' + note + b"]}"))
    return found


def hunt(options: argparse.Namespace, corpus: Path, files: Path) -> None:
    """Feed the parsers until the time is over; atheris ends the program itself, with 0 where nothing was found."""

    def one(data: bytes) -> None:
        if not data:
            return
        try:
            PARSERS[data[0] % len(PARSERS)](data[1:], files)
        except CentwiseError:
            return

    corpus.mkdir(parents=True, exist_ok=True)
    for place, (number, content) in enumerate(seeds()):
        (corpus / f"seed-{place}").write_bytes(bytes([number]) + content)
    files.mkdir()
    limits = (f"-max_total_time={round(60 * options.minutes)}", f"-timeout={LONGEST_S}", "-max_len=20000")
    atheris.Setup([sys.argv[0], str(corpus), *limits, f"-seed={options.seed}", f"-artifact_prefix={corpus}/"], one)
    atheris.Fuzz()


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="keeps the inputs found worth keeping; a passing one without it")
    parser.add_argument("--work", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.work is not None:
        hunt(options, options.folder or options.work / "corpus", options.work / "files")
    # The hunt ends its program at once: what it leaves is put away by this one.
    with tempfile.TemporaryDirectory(prefix="centwise-guided-") as name:
        return subprocess.run([sys.executable, __file__, *arguments, "--work", name], check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
